"""Waveforms in delimited text: what the columns are, and the shape of the curves in bounded memory.

Recorders write commas, semicolons or tabs, points or decimal commas, a byte-order mark or UTF-16, lines of
remarks first and a row of units under the names. The file is read once, in blocks; what is no row of numbers
is counted and its line named. A line longer than 64,000 characters is a bad row, however long it is.
"""

from __future__ import annotations

import codecs
import csv
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from evidence.capture.plain_file import open_plain
from evidence.capture.wording import encoding_of
from evidence.model.base import nearest
from evidence.model.quantity import unit_of

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[np.float64]]

_HEAD: Final = 256_000  # bytes looked at to understand the file
_BLOCK: Final = 2_000_000  # bytes read at a time
_LONGEST_LINE: Final = 64_000  # characters
_MOST_COLUMNS: Final = 1_000
_MOST_NAMED: Final = 20  # bad lines named
_RETRY: Final = 256  # rows that are looked at one by one around a bad one
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


@dataclass(frozen=True, slots=True)
class Channel:
    """One curve: the lowest and highest value in each bucket."""

    name: str
    unit: str
    low: tuple[float, ...]
    high: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Trace:
    """Curves over one time base. ``times`` is the time at the start of each bucket."""

    times: tuple[float, ...]
    start: float
    end: float
    time_unit: str
    channels: tuple[Channel, ...]
    rows: int
    bad_rows: int
    bad_lines: tuple[int, ...]  # the first of them
    steps_back: int  # rows whose time is before that of the row above


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
    lines = [line if len(line) <= _LONGEST_LINE else "" for line in lines]
    for delimiter in ";\t,":
        cells = [_cells(line, delimiter) for line in lines]
        for at, row in enumerate(cells):
            if _is_row(row) and _goes_on(cells[at:], len(row)):
                names, units = _headings(cells[:at], len(row))
                decimal = "," if any("," in c for r in cells[at : at + 50] for c in r) else "."
                return Columns(names, units, delimiter, decimal, encoding, at + 1)
    raise ValueError("no rows of numbers in two or more columns were found; use commas, semicolons or tabs")


def read_columns(path: Path, time_column: str | None, columns: Sequence[str], *, buckets: int = 700) -> Trace:
    """Read the named channels over ``time_column`` (``None``: over the number of the row) into at most ``buckets``
    buckets of lowest and highest value. Unknown names and a file without one good row raise ``ValueError``."""
    layout = columns_of(path)
    wanted = ([time_column] if time_column is not None else []) + list(columns)
    if not columns or buckets < 1:
        raise ValueError("name at least one channel and one bucket")
    for name in wanted:
        if name not in layout.names:
            raise ValueError(f"there is no column {name!r}{nearest(name, layout.names)} (columns: {_list(layout)})")
    at = [layout.names.index(name) for name in wanted]
    envelope = _Envelope(len(columns), buckets)
    rows = _Rows(path, layout, at)
    for block in rows:
        envelope.add(block if time_column is not None else _numbered(block, rows.good - len(block)))
    if not rows.good:
        raise ValueError(f"none of the {rows.bad} rows holds numbers in {_list(layout, wanted)}")
    times, low, high = envelope.done()
    unit = dict(zip(layout.names, layout.units, strict=True))
    return Trace(
        times=tuple(times.tolist()),
        start=envelope.start,
        end=envelope.end,
        time_unit=unit[time_column] if time_column is not None else "",
        channels=tuple(
            Channel(name, unit[name], tuple(low[:, i].tolist()), tuple(high[:, i].tolist()))
            for i, name in enumerate(columns)
        ),
        rows=rows.good,
        bad_rows=rows.bad,
        bad_lines=tuple(rows.bad_lines),
        steps_back=envelope.steps_back,
    )


def rows_in(path: Path, layout: Columns) -> int:
    """How many lines stand from the first numbers to the end, good or bad, without the empty ones at the end."""
    if layout.encoding != "utf-8-sig":
        counted = (number + len(lines) - 1 for number, lines in _lines(path, layout.encoding) if any(lines))
        return max(counted, default=0) - layout.first_row + 1
    lines, last = 0, b""
    with open_plain(path) as stream:
        while block := stream.read(_BLOCK):
            lines += block.count(b"\n") if b"\n" in block else block.count(b"\r")
            last = block
    lines += not last.endswith((b"\n", b"\r"))
    tail = last.replace(b"\r\n", b"\n")
    lines -= len(tail) - len(tail.rstrip(b"\n")) - 1 if tail.endswith(b"\n\n") else 0
    return max(0, lines - layout.first_row + 1)


