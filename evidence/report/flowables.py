"""The pieces that the library does not have: link targets, contents, lines to sign on, the cover's band."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from reportlab.lib.colors import HexColor, white
from reportlab.platypus import Flowable

from evidence.report import fonts
from evidence.report.drawing import ACCENT, GREY, INK, RULE
from evidence.report.styles import PAGE, anchor


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
