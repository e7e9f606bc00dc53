"""Order and distance between milestones, by the calendar and by the odometer, which is a second clock.

Everything is a least and a most: a date is a day wide, a local time of unknown zone 26 hours, an odometer between two
readings anything between them. Nothing is said that the spans do not decide.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from evidence.model.dossier import Dossier, Recorded
from evidence.model.happening import Event
from evidence.model.people import CustodyTransfer
from evidence.model.quantity import Distance
from evidence.model.repair import Intervention, WorkOrder
from evidence.model.vehicle import OdometerReading
from evidence.model.when import TimeSpan, When
from evidence.timeline.states import sure_before

_DAY = dt.timedelta(days=1)
Range = tuple[Decimal, Decimal]
Answer = Literal["met", "not met", "undecided", "not measured"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """A milestone: when, by which record, and the odometer there as far as that record carries it (km)."""

    span: TimeSpan
    record: str  # label
    km: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """From one milestone to another: days and kilometres, least and most, and the records that say so."""

    days: Range | None
    km: Range | None
    records: tuple[str, ...]


def closed(order: Recorded[WorkOrder]) -> Moment | None:
    """When the vehicle left the repairer; the day the order was opened stands in where no closing is stated."""
    when = order.value.closed or order.value.opened
    if when is None:
        return None
    return Moment(span=when.span, record=order.label, km=order.value.odometer_at_close)


def milestone(dossier: Dossier, name: str, prior: Recorded[WorkOrder] | None) -> Moment | None:
    """The first moment of that name: an event, a point of the prior work order, or the arrival here."""
    if name in ("prior_work_closed", "prior_work_opened"):
        if prior is None:
            return None
        if name == "prior_work_closed":
            return closed(prior)
        opened = prior.value.opened
        odometer = prior.value.odometer_in
        km = odometer.km() if odometer else None
        return Moment(span=opened.span, record=prior.label, km=km) if opened else None
    found: list[Moment] = []
    if name == "arrival":
        for order in dossier.of(WorkOrder):
            if order.value.side == "present_repairer" and order.value.opened:
                read = order.value.odometer_in
                found.append(Moment(span=order.value.opened.span, record=order.label, km=read.km() if read else None))
    elif name == "first_intervention":
        found = [Moment(span=i.value.time.span, record=i.label) for i in dossier.of(Intervention)]
    else:
        found = [_of_event(e) for e in dossier.of(Event) if e.value.what == name]
    return min(found, key=lambda m: (m.span.earliest, m.span.latest, m.record), default=None)


def between(dossier: Dossier, start: Moment, end: Moment) -> Interval:
    """Days and kilometres from ``start`` to ``end``; a distance may be negative where the order is not decided."""
    days = (_days(end.span.earliest - start.span.latest), _days(end.span.latest - start.span.earliest))
    known = sorted(_odometer(dossier), key=lambda m: (m.span.earliest, m.record))
    here, there = _km_at(start, known), _km_at(end, known)
    records = [start.record, end.record]
    km = None
    if here and there:
        km = (max(there[0] - here[1], Decimal(0)), there[1] - here[0]) if there[1] >= here[0] else None
        records += [*here[2], *there[2]]
    return Interval(days=days, km=km, records=tuple(dict.fromkeys(records)))


def inside(found: Range | None, low: Decimal, high: Decimal) -> Answer:
    """Whether a range lies in a window: wholly, wholly outside, or not decided."""
    if found is None:
        return "not measured"
    if low <= found[0] and found[1] <= high:
        return "met"
    return "not met" if found[1] < low or found[0] > high else "undecided"


def _km_at(moment: Moment, known: list[Moment]) -> tuple[Decimal, Decimal, tuple[str, ...]] | None:
    """Least and most kilometres at a moment: its own reading, else the readings on either side of it."""
    if moment.km is not None:
        return moment.km, moment.km, ()
    earlier = [m for m in known if m.km is not None and sure_before(m.span, moment.span)]
    later = [m for m in known if m.km is not None and sure_before(moment.span, m.span)]
    if not earlier or not later:
        return None
    low, high = max(earlier, key=lambda m: m.km or 0), min(later, key=lambda m: m.km or 0)
    assert low.km is not None
    assert high.km is not None
    return (low.km, high.km, (low.record, high.record)) if low.km <= high.km else None


def _odometer(dossier: Dossier) -> Iterator[Moment]:
    """Every place in the record that carries a distance on the road."""

    def at(when: When | None, reading: Distance | None, label: str) -> Iterator[Moment]:
        if when and reading:
            yield Moment(span=when.span, record=label, km=reading.km())

    for o in dossier.of(OdometerReading):
        yield from at(o.value.time, o.value.reading, o.label)
    for w in dossier.of(WorkOrder):
        yield from at(w.value.opened, w.value.odometer_in, w.label)
        yield from at(w.value.closed, w.value.odometer_out, w.label)
    for e in dossier.of(Event):
        yield from at(e.value.time, e.value.odometer, e.label)
    for c in dossier.of(CustodyTransfer):
        yield from at(c.value.time, c.value.odometer, c.label)


def _of_event(event: Recorded[Event]) -> Moment:
    odometer = event.value.odometer
    return Moment(span=event.value.time.span, record=event.label, km=odometer.km() if odometer else None)


def in_days(microseconds: int) -> Decimal:
    """A length of time in days, two decimals."""
    return _days(dt.timedelta(microseconds=microseconds))


def _days(length: dt.timedelta) -> Decimal:
    return (Decimal(length // dt.timedelta(seconds=1)) / Decimal(_DAY // dt.timedelta(seconds=1))).quantize(
        Decimal("0.01")
    )