class _Rows:
    """The good rows of the file in blocks, chosen columns only; bad ones are counted."""

    def __init__(self, path: Path, layout: Columns, at: list[int]) -> None:
        self.path, self.layout, self.at = path, layout, at
        self.good = self.bad = 0
        self.bad_lines: list[int] = []

    def __iter__(self) -> Iterator[Array]:
        for number, lines in _lines(self.path, self.layout.encoding):
            skip = max(0, self.layout.first_row - number)
            for block in self._numbers(lines[skip:], number + skip):
                self.good += len(block)
                yield block

    def _numbers(self, lines: list[str], number: int) -> Iterator[Array]:
        """Parse all at once; where that fails halve, and look at a few hundred rows one by one."""
        if not any(line.strip() for line in lines):
            return
        block = self._parsed(lines)
        if block is not None:
            yield block
        elif len(lines) <= _RETRY:
            yield from self._one_by_one(lines, number)
        else:
            half = len(lines) // 2
            yield from self._numbers(lines[:half], number)
            yield from self._numbers(lines[half:], number + half)

    def _parsed(self, lines: list[str]) -> Array | None:
        import numpy as np

        if self.layout.decimal == ",":
            lines = [line.replace(",", ".") for line in lines]
        try:
            block = np.loadtxt(lines, delimiter=self.layout.delimiter, usecols=self.at, ndmin=2, comments=None)
        except (ValueError, IndexError, OverflowError):
            return None
        return block if np.isfinite(block).all() else None

    def _one_by_one(self, lines: list[str], number: int) -> Iterator[Array]:
        import numpy as np

        good = []
        for line in lines:
            values = self._values(line)
            if values is not None:
                good.append(values)
            elif line.strip():
                self.bad += 1
                if len(self.bad_lines) < _MOST_NAMED:
                    self.bad_lines.append(number)
            number += 1
        if good:
            yield np.array(good)

    def _values(self, line: str) -> list[float] | None:
        cells = _cells(line, self.layout.delimiter)
        if len(cells) <= max(self.at) or not all(_NUMBER.fullmatch(cells[i]) for i in self.at):
            return None
        values = [float(cells[i].replace(",", ".")) for i in self.at]
        return values if all(map(math.isfinite, values)) else None


class _Envelope:
    """Lowest and highest of runs of rows. A run doubles whenever there are too many, so memory stays bounded
    and no single sample is ever lost."""

    def __init__(self, channels: int, buckets: int) -> None:
        import numpy as np

        self.buckets = buckets
        self.capacity = 8 * buckets  # runs kept while reading; even, so that they can be joined in pairs
        self.run = 1  # rows in each
        self.rest: Array = np.empty((0, channels + 1))
        self.times: Array = np.empty(0)
        self.low: Array = np.empty((0, channels))
        self.high: Array = np.empty((0, channels))
        self.start = self.end = self._last = math.nan
        self.steps_back = 0

    def add(self, block: Array) -> None:
        """Take further rows: time in the first column, channels in the others."""
        import numpy as np

        times = block[:, 0]
        if math.isnan(self.start):  # nothing was read yet
            self.start = self.end = float(times[0])
            before = times[0]
        else:
            before = self._last
        self.steps_back += int((np.diff(times, prepend=before) < 0).sum())
        self._last = float(times[-1])
        self.start, self.end = min(self.start, float(times.min())), max(self.end, float(times.max()))
        ahead = np.concatenate((self.rest, block))
        while len(ahead) >= self.run:
            fits = min(len(ahead) // self.run, self.capacity - len(self.times))
            self._append(ahead[: fits * self.run].reshape(fits, self.run, -1))
            ahead = ahead[fits * self.run :]
            if len(self.times) == self.capacity:
                self._join()
        self.rest = ahead

    def done(self) -> tuple[Array, Array, Array]:
        """Time at the start, lowest and highest of each of at most ``buckets`` buckets."""
        import numpy as np

        if len(self.rest):
            self._append(self.rest.reshape(1, len(self.rest), -1))
        count = min(self.buckets, len(self.times))
        starts = np.arange(count) * len(self.times) // count
        low = np.minimum.reduceat(self.low, starts, axis=0)
        high = np.maximum.reduceat(self.high, starts, axis=0)
        return self.times[starts], low, high

    def _append(self, runs: Array) -> None:
        import numpy as np

        self.times = np.concatenate((self.times, runs[:, 0, 0]))
        self.low = np.concatenate((self.low, runs[:, :, 1:].min(axis=1)))
        self.high = np.concatenate((self.high, runs[:, :, 1:].max(axis=1)))

    def _join(self) -> None:
        self.times = self.times[::2]
        self.low = self.low.reshape(self.capacity // 2, 2, -1).min(axis=1)
        self.high = self.high.reshape(self.capacity // 2, 2, -1).max(axis=1)
        self.run *= 2


def _lines(path: Path, encoding: str) -> Iterator[tuple[int, list[str]]]:
    """Whole lines in blocks, each block with the number of its first line. An overlong line comes as one ``?``."""
    decoder = codecs.getincrementaldecoder(encoding)("replace")
    number, rest, overlong = 1, "", False
    with open_plain(path) as stream:
        while True:
            raw = stream.read(_BLOCK)
            text = rest + decoder.decode(raw, not raw)
            held = text.endswith("\r") and bool(raw)  # its newline may come with the next block
            text = text[:-1] if held else text
            if "\r" in text:
                text = text.replace("\r\n", "\n").replace("\r", "\n")
            lines = text.split("\n")
            rest = lines.pop() if raw else ""
            if lines and overlong:
                lines[0], overlong = "?", False
            if len(rest) > _LONGEST_LINE:
                rest, overlong = "", True
            rest += "\r" if held else ""
            if lines:
                yield number, [line if len(line) <= _LONGEST_LINE else "?" for line in lines]
                number += len(lines)
            if not raw:
                return


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


def _numbered(block: Array, before: int) -> Array:
    import numpy as np

    return np.column_stack((np.arange(before, before + len(block), dtype=float), block))


def _list(layout: Columns, names: Sequence[str] | None = None) -> str:
    return ", ".join(list(names or layout.names)[:30])
