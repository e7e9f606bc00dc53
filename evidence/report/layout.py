"""Typography of the report: styles, text with links, tables, plates. Everything in points on A4."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable, Iterable, Sequence
from functools import cache
from html import escape
from typing import Any

from reportlab.lib.colors import HexColor, white
from reportlab.lib.enums import TA_CENTER, TA_LEFT, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, Paragraph, Table, TableStyle

from evidence.report import blocks, fonts
from evidence.report.drawing import ACCENT, GREY, INK, PALE, RULE
from evidence.report.streaming import Picture

PAGE = (595.28, 841.89)
LEFT, RIGHT, TOP, FOOT = 58.0, 58.0, 70.0, 62.0
WIDTH = PAGE[0] - LEFT - RIGHT
HEIGHT = PAGE[1] - TOP - FOOT
_ALIGN = {"left": TA_LEFT, "right": TA_RIGHT, "centre": TA_CENTER}
_TALL, _BEGUN = HEIGHT * 0.6, 150.0  # a row taller than the first may be broken once this much of it fits


@cache
def style(name: str) -> ParagraphStyle:
    """A named paragraph style."""
    fonts.ready()
    base: dict[str, Any] = {
        "fontName": fonts.SANS, "bulletFontName": fonts.SANS, "fontSize": 9, "leading": 13.2, "spaceAfter": 6,
        "textColor": HexColor(INK), "splitLongWords": 1, "allowWidows": 0, "allowOrphans": 0,
    }  # fmt: skip
    extra: dict[str, dict[str, Any]] = {
        "body": {},
        "lead": {"fontSize": 10.5, "leading": 15.5, "spaceAfter": 9},
        "small": {"fontSize": 7.6, "leading": 10.6, "spaceAfter": 4},
        "muted": {"fontSize": 8.2, "leading": 11.6, "textColor": HexColor(GREY)},
        "caution": {"leftIndent": 10, "borderPadding": (6, 8, 6, 10), "backColor": HexColor(PALE), "spaceBefore": 8,
                    "spaceAfter": 12, "rightIndent": 8},
        "bullet": {"leftIndent": 13.5, "bulletIndent": 2, "spaceAfter": 3},
        "section": {"fontName": fonts.BOLD, "fontSize": 16, "leading": 21, "spaceBefore": 20, "spaceAfter": 10,
                    "textColor": HexColor(ACCENT)},
        "heading": {"fontName": fonts.BOLD, "fontSize": 10.2, "leading": 14, "spaceBefore": 12, "spaceAfter": 5},
        "cell": {"fontSize": 7.4, "leading": 9.8, "spaceAfter": 0},
        "head": {"fontName": fonts.BOLD, "fontSize": 7.0, "leading": 9.2, "spaceAfter": 0, "textColor": HexColor(ACCENT)},
        "mono": {"fontName": fonts.MONO, "fontSize": 6.1, "leading": 9.0, "spaceAfter": 0},
        "name": {"fontSize": 8, "leading": 11.2, "spaceAfter": 0, "textColor": HexColor(GREY)},
        "value": {"fontSize": 8.6, "leading": 12, "spaceAfter": 0},
        "plate": {"fontName": fonts.BOLD, "fontSize": 8.8, "leading": 12, "spaceAfter": 2},
        "kicker": {"fontName": fonts.BOLD, "fontSize": 9, "leading": 12, "textColor": HexColor(ACCENT)},
        "title": {"fontName": fonts.BOLD, "fontSize": 25, "leading": 31, "spaceAfter": 6},
        "subtitle": {"fontSize": 12, "leading": 17, "textColor": HexColor(GREY), "spaceAfter": 18},
    }  # fmt: skip
    return ParagraphStyle(name, **{**base, **extra[name]})


@cache
def _aligned(name: str, align: str, faded: bool, strong: bool) -> ParagraphStyle:
    changes: dict[str, Any] = {"alignment": _ALIGN[align]}
    if faded:
        changes["textColor"] = HexColor(GREY)
    if strong:
        changes["fontName"] = fonts.BOLD
    return ParagraphStyle(f"{name}-{align}-{faded}-{strong}", parent=style(name), **changes)


class Linker:
    """Turns plain text into the library's markup, with a link at every record that the report shows."""

    def __init__(self, keys: Iterable[str]) -> None:
        self._keys = frozenset(keys)
        kinds = sorted({k.rsplit(" ", 1)[0] for k in self._keys}, key=len, reverse=True)
        words = "|".join(re.escape(k) for k in kinds)
        self._pattern = re.compile(rf"\b({words}) (\d+)\b") if kinds else None

    def markup(self, text: str, font: str = fonts.SANS) -> str:
        """Markup for a paragraph; line breaks are kept."""
        shown = escape(fonts.drawable(text, font), quote=False).replace("\t", "    ").replace("\n", "<br/>")
        return self._pattern.sub(self._link, shown) if self._pattern else shown

    def _link(self, match: re.Match[str]) -> str:
        if match[0] not in self._keys:
            return match[0]
        return f'<a href="#{anchor(match[0])}" color="{ACCENT}">{match[0]}</a>'


