"""Edges and pulses of a trace that switches between two levels, each with how far its time may be off.

An edge is where the threshold is crossed, on the straight line between the two samples beside it; it may be off by half
the time between them, by what noise makes of its slope, and by the jitter of the times.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from evidence.capture.traces.arrays import Array
from evidence.capture.traces.levels import Levels
from evidence.capture.traces.recording import CannotRead, Recording, TimeBase

_LONGEST_PASSAGE: Final = 1 << 20  # samples between the levels; a trace that stays there longer has no edge
_SURE: Final = 3.0  # noises allowed for
_MOSTLY: Final = 0.1  # of the time: a level kept longer than this may as well be the level at rest


@dataclass(frozen=True, slots=True)
class Edges:
    """Crossings in order of time. ``up``: away from the level at rest. ``begun``: the trace starts on the other level."""

    times: Array
    off: Array
    up: Array
    begun: bool
    ended: bool


@dataclass(frozen=True, slots=True)
class Pulses:
    """Pulses in order. A pulse that the trace's ends cut has NaN for the time that was not seen."""

    starts: Array
    ends: Array
    start_off: Array
    end_off: Array
    glitches: int  # excursions of one sample, left out
    share: float  # of the time, on the level taken as the pulse
    assumed: bool = False  # nobody said which level is the pulse: the rarer one is taken

    def require_polarity(self) -> None:
        """:class:`CannotRead` where it cannot be told which level is the pulse."""
        if self.assumed and self.share > _MOSTLY:
            raise CannotRead("both levels are kept long; state which of them is the pulse (active: low or high)")

    @property
    def count(self) -> int:
        """Pulses seen, whole or in part."""
        return len(self.starts)

    @property
    def widths(self) -> Array:
        """Of the whole ones."""
        import numpy as np

        widths: Array = self.ends - self.starts
        return np.asarray(widths[~np.isnan(widths)])

    @property
    def width_off(self) -> Array:
        """How far each of those may be off."""
        import numpy as np

        return np.asarray((self.start_off + self.end_off)[~np.isnan(self.ends - self.starts)])

    def seen(self, which: str) -> tuple[Array, Array]:
        """Times of the ``start`` or the ``end`` of the pulses where they were seen, and how far each may be off."""
        import numpy as np

        times, off = (self.starts, self.start_off) if which == "start" else (self.ends, self.end_off)
        there = ~np.isnan(times)
        return times[there], off[there]


def edges_of(recording: Recording, column: str, levels: Levels) -> Edges:
    """Every crossing of the threshold that goes on to the other level."""
    import numpy as np

    sign = 1.0 if levels.swing > 0 else -1.0
    found: list[tuple[Array, Array, Array]] = []
    rest_t, rest_v = np.empty(0), np.empty(0)
    first = last = 0
    for times, values in recording.blocks(column):
        t, v = np.concatenate((rest_t, times)), np.concatenate((rest_v, (values - levels.threshold) * sign))
        firm = (v > levels.band).astype(np.int8) - (v < -levels.band)
        known = np.flatnonzero(firm)
        if len(known):
            first = first or int(firm[known[0]])
            last = int(firm[known[-1]])
            found.append(_crossings(t, v, firm, known, levels, recording.base.jitter))
            rest_t, rest_v = t[known[-1] :], v[known[-1] :]
        else:
            rest_t, rest_v = t, v
        if len(rest_t) > _LONGEST_PASSAGE:
            raise CannotRead("it lies between its two levels for most of the time")
    parts = [np.concatenate(p) for p in zip(*found, strict=True)] if found else [np.empty(0)] * 3
    return Edges(parts[0], parts[1], parts[2] > 0, begun=first > 0, ended=last > 0)


def _crossings(
    t: Array, v: Array, firm: Any, known: Any, levels: Levels, jitter: float
) -> tuple[Array, Array, Array]:  # fmt: skip
    import numpy as np

    turned = np.flatnonzero(np.diff(firm[known]))
    before, after = known[turned], known[turned + 1]  # the last sample on one level, the first on the other
    rising = firm[after].astype(float)
    last_old = np.maximum.accumulate(np.where(v < 0, np.arange(len(v)), 0))
    last_new = np.maximum.accumulate(np.where(v >= 0, np.arange(len(v)), 0))
    at = np.where(rising > 0, last_old[after], last_new[after])
    gap = t[at + 1] - t[at]
    share = np.clip(-v[at] / (v[at + 1] - v[at]), 0, 1) if len(at) else np.empty(0)
    slope = np.abs(v[after] - v[before]) / np.maximum(t[after] - t[before], 1e-300)
    shaky = np.where(after - before > 1, (_SURE * levels.noise + levels.off) / slope, 0.0)
    off = gap / 2 + np.minimum(shaky, t[after] - t[before]) + jitter
    return t[at] + share * gap, off, rising


def pulses_of(edges: Edges, base: TimeBase, *, assumed: bool = False) -> Pulses:
    """Pulses from edges; what lasts no longer than one sample is a glitch and is left out."""
    import numpy as np

    times, off, up = edges.times, edges.off, edges.up
    if edges.begun:
        times, off, up = np.append(np.nan, times), np.append(0.0, off), np.append(True, up)
    if edges.ended:
        times, off = np.append(times, np.nan), np.append(off, 0.0)
    starts, ends = times[0::2], times[1::2]
    short = (ends - starts) < 1.5 * base.step
    keep = ~short
    if short.any() and np.isnan((ends - starts)[keep]).all():
        raise CannotRead("its pulses last no longer than a sample")
    lasted = np.nan_to_num(ends, nan=base.end) - np.nan_to_num(starts, nan=base.start)
    share = float(lasted[keep].sum()) / base.duration
    return Pulses(starts[keep], ends[keep], off[0::2][keep], off[1::2][keep], int(short.sum()), share, assumed)
