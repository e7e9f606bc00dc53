"""The levels between which a trace switches, how noisy it is, and whether it was cut off at the end of a range."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

from evidence.capture.traces.arrays import Array
from evidence.capture.traces.recording import CannotRead, Recording, noise_of

_BINS: Final = 4096
_PARTS: Final = 64  # parts of the trace on which noise is looked at
_PART: Final = 4096  # samples in each
_CLEAR: Final = 10.0  # noises between two levels that are told apart
_NEAR: Final = 0.25  # of the swing, about a level
_MOSTLY: Final = 0.5  # of the samples lie there, in a trace that switches between two levels
_SKIRT: Final = 0.02  # of the densest level: what is thinner lies beside it


@dataclass(frozen=True, slots=True)
class Spread:
    """Where the values of a channel lie: counts of values in equal steps from ``low`` to ``high``, and the noise."""

    low: float
    high: float
    counts: Array
    noise: float
    digit: float  # step in which values are written; 0: none found
    flat_low: int  # longest run of samples with exactly the lowest value
    flat_high: int

    @property
    def bin(self) -> float:
        """Width of one step of value."""
        return (self.high - self.low) / len(self.counts) or abs(self.high) * 1e-9 or 1e-12


@dataclass(frozen=True, slots=True)
class Levels:
    """The level at rest and the other one; an edge is where ``threshold`` is crossed, give or take ``band``."""

    idle: float
    active: float
    threshold: float
    band: float  # hysteresis to either side
    noise: float
    off: float  # how far the threshold may be from half-way

    @property
    def swing(self) -> float:
        """From rest to the other level, with its sign."""
        return self.active - self.idle


def spread_of(recording: Recording, column: str) -> Spread:
    """Two passes: the range first, then how the values lie in it. Odd single values do not widen the range."""
    import numpy as np

    low, high = np.inf, -np.inf
    for values in recording.values(column):
        low, high = min(low, float(values.min())), max(high, float(values.max()))
    stride = max(1, recording.rows // _PARTS)
    parts = [recording.part(column, at, _PART)[1] for at in range(0, recording.rows, max(stride, _PART))]
    counts = np.zeros(_BINS)
    scale = _BINS / (high - low) if high > low else 0.0
    runs = [0, 0]
    for values in recording.values(column):
        counts += np.bincount(np.minimum(((values - low) * scale).astype(np.int32), _BINS - 1), minlength=_BINS)
        for side, end in enumerate((low, high)):
            runs[side] = max(runs[side], _longest_run(values == end))
    return Spread(low, high, counts, *noise_of(parts), *runs)


def _longest_run(true: Any) -> int:
    import numpy as np

    if not true.any():
        return 0
    changes = np.flatnonzero(np.diff(np.concatenate(([False], true, [False])).astype(np.int8)))
    return int((changes[1::2] - changes[::2]).max())


def cut_off(spread: Spread, *, top: bool, low_end: float | None = None, high_end: float | None = None) -> bool:
    """Whether the trace runs into an end of a range: exactly flat there while it is noisy elsewhere, or at the stated end."""
    end = high_end if top else low_end
    if end is not None:
        margin = 0.002 * abs(high_end - low_end) if high_end is not None and low_end is not None else 0.0
        if (spread.high >= end - margin) if top else (spread.low <= end + margin):
            return True
    noisy = spread.noise > max(2 * spread.bin, 0.8 * spread.digit, 1e-9)
    return noisy and (spread.flat_high if top else spread.flat_low) >= 4


def flat_topped(spread: Spread, height: float, samples: float) -> bool:
    """Whether the longest flat top is longer than rounding makes of the top of a sine of that height and length."""
    step = max(spread.digit, spread.bin)
    rounded = 2 / math.pi * samples * (step / height) ** 0.5 if height > 0 else math.inf
    return spread.flat_high > 3 * rounded + 4


def levels_of(spread: Spread, threshold: float | None = None, active: str | None = None) -> Levels:
    """The two levels; ``active`` says whether the low or the high one is the pulse, else the rarer one is.

    With a stated ``threshold`` the second level need not occur: nothing may have crossed it.
    """
    found = _two_modes(spread) if threshold is None else _two_sides(spread, threshold)
    if found is None:
        if threshold is None:
            raise CannotRead("it keeps to one level, and no threshold is stated that a pulse would cross")
        middle = (spread.low + spread.high) / 2
        if spread.low - 6 * spread.noise < threshold < spread.high + 6 * spread.noise:
            raise CannotRead("it keeps to one level, too near to the stated threshold")
        if active and (active == "high") == (middle > threshold):
            raise CannotRead(f"it keeps to the {active} level, which is stated to be the pulse")
        return _levels(spread, middle, 2 * threshold - middle, threshold)
    low, high = sorted(found)
    if active:
        found = (high, low) if active == "low" else (low, high)
    return _levels(spread, *found, threshold)


def _two_sides(spread: Spread, threshold: float) -> tuple[float, float] | None:
    """Means of what lies on either side of a stated threshold, the more frequent side first."""
    import numpy as np

    above = _centres(spread) > threshold
    counts = spread.counts
    if min(counts[above].sum(), counts[~above].sum()) < 2:
        return None
    sides = [
        (counts[part].sum(), float(np.average(_centres(spread)[part], weights=counts[part])))
        for part in (above, ~above)
    ]
    (_, often), (_, seldom) = sorted(sides, reverse=True)
    return often, seldom


def like(spread: Spread, sibling: Levels) -> Levels:
    """The levels of a like channel for one that never leaves its level at rest; :class:`CannotRead` where it is elsewhere."""
    edge = abs(sibling.swing) * 0.25
    if max(abs(spread.low - sibling.idle), abs(spread.high - sibling.idle)) > edge:
        raise CannotRead("it keeps to one level, which is not the level at rest of the like channels")
    return Levels(sibling.idle, sibling.active, sibling.threshold, sibling.band, spread.noise, sibling.off)


def _levels(spread: Spread, idle: float, active: float, threshold: float | None) -> Levels:
    middle = (idle + active) / 2 if threshold is None else threshold
    room = min(abs(middle - idle), abs(active - middle))
    band = max(4 * spread.noise, (0.2 if threshold is None else 0.05) * room)
    if band > 0.8 * room:
        raise CannotRead("the two levels are too close together for its noise")
    return Levels(idle, active, middle, band, spread.noise, max(spread.noise, spread.bin) if threshold is None else 0.0)


def _two_modes(spread: Spread) -> tuple[float, float] | None:
    """The most frequent level and the densest one apart from it, with a valley between."""
    import numpy as np

    width = max(1, round(3 * spread.noise / spread.bin))
    dense = np.convolve(spread.counts, np.ones(min(width, _BINS // 8)), mode="same")
    first = int(dense.argmax())
    outside = dense < _SKIRT * dense[first]
    below = np.flatnonzero(outside[:first])
    above = np.flatnonzero(outside[first:])
    left = below[-1] if len(below) else 0
    right = first + above[0] if len(above) else _BINS
    apart = np.array(dense)
    clear = max(1, round(_CLEAR * spread.noise / spread.bin))
    apart[max(0, min(left, first - clear)) : min(_BINS, max(right, first + clear))] = 0
    second = int(apart.argmax())
    if apart[second] < 4 or spread.high - spread.low <= 0:
        return None
    between = dense[min(first, second) : max(first, second) + 1]
    if between.min() > 0.5 * dense[second]:
        return None
    found = _about(spread, first, width), _about(spread, second, width)
    centres, reach = _centres(spread), _NEAR * abs(found[0] - found[1])
    near = (np.abs(centres - found[0]) < reach) | (np.abs(centres - found[1]) < reach)
    return (
        found if spread.counts[near].sum() > _MOSTLY * spread.counts.sum() else None
    )  # else it drifts, and rests nowhere


def _about(spread: Spread, at: int, width: int) -> float:
    """The mean of the values near a bin."""
    import numpy as np

    part = slice(max(0, at - width), at + width + 1)
    return float(np.average(_centres(spread)[part], weights=spread.counts[part]))


def _centres(spread: Spread) -> Array:
    import numpy as np

    return spread.low + (np.arange(len(spread.counts)) + 0.5) * spread.bin
