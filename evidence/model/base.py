"""The ground every record stands on: frozen values, texts, plain decimals, references.

Rules enforced here: text holds no control character but newline and tab; a number stays the text that
was read ("0.240" keeps its resolution); absent means "not stated", so nothing empty is written; a field
that nobody knows is refused from a person and kept from a stored body.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable, Mapping
from decimal import Decimal
from functools import partial
from typing import Annotated, Any, ClassVar, Self, cast

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo

Json = dict[str, Any]


def _clean(value: str, *, many_lines: bool) -> str:
    allowed = "\n\t" if many_lines else ""
    for ch in () if value.isprintable() else value:  # printable text, the rule, holds none of them
        if unicodedata.category(ch) in ("Cc", "Cs") and ch not in allowed:
            raise ValueError(f"contains the character U+{ord(ch):04X}, which no text here may hold")
    if not value.strip():
        raise ValueError("is empty; leave the field out when it is not known")
    return value


def _plain(value: str) -> str:
    if not re.fullmatch(r"-?(0|[1-9][0-9]*)(\.[0-9]+)?", value):
        hint = ""
        if re.fullmatch(r"-?[0-9]+,[0-9]+", value):
            hint = f"; write {value.replace(',', '.')}"
        elif re.fullmatch(r"[-+]?[0-9.]+\s*[^0-9.\s].*", value):
            hint = "; the unit goes into its own field"
        raise ValueError(f"{value!r} is not a plain decimal number such as 12.60 or -0.5{hint}")
    return value


def _text_of_number(value: object) -> object:
    return str(value) if isinstance(value, (int, Decimal)) and not isinstance(value, bool) else value


def _slug(value: str) -> str:
    if not re.fullmatch(r"[a-z0-9][a-z0-9._-]{0,63}", value):
        raise ValueError(
            f"{value!r} is not a short name: small letters, digits, '-', '_' and '.', at most 64, such as photo-eyelet"
        )
    return value


Line = Annotated[str, AfterValidator(partial(_clean, many_lines=False)), Field(max_length=500)]
Text = Annotated[str, AfterValidator(partial(_clean, many_lines=True)), Field(max_length=20_000)]
Plain = Annotated[str, BeforeValidator(_text_of_number), AfterValidator(_plain), Field(max_length=40)]
Slug = Annotated[str, AfterValidator(_slug)]
Count = Annotated[int, Field(ge=0, le=10_000_000)]


def nearest(word: str, known: Iterable[str]) -> str:
    """Return ``; did you mean 'x'?`` for the known word closest to ``word``, else an empty text."""
    close = difflib.get_close_matches(word, list(known), n=1, cutoff=0.55)
    return f"; did you mean {close[0]!r}?" if close else ""


class Ref:
    """Marks a field that names another record; carries the kinds it may point to (none: any kind)."""

    def __init__(self, *kinds: str) -> None:
        self.kinds = kinds

    def __call__(self, value: str, info: ValidationInfo) -> str:
        """Turn the author's short name into the subject it stands for, where the caller can resolve."""
        resolve = cast("Mapping[str, Any]", info.context or {}).get("resolve")
        return resolve(value, self.kinds) if resolve else value


# References as stored: the subject of another record. The validator carries the kinds it may point to.
AnyRef = Annotated[str, AfterValidator(Ref())]
PartyRef = Annotated[str, AfterValidator(Ref("party"))]
ExhibitRef = Annotated[str, AfterValidator(Ref("exhibit"))]
InstrumentRef = Annotated[str, AfterValidator(Ref("instrument"))]
InterventionRef = Annotated[str, AfterValidator(Ref("intervention"))]
WorkOrderRef = Annotated[str, AfterValidator(Ref("work_order"))]
# Whatever has a chain of custody: the vehicle, a part or file, a device.
ItemRef = Annotated[str, AfterValidator(Ref("vehicle", "exhibit", "instrument"))]


def _component(value: str, info: ValidationInfo) -> str:
    known = cast("Mapping[str, Any]", info.context or {}).get("component")
    return known(value) if known else value


# A component of the vehicle, by a name of the vocabulary. Aliases become the name; unknown ones are refused
# with the nearest known one when the caller brings the vocabulary.
Component = Annotated[Line, AfterValidator(_component)]


def _word(value: str, info: ValidationInfo, *, family: str) -> str:
    known = cast("Mapping[str, Any]", info.context or {}).get(family)
    return known(value) if known else value


# The operation on a work order, and the aspect of an observation: closed lists that live in the vocabulary.
OperationName = Annotated[Slug, AfterValidator(partial(_word, family="operation"))]
ComplaintTag = Annotated[Slug, AfterValidator(partial(_word, family="complaint"))]


class Value(BaseModel):
    """A frozen value that refuses to exist when wrong."""

    # "allow" keeps what a newer version wrote; everything a person hands in is validated with extra="forbid".
    # A model is built when it is first used, in whichever thread: pydantic holds the others meanwhile.
    model_config = ConfigDict(frozen=True, extra="allow", str_strip_whitespace=True, defer_build=True)


class Record(Value):
    """One thing a person records. ``kind`` is its name in the ledger and in a dossier file.

    ``name`` is the author's own short name, by which other records of the folder refer to it.
    """

    kind: ClassVar[str]
    label: ClassVar[str]  # as printed: "Exhibit 7"
    filled_in: ClassVar[frozenset[str]] = frozenset()  # fields that the program fills in and no person writes

    name: Slug | None = None

    def summary(self) -> str:
        """One line for lists and search; never empty."""
        raise NotImplementedError  # every kind says its own

    def body(self) -> Json:
        """The stored form: only what is stated, as text, whole numbers, booleans, lists and objects."""
        return cast("Json", tidy(self.model_dump(mode="json", exclude_none=True)))

    @classmethod
    def stored(cls, body: Json) -> Self:
        """Read a stored body; fields of a newer version are kept."""
        return cls.model_validate(body)

    @classmethod
    def handed_in(cls, raw: Json, context: Mapping[str, Any]) -> Self:
        """Read what a person wrote. ``context`` may bring ``zone``, ``resolve``, ``component``, ``operation`` and
        ``complaint``: each turns a word of the author into what is stored, or raises ``ValueError``.
        """
        return cls.model_validate(raw, extra="forbid", context={**context, "written": True})

    @classmethod
    def amended(cls, body: Json, context: Mapping[str, Any]) -> Self:
        """Read a stored body of which a person replaced some fields; what the program filled in may stand."""
        return cls.model_validate(body, extra="forbid", context=dict(context))


def tidy(value: Any) -> Any:
    """Drop empty lists and objects: nothing empty is written."""
    if isinstance(value, dict):
        kept = {k: tidy(v) for k, v in value.items()}
        return {k: v for k, v in kept.items() if v not in ([], {}, None)}
    if isinstance(value, list):
        return [tidy(v) for v in value]
    return value


def shorten(text: str, limit: int = 110) -> str:
    """First line of ``text``, cut with an ellipsis at ``limit`` characters."""
    line = " ".join(text.split())
    return line if len(line) <= limit else line[: limit - 1].rstrip() + "…"


def say(word: str) -> str:
    """An enumeration word as a person reads it."""
    return word.replace("_", " ").replace("-", " ")
