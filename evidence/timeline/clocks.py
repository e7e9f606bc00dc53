"""The error of each device's clock, from its references, and the spans of its exhibits put right.

True time minus reading is laid on a straight line (:mod:`evidence.timeline.straight_line`): its level is the offset,
its slope the drift. What a reference does not know (its own uncertainty, and how finely either clock was read) is a
rectangular distribution each; a span is widened by three standard uncertainties, which is at least the sum of all
half-widths where there are three of them. Rules enforced here:

* With one reference the drift is not known: it is taken to be 0 within :data:`DRIFT_BOUND`. That bound stays as one
  more observation beside any number of references, so a reference that agrees never makes a span wider.
* References that cannot all be right are a fault and are never averaged: the span then reaches over all of them.
* Where the clock was set, a new stretch begins; a reference speaks for its own stretch alone.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from evidence.model.dossier import Dossier
from evidence.model.happening import DossierOpening
from evidence.model.when import TimeSpan, When
from evidence.timeline.clock_settings import Settings, settings_of
from evidence.timeline.devices import Device, Held, Made, devices_of, microseconds
from evidence.timeline.straight_line import Point, StraightLine, line_through, root_up
from evidence.timeline.zones import offset_at

# 10 s a day either way: a quartz clock in a camera, phone or tool holds a few seconds a day (common practice, no source).
DRIFT_BOUND = Fraction(10, 86_400)
COVERAGE = 3  # standard uncertainties on either side
_FIRST = dt.datetime(1, 1, 1, tzinfo=dt.UTC)
_LAST = dt.datetime(9999, 12, 31, 23, 59, 59, 999_999, tzinfo=dt.UTC)
_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_FINEST = Fraction(1, 3)  # variance of a microsecond either way: nothing is known better


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A time through which a clock ran without being set, with the references that speak for it."""

    held: tuple[Held, ...]
    points: tuple[Point, ...]  # x: reading, y: true time minus reading, microseconds
    line: StraightLine | None  # None: no reference, or references that contradict each other
    contradicting: tuple[str, ...] = ()  # labels
    outlier: str = ""  # the one without which the others agree

    @property
    def known(self) -> bool:
        """Whether anything can be said of the clock here."""
        return bool(self.points)

    def covers(self, reading: Fraction) -> bool:
        """Whether a reading lies between the first and the last reference."""
        return bool(self.points) and min(p.x for p in self.points) <= reading <= max(p.x for p in self.points)

    def put_right(self, reading: TimeSpan, before: TimeSpan) -> TimeSpan:
        """The true time of a reading; ``before`` is the span it had uncorrected."""
        if self.line is not None:
            return _moved(reading, self.line)
        alone = [_moved(reading, line_through([p], slope_bound=DRIFT_BOUND)) for p in self.points]
        return _hull([before, *alone])


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """A span before and after, the references that it rests on, and what to know of it."""

    subject: str
    label: str
    when: When
    after: TimeSpan
    references: tuple[str, ...]
    notes: tuple[str, ...] = ()

    @property
    def before(self) -> TimeSpan:
        """As the device's clock had it."""
        return self.when.span


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceClock:
    """What is known of one device's clock. ``faced``: reckoned from its face, for its files state no offset from UTC."""

    device: Device
    faced: bool
    settings: Settings
    stretches: tuple[Stretch, ...]
    corrections: tuple[Correction, ...]
    undecided: tuple[str, ...]  # labels of what could not be put right although there are references


@dataclass(frozen=True)
class Clocks:
    """The clocks of a dossier's devices. Build with :meth:`of`."""

    clocks: tuple[DeviceClock, ...]
    corrections: Mapping[str, Correction]  # by subject
    zone: str | None

    @classmethod
    def of(cls, dossier: Dossier) -> Clocks:
        """Work out every device's clock from what stands in the record."""
        opening = next(iter(dossier.of(DossierOpening)), None)
        zone = opening.value.zone if opening else None
        clocks = tuple(clock for device in devices_of(dossier) for clock in _clocks(device, zone))
        corrections = {c.subject: c for clock in clocks for c in clock.corrections}
        return cls(clocks=clocks, corrections=MappingProxyType(corrections), zone=zone)

    def span(self, subject: str, when: When) -> TimeSpan:
        """The span of a record's time: put right where it was a device's and that device has references."""
        correction = self.corrections.get(subject)
        return correction.after if correction and correction.when == when else when.span


def error_at(stretch: Stretch, reading: Fraction) -> tuple[Fraction, int]:
    """True time minus reading, and the half-width of its uncertainty, microseconds; only where there is a line."""
    assert stretch.line is not None
    return stretch.line.at(reading), _half_width(stretch.line, reading)


def _clocks(device: Device, zone: str | None) -> Iterator[DeviceClock]:
    """One clock for what states its offset from UTC, one for what does not: they may have been zones apart."""
    faced = [m for m in device.made if m.stamp.utc is None]
    stated = [m for m in device.made if m.stamp.utc is not None]
    if stated or (not device.made and device.held and all(h.stamp.utc for h in device.held)):
        yield _clock(device, stated, _on_utc(device.held, stated), faced=False, zone=zone)
    if faced or (not device.made and not all(h.stamp.utc for h in device.held)):
        held = [(h, h.stamp.face) for h in device.held]
        yield _clock(device, faced, held, faced=True, zone=zone)


def _on_utc(held: Sequence[Held], made: Sequence[Made]) -> list[tuple[Held, TimeSpan]]:
    """References read in UTC. A face without offset is read with that of the files, where they all state the same."""
    offsets = {m.stamp.offset for m in made}
    common = next(iter(offsets)) if len(offsets) == 1 else None
    found = []
    for h in held:
        if h.stamp.utc:
            found.append((h, h.stamp.utc))
        elif common is not None:
            found.append((h, TimeSpan(h.stamp.face.earliest - common, h.stamp.face.latest - common)))
    return found


