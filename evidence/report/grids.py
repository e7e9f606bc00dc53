"""Tables and lists of facts: widths that fit their words, headers that repeat, rows that stay whole."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.platypus import Flowable, Table, TableStyle

from evidence.report import blocks, fonts
from evidence.report.drawing import ACCENT, RULE
from evidence.report.flowables import Text
from evidence.report.styles import HEIGHT, WIDTH, Linker, aligned, anchor, style
from evidence.report.tags import Element

_FEW = 6  # rows that are better kept together with their heading
_TALL, _BEGUN = HEIGHT * 0.6, 150.0  # a row taller than the first may be broken once this much of it fits


def facts(
    rows: Sequence[tuple[str, str]],
    linker: Linker,
    parent: Element | None = None,
    *,
    name_share: float = 0.24,
    small: bool = False,
    faded: bool = False,
    width: float = WIDTH,
) -> Flowable:
    """Names on the left, values on the right."""
    name = aligned("cell", "left", True, False) if small else style("name")
    value = aligned("cell" if small else "value", "left", faded, False)
    whole = Element("Table", parent)
    cells = []
    for n, v in rows:
        row = Element("TR", whole)
        head = Text(linker.markup(n), name).within(Element("TH", row, scope="Row"))
        cells.append([head, Text(linker.markup(v), value).within(Element("TD", row))])
    pad = 0.4 if small else 2.0
    styling = [
        ("TOPPADDING", (0, 0), (-1, -1), pad),
        ("BOTTOMPADDING", (0, 0), (-1, -1), pad),
        ("LEFTPADDING", (0, 0), (0, -1), 0),
    ]
    return _grid(cells or [["", ""]], [width * name_share, width * (1 - name_share)], styling)


def table(
    block: blocks.Table, linker: Linker, targets: Callable[[str], bool], parent: Element | None = None
) -> Flowable:
    """A table whose header repeats on each page."""
    whole = Element("Table", parent)
    line = Element("TR", whole)
    head = [
        Text(linker.markup(c.title), aligned("head", c.align, False, False)).within(Element("TH", line, scope="Column"))
        for c in block.columns
    ]
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
        cells, line = [], Element("TR", whole)
        for index, (column, text) in enumerate(zip(block.columns, row.cells, strict=True)):
            mark = linker.markup(text, fonts.MONO if column.mono else fonts.SANS)
            if index == 0 and row.key and targets(row.key):
                mark = f'<a name="{anchor(row.key)}"/>{mark}'
            look = aligned("mono" if column.mono else "cell", column.align, row.faded, row.strong)
            cells.append(Text(mark, look).within(Element("TD", line)))
        body.append(cells)
        if row.strong:
            styling.append(("LINEABOVE", (0, number), (-1, number), 0.9, HexColor(ACCENT)))
    return _grid([head, *body], _widths(block), styling, repeat=1)


def start_height(block: blocks.Table | blocks.Facts, linker: Linker) -> float:
    """What must stand below a heading: all facts, a small table, or a table's header and first row; of very tall ones
    the beginning.
    """
    if isinstance(block, blocks.Facts):
        start = facts(block.rows, linker)
    else:
        if len(block.rows) <= _FEW and (whole := _height(block, linker)) < _BEGUN:
            return whole
        start = table(dataclasses.replace(block, rows=block.rows[:1]), linker, lambda _: False)
    height: float = start.wrap(WIDTH, HEIGHT)[1] + 8
    return height if height < _TALL else _BEGUN


def _height(block: blocks.Table, linker: Linker) -> float:
    height: float = table(block, linker, lambda _: False).wrap(WIDTH, HEIGHT)[1] + 8
    return height


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


class _Grid(Table):  # type: ignore[misc]
    """A table that breaks between rows, and within a row only where that row would fill most of a page."""

    def _drawLines(self) -> None:  # noqa: N802  (the library's name)
        with self.canv.decoration():
            super()._drawLines()

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
