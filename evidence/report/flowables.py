"""The pieces that the library does not have: text and figures that know their place in the structure, link targets,
contents, lines to sign on, the cover's band.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import accumulate
from typing import Any

from reportlab.lib.colors import HexColor, white
from reportlab.platypus import Flowable, Paragraph
from reportlab.platypus.paragraph import _HSFrag

from evidence.report import fonts
from evidence.report.drawing import ACCENT, GREY, INK, RULE
from evidence.report.styles import PAGE, anchor
from evidence.report.tags import Element


class Text(Paragraph):  # type: ignore[misc]
    """A paragraph in its place of the structure. The header of a column is read once, however often it is printed."""

    bulletText: str | None  # noqa: N815  (the library's name)
    element: Element | None = None  # None: it is only printed to be measured
    label: Element | None = None  # of a list's item: what the mark before it belongs to

    def within(self, element: Element, label: Element | None = None) -> Text:
        """The same paragraph, with its place."""
        self.element, self.label = element, label
        return self

    def split(self, width: float, height: float) -> list[Text]:
        """Both parts belong to the same element."""
        parts: list[Text] = super().split(width, height)
        for part in parts:
            part.element, part.label = self.element, self.label
        return parts

    def draw(self) -> None:
        """The text, marked; a repeated header as decoration."""
        assert self.element is not None, self.getPlainText()
        _end_lines_with_spaces(self)
        if self.element.scope == "Column" and self.element.number >= 0:
            with self.canv.decoration("Pagination"):
                super().draw()
            return
        if self.label and self.bulletText:
            self._draw_label(self.label, self.bulletText)
            self.bulletText = None
        with self.canv.marked(self.element):
            super().draw()

    def _draw_label(self, label: Element, text: str) -> None:
        style = self.style
        with self.canv.marked(label):
            self.canv.saveState()
            self.canv.setFillColor(style.textColor)
            self.canv.setFont(style.bulletFontName, style.bulletFontSize)
            self.canv.drawString(style.bulletIndent, self.height - style.fontSize, text)
            self.canv.restoreState()


def _end_lines_with_spaces(text: Text) -> None:
    """The library writes none where it breaks a line: whoever reads the file by program would run words together."""
    lines = text.blPara.lines
    if len(lines) < 2:
        return
    ends = set(accumulate(map(len, "".join(map(_plain, text.frags)).split())))
    read = 0
    for line in lines[:-1]:
        pieces = line[1] if text.blPara.kind == 0 else [f.text for f in line.words]
        read += sum(len("".join(piece.split())) for piece in pieces)
        if read in ends and pieces:  # else a long word was broken here
            if text.blPara.kind == 0:
                pieces.append("")
            else:
                line.words[-1].text += " "


def _plain(piece: Any) -> str:
    """The text of a piece of a paragraph, with the space that follows it; of a split one each piece is a word."""
    if isinstance(piece, list):
        ends = isinstance(piece, _HSFrag) or any(getattr(look, "lineBreak", False) for look, _ in piece[1:])
        return "".join(text for _, text in piece[1:]) + (" " if ends else "")
    if getattr(piece, "lineBreak", False):
        return "\n"
    return str(piece.text) if hasattr(piece, "text") else " ".join(piece.words)


class Figure(Flowable):  # type: ignore[misc]
    """A drawing with the words that stand for it."""

    def __init__(self, drawing: Any, element: Element) -> None:
        super().__init__()
        self._drawing, self._element = drawing, element
        self.width, self.height = drawing.width, drawing.height

    def draw(self) -> None:
        """The drawing, marked."""
        self._element.box = (*self.canv.absolutePosition(0, 0), *self.canv.absolutePosition(self.width, self.height))
        with self.canv.marked(self._element):
            self._drawing.drawOn(self.canv, 0, 0)


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
        self._element = Element("TOC", None)
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
        with canvas.decoration():
            canvas.setStrokeColor(HexColor(RULE))
            canvas.setLineWidth(0.6)
            canvas.setDash(0.6, 2.4)
            canvas.line(x + fonts.width_of(title, fonts.SANS, 8.6) + 6, y + 1.5, end - 26, y + 1.5)
            canvas.setDash()
        with canvas.marked(Element("TOCI", self._element)):
            canvas.setFillColor(HexColor(INK))
            canvas.setFont(fonts.SANS, 8.6)
            canvas.drawString(x, y, fonts.drawable(title))
            canvas.draw_later(end - 24, y, 24, 10, _page_number(key))
            canvas.linkRect(title, anchor(key), (x, y - 3, end, y + 9))


def _page_number(key: str) -> Callable[[Any, int], None]:
    def draw(later: Any, _pages: int) -> None:
        later.setFillColor(HexColor(INK))
        later.setFont(fonts.SANS, 8.6)
        later.drawRightString(24, 0, str(later.page_of.get(key, "")))

    return draw


class SignatureLines(Flowable):  # type: ignore[misc]
    """Lines to write on, with what belongs there."""

    def __init__(self, names: Sequence[str], parent: Element) -> None:
        super().__init__()
        self._names, self._parent = names, parent

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        """34 points a line."""
        self._wide = width
        return width, 34.0 * len(self._names) + 16

    def draw(self) -> None:
        """A line and a name below it."""
        y = 34.0 * len(self._names) - 6
        for name in self._names:
            with self.canv.decoration():
                self.canv.setStrokeColor(HexColor(GREY))
                self.canv.setLineWidth(0.5)
                self.canv.line(0, y, min(self._wide, 330), y)
            with self.canv.marked(Element("P", self._parent)):
                self.canv.setFillColor(HexColor(GREY))
                self.canv.setFont(fonts.SANS, 7)
                self.canv.drawString(0, y - 9, fonts.drawable(name))
            y -= 34


def band(canvas: Any, text: str) -> None:
    """The mark of demonstration data across the top of the cover: the first thing that is read aloud."""
    with canvas.decoration():
        canvas.setFillColor(HexColor(ACCENT))
        canvas.rect(0, PAGE[1] - 30, PAGE[0], 30, fill=1, stroke=0)
    with canvas.marked(Element("P", None)):
        canvas.setFillColor(white)
        canvas.setFont(fonts.BOLD, 9)
        canvas.drawCentredString(PAGE[0] / 2, PAGE[1] - 19, fonts.drawable(text))
