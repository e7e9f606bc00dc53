"""The shape of the curves of a delimited file, for drawing: lowest and highest value in each step of time."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from evidence.capture.traces.arrays import Array
from evidence.capture.traces.rows import open_rows


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


def read_columns(path: Path, time_column: str | None, columns: Sequence[str], *, buckets: int = 700) -> Trace:
    """Read the named channels over ``time_column`` (``None``: over the number of the row) into at most ``buckets``
    buckets of lowest and highest value. Unknown names and a file without one good row raise ``ValueError``."""
    if not columns or buckets < 1:
        raise ValueError("name at least one channel and one bucket")
    rows = open_rows(path, ([time_column] if time_column is not None else []) + list(columns))
    envelope = _Envelope(len(columns), buckets)
    for block in rows:
        envelope.add(block if time_column is not None else _numbered(block, rows.good - len(block)))
    rows.require_one()
    times, low, high = envelope.done()
    unit = dict(zip(rows.layout.names, rows.layout.units, strict=True))
    return Trace(
        times=tuple(times.tolist()), start=envelope.start, end=envelope.end,
        time_unit=unit[time_column] if time_column is not None else "",
        channels=tuple(
            Channel(name, unit[name], tuple(low[:, i].tolist()), tuple(high[:, i].tolist()))
            for i, name in enumerate(columns)
        ),
        rows=rows.good, bad_rows=rows.bad, bad_lines=tuple(rows.bad_lines), steps_back=envelope.steps_back,
    )  # fmt: skip


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


def _numbered(block: Array, before: int) -> Array:
    import numpy as np

    return np.column_stack((np.arange(before, before + len(block), dtype=float), block))
