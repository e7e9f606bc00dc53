"""The humps that compressions make while an engine is cranked, in starter current or in a pressure.

One hump for each compression: they tell the cranking speed and, held against each other, how well the cylinders seal.
The height of each is found by least squares over its own stretch of the trace (a level, a drift, and one turn of a
cosine from bottom to bottom), so the shape that all of them share cancels out of their ratio.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Final

from evidence.capture.traces.arrays import Array
from evidence.capture.traces.levels import Spread, cut_off, flat_topped
from evidence.capture.traces.phase import Course, follow, strongest_line
from evidence.capture.traces.plateaus import CUT_OFF
from evidence.capture.traces.recording import CannotRead, Recording
from evidence.capture.traces.values import Found, positive

_SLOWEST, _FASTEST = 40.0, 600.0  # turns a minute of an engine on its starter
_BIN: Final = 1 / 2000  # seconds
_MOST_BINS: Final = 1 << 18
_FEWEST_BINS: Final = 64
_INRUSH: Final = 1.6  # of the usual current: more is the starter getting going
_WEAK: Final = 0.3  # of the usual height: lower, and a hump does not say where its top is
_REACH: Final = 0.6  # of the sway: what neighbours then add to the height of a hump, at most
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
    turn_off: float  # how far a top may be off, in turns of the course
    samples: float = math.inf  # of the trace to a hump
    sway: float = 0.0  # how far single tops lie off a smooth course, in turns: humps then reach into each other

    @cached_property
    def tops(self) -> Array:
        """Times of the tops, in seconds."""
        import numpy as np

        return self.course.when(self.first + np.arange(len(self.heights)))

    @property
    def top_off(self) -> float:
        """How far the time of a top may be off."""
        return self.turn_off / self.course.frequency

    def of_position(self) -> list[Array]:
        """Heights by place within the cycle, counted from the first hump."""
        return [self.heights[at :: self.per_cycle] for at in range(self.per_cycle)]


def humps_of(
    recording: Recording, column: str, spread: Spread, per_cycle: int | None, *, current: bool
) -> Humps:  # fmt: skip
    """Find the humps. ``current``: leave out the inrush and what lies before and after the cranking."""
    import numpy as np

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
    if len(values) < _FEWEST_BINS:
        raise CannotRead("it is too short for compressions to show")
    low, high = (speed * per_cycle / 120 for speed in (_SLOWEST, _FASTEST))
    line = strongest_line(values, step, low, min(high, 0.2 / step))
    noise = spread.noise / max(1.0, step / recording.base.step) ** 0.5
    course = follow(values, float(times[0]), step, line, per_cycle / line, noise)
    rough = _fit(values, filled, course, noise)
    if len(rough.heights) < 2 * per_cycle:
        raise CannotRead("it shows fewer than two whole engine cycles")
    if float(rough.heights.max()) < 6 * float(rough.height_off.max()):
        raise CannotRead("its humps do not stand out of its noise")
    course = _sharpened(course, rough)
    fit = _fit(values, filled, course, noise)
    if len(fit.heights) < 2 * per_cycle:
        raise CannotRead("it shows fewer than two whole engine cycles")
    strong = _strong(fit)
    noisy = 3 * float(np.median(fit.shift_off[strong]))
    top_off = noisy + 2 * float(np.quantile(np.abs(fit.shifts[strong]), 0.9))
    end_off = noisy + 3 * float(np.abs(np.diff(rough.shifts[_strong(rough)])).max(initial=0.0))
    sway = float(np.quantile(np.abs(rough.shifts[_strong(rough)]), 0.9))
    course = replace(course, off=end_off)
    samples = 1 / (course.frequency * recording.base.step)
    return Humps(course, per_cycle, fit.first, fit.heights, fit.height_off, top_off, samples, sway)


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
    if flat_topped(spread, float(humps.heights.max()), humps.samples):
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
        may_be_off = 100 * (factor * float(np.hypot(spread_of_mean, share * off[best])) + 0.003 + _REACH * humps.sway)
        if may_be_off > 15:
            raise CannotRead("its humps differ too much from cycle to cycle to be compared")
        found.append(Found(100 * share, may_be_off, "%", f"mean of {len(place)} humps"))
    return found


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
    if end - begin < _FEWEST_BINS:
        raise CannotRead("it shows no stretch of cranking")
    return times[begin:end], values[begin:end], filled[begin:end]


@dataclass(frozen=True)
class _Fit:
    """One turn of a cosine laid through every whole hump: heights, how far the tops lie off the course, and the noise."""

    first: int
    heights: Array
    shifts: Array  # turns, later ones positive
    height_off: Array  # standard deviations
    shift_off: Array


def _fit(values: Array, filled: Array, course: Course, noise: float) -> _Fit:
    import numpy as np

    turns = course.turns
    numbers = np.floor(turns + 0.5).astype(int)
    first, last = int(numbers[0]), int(numbers[-1])
    rows: list[tuple[float, ...]] = []
    for number in range(first, last + 1):
        here = slice(int(np.searchsorted(numbers, number)), int(np.searchsorted(numbers, number, side="right")))
        phase = turns[here] - number
        share = filled[here].clip(0, 1)
        if len(phase) < 8 or phase[-1] - phase[0] < 0.9 or share.sum() < _SEEN * len(phase):
            if rows and number < last:
                raise CannotRead("samples are missing over a whole hump")
            first = number + 1 if not rows else first
            continue
        weight = np.sqrt(share)
        angle = 2 * np.pi * phase
        shape = np.column_stack((np.ones(len(phase)), np.cos(angle), np.sin(angle))) * weight[:, None]
        answer, *_ = np.linalg.lstsq(shape, values[here] * weight)
        wide = float(np.hypot(answer[1], answer[2]))
        scatter = noise * float(np.sqrt(np.linalg.inv(shape.T @ shape)[1, 1]))
        shift = float(np.arctan2(answer[2], answer[1])) / (2 * np.pi)
        rows.append((2 * wide, shift, 2 * scatter, min(scatter / max(wide, 1e-300), 1.0) / (2 * np.pi)))
    columns = np.array(rows).reshape(-1, 4).T
    return _Fit(first, *columns)


def _strong(fit: _Fit) -> Any:
    """Humps high enough to say where their tops are."""
    import numpy as np

    return fit.heights > _WEAK * float(np.median(fit.heights))


def _sharpened(course: Course, fit: _Fit) -> Course:
    """The course through the tops of the single humps, which a window of a whole cycle smooths away."""
    import numpy as np

    strong = _strong(fit)
    numbers = fit.first + np.flatnonzero(strong)
    turns = course.turns - np.interp(course.turns, numbers, fit.shifts[strong])
    return Course(course.start, course.step, np.maximum.accumulate(turns), course.off)
