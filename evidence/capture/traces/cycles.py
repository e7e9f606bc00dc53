"""Engine cycles of a trace, and what happens in each: events on every cylinder, and how they lie to the compressions.

A four-stroke engine turns twice a cycle. Cycles are told by a regular train of pulses of which it is stated how many make
a cycle, by the humps of compressions, or by a stated speed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from evidence.capture.traces.arrays import Array
from evidence.capture.traces.humps import Humps
from evidence.capture.traces.pulse_features import regular_starts
from evidence.capture.traces.pulses import Pulses
from evidence.capture.traces.recording import CannotRead, TimeBase
from evidence.capture.traces.values import Found, counted

_FEWEST: Final = 2  # whole cycles from which a number per cycle can be read
_CLEAR: Final = 0.1  # of a cycle between events and the bounds between which they are counted
_MOST_BY_SPEED: Final = 3  # pulses in a cycle that a stated speed can tell apart
_OFF_BY_SPEED: Final = 0.12  # of that number
_NEAR: Final = 0.35  # of the way between two tops; an event farther off belongs to neither


@dataclass(frozen=True, slots=True)
class Cycles:
    """Beginnings of whole engine cycles in seconds, the last one being the end; and how they are known, in words."""

    bounds: Array
    known_by: str
    anchored: bool = True  # False: only their length is known

    @property
    def count(self) -> int:
        """Whole cycles."""
        return len(self.bounds) - 1


def by_pulses(pulses: Pulses, base: TimeBase, per_cycle: int, column: str) -> Cycles:
    """Every ``per_cycle``-th beginning of a regular train starts a cycle; carried on to the ends of the trace."""
    import numpy as np

    starts, _off = regular_starts(pulses, base)
    own = starts[::per_cycle]
    if len(own) < 2:
        raise CannotRead("it shows no whole engine cycle")
    length = float(own[-1] - own[0]) / (len(own) - 1)
    before = own[0] - length * np.arange(int((own[0] - base.start) / length), 0, -1)
    after = own[-1] + length * np.arange(1, int((base.end - own[-1]) / length) + 1)
    return Cycles(np.concatenate((before, own, after)), f"{counted(per_cycle, 'pulse')} of column {column} to a cycle")


def by_humps(humps: Humps, column: str) -> Cycles:
    """Every ``per_cycle``-th bottom between two humps starts a cycle."""
    import numpy as np

    numbers = np.arange(0, len(humps.heights) + 1, humps.per_cycle)
    times = humps.course.when(humps.first - 0.5 + numbers)
    return Cycles(times[~np.isnan(times)], f"{counted(humps.per_cycle, 'hump')} of column {column} to a cycle")


def by_speed(base: TimeBase, speed: float, off: float) -> Cycles:
    """Cycles of a stated speed: how long they are is known, not where they begin."""
    import numpy as np

    length = 120 / (speed - min(off, 0.5 * speed))
    return Cycles(
        base.start + length * np.arange(int(base.duration / length) + 1), f"{speed:g} rpm as stated", anchored=False
    )


def per_cycle(pulses: Pulses, base: TimeBase, cycles: Cycles) -> list[int]:
    """Pulses in each whole cycle. Bounds are shifted into the widest pause between pulses, so that none lies on one."""
    import numpy as np

    if cycles.count < _FEWEST:
        raise CannotRead("it shows fewer than two whole engine cycles")
    shortest = float(pulses.widths.min()) if len(pulses.widths) else 3 * base.step
    if base.longest_gap >= shortest:
        raise CannotRead("samples are missing for long enough to hide a pulse")
    if not pulses.count:
        return [0] * cycles.count
    if not cycles.anchored:
        return [_regular(pulses, base, cycles)] * cycles.count
    starts = np.where(np.isnan(pulses.starts), base.start, pulses.starts)
    bounds = cycles.bounds
    numbers = np.arange(len(bounds))
    phases = np.sort(np.interp(starts, bounds, numbers) % 1)[: 1 << 16]
    pauses = np.diff(np.append(phases, phases[0] + 1))
    widest = int(pauses.argmax())
    if pauses[widest] < _CLEAR:
        raise CannotRead("its pulses keep no place within the engine cycle")
    shift = float((phases[widest] + pauses[widest] / 2) % 1)
    lengths = bounds[1] - bounds[0], bounds[-1] - bounds[-2]
    known = np.concatenate(([bounds[0] - lengths[0]], bounds, [bounds[-1] + lengths[1]]))
    moved = np.interp(np.arange(-1, len(bounds)) + shift, np.arange(-1, len(bounds) + 1), known)
    slack = base.step
    moved = moved[(moved >= base.start - slack) & (moved <= base.end + slack)]
    if len(moved) <= _FEWEST:
        raise CannotRead("it shows fewer than two whole engine cycles")
    return [int(count) for count in np.histogram(starts, moved)[0]]


def _regular(pulses: Pulses, base: TimeBase, cycles: Cycles) -> int:
    """How often a regular train comes in a cycle of which only the length is known, about."""
    starts, _off = regular_starts(pulses, base)
    length = float(cycles.bounds[1] - cycles.bounds[0])
    times = length * (len(starts) - 1) / float(starts[-1] - starts[0])
    whole = round(times)
    if not 1 <= whole <= _MOST_BY_SPEED or abs(times - whole) > _OFF_BY_SPEED * whole:
        raise CannotRead(f"its pulses come {times:.2g} times in a cycle of the stated speed, which is no whole number")
    return whole


def pulses_per_cycle(counts: list[int], cycles: Cycles) -> Found:
    """The mean number, exact where every cycle holds as many."""
    none = sum(c == 0 for c in counts)
    note = f"in {len(counts)} whole cycles ({cycles.known_by})"
    if len(set(counts)) > 1:
        note += f", {min(counts)} to {max(counts)} a cycle, none in {none}"
    return Found(sum(counts) / len(counts), 0.0, "count", note)


def missing_events(counts: list[int], expected: int, cycles: Cycles) -> Found:
    """Events that did not come, of those expected in the cycles shown."""
    due, seen = expected * len(counts), sum(counts)
    if any(c > expected for c in counts):
        raise CannotRead(f"it shows more than the {expected} expected in a cycle")
    return Found(due - seen, 0.0, "count", f"{seen} of {due} in {len(counts)} whole cycles ({cycles.known_by})")


def to_top(times: Array, off: Array, humps: Humps) -> Found:
    """Time from an event to the nearest compression top, positive when the event comes first; the median of all."""
    import numpy as np

    course = humps.course
    inside = (times > course.start) & (times < course.end)
    if not inside.any():
        raise CannotRead("no event lies where compressions were followed")
    turns = course.at(times[inside])
    ahead = np.round(turns) - turns
    if np.abs(ahead).max() > _NEAR:
        raise CannotRead("its events lie about half-way between two tops, so which one is nearest cannot be told")
    seconds = ahead / course.frequency
    middle = float(np.median(seconds))
    note = f"median of {inside.sum()}, {seconds.min() * 1000:.3g} to {seconds.max() * 1000:.3g} ms; top taken as the top of the hump"
    return Found(middle, humps.top_off + float(off[inside].max()), "s", note)


def place_of(times: Array, humps: Humps) -> int:
    """Which place in the cycle, from the first whole hump, the tops have that these events of one cylinder belong to."""
    import numpy as np

    course = humps.course
    turns = course.at(times[(times > course.start) & (times < course.end)])
    if not len(turns) or np.abs(turns - np.round(turns)).max() > _NEAR:
        raise CannotRead("events of a known cylinder lie nowhere near a top")
    places = (np.round(turns).astype(int) - humps.first) % humps.per_cycle
    if len(set(places.tolist())) > 1:
        raise CannotRead("events of a known cylinder lie at different places of the cycle")
    return int(places[0])
