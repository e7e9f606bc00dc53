"""The humps that compressions make while an engine is cranked, in starter current or in a pressure.

One hump for each compression: they tell the cranking speed and, held against each other, how well the cylinders seal.
The height of each is found by least squares over its own stretch of the trace (a level, a drift, and one turn of a
cosine from bottom to bottom), so the shape that all of them share cancels out of their ratio.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from evidence.capture.traces.levels import Spread, cut_off
from evidence.capture.traces.phase import Course, follow, strongest_line
from evidence.capture.traces.plateaus import CUT_OFF, top_of
from evidence.capture.traces.recording import CannotRead, Recording
from evidence.capture.traces.values import Found, positive

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[np.float64]]

_SLOWEST, _FASTEST = 40.0, 600.0  # turns a minute of an engine on its starter
_BIN: Final = 1 / 2000  # seconds
_MOST_BINS: Final = 1 << 18
_INRUSH: Final = 1.6  # of the usual current: more is the starter getting going
_SEEN: Final = 0.7  # of the samples of a hump must be there
_T99: Final = {1: 63.66, 2: 9.92, 3: 5.84, 4: 4.60, 5: 4.03, 6: 3.71, 7: 3.50, 8: 3.36, 10: 3.17, 12: 3.05, 16: 2.92,
               20: 2.85, 30: 2.75, 60: 2.66}  # fmt: skip  # Student's t, two-sided 99 %, by degrees of freedom


@dataclass(frozen=True)
class Humps:
    """Compressions of an engine: ``per_cycle`` of them in two turns. ``heights`` of whole humps in order of time."""

    course: Course
    per_cycle: int
    first: int  # number of the first hump: whole turns of the course
    heights: Array
    height_off: Array  # standard deviation of each, from the noise

    @cached_property
    def tops(self) -> Array:
        """Times of the tops, in seconds."""
        import numpy as np

        return self.course.when(self.first + np.arange(len(self.heights)))

    @property
    def top_off(self) -> float:
        """How far the time of a top may be off."""
        return self.course.off / self.course.frequency

    def of_position(self) -> list[Array]:
        """Heights by place within the cycle, counted from the first hump."""
        return [self.heights[at :: self.per_cycle] for at in range(self.per_cycle)]


def humps_of(
    recording: Recording, column: str, spread: Spread, per_cycle: int | None, *, current: bool
) -> Humps:  # fmt: skip
    """Find the humps. ``current``: leave out the inrush and what lies before and after the cranking."""
    if not per_cycle:
        raise CannotRead(
            "it is not stated how many humps make one engine cycle (per_cycle, or the vehicle's cylinders)"
        )
    recording.base.require()
    times, values, filled = _binned(recording, column)
    if current:
        times, values, filled = _cranking(times, values, filled)
    values = _bridged(values, filled)
    step = float(times[1] - times[0]) if len(times) > 1 else 0.0
    if len(values) < 64:
        raise CannotRead("it is too short for compressions to show")
    low, high = (speed * per_cycle / 120 for speed in (_SLOWEST, _FASTEST))
    line = strongest_line(values, step, low, min(high, 0.2 / step))
    noise = spread.noise / max(1.0, step / recording.base.step) ** 0.5
    course = follow(values, float(times[0]), step, line, per_cycle / line, noise)
    first, heights, off = _heights(values, filled, course, noise)
    if len(heights) < 2 * per_cycle:
        raise CannotRead("it shows fewer than two whole engine cycles")
    if float(heights.max()) < 6 * float(off.max()):
        raise CannotRead("its humps do not stand out of its noise")
    return Humps(course, per_cycle, first, heights, off)


def engine_speed(humps: Humps) -> Found:
    """Turns a minute while cranking: a cycle is two turns."""
    course = humps.course
    factor = 120 / humps.per_cycle
    note = f"over {len(humps.heights)} humps, {humps.per_cycle} to an engine cycle of two turns"
    return positive(course.frequency * factor, course.frequency_off * factor, "rpm", note)


def relative_compression(humps: Humps, spread: Spread, full: tuple[float, float] | None) -> list[Found]:
    """Mean height of the humps of each place in the cycle, in percent of the highest; from the first hump on."""
    import numpy as np

    low_end, high_end = full or (None, None)
    if any(cut_off(spread, top=top, low_end=low_end, high_end=high_end) for top in (True, False)):
        raise CannotRead(CUT_OFF)
    places = humps.of_position()
    means = np.array([p.mean() for p in places])
    free = sum(len(p) - 1 for p in places)
    scatter = sum(float(((p - p.mean()) ** 2).sum()) for p in places) / free
    single = max(scatter, float((humps.height_off**2).mean())) ** 0.5
    off = np.array([single / len(p) ** 0.5 for p in places])
    best = int(means.argmax())
    if means[best] <= 0:
        raise CannotRead("its humps have no height")
    factor = _t99(free) / float(means[best])
    found = []
    for mean, spread_of_mean, place in zip(means, off, places, strict=True):
        share = float(mean / means[best])
        may_be_off = 100 * (factor * float(np.hypot(spread_of_mean, share * off[best])) + 0.003)
        if may_be_off > 15:
            raise CannotRead("its humps differ too much from cycle to cycle to be compared")
        found.append(Found(100 * share, may_be_off, "%", f"mean of {len(place)} humps"))
    return found


def peak_pressure(
    recording: Recording, column: str, spread: Spread, humps: Humps, full: tuple[float, float] | None, unit: str
) -> Found:
    """Mean of the peaks of all whole humps, each by a parabola through its top."""
    import numpy as np

    low_end, high_end = full or (None, None)
    if cut_off(spread, top=True, low_end=low_end, high_end=high_end):
        raise CannotRead(CUT_OFF)
    bottoms = humps.course.when(humps.first - 0.5 + np.arange(len(humps.heights) + 1))
    tops = [
        top_of(t, v, int(v.argmax()), spread)
        for begin, end in pairwise(bottoms.tolist())
        for t, v in (_between(recording, column, begin, end),)
        if len(v)
    ]
    if not tops:
        raise CannotRead("it shows no whole hump")
    values, off = np.array(tops).T
    note = f"mean of {len(values)} peaks, {values.min():.4g} to {values.max():.4g} {unit}"
    return positive(float(values.mean()), float(off.mean()), unit, note)


def _between(recording: Recording, column: str, begin: float, end: float) -> tuple[Array, Array]:
    """The samples of one hump."""
    import numpy as np

    if not begin < end:  # not seen
        return np.empty(0), np.empty(0)
    base = recording.base
    lead = int((begin - base.start - base.missing) / base.step) - 2
    first = max(0, lead)
    count = int((end - begin + base.missing) / base.step) + 8
    times, values = recording.part(column, first, count)
    inside = (times >= begin) & (times <= end)
    return times[inside], values[inside]


def _t99(free: int) -> float:
    return _T99[max(n for n in _T99 if n <= max(free, 1))]


def _binned(recording: Recording, column: str) -> tuple[Array, Array, Array]:
    """Means over equal steps of time, and the share of the samples that each holds."""
    import numpy as np

    base = recording.base
    width = max(_BIN, base.step, base.duration / _MOST_BINS)
    count = int(base.duration / width) + 1
    sums, samples = np.zeros(count), np.zeros(count)
    for times, values in recording.blocks(column):
        at = np.clip(((times - base.start) / width + 1e-6).astype(np.int64), 0, count - 1)
        sums += np.bincount(at, values, count)
        samples += np.bincount(at, minlength=count)
    usual = float(np.median(samples[samples > 0]))
    if samples[-1] < 0.5 * usual:
        sums, samples = sums[:-1], samples[:-1]
    with np.errstate(invalid="ignore"):
        return base.start + base.step * (usual - 1) / 2 + width * np.arange(len(sums)), sums / samples, samples / usual


def _bridged(values: Array, filled: Array) -> Array:
    """Empty steps on the straight line between their neighbours."""
    import numpy as np

    there = filled > 0
    if there.mean() < _SEEN:
        raise CannotRead("too many of its samples are missing")
    at = np.arange(len(values))
    return values if there.all() else np.interp(at, at[there], values[there])


def _cranking(times: Array, values: Array, filled: Array) -> tuple[Array, Array, Array]:
    """The longest stretch in which the starter turns the engine, without the inrush."""
    import numpy as np

    there = filled > 0
    level = float(np.quantile(values[there], 0.75))
    turning = np.where(there, (values > 0.3 * level) & (values < _INRUSH * 1.5 * level), True)
    changes = np.flatnonzero(np.diff(np.concatenate(([False], turning, [False])).astype(np.int8)))
    starts, ends = changes[::2], changes[1::2]
    if not len(starts):
        raise CannotRead("it shows no stretch of cranking")
    longest = int((ends - starts).argmax())
    begin, end = int(starts[longest]), int(ends[longest])
    late = values[begin:end]
    usual = float(np.median(late[len(late) // 3 :])) if len(late) else 0.0
    over = np.flatnonzero(late[: len(late) // 2] > _INRUSH * usual)
    if len(over) or begin > 0:
        begin += (int(over[-1]) + 1 if len(over) else 0) + round(0.1 / (times[1] - times[0]))
    return times[begin:end], values[begin:end], filled[begin:end]


def _heights(values: Array, filled: Array, course: Course, noise: float) -> tuple[int, Array, Array]:
    """Number of the first whole hump, the heights of all whole ones, and the standard deviation of each."""
    import numpy as np

    turns = course.turns
    numbers = np.floor(turns + 0.5).astype(int)
    first, last = int(numbers[0]), int(numbers[-1])
    found, off = [], []
    for number in range(first, last + 1):
        here = numbers == number
        phase = turns[here] - number
        if len(phase) < 8 or phase[-1] - phase[0] < 0.9 or filled[here].clip(0, 1).sum() < _SEEN * len(phase):
            if found and number < last:
                raise CannotRead("samples are missing over a whole hump")
            first = number + 1 if not found else first
            continue
        weight = np.sqrt(filled[here].clip(0, 1))
        shape = np.column_stack((np.ones(len(phase)), phase, np.cos(2 * np.pi * phase))) * weight[:, None]
        answer, *_ = np.linalg.lstsq(shape, values[here] * weight)
        found.append(2 * float(answer[2]))
        off.append(2 * noise * float(np.sqrt(np.linalg.inv(shape.T @ shape)[2, 2])))
    return first, np.array(found), np.array(off)
