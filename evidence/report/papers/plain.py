"""A paper as plain text for e-mail: 72 columns, boxes to tick and lines to write on made of plain characters."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from typing import Final

from evidence.report import blocks
from evidence.report.papers.paper import EMPTY, Paper, PaperInput, caution

COLUMNS: Final = 72
BOX: Final = "[ ]"  # what stands for a box to tick
_GAP: Final = 2
_NARROW: Final = 5  # no column is narrower
_LINE: Final = "_" * 36


def as_text(given: PaperInput, paper: Paper) -> str:
    """The paper as plain text, 72 columns."""
    t = given.words
    mark = [t("Demonstration data").upper()] if given.opening and given.opening.demonstration else []
    parts = [*mark, "\n".join(paper.sender), "\n".join(paper.receiver), paper.day, paper.title]
    for section in (*paper.sections, caution(given)):
        if section.title:
            parts.append(section.title.upper())
        parts += [text for block in section.blocks for text in _plain(block)]
    return "\n\n".join(filter(None, parts)).replace("☐", BOX) + "\n"


def _plain(block: blocks.Block) -> Iterator[str]:
    if isinstance(block, blocks.Heading):
        yield block.text.upper()
    elif isinstance(block, blocks.Para):
        apart = (
            ""
            if block.text.startswith("\n")
            else "\n"
            if "\n" in block.text or not block.head.rstrip().endswith((".", ":"))
            else " "
        )
        yield _filled(f"{block.head}{apart if block.head else ''}{block.text}".strip())
    elif isinstance(block, blocks.Bullets):
        mark = "- " if block.mark == "–" else f"{block.mark.replace('☐', BOX)} "
        yield "\n".join(_filled(item, mark) for item in block.items)
    elif isinstance(block, blocks.Facts):
        yield "\n".join(_filled(f"{name}: {value}", hang="  ") for name, value in block.rows)
    elif isinstance(block, blocks.Table):
        yield _table(block) if block.rows else ""
    elif isinstance(block, blocks.Signature):
        yield "\n\n".join(f"{_LINE}\n{_filled(name)}" for name in block.names)


def _filled(text: str, mark: str = "", hang: str = "") -> str:
    lines = [
        textwrap.fill(
            line.replace("☐", BOX), COLUMNS, initial_indent=mark if n == 0 else " " * len(mark),
            subsequent_indent=hang or " " * len(mark), break_long_words=False, break_on_hyphens=False,
        )
        for n, line in enumerate(text.split("\n"))
    ]  # fmt: skip
    return "\n".join(lines)


def _table(table: blocks.Table) -> str:
    """Columns where they fit into the page, else one entry below the other: name and value."""
    if any(all(_is_blank(row.cells[n]) for row in table.rows) for n in range(len(table.columns))):
        return _to_fill_in(table)
    widths = _widths(table)
    return _columns(table, widths) if widths else _entries(table)


def _is_blank(text: str) -> bool:
    return text in ("", EMPTY)


def _widths(table: blocks.Table) -> list[int]:
    """Characters for each column; none where a word is longer than its column would be."""
    longest = [max(_longest(row.cells[n]) for row in _all_rows(table)) for n in range(len(table.columns))]
    room = COLUMNS - _GAP * (len(table.columns) - 1)
    if sum(longest) > room:
        return []
    whole = [
        max(max(map(len, row.cells[n].split("\n"))) for row in _all_rows(table)) for n in range(len(table.columns))
    ]
    shares = [min(w, max(_NARROW, s)) for w, s in zip(whole, _shared(table, room), strict=True)]
    widths = [max(a, b) for a, b in zip(longest, shares, strict=True)]
    while sum(widths) > room:  # the one with most to spare gives
        spare = [w - least for w, least in zip(widths, longest, strict=True)]
        widths[spare.index(max(spare))] -= 1
    return _grown(widths, whole, room)


def _grown(widths: list[int], whole: Sequence[int], room: int) -> list[int]:
    """What is left over goes to the columns that have to break lines, the one furthest off first."""
    while sum(widths) < room:
        lacking = [w - have for w, have in zip(whole, widths, strict=True)]
        if max(lacking) <= 0:
            break
        widths[lacking.index(max(lacking))] += 1
    return widths


def _shared(table: blocks.Table, room: int) -> list[int]:
    every = sum(c.share for c in table.columns)
    return [int(room * c.share / every) for c in table.columns]


def _all_rows(table: blocks.Table) -> tuple[blocks.Row, ...]:
    return (blocks.Row(tuple(c.title for c in table.columns)), *table.rows)


def _longest(text: str) -> int:
    return max((len(word) for word in text.split()), default=0)


def _columns(table: blocks.Table, widths: Sequence[int]) -> str:
    head, *rows = _all_rows(table)
    lines = _row(head.cells, table, widths)
    lines.append((" " * _GAP).join("-" * w for w in widths))
    wrapped = [_row(row.cells, table, widths) for row in rows]
    apart = any(len(row) > 1 for row in wrapped)  # an empty line tells rows of several lines apart
    for n, row in enumerate(wrapped):
        lines += ([""] if apart and n else []) + row
    return "\n".join(lines)


def _row(cells: Sequence[str], table: blocks.Table, widths: Sequence[int]) -> list[str]:
    made = [_cell(text, width) for text, width in zip(cells, widths, strict=True)]
    high = max(map(len, made))
    lines = []
    for n in range(high):
        parts = [
            (cell[n] if n < len(cell) else "").rjust(width) if column.align == "right" else (cell[n] if n < len(cell) else "").ljust(width)
            for cell, width, column in zip(made, widths, table.columns, strict=True)
        ]  # fmt: skip
        lines.append((" " * _GAP).join(parts).rstrip())
    return lines


def _cell(text: str, width: int) -> list[str]:
    return [
        line
        for part in text.split("\n")
        for line in textwrap.wrap(part, width, break_long_words=False, break_on_hyphens=False) or [""]
    ]


def _entries(table: blocks.Table) -> str:
    """Every row as an entry: its first cell with its column's name, the other cells below."""
    told = []
    for row in table.rows:
        named = [
            f"{c.title}: {' / '.join(text.split(chr(10)))}" for c, text in zip(table.columns, row.cells, strict=True)
        ]
        told.append("\n".join([_filled(named[0]), *(_filled(text, "  ", "    ") for text in named[1:])]))
    return "\n\n".join(told)


def _to_fill_in(table: blocks.Table) -> str:
    """A form's table: what is known stands, what is to be written has its name and a line."""
    told = []
    for row in table.rows:
        lines: list[str] = []
        for column, text in zip(table.columns, row.cells, strict=True):
            value = "_" * max(8, COLUMNS - 4 - len(column.title)) if _is_blank(text) else " ".join(text.split("\n"))
            lines.append(_filled(f"{column.title}: {value}", "  " if lines else "", "    "))
        told.append("\n".join(lines))
    return "\n\n".join(told)