def _clock(
    device: Device, made: Sequence[Made], held: Sequence[tuple[Held, TimeSpan]], *, faced: bool, zone: str | None
) -> DeviceClock:
    readings = {m.subject: m.stamp.face if faced or m.stamp.utc is None else m.stamp.utc for m in made}
    settings = settings_of(made, readings, [h for h, _ in held])
    stretches = tuple(
        _stretch([(h, r) for h, r in held if settings.stretch_of(h.series, h.number, h) == n])
        for n in range(settings.count)
    )
    corrections: list[Correction] = []
    undecided: list[str] = []
    if any(s.known for s in stretches):
        for m in made:
            found = _correction(m, readings[m.subject], settings, stretches, zone if faced else None)
            corrections += [found] if found else []
            undecided += [] if found else [m.label]
    return DeviceClock(
        device=device, faced=faced, settings=settings, stretches=stretches, corrections=tuple(corrections),
        undecided=tuple(undecided),
    )  # fmt: skip


def _stretch(held: Sequence[tuple[Held, TimeSpan]]) -> Stretch:
    points = tuple(_point(h, reading) for h, reading in held)
    references = tuple(h for h, _ in held)
    if not points:
        return Stretch(held=(), points=(), line=None)
    bad = _contradicting(points)
    if not bad:
        return Stretch(held=references, points=points, line=line_through(points, slope_bound=DRIFT_BOUND))
    outlier = ""
    if len(points) > 2:
        lone = [n for n in bad if not _contradicting([p for m, p in enumerate(points) if m != n])]
        outlier = references[lone[0]].label if len(lone) == 1 else ""
    labels = tuple(references[n].label for n in bad)
    return Stretch(held=references, points=points, line=None, contradicting=labels, outlier=outlier)


def _point(held: Held, reading: TimeSpan) -> Point:
    halves = (_half(held.true), _half(reading), held.half_width)
    x = middle(reading)
    return Point(x, middle(held.true) - x, max(sum((h * h for h in halves), Fraction(0)) / 3, _FINEST))


def _contradicting(points: Sequence[Point]) -> list[int]:
    """Those that lie outside what the others allow. One alone contradicts nothing."""
    bad = []
    for n, p in enumerate(points if len(points) > 1 else ()):
        others = line_through([q for m, q in enumerate(points) if m != n], slope_bound=DRIFT_BOUND)
        if (p.y - others.at(p.x)) ** 2 > COVERAGE**2 * (others.variance_at(p.x) + p.variance):
            bad.append(n)
    return bad


def _correction(
    made: Made, reading: TimeSpan, settings: Settings, stretches: Sequence[Stretch], zone: str | None
) -> Correction | None:
    """None where it is not decided which stretch it belongs to, or where a possible one has no reference."""
    own = settings.stretch_of(made.series, made.number)
    possible = [own] if own is not None else range(settings.count)
    if not all(stretches[n].known for n in possible):
        return None
    spans = {n: stretches[n].put_right(reading, made.when.span) for n in possible}
    if own is None:
        spans = {n: s for n, s in spans.items() if settings.may_lie_in(n, s)}
    if not spans:
        return None
    after, notes = _hull(list(spans.values())), []
    used = [stretches[n] for n in spans]
    if len(spans) > 1:
        notes.append("before or after the clock was set is not decided: the span reaches over both")
    if any(s.line is None for s in used):
        notes.append("the references contradict each other: the span reaches over all of them")
    elif not any(s.covers(middle(reading)) for s in used):
        notes.append("widened, not between two references")
    if zone and (moved := _summer_time(after, used, zone)):
        after = _hull([after, *moved])
        notes.append(
            f"{zone} changed its clocks in between: whether the device's did is not known, the span covers both"
        )
    references = tuple(dict.fromkeys(h.label for s in used for h in s.held))
    return Correction(
        subject=made.subject, label=made.label, when=made.when, after=after, references=references, notes=tuple(notes)
    )


def _summer_time(after: TimeSpan, used: Sequence[Stretch], zone: str) -> list[TimeSpan]:
    """Where else it lies if the device's face was moved with the zone's; nothing if a reference was read under its offset."""
    here = offset_at(zone, after.middle)
    shifts = {here - offset_at(zone, h.true.middle) for s in used for h in s.held}
    moved = [-microseconds(s) for s in sorted(shifts)]
    return [] if 0 in moved else [TimeSpan(_later(after.earliest, m), _later(after.latest, m)) for m in moved]


def _moved(reading: TimeSpan, line: StraightLine) -> TimeSpan:
    x = middle(reading)
    shift, half = round(line.at(x)), _half_width(line, x)
    return TimeSpan(_later(reading.earliest, shift - half), _later(reading.latest, shift + half))


def _later(moment: dt.datetime, by: int) -> dt.datetime:
    """``moment`` moved by microseconds, at most to the ends of what can be reckoned with."""
    try:
        return moment + dt.timedelta(microseconds=by)
    except OverflowError:
        return _LAST if by > 0 else _FIRST


def _half_width(line: StraightLine, x: Fraction) -> int:
    return root_up(COVERAGE**2 * line.variance_at(x)) + 1


def middle(span: TimeSpan) -> Fraction:
    """Half way, microseconds since 1970."""
    return Fraction(microseconds(span.earliest - _EPOCH) + microseconds(span.latest - _EPOCH), 2)


def _half(span: TimeSpan) -> Fraction:
    return Fraction(microseconds(span.width), 2)


def _hull(spans: Sequence[TimeSpan]) -> TimeSpan:
    return TimeSpan(min(s.earliest for s in spans), max(s.latest for s in spans))