def anchor(key: str) -> str:
    """Name of the place in the file that shows the record ``key``."""
    return re.sub(r"[^A-Za-z0-9]+", "-", key).strip("-").lower()


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
        self._title = Paragraph(linker.markup(plate.title), _aligned("plate", "left", plate.faded, False))
        lines = [*plate.lines, *([("", note)] if note else [])]
        width = WIDTH * 0.5 if self._beside else WIDTH
        self._facts = facts(lines, linker, name_share=0.38 if self._beside else 0.2, small=True, width=width)
        self._hash = Paragraph(f"SHA-256 {plate.digest}", style("mono")) if plate.digest else None
        self._reason = Paragraph(linker.markup(plate.reason), _aligned("name", "centre", False, False))

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


def facts(
    rows: Sequence[tuple[str, str]],
    linker: Linker,
    *,
    name_share: float = 0.24,
    small: bool = False,
    faded: bool = False,
    width: float = WIDTH,
) -> Flowable:
    """Names on the left, values on the right."""
    name = _aligned("cell", "left", True, False) if small else style("name")
    value = _aligned("cell" if small else "value", "left", faded, False)
    cells = [[Paragraph(linker.markup(n), name), Paragraph(linker.markup(v), value)] for n, v in rows]
    pad = 0.4 if small else 2.0
    styling = [
        ("TOPPADDING", (0, 0), (-1, -1), pad),
        ("BOTTOMPADDING", (0, 0), (-1, -1), pad),
        ("LEFTPADDING", (0, 0), (0, -1), 0),
    ]
    return _grid(cells or [["", ""]], [width * name_share, width * (1 - name_share)], styling)


def _widths(block: blocks.Table) -> list[float]:
    """Widths by share, but no column narrower than its longest word as far as that is reasonable."""
    least = []
    for index, column in enumerate(block.columns):
        font, size = (fonts.MONO, 6.1) if column.mono else (fonts.SANS, 7.4)
        words = {word for row in block.rows for word in row.cells[index].split()}
        if index == 0:
            words |= {row.key for row in block.rows}  # a label stays on one line
        bold = [fonts.width_of(w, fonts.BOLD, 7.4) for w in column.title.split()]
        bold += [
            fonts.width_of(w, fonts.BOLD, 7.4) for row in block.rows if row.strong for w in row.cells[index].split()
        ]
        longest = max([fonts.width_of(w, font, size) for w in words] + bold, default=0.0)
        least.append(min(longest, 240.0 if column.mono else 104.0) + 9.5)
    shares = [c.share for c in block.columns]
    widths = [WIDTH * share / sum(shares) for share in shares]
    short = [max(0.0, low - width) for low, width in zip(least, widths, strict=True)]
    spare = [max(0.0, width - low) for low, width in zip(least, widths, strict=True)]
    give = min(1.0, sum(short) / sum(spare)) if sum(spare) else 0.0
    take = min(1.0, sum(spare) / sum(short)) if sum(short) else 0.0
    return [w + s * take - p * give for w, s, p in zip(widths, short, spare, strict=True)]


