"""The pieces that the library does not have: link targets, plates, contents, lines to sign on, the cover's band."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from reportlab.lib.colors import HexColor, white
from reportlab.platypus import Flowable, Paragraph

from evidence.report import blocks, fonts
from evidence.report.drawing import ACCENT, GREY, INK, PALE, RULE
from evidence.report.grids import facts
from evidence.report.streaming import Picture
from evidence.report.styles import HEIGHT, PAGE, WIDTH, Linker, aligned, anchor, style


class Anchor(Flowable):  # type: ignore[misc]
    """Takes no room; links and bookmarks lead to where it stands."""

    def __init__(self, key: str, title: str = "", level: int = 0) -> None:
        super().__init__()
        self.key, self.title, self.level = key, title, level
        self.keepWithNext = 1

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """No room at all."""
        return 0, 0

    def draw(self) -> None:
        """Set the link target, and the bookmark when there is a title."""
        self.canv.bookmarkHorizontal(anchor(self.key), 0, 24)
        self.canv.mark(self.key)
        if self.title:
            self.canv.addOutlineEntry(self.title, anchor(self.key), self.level, closed=self.level > 0)


class PlateFlow(Flowable):  # type: ignore[misc]
    """A picture with its caption; two of them fill a page. Upright pictures stand beside what is said of them."""

    def __init__(self, plate: blocks.Plate, picture: Picture | None, linker: Linker, note: str) -> None:
        super().__init__()
        self._picture, self._key = picture, plate.key
        self._beside = picture is not None and picture.height > picture.width
        self._title = Paragraph(linker.markup(plate.title), aligned("plate", "left", plate.faded, False))
        lines = [*plate.lines, *([("", note)] if note else [])]
        width = WIDTH * 0.5 if self._beside else WIDTH
        self._facts = facts(lines, linker, name_share=0.38 if self._beside else 0.2, small=True, width=width)
        self._hash = Paragraph(f"SHA-256 {plate.digest}", style("mono")) if plate.digest else None
        self._reason = Paragraph(linker.markup(plate.reason), aligned("name", "centre", False, False))

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        """Half a page; less where there is no picture."""
        self._wide = width
        self._title_high = self._title.wrap(width, HEIGHT)[1]
        self._facts_high = self._facts.wrap(width, HEIGHT)[1]
        self._hash_high = self._hash.wrap(width, HEIGHT)[1] + 4 if self._hash else 0.0
        room = (HEIGHT - 56) / 2 - self._title_high - self._hash_high - 30
        if not self._beside:
            room -= self._facts_high
        across = width * 0.5 - 14 if self._beside else width
        self._box = (width, 40.0)
        if self._picture is not None:
            factor = min(across / self._picture.width, max(room, 110) / self._picture.height)
            self._box = (self._picture.width * factor, self._picture.height * factor)
        middle = max(self._box[1], self._facts_high) if self._beside else self._box[1] + 6 + self._facts_high
        self._high = self._title_high + 4 + middle + self._hash_high + 22
        return width, self._high

    def draw(self) -> None:
        """Title, picture or an empty frame with the reason, what is known of it, hash."""
        canvas = self.canv
        y = self._high - self._title_high
        self._title.drawOn(canvas, 0, y)
        y -= 4 + self._box[1]
        if self._picture is not None:
            canvas.draw_picture(self._picture, 0, y, *self._box)
        else:
            self._draw_frame(y)
        if self._beside:
            self._facts.drawOn(canvas, self._wide * 0.5, y + self._box[1] - self._facts_high)
            y = min(y, y + self._box[1] - self._facts_high)
        else:
            y -= 6 + self._facts_high
            self._facts.drawOn(canvas, 0, y)
        if self._hash:
            self._hash.drawOn(canvas, 0, y - self._hash_high)
        canvas.bookmarkHorizontal(anchor(self._key), 0, self._high + 6)
        canvas.mark(self._key)

    def _draw_frame(self, y: float) -> None:
        canvas = self.canv
        canvas.setStrokeColor(HexColor(RULE))
        canvas.setFillColor(HexColor(PALE))
        canvas.setLineWidth(0.5)
        canvas.rect(0, y, self._wide, self._box[1], fill=1)
        height = self._reason.wrap(self._wide - 20, 40)[1]
        self._reason.drawOn(canvas, 10, y + (self._box[1] - height) / 2)


class Contents(Flowable):  # type: ignore[misc]
    """The list of sections in two columns; page numbers are filled in at the end."""

    _GAP, _LINE = 26.0, 13.0

    def __init__(self, titles: Sequence[str]) -> None:
        super().__init__()
        self._titles = titles
        self._rows = -(-len(titles) // 2)

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        """13 points a line."""
        self._wide = (width - self._GAP) / 2
        return width, self._LINE * self._rows

    def draw(self) -> None:
        """Title, leader, page number; the whole line is a link."""
        for place, title in enumerate(self._titles):
            column, row = divmod(place, self._rows)
            self._draw_line(title, column * (self._wide + self._GAP), self._LINE * (self._rows - row) - 10)

    def _draw_line(self, title: str, x: float, y: float) -> None:
        canvas, end = self.canv, x + self._wide
        key = f"section {title}"
        canvas.setFillColor(HexColor(INK))
        canvas.setFont(fonts.SANS, 8.6)
        canvas.drawString(x, y, fonts.drawable(title))
        canvas.setStrokeColor(HexColor(RULE))
        canvas.setLineWidth(0.6)
        canvas.setDash(0.6, 2.4)
        canvas.line(x + fonts.width_of(title, fonts.SANS, 8.6) + 6, y + 1.5, end - 26, y + 1.5)
        canvas.setDash()
        canvas.draw_later(end - 24, y, 24, 10, _page_number(key))
        canvas.linkRect("", anchor(key), (x, y - 3, end, y + 9), relative=1, thickness=0)


def _page_number(key: str) -> Callable[[Any, int], None]:
    def draw(later: Any, _pages: int) -> None:
        later.setFillColor(HexColor(INK))
        later.setFont(fonts.SANS, 8.6)
        later.drawRightString(24, 0, str(later.page_of.get(key, "")))

    return draw


class SignatureLines(Flowable):  # type: ignore[misc]
    """Lines to write on, with what belongs there."""

    def __init__(self, names: Sequence[str]) -> None:
        super().__init__()
        self._names = names

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        """34 points a line."""
        self._wide = width
        return width, 34.0 * len(self._names) + 16

    def draw(self) -> None:
        """A line and a name below it."""
        y = 34.0 * len(self._names) - 6
        for name in self._names:
            self.canv.setStrokeColor(HexColor(GREY))
            self.canv.setLineWidth(0.5)
            self.canv.line(0, y, min(self._wide, 330), y)
            self.canv.setFillColor(HexColor(GREY))
            self.canv.setFont(fonts.SANS, 7)
            self.canv.drawString(0, y - 9, fonts.drawable(name))
            y -= 34


def band(canvas: Any, text: str) -> None:
    """The mark of demonstration data across the top of the cover."""
    canvas.setFillColor(HexColor(ACCENT))
    canvas.rect(0, PAGE[1] - 30, PAGE[0], 30, fill=1, stroke=0)
    canvas.setFillColor(white)
    canvas.setFont(fonts.BOLD, 9)
    canvas.drawCentredString(PAGE[0] / 2, PAGE[1] - 19, fonts.drawable(text))
