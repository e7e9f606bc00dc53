"""Plates: a picture with what is known of it. Two pictures or four documents fill a page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.platypus import Flowable

from evidence.report import blocks
from evidence.report.drawing import GREY, PALE, RULE
from evidence.report.flowables import Text
from evidence.report.grids import facts
from evidence.report.streaming import Picture
from evidence.report.styles import HEIGHT, WIDTH, Linker, aligned, anchor, style
from evidence.report.tags import Element

_GAP, _BELOW = 12.0, 16.0
_BESIDE = 116.0  # least width of what stands beside a picture
_HALF = (WIDTH - 18) / 2
_LEAST = 110.0  # least height of a picture


class PlateFlow(Flowable):  # type: ignore[misc]
    """A picture as large as half a page allows, what is known of it on the right; of a document below it.

    Where there is more to say than fits on the right, it stands below, over the whole width.
    """

    def __init__(
        self, plate: blocks.Plate, picture: Picture | None, linker: Linker, note: str, parent: Element | None = None
    ) -> None:
        super().__init__()
        self._place = Element("Sect", parent)
        self._figure = Element("Figure", self._place, alt=plate.alt)
        self._picture, self._key, self._small = picture, plate.key, plate.small
        title = Text(linker.markup(plate.title), aligned("plate", "left", plate.faded, False))
        self._title = title.within(Element("H3", self._place))
        self._lines = [*plate.lines, *([("Printed", note)] if note else [])]
        self._linker = linker
        self._box, self._facts_high = (0.0, 0.0), 0.0  # width and height of the picture; height of the facts
        self._facts: list[Flowable] = []
        digest = "<br/>" if plate.small else " "
        self._hash = self._text(f"SHA-256{digest}{plate.digest}", style("digest")) if plate.digest else None
        self._reason = self._text(linker.markup(plate.reason), aligned("name", "centre", False, False))

    def _text(self, markup: str, look: Any) -> Text:
        return Text(markup, look).within(Element("P", self._place))

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        """Half a page at most, unless there is very much to say; less where there is no picture."""
        self._wide = width
        self._title_high = self._title.wrap(width, HEIGHT)[1]
        self._hash_high = self._hash.wrap(width, HEIGHT)[1] + 4 if self._hash else 0.0
        self._room = (HEIGHT - 60) / 2 - self._title_high - self._hash_high - _BELOW - 4
        self._beside = self._picture is not None and not self._small and self._place_beside()
        if not self._beside:
            self._place_below()
        both = max(self._box[1], self._facts_high) if self._beside else self._box[1] + 6 + self._facts_high
        self._high = self._title_high + 4 + both + self._hash_high + _BELOW
        return width, self._high

    def _place_beside(self) -> bool:
        assert self._picture is not None
        self._fit(self._wide - _BESIDE - _GAP, self._room)
        left = self._wide - self._box[0] - _GAP
        self._facts = self._stacked(" " if left > 2 * _BESIDE else "<br/>")
        self._facts_high = sum(f.wrap(left, HEIGHT)[1] + 3 for f in self._facts)
        return bool(self._facts_high <= self._room)

    def _place_below(self) -> None:
        if self._small:
            self._facts = self._stacked(" ")
        else:
            self._facts = [facts(self._lines, self._linker, self._place, name_share=0.2, small=True, width=self._wide)]
        self._facts_high = sum(f.wrap(self._wide, HEIGHT)[1] for f in self._facts)
        self._box = (self._wide, 40.0)
        if self._picture is not None:
            self._fit(self._wide, max(self._room - 6 - self._facts_high, _LEAST))

    def _fit(self, width: float, height: float) -> None:
        assert self._picture is not None
        factor = min(width / self._picture.width, height / self._picture.height)
        self._box = (self._picture.width * factor, self._picture.height * factor)

    def _stacked(self, after: str) -> list[Flowable]:
        cell = aligned("cell", "left", False, False)
        return [
            self._text(f'<font color="{GREY}">{self._linker.markup(n)}</font>{after}{self._linker.markup(v)}', cell)
            for n, v in self._lines
        ]

    def draw(self) -> None:
        """Title, picture or an empty frame with the reason, what is known of it, hash."""
        canvas = self.canv
        y = self._high - self._title_high
        self._title.drawOn(canvas, 0, y)
        top = y - 4
        y = top - self._box[1]
        if self._picture is not None:
            self._draw_picture(self._picture, y)
        else:
            self._draw_frame(y)
        x, step, at = (self._box[0] + _GAP, 3, top + 1) if self._beside else (0.0, 0, y - 6)
        for fact in self._facts:
            at -= fact.height if isinstance(fact, Text) else self._facts_high
            fact.drawOn(canvas, x, at)
            at -= step
        if self._hash:
            self._hash.drawOn(canvas, 0, min(y, at) - self._hash_high)
        canvas.bookmarkHorizontal(anchor(self._key), 0, self._high + 6)
        canvas.mark(self._key)

    def _draw_picture(self, picture: Picture, y: float) -> None:
        canvas, (wide, high) = self.canv, self._box
        self._figure.box = (*canvas.absolutePosition(0, y), *canvas.absolutePosition(wide, y + high))
        with canvas.marked(self._figure):
            canvas.draw_picture(picture, 0, y, wide, high)
        if self._small:  # white paper on white paper
            with canvas.decoration():
                canvas.setStrokeColor(HexColor(RULE))
                canvas.setLineWidth(0.5)
                canvas.rect(0, y, wide, high)

    def _draw_frame(self, y: float) -> None:
        with self.canv.decoration():
            self.canv.setStrokeColor(HexColor(RULE))
            self.canv.setFillColor(HexColor(PALE))
            self.canv.setLineWidth(0.5)
            self.canv.rect(0, y, self._wide, self._box[1], fill=1)
        height = self._reason.wrap(self._wide - 20, 40)[1]
        self._reason.drawOn(self.canv, 10, y + (self._box[1] - height) / 2)


class PairFlow(Flowable):  # type: ignore[misc]
    """One or two small plates side by side."""

    def __init__(self, plates: Sequence[PlateFlow]) -> None:
        super().__init__()
        self._plates = plates

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """As high as the higher one."""
        self._highs = [plate.wrap(_HALF, height)[1] for plate in self._plates]
        return width, max(self._highs)

    def draw(self) -> None:
        """Their heads on one line."""
        for number, (plate, high) in enumerate(zip(self._plates, self._highs, strict=True)):
            plate.drawOn(self.canv, number * (WIDTH - _HALF), max(self._highs) - high)
