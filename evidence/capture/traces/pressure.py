"""The pressure of one cylinder while an engine is cranked: one narrow rise in each engine cycle of two turns."""

from __future__ import annotations

from itertools import pairwise
from typing import Final

from evidence.capture.traces.arrays import Array
from evidence.capture.traces.humps import Humps
from evidence.capture.traces.levels import Levels, Spread, cut_off, flat_topped
from evidence.capture.traces.phase import Course
from evidence.capture.traces.plateaus import CUT_OFF, top_of
from evidence.capture.traces.pulse_features import regular_starts
from evidence.capture.traces.pulses import Pulses, edges_of, pulses_of
from evidence.capture.traces.recording import CannotRead, Recording
from evidence.capture.traces.values import Found, positive

_CLEAR: Final = 20.0  # noises that a rise must have
_HALF, _NEAR_TOP = 0.5, 0.8  # of the height: where a rise is cut to find its middle


def rises_of(recording: Recording, column: str, spread: Spread) -> Humps:
    """The rises of one cylinder. A top lies in the middle between the crossings of 80 % of the height."""
    import numpy as np

    base = recording.base
    base.require()
    height = spread.high - spread.low
    if height < _CLEAR * spread.noise:
        raise CannotRead("its rises do not stand out of its noise")
    half, near = (_cut(recording, column, spread, spread.low + share * height) for share in (_HALF, _NEAR_TOP))
    regular_starts(half, base)
    middles, lower = (_middles(pulses) for pulses in (near, half))
    if len(middles) != len(lower) or len(middles) < 2:
        raise CannotRead("its rises differ too much in height, or fewer than two are whole")
    whole = ~np.isnan(near.ends - near.starts)
    off = float((near.start_off + near.end_off)[whole].max()) / 2 + float(np.abs(middles - lower).max())
    period = float(middles[-1] - middles[0]) / (len(middles) - 1)
    numbers = np.arange(len(middles), dtype=float)
    first, last = middles[1] - middles[0], middles[-1] - middles[-2]
    times = base.start + base.duration * np.linspace(0, 1, 64 * len(middles) + 1)
    turns = np.interp(times, middles, numbers)
    turns = np.where(times < middles[0], (times - middles[0]) / first, turns)
    turns = np.where(times > middles[-1], numbers[-1] + (times - middles[-1]) / last, turns)
    course = Course(base.start, base.duration / (len(times) - 1), turns, 2 * off / period)
    return Humps(
        course,
        1,
        0,
        np.full(len(middles), height),
        np.full(len(middles), spread.noise),
        off / period,
        period / base.step,
    )


def peak_pressure(
    recording: Recording, column: str, spread: Spread, humps: Humps, full: tuple[float, float] | None, unit: str
) -> Found:
    """Mean of the peaks of all whole humps, each by a parabola through its top."""
    import numpy as np

    low_end, high_end = full or (None, None)
    flat = flat_topped(spread, spread.high - spread.low, humps.samples)
    if flat or cut_off(spread, top=True, low_end=low_end, high_end=high_end):
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


def _cut(recording: Recording, column: str, spread: Spread, threshold: float) -> Pulses:
    band = max(4 * spread.noise, 0.02 * (spread.high - spread.low))
    levels = Levels(spread.low, spread.high, threshold, band, spread.noise, 0.0)
    return pulses_of(edges_of(recording, column, levels), recording.base)


def _middles(pulses: Pulses) -> Array:
    import numpy as np

    middles = (pulses.starts + pulses.ends) / 2
    return middles[~np.isnan(middles)]
