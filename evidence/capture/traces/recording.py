"""A waveform file as columns of numbers over seconds, read once and kept outside memory while features are read.

The columns lie in unnamed temporary files and come back in blocks, so memory does not grow with the file. What the
times are worth is worked out on the way: the usual step, how far single steps are off it, and where samples are missing.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Final, Self

from evidence.capture.traces.arrays import Array
from evidence.capture.traces.rows import open_rows

SECONDS: Final = {"s": 1.0, "ms": 1e-3, "µs": 1e-6}
_BLOCK: Final = 1 << 19  # samples handed out at a time
_A_GAP: Final = 1.5  # usual steps from one sample to the next: more means that samples are missing
_FEW: Final = 8  # different values
_FINE: Final = 0.05  # of the range: a wider step is no digit but a level
_STEPS: Final = 1 << 20  # steps looked at for the usual one


class CannotRead(Exception):
    """The trace does not allow what was asked. The message says why, as the end of a sentence."""


@dataclass(frozen=True, slots=True)
class TimeBase:
    """The times of a recording, in seconds. ``jitter``: how far the time of one sample may be off."""

    start: float
    end: float
    step: float
    jitter: float
    gaps: tuple[tuple[float, float], ...]  # (last sample before, first one after); the longest where there are many
    missing: float  # seconds without samples
    steps_back: int

    @property
    def duration(self) -> float:
        """From the first sample to the last."""
        return self.end - self.start

    @property
    def longest_gap(self) -> float:
        """Seconds of the longest stretch without a sample."""
        return max((b - a for a, b in self.gaps), default=0.0)

    def require(self) -> None:
        """:class:`CannotRead` where times say nothing."""
        if self.steps_back:
            raise CannotRead(f"the time goes back in {self.steps_back} rows")
        if self.step <= 0:
            raise CannotRead("the times are written too coarsely: most samples have the time of the one before")


class Recording:
    """Use as a context. ``scales``: column -> units of the quantity for each unit in the file."""

    def __init__(self, path: Path, time_column: str, time_unit: str, scales: Mapping[str, float]) -> None:
        self._rows = open_rows(path, [time_column, *scales])
        self._names = ["", *scales]
        self._factors = [SECONDS[time_unit], *scales.values()]
        self._files: list[IO[bytes]] = []
        self._stack = ExitStack()
        self.rows = self.bad_rows = 0
        self.base: TimeBase

    def __enter__(self) -> Self:
        with ExitStack() as stack:
            self._files = [stack.enter_context(tempfile.TemporaryFile()) for _ in self._names]
            times = _Times()
            for block in self._rows:
                columns = [block[:, i] * factor for i, factor in enumerate(self._factors)]
                times.add(columns[0])
                for file, column in zip(self._files, columns, strict=True):
                    file.write(column.tobytes())
            self._rows.require_one()
            self.rows, self.bad_rows = self._rows.good, self._rows.bad
            self.base = times.done()
            self._stack = stack.pop_all()
        return self

    def __exit__(self, *_: object) -> None:
        self._stack.close()

    def blocks(self, column: str) -> Iterator[tuple[Array, Array]]:
        """Times in seconds and values of a column, a few hundred thousand samples at a time."""
        time, values = self._files[0], self._files[self._names.index(column, 1)]
        at = 0
        while at < self.rows:
            yield _floats(time, at, _BLOCK), _floats(values, at, _BLOCK)
            at += _BLOCK

    def values(self, column: str) -> Iterator[Array]:
        """The values alone."""
        file = self._files[self._names.index(column, 1)]
        for at in range(0, self.rows, _BLOCK):
            yield _floats(file, at, _BLOCK)

    def part(self, column: str, start: int, count: int) -> tuple[Array, Array]:
        """``count`` samples from the one numbered ``start``: times and values."""
        return _floats(self._files[0], start, count), _floats(self._files[self._names.index(column, 1)], start, count)

    def unbroken(self, most: int) -> tuple[int, int]:
        """Where the longest part without a gap starts, in samples, and how many it has; at most ``most``."""
        import numpy as np

        edges = [0, *sorted(self._index_of(after) for _, after in self.base.gaps), self.rows]
        lengths = np.diff(edges)
        longest = int(lengths.argmax())
        return edges[longest], min(int(lengths[longest]), most)

    def _index_of(self, time: float) -> int:
        import numpy as np

        for number, at in enumerate(range(0, self.rows, _BLOCK)):
            block = _floats(self._files[0], at, _BLOCK)
            if time <= block[-1]:
                return number * _BLOCK + int(np.searchsorted(block, time))
        return self.rows


def _floats(file: IO[bytes], start: int, count: int) -> Array:
    import numpy as np

    file.seek(start * 8)
    return np.frombuffer(file.read(count * 8), np.float64)


class _Times:
    """What the time column is worth, gathered block by block."""

    def __init__(self) -> None:
        self._last: float | None = None
        self._start = 0.0
        self._looked: list[Array] = []
        self._long: list[tuple[float, float]] = []
        self._back = 0
        self._missing = 0.0
        self._step = 0.0

    def add(self, times: Array) -> None:
        """Take the times of further samples, in seconds."""
        import numpy as np

        if self._last is None:
            self._start = self._last = float(times[0])
            steps, before = np.diff(times), times[:-1]
        else:
            before = np.concatenate(([self._last], times[:-1]))
            steps = times - before
        self._last = float(times[-1])
        if sum(map(len, self._looked)) < _STEPS:
            self._looked.append(steps)
        if not self._step and len(steps):
            self._step = float(np.median(steps))
        self._back += int((steps < 0).sum())
        wide = np.flatnonzero(steps > _A_GAP * self._step) if self._step > 0 else np.empty(0, int)
        if len(wide):
            self._missing += float(steps[wide].sum() - len(wide) * self._step)
            longest = wide[np.argsort(steps[wide])[-2000:]]
            self._long += [(float(before[i]), float(before[i] + steps[i])) for i in longest]
            self._long = sorted(self._long, key=lambda gap: gap[1] - gap[0])[-2000:]

    def done(self) -> TimeBase:
        """The sum of it."""
        import numpy as np

        steps = np.concatenate(self._looked) if self._looked else np.empty(0)
        usual = steps[(steps >= 0) & (steps <= _A_GAP * self._step)]
        jitter = float(np.quantile(np.abs(usual - self._step), 0.999)) if len(usual) else 0.0
        return TimeBase(
            start=self._start, end=self._last or self._start, step=self._step, jitter=jitter,
            gaps=tuple(sorted(self._long)), missing=self._missing, steps_back=self._back,
        )  # fmt: skip


def noise_of(parts: Sequence[Array]) -> tuple[float, float]:
    """Standard deviation of what changes from sample to sample, robust against edges, and the step of the digits.

    The noise is at least what rounding to those digits makes of it. No step of digits: 0.
    """
    import numpy as np

    steps = np.concatenate([np.abs(np.diff(part)) for part in parts if len(part) > 1] or [np.zeros(1)])
    digit = _digit(np.concatenate(list(parts)))
    return max(float(np.median(steps)) / 0.6745 / 2**0.5, digit / 12**0.5), digit


def _digit(values: Array) -> float:
    """The step in which values are written: that of the converter where many share few values, else a power of ten."""
    import numpy as np

    different = np.unique(values)
    if 2 < len(different) < len(values) / 4:
        step = float(np.diff(different).min())
        if step < _FINE * (different[-1] - different[0]):
            return step
    size = float(np.abs(values).max())
    for places in range(7):
        if size and np.abs(values - np.round(values, places)).max() < 1e-9 * size:
            return 10.0**-places if places or len(different) > _FEW else 0.0
    return 0.0
