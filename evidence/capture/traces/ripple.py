"""The ripple of a brushed motor's current: each commutator segment makes one hump, so it tells the speed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from evidence.capture.traces.levels import Spread
from evidence.capture.traces.phase import Course, follow, strongest_line
from evidence.capture.traces.recording import CannotRead, Recording
from evidence.capture.traces.values import Found, positive

_MOST: Final = 1 << 20  # samples looked at
_SLOWEST: Final = 20.0  # Hz; slower is no ripple of a motor
_HUMPS_A_WINDOW: Final = 8
_FEWEST: Final = 16  # humps that make a ripple


@dataclass(frozen=True, slots=True)
class Ripple:
    """Ripple over an unbroken part of a trace."""

    course: Course

    @property
    def humps(self) -> float:
        """How many fall into the part, with fractions at its ends."""
        return float(self.course.turns[-1] - self.course.turns[0])


def ripple_of(recording: Recording, column: str, spread: Spread) -> Ripple:
    """Find and follow the ripple over the longest part without a gap, a million samples at most."""
    base = recording.base
    base.require()
    if base.jitter > 0.3 * base.step:
        raise CannotRead("its samples come too irregularly for a ripple to be counted")
    start, count = recording.unbroken(_MOST)
    if count < 64:
        raise CannotRead("no part of it without missing samples is long enough")
    times, values = recording.part(column, start, count)
    step = float(times[-1] - times[0]) / (count - 1)
    found = strongest_line(values, step, max(_SLOWEST, 8 / (count * step)), 0.4 / step)
    course = follow(values, float(times[0]), step, found, _HUMPS_A_WINDOW / found, spread.noise)
    if found * count * step < _FEWEST:
        raise CannotRead(f"it shows fewer than {_FEWEST} humps of a ripple")
    return Ripple(course)


def ripple_frequency(ripple: Ripple) -> Found:
    """Humps a second."""
    course = ripple.course
    note = f"over {course.end - course.start:.4g} s"
    return positive(course.frequency, course.frequency_off, "Hz", note)


def ripple_count(ripple: Ripple) -> Found:
    """Humps in the part that was looked at, with the fractions of a hump at its ends."""
    humps = ripple.humps + ripple.course.frequency * ripple.course.step  # a sample stands for its step
    off = 2 * ripple.course.off
    return positive(humps, off, "count", f"in {ripple.course.end - ripple.course.start:.4g} s")


def pump_speed(ripple: Ripple, bars: int) -> Found:
    """Turns a minute, for an assumed number of commutator bars."""
    found = ripple_frequency(ripple)
    return positive(60 * found.value / bars, 60 * found.off / bars, "rpm", f"if its commutator has {bars} bars")