def table(block: blocks.Table, linker: Linker, targets: Callable[[str], bool]) -> Flowable:
    """A table whose header repeats on each page."""
    head = [Paragraph(linker.markup(c.title), _aligned("head", c.align, False, False)) for c in block.columns]
    body = []
    styling: list[tuple[Any, ...]] = [
        ("LINEBELOW", (0, 0), (-1, 0), 0.9, HexColor(ACCENT)),
        ("LINEBELOW", (0, 1), (-1, -1), 0.35, HexColor(RULE)),
        ("TOPPADDING", (0, 0), (-1, -1), 3.2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 3.6),
        ("LEFTPADDING", (0, 0), (0, -1), 0),
        ("RIGHTPADDING", (-1, 0), (-1, -1), 0),
    ]
    for number, row in enumerate(block.rows, start=1):
        cells = []
        for index, (column, text) in enumerate(zip(block.columns, row.cells, strict=True)):
            mark = linker.markup(text, fonts.MONO if column.mono else fonts.SANS)
            if index == 0 and row.key and targets(row.key):
                mark = f'<a name="{anchor(row.key)}"/>{mark}'
            cells.append(
                Paragraph(mark, _aligned("mono" if column.mono else "cell", column.align, row.faded, row.strong))
            )
        body.append(cells)
        if row.strong:
            styling.append(("LINEABOVE", (0, number), (-1, number), 0.9, HexColor(ACCENT)))
    return _grid([head, *body], _widths(block), styling, repeat=1)


def start_height(block: blocks.Table | blocks.Facts, linker: Linker) -> float:
    """What must stand below a heading: all facts, or a table's header and first row; of very tall ones the beginning."""
    if isinstance(block, blocks.Facts):
        start = facts(block.rows, linker)
    else:
        start = table(dataclasses.replace(block, rows=block.rows[:1]), linker, lambda _: False)
    height: float = start.wrap(WIDTH, HEIGHT)[1] + 8
    return height if height < _TALL else _BEGUN


class _Grid(Table):  # type: ignore[misc]
    """A table that breaks between rows, and within a row only where that row would fill most of a page."""

    def split(self, width: float, height: float) -> list[Flowable]:
        """The part that fits and the rest; empty where the next page is the better place."""
        self.splitInRow = 0
        parts: list[Flowable] = super().split(width, height)
        first = sum(self._rowHeights[: (self.repeatRows or 0) + 1])
        if parts or first < _TALL or height < _BEGUN:
            return parts
        self.splitInRow = 1
        whole: list[Flowable] = super().split(width, height)
        return whole


def _grid(cells: list[list[Any]], widths: Sequence[float], styling: list[tuple[Any, ...]], repeat: int = 0) -> Table:
    made = _Grid(cells, colWidths=list(widths), repeatRows=repeat, hAlign="LEFT", spaceAfter=8)
    made.setStyle(
        TableStyle(
            [
                ("FONT", (0, 0), (-1, -1), fonts.SANS, 7.4),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (-1, -1), 4),
                ("RIGHTPADDING", (0, 0), (-1, -1), 4),
                *styling,
            ]
        )
    )
    return made


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


class Contents(Flowable):  # type: ignore[misc]
    """The list of sections; page numbers are filled in at the end."""

    def __init__(self, titles: Sequence[str]) -> None:
        super().__init__()
        self._titles = titles

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        """13 points a line."""
        self._wide = width
        return width, 13.0 * len(self._titles)

    def draw(self) -> None:
        """Title, leader, page number; the whole line is a link."""
        y = 13.0 * len(self._titles) - 10
        for title in self._titles:
            key = f"section {title}"
            self.canv.setFillColor(HexColor(INK))
            self.canv.setFont(fonts.SANS, 8.6)
            self.canv.drawString(0, y, fonts.drawable(title))
            start = fonts.width_of(title, fonts.SANS, 8.6) + 6
            self.canv.setStrokeColor(HexColor(RULE))
            self.canv.setLineWidth(0.6)
            self.canv.setDash(0.6, 2.4)
            self.canv.line(start, y + 1.5, self._wide - 26, y + 1.5)
            self.canv.setDash()
            self.canv.draw_later(self._wide - 24, y, 24, 10, _page_number(key))
            self.canv.linkRect("", anchor(key), (0, y - 3, self._wide, y + 9), relative=1, thickness=0)
            y -= 13


def _page_number(key: str) -> Callable[[Any, int], None]:
    def draw(later: Any, _pages: int) -> None:
        later.setFillColor(HexColor(INK))
        later.setFont(fonts.SANS, 8.6)
        later.drawRightString(24, 0, str(later.page_of.get(key, "")))

    return draw
