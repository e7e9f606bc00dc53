"""Derived copies: what was done to a picture, as typed values that can be done again, and what came out of it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from evidence.model.base import Line, Value

CopyForm = Literal["png", "jpeg"]
_PLACES = {"arrow": 4, "circle": 3, "text": 2, "black_out": 4, "page": 0, "other": 0}


def _coordinate(value: str) -> str:
    if not re.fullmatch(r"(0|[1-9][0-9]{0,5})(\.[0-9]{1,4})?%?", value):
        raise ValueError(f"{value!r} is no place in a picture; write pixels such as 120, or percent such as 12.5%")
    if value.endswith("%") and Decimal(value[:-1]) > 100:
        raise ValueError(f"{value} lies outside the picture")
    return value


def _number(value: object) -> object:
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else value


# Pixels of the upright picture from its upper left corner, or percent: of the width (x, radius) or the height (y).
Coordinate = Annotated[str, BeforeValidator(_number), AfterValidator(_coordinate)]


class Operation(Value):
    """One thing done to a picture, in the order in which it was done.

    ``at`` is x, y of the tail and x, y of the head of an arrow; x, y, radius of a circle; x, y of the upper left corner
    of a text; x, y, width, height of an area blacked out. ``page`` draws one page of a document. ``other`` was done
    elsewhere and can only be told.
    """

    do: Literal["arrow", "circle", "text", "black_out", "page", "other"]
    at: tuple[Coordinate, ...] = ()
    words: Line | None = None
    page: Annotated[int, Field(ge=1, le=100_000)] | None = None

    @model_validator(mode="before")
    @classmethod
    def _told(cls, raw: Any) -> Any:
        return {"do": "other", "words": raw} if isinstance(raw, str) else raw

    @model_validator(mode="after")
    def _whole(self) -> Operation:
        if len(self.at) != _PLACES[self.do]:
            raise ValueError(f"{self.do!r} needs {_PLACES[self.do] or 'no'} numbers; {len(self.at)} are given")
        if (self.words is not None) != (self.do in ("text", "other")):
            raise ValueError("'words' belong to a text, and a text needs them")
        if (self.page is not None) != (self.do == "page"):
            raise ValueError("'page' says which page of a document is drawn, and nothing else needs it")
        if self.do in ("black_out", "circle") and any(Decimal(a.rstrip("%")) == 0 for a in self.at[2:]):
            raise ValueError(f"{self.do!r} covers nothing")
        return self

    def said(self) -> str:
        """As printed."""
        at = self.at
        if self.do == "arrow":
            return f"arrow from {at[0]}, {at[1]} to {at[2]}, {at[3]}"
        if self.do == "circle":
            return f"circle of radius {at[2]} around {at[0]}, {at[1]}"
        if self.do == "text":
            return f"text “{self.words}” at {at[0]}, {at[1]}"
        if self.do == "black_out":
            return f"area of {at[2]} × {at[3]} at {at[0]}, {at[1]} blacked out"
        return f"page {self.page} drawn" if self.do == "page" else str(self.words)


class Made(Value):
    """What the program made by the operations: enough to see whether doing them again gives the same."""

    form: CopyForm
    width: int
    height: int
    pixels: str  # SHA-256 of "width height\n" and the pixels, 3 bytes each, row by row, before they were encoded
    source: str  # SHA-256 of the file they were done to
    program: Line  # with the versions on which the pixels depend


def pixel(coordinate: str, extent: int) -> Fraction:
    """A coordinate in pixels, where the picture is ``extent`` wide or high."""
    if coordinate.endswith("%"):
        return Fraction(coordinate[:-1]) * extent / 100
    return Fraction(coordinate)


def told_briefly(operations: Sequence[Operation]) -> str:
    """``1 area blacked out, 2 arrows``: what stands beside a picture."""
    counts: dict[str, int] = {}
    others: list[str] = []
    for o in operations:
        if o.do in ("page", "other"):
            others.append(o.said())
        else:
            counts[o.do] = counts.get(o.do, 0) + 1
    names = {"black_out": ("area blacked out", "areas blacked out"), "arrow": ("arrow", "arrows"),
             "circle": ("circle", "circles"), "text": ("text", "texts")}  # fmt: skip
    counted = [f"{counts[do]} {names[do][counts[do] > 1]}" for do in names if do in counts]
    return ", ".join(others + counted)
