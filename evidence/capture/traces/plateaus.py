"""Peaks, means and levels: what a trace says of the size of a quantity.

How far they may be off comes from the noise, the digits in which values are written, and what sampling can miss. The
accuracy of probe and recorder is not in it: that stands with the instrument.
"""

from __future__ import annotations

from typing import Final

from evidence.capture.traces.arrays import Array
from evidence.capture.traces.levels import Levels, Spread, cut_off
from evidence.capture.traces.pulses import Edges
from evidence.capture.traces.recording import CannotRead, Recording
from evidence.capture.traces.values import Found, positive

_AROUND: Final = 20_000  # samples looked at around a peak
_SURE: Final = 3.0  # noises allowed for
_SHARP: Final = 1 / 3  # of a peak: more from its highest sample to the one beside, and the top itself was missed
_MISSING: Final = 0.05  # of the time may be without samples
_AT_AN_END: Final = 3.0  # noises of the mean at the end of a parabola laid through samples
_SETTLING: Final = 0.1  # of a stretch on one level, left out at either end

CUT_OFF = "the trace is cut off at the end of the recorder's range"


def peak(recording: Recording, column: str, spread: Spread, full: tuple[float, float] | None, unit: str) -> Found:
    """The highest value, by a parabola through the samples around it."""
    import numpy as np

    low_end, high_end = full or (None, None)
    if cut_off(spread, top=True, low_end=low_end, high_end=high_end):
        raise CannotRead(CUT_OFF)
    at, index, highest = 0, 0, -np.inf
    for values in recording.values(column):
        here = int(values.argmax())
        if values[here] > highest:
            highest, index = float(values[here]), at + here
        at += len(values)
    first = max(0, index - _AROUND)
    times, values = recording.part(column, first, 2 * _AROUND)
    value, off = top_of(times, values, index - first, spread)
    return positive(value, off, unit)


def top_of(times: Array, values: Array, at: int, spread: Spread) -> tuple[float, float]:
    """Height of the top whose highest sample is the one numbered ``at``, and how far it may be off."""
    import numpy as np

    near = max(8 * spread.noise, 0.04 * (spread.high - spread.low))
    below = np.flatnonzero(values < values[at] - near)
    left = int(below[below < at][-1]) + 1 if (below < at).any() else 0
    right = int(below[below > at][0]) if (below > at).any() else len(values)
    part, moments = values[left:right], times[left:right]
    if len(part) < 8:
        beside = np.concatenate((values[max(0, at - 1) : at], values[at + 1 : at + 2]))
        missed = float(values[at] - beside.max()) if len(beside) else np.inf
        if missed > _SHARP * abs(float(values[at])):
            raise CannotRead("its peak is too narrow for so few samples")
        return float(values[at]), _SURE * spread.noise + 1.5 * missed + spread.digit / 2
    middle, reach = float(moments.mean()), float(np.ptp(moments)) or 1.0
    scaled = (moments - middle) / reach
    fits = [np.polynomial.Polynomial.fit(scaled, part, degree)(scaled) for degree in (2, 4)]
    height = float(fits[0].max())
    noise = float(np.std(part - fits[1]))
    off = _SURE * _AT_AN_END * max(noise, spread.noise) / len(part) ** 0.5 + abs(float(fits[1].max()) - height)
    off += max(abs(float(fits[0][0] - fits[0][1])), abs(float(fits[0][-1] - fits[0][-2]))) + spread.digit / 2
    return height, off


def mean(recording: Recording, column: str, spread: Spread, full: tuple[float, float] | None, unit: str) -> Found:
    """The mean over time."""
    low_end, high_end = full or (None, None)
    if any(cut_off(spread, top=top, low_end=low_end, high_end=high_end) for top in (True, False)):
        raise CannotRead(CUT_OFF)
    base = recording.base
    base.require()
    if base.missing > _MISSING * base.duration:
        raise CannotRead("too many of its samples are missing")
    total, thinned, duration = 0.0, [0.0, 0.0], 0.0
    last: tuple[float, float] | None = None
    for times, values in recording.blocks(column):
        t, v = times, values
        if last:
            t, v = _joined(last, t, v)
        steps = t[1:] - t[:-1]
        total += float((0.5 * (v[1:] + v[:-1]) * steps).sum())
        duration += float(steps.sum())
        for half in (0, 1):
            thinned[half] += float(values[half::2].mean()) * len(values) / recording.rows
        last = float(times[-1]), float(values[-1])
    if not duration:
        raise CannotRead("it shows a single sample")
    off = _SURE * spread.noise / recording.rows**0.5 + abs(thinned[0] - thinned[1])
    off += spread.digit * (0.1 if spread.noise > spread.digit else 0.5)
    off += base.missing / base.duration * (spread.high - spread.low) / 2
    off += base.step / base.duration * (spread.high - spread.low)
    return Found(total / duration, off, unit, f"over {duration:.4g} s")


def _joined(last: tuple[float, float], times: Array, values: Array) -> tuple[Array, Array]:
    import numpy as np

    return np.append(last[0], times), np.append(last[1], values)


def drop(recording: Recording, column: str, spread: Spread, levels: Levels, edges: Edges, unit: str) -> Found:
    """From the higher level to the lower one: a voltage unloaded and under load. Each is the mean of its stretches."""
    import numpy as np

    bounds = np.concatenate(([recording.base.start], edges.times, [recording.base.end]))
    margin = _SETTLING * np.diff(bounds)
    cuts = np.column_stack((bounds[:-1] + margin, bounds[1:] - margin)).ravel()
    sums, counts = np.zeros(2), np.zeros(2)
    for times, values in recording.blocks(column):
        place = np.searchsorted(cuts, times, side="right")
        settled = place % 2 == 1
        active = ((place // 2) % 2 == 1) != edges.begun
        for level, here in enumerate((settled & ~active, settled & active)):
            sums[level] += values[here].sum()
            counts[level] += here.sum()
    if counts.min() < 8:
        raise CannotRead("it shows one of the two states, loaded and unloaded, too briefly")
    idle, loaded = sums / counts
    off = _SURE * spread.noise * float(np.sqrt((1 / counts).sum())) + spread.digit * (
        0.2 if spread.noise > spread.digit else 1.0
    )
    high, low = max(idle, loaded), min(idle, loaded)
    note = f"from {high:.4g} {unit} to {low:.4g} {unit}, means of the settled stretches"
    return positive(abs(float(idle - loaded)), off + 0.01 * abs(levels.swing), unit, note)
