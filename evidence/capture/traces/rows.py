"""The rows of numbers of a delimited file, in blocks and in bounded memory. Polars parses; what is no number is null.

A row counts when every wanted column holds a finite number; the others are counted and the first of them named.
Spaces around a number, and a decimal sign other than the file's own, are taken in a second look at the block.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from evidence.capture.traces.arrays import Array
from evidence.capture.traces.layout import Columns, columns_of
from evidence.capture.traces.lines import blocks
from evidence.model.base import nearest

if TYPE_CHECKING:
    import polars as pl

_MOST_NAMED: Final = 20  # bad lines named
_BLANK: Final = b" \t"


def open_rows(path: Path, wanted: Sequence[str]) -> Rows:
    """The rows of the file at ``path``, the ``wanted`` columns in that order. Unknown names raise ``ValueError``."""
    layout = columns_of(path)
    for name in wanted:
        if name not in layout.names:
            known = ", ".join(layout.names[:30])
            raise ValueError(f"there is no column {name!r}{nearest(name, layout.names)} (columns: {known})")
    return Rows(path, layout, wanted)


class Rows:
    """Iterate once: arrays of good rows, one column for each wanted name. Counts are complete when it is done."""

    def __init__(self, path: Path, layout: Columns, wanted: Sequence[str]) -> None:
        self.path, self.layout, self.wanted = path, layout, list(wanted)
        self.good = self.bad = 0
        self.bad_lines: list[int] = []  # the first of them
        self._at = [_column(layout.names.index(name)) for name in dict.fromkeys(wanted)]

    def __iter__(self) -> Iterator[Array]:
        for block in blocks(self.path, self.layout.encoding):
            number, start = block.first, 0
            while number < self.layout.first_row and start < len(block.data):
                start, number = block.data.find(b"\n", start) + 1, number + 1
            data = block.data[start:]
            if data.strip():
                yield from self._good(data, number)

    def require_one(self) -> None:
        """``ValueError`` where no row was good."""
        if not self.good:
            raise ValueError(f"none of the {self.bad} rows holds numbers in {', '.join(self.wanted[:30])}")

    def _good(self, data: bytes, number: int) -> Iterator[Array]:
        import numpy as np

        values = self._parsed(data)
        if values is None:  # more than the library takes: halves, down to the line that it stumbles over
            middle = data.find(b"\n", len(data) // 2) + 1
            if not 0 < middle < len(data):
                middle = data.find(b"\n") + 1
            if middle == len(data):
                self._note(number)
                return
            yield from self._good(data[:middle], number)
            yield from self._good(data[middle:], number + data.count(b"\n", 0, middle))
            return
        if len(self.wanted) > len(self._at):  # one column under two names
            values = values[:, [self._at.index(_column(self.layout.names.index(name))) for name in self.wanted]]
        fit = np.isfinite(values).all(axis=1)
        if not fit.all():
            ends = np.flatnonzero(np.frombuffer(data, np.uint8) == 10)
            starts = np.concatenate(([0], ends[:-1] + 1))
            for at in np.flatnonzero(~fit).tolist():
                if data[starts[at] : ends[at]].strip(_BLANK):
                    self._note(number + at)
            values = values[fit]
        self.good += len(values)
        if len(values):
            yield values

    def _note(self, line: int) -> None:
        self.bad += 1
        if len(self.bad_lines) < _MOST_NAMED:
            self.bad_lines.append(line)

    def _parsed(self, data: bytes) -> Array | None:
        """One row for each line, NaN where there is no number; ``None`` where the library gives something else."""
        import polars as pl

        lines = data.count(b"\n")
        for quote in ('"', None) if b'"' in data else (None,):  # a lone quotation mark would swallow lines
            try:
                with warnings.catch_warnings():
                    warnings.simplefilter("ignore")
                    frame = self._frame(data, quote, pl.Float64())
                    if frame.height == lines and any(frame.null_count().row(0)):
                        text = pl.all().str.strip_chars().str.replace(",", ".", literal=True)
                        frame = self._frame(data, quote, pl.String()).select(text.cast(pl.Float64, strict=False))
            except (pl.exceptions.PolarsError, pl.exceptions.PanicException):
                continue
            if frame.height == lines:
                return frame.to_numpy()
        return None

    def _frame(self, data: bytes, quote: str | None, kind: Any) -> pl.DataFrame:
        """``data`` under a first row of zeros, which tells the library how many columns there are."""
        import polars as pl

        width = len(self.layout.names)
        zeros = self.layout.delimiter.join("0" * width).encode() + b"\n"
        frame = pl.read_csv(
            zeros + data, has_header=False, separator=self.layout.delimiter, quote_char=quote,
            decimal_comma=self.layout.decimal == "," and kind == pl.Float64, schema={_column(i): kind for i in range(width)},
            columns=self._at, ignore_errors=True, truncate_ragged_lines=True, encoding="utf8-lossy",
        )  # fmt: skip
        return frame.select(self._at)[1:]


def _column(at: int) -> str:
    return f"column_{at + 1}"  # the only names that the library takes for a file without headings
