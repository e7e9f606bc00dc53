"""What is known of each clock, in words: one line for each stretch through which it ran, and what would make it surer."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from evidence.model.kinds import enumerated
from evidence.model.when import TimeSpan
from evidence.timeline.clock_words import gains_or_loses, length, offset_words, slow_or_fast, zone_of
from evidence.timeline.clocks import COVERAGE, DRIFT_BOUND, Clocks, DeviceClock, Stretch, error_at
from evidence.timeline.devices import Held
from evidence.timeline.straight_line import root_up

_TINY = 10**9
_LAST = dt.datetime.max.replace(microsecond=0, tzinfo=dt.UTC)
BOUND_WORDS = "10 s a day either way (common practice, no source)"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockLine:
    """A device's clock through one stretch."""

    device: str
    references: tuple[str, ...]
    records: tuple[str, ...]  # what it stamped, in this stretch or in one that is not decided
    error: str  # in words; empty where nothing is known
    drift: str
    residuals: tuple[tuple[str, str], ...]  # reference, how far it lies from the line
    faults: tuple[str, ...]
    missing: tuple[str, ...]


def told(clocks: Clocks) -> tuple[ClockLine, ...]:
    """Every clock of a dossier."""
    return tuple(_line(clock, n, stretch) for clock in clocks.clocks for n, stretch in enumerate(clock.stretches))


def spread(span: TimeSpan) -> str:
    """A span of time in UTC, as short as it can be said without saying less than it is."""
    low = span.earliest.astimezone(dt.UTC).replace(microsecond=0)
    high = span.latest.astimezone(dt.UTC)
    if high.microsecond and high < _LAST:
        high = high.replace(microsecond=0) + dt.timedelta(seconds=1)
    second = f"{high:%H:%M:%S}" if low.date() == high.date() else f"{high:%Y-%m-%d %H:%M:%S}"
    return f"{low:%Y-%m-%d %H:%M:%S} to {second} UTC"


def _line(clock: DeviceClock, number: int, stretch: Stretch) -> ClockLine:
    own = [m.label for m in clock.device.made if clock.settings.stretch_of(m.series, m.number) in (number, None)]
    own = [label for label in own if label in _labels(clock)]
    return ClockLine(
        device=clock.device.name + (f", stretch {number + 1} of {len(clock.stretches)}" if len(clock.stretches) > 1 else ""),
        references=tuple(h.label for h in stretch.held), records=tuple(own), error=_error(clock, stretch),
        drift=_drift(stretch), residuals=tuple(_residuals(stretch)), faults=tuple(_faults(stretch)),
        missing=(*_missing(clock, stretch), *(_missing_of_all(clock) if number == 0 else ())),
    )  # fmt: skip


def _labels(clock: DeviceClock) -> set[str]:
    """What this clock stamped: with an offset from UTC, or without, never both."""
    return {m.label for m in clock.device.made if (m.stamp.utc is None) == clock.faced}


def _error(clock: DeviceClock, stretch: Stretch) -> str:
    if stretch.line is None:
        return ""
    at = stretch.line.origin
    shift, half = error_at(stretch, at)
    if not clock.faced:
        return slow_or_fast(shift, half)
    zone = zone_of(shift, half)
    if zone is None:
        side = "behind" if shift > 0 else "ahead of"
        return f"face {length(shift)} {side} UTC ± {length(half, up=True)}; which zone it was set to is not decided"
    return f"{offset_words(zone)}, {slow_or_fast(shift + zone * 60_000_000, half)}"


def _drift(stretch: Stretch) -> str:
    if stretch.line is None:
        return ""
    if len(stretch.points) < 2:
        return f"not known: one reference; taken as 0 within {BOUND_WORDS}"
    return gains_or_loses(stretch.line.slope, _slope_half(stretch))


def _slope_half(stretch: Stretch) -> Fraction:
    assert stretch.line is not None
    return Fraction(root_up(COVERAGE**2 * stretch.line.slope_variance * _TINY**2), _TINY)


def _residuals(stretch: Stretch) -> Iterator[tuple[str, str]]:
    if stretch.line is None or len(stretch.points) < 2:
        return
    for held, point in zip(stretch.held, stretch.points, strict=True):
        rest = point.y - stretch.line.at(point.x)
        half = root_up(COVERAGE**2 * point.variance)
        yield held.label, f"{'-' if rest < 0 else '+'}{length(rest)}, of ± {length(half, up=True)} that it may"


def _faults(stretch: Stretch) -> Iterator[str]:
    if stretch.outlier:
        agree = [label for h in stretch.held if (label := h.label) != stretch.outlier]
        yield f"{stretch.outlier} contradicts {enumerated(agree)}, which agree; it was not averaged in, the spans reach over all"
    elif stretch.contradicting:
        yield (
            f"{enumerated(stretch.contradicting)} contradict each other: a reference is wrong, or the clock was set or "
            "moved to summer time in between; nothing was averaged, the spans reach over all of them"
        )
    if stretch.line and len(stretch.points) > 1 and abs(stretch.line.slope) - _slope_half(stretch) > DRIFT_BOUND:
        yield f"the clock drifts more than {BOUND_WORDS}, as all its references show"


def _missing(clock: DeviceClock, stretch: Stretch) -> Iterator[str]:
    made = bool(_labels(clock))
    if not stretch.held and made:
        where = "" if len(clock.stretches) == 1 else " in this stretch"
        yield f"no reference{where}: its clock stands as it is; photograph a clock of known time with it"
    elif len(stretch.held) == 1 and made:
        yield "a second reference on another day would show the drift"


def _missing_of_all(clock: DeviceClock) -> Iterator[str]:
    """What concerns the device and no stretch of it."""
    device = clock.device
    if device.unread:
        yield f"{enumerated(device.unread)}: no reading of this clock (write 'clock_showed', or name a photo that it took)"
    used = {h.label for s in clock.stretches for h in s.held}
    unplaced = [h for h in device.held if h.label not in used]
    if unplaced:
        yield f"{enumerated(h.label for h in unplaced)}: {_why_unplaced(clock, unplaced)}"
    if clock.undecided:
        yield f"{enumerated(clock.undecided)}: not put right, for a possible stretch of this clock has no reference"


def _why_unplaced(clock: DeviceClock, unplaced: list[Held]) -> str:
    if not clock.faced and any(h.stamp.utc is None for h in unplaced):
        return "shows no offset from UTC, and the files of this device do not all state one and the same"
    return "before or after the clock was set is not decided; name a numbered photo that the device took then"
