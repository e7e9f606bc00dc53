"""How a delimited text of numbers is written: separator, decimal sign, encoding, names and units of the columns.

Recorders write commas, semicolons or tabs, points or decimal commas, a byte-order mark or UTF-16, lines of remarks
first and a row of units under the names. All of it is understood from the first bytes of the file.
"""

from __future__ import annotations

import codecs
import csv
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from evidence.capture.plain_file import open_plain
from evidence.capture.traces.lines import LONGEST_LINE, blocks
from evidence.capture.wording import encoding_of
from evidence.model.quantity import unit_of

_HEAD: Final = 256_000  # bytes looked at to understand the file
_MOST_COLUMNS: Final = 1_000
_NUMBER: Final = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?")
_BRACKETED: Final = re.compile(r"[\[(][^\[\]()]{0,20}[\])]")


@dataclass(frozen=True, slots=True)
class Columns:
    """How a delimited file is written. ``first_row`` is the line, from 1, of the first numbers."""

    names: tuple[str, ...]
    units: tuple[str, ...]  # as written, without brackets; empty where none is
    delimiter: str
    decimal: str
    encoding: str
    first_row: int


def columns_of(path: Path) -> Columns:
    """Understand a delimited file by its first lines. ``ValueError`` if no rows of numbers are found."""
    with open_plain(path) as stream:
        return columns_in(stream.read(_HEAD))


def columns_in(head: bytes) -> Columns:
    """The same from the first bytes of the file."""
    encoding = encoding_of(head)
    text = codecs.getincrementaldecoder(encoding)("replace").decode(head[: len(head) // 2 * 2])
    lines = re.split("\r\n|\n|\r", text)
    if len(head) >= _HEAD:
        lines = lines[:-1]  # the last one may be cut
    lines = [line if len(line) <= LONGEST_LINE else "" for line in lines]
    for delimiter in ";\t,":
        cells = [_cells(line, delimiter) for line in lines]
        for at, row in enumerate(cells):
            if _is_row(row) and _goes_on(cells[at:], len(row)):
                names, units = _headings(cells[:at], len(row))
                decimal = "," if any("," in c for r in cells[at : at + 50] for c in r) else "."
                return Columns(names, units, delimiter, decimal, encoding, at + 1)
    raise ValueError("no rows of numbers in two or more columns were found; use commas, semicolons or tabs")


def rows_in(path: Path, layout: Columns) -> int:
    """How many lines stand from the first numbers to the end, good or bad, without the empty ones at the end."""
    last = 0
    for block in blocks(path, layout.encoding):
        if filled := block.data.rstrip():
            last = block.first + filled.count(b"\n")
    return max(0, last - layout.first_row + 1)


def _cells(line: str, delimiter: str) -> list[str]:
    if '"' in line:
        try:
            row = next(csv.reader([line], delimiter=delimiter), [])
        except csv.Error:
            row = []
    else:
        row = line.split(delimiter, _MOST_COLUMNS)
    return [c.strip() for c in row[:_MOST_COLUMNS]]


def _is_row(row: list[str]) -> bool:
    """A row of numbers: two columns at least, all filled ones numbers."""
    filled = [c for c in row if c]
    return len(filled) >= 2 and all(_NUMBER.fullmatch(c) for c in filled)


def _goes_on(rows: list[list[str]], width: int) -> bool:
    """Whether most of the next rows look the same, so that one odd line is not taken for the beginning."""
    ahead = [r for r in rows[:20] if any(r)]
    return 2 * sum(len(r) == width and _is_row(r) for r in ahead) >= len(ahead)


def _headings(above: list[list[str]], width: int) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Names and units from the lines above the first numbers."""
    rows = [r for r in above if len(r) == width and any(r)]
    units = [""] * width
    if len(rows) >= 2 and all(_is_unit(c) for c in rows[-1]):
        units = [c.strip("[]() ") for c in rows.pop()]
    names = list(rows[-1]) if rows else [""] * width
    for at, name in enumerate(names):
        within = re.fullmatch(r"(.*\S)\s*[\[(]([^\[\]()]{1,12})[\])]", name)
        if within and not units[at]:
            names[at], units[at] = within[1], within[2].strip()
    names = [name or f"column {at}" for at, name in enumerate(names, 1)]
    for at, name in enumerate(names):
        if name in names[:at]:
            names[at] = f"{name} ({at + 1})"
    return tuple(names), tuple(units)


def _is_unit(cell: str) -> bool:
    try:
        return not cell or bool(_BRACKETED.fullmatch(cell)) or bool(unit_of(cell))
    except ValueError:
        return False
