"""The odometer as a witness: distances that run backwards in time contradict each other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from evidence.model.base import Record
from evidence.model.happening import Event
from evidence.model.people import CustodyTransfer
from evidence.model.quantity import Distance
from evidence.model.repair import WorkOrder
from evidence.model.vehicle import OdometerReading
from evidence.model.when import TimeSpan, When


@dataclass(frozen=True, slots=True)
class Mark:
    """A distance at a moment, and the record and field that say so."""

    item: str
    field: str
    km: Decimal
    read: str
    span: TimeSpan
    given: str
    explained: bool


def marks(items: Iterable[tuple[str, Record]]) -> Iterator[Mark]:
    """All odometer marks of named records that have a moment."""
    for item, record in items:
        if isinstance(record, WorkOrder):
            explained = record.odometer_note is not None
            yield from _mark(item, "odometer_in", record.odometer_in, record.opened, explained)
            yield from _mark(item, "odometer_out", record.odometer_out, record.closed, explained)
        elif isinstance(record, OdometerReading):
            yield from _mark(item, "reading", record.reading, record.time, record.note is not None)
        elif isinstance(record, Event | CustodyTransfer):
            yield from _mark(item, "odometer", record.odometer, record.time, explained=False)


def _mark(item: str, field: str, reading: Distance | None, time: When | None, explained: bool) -> Iterator[Mark]:
    if reading and time:
        yield Mark(item, field, reading.km(), reading.words(), time.span, time.given, explained)


def running_backwards(found: Sequence[Mark]) -> Iterator[tuple[Mark, Mark]]:
    """Pairs (earlier, later) in which the later distance is lower; only where the spans decide the order.

    A later mark whose record explains itself (an instrument replaced, a figure misread) is let stand.
    Each later mark is told once, against the highest earlier one.
    """
    by_end = sorted(found, key=lambda m: m.span.latest)
    for later in sorted(found, key=lambda m: m.span.earliest):
        if later.explained:
            continue
        earlier = [m for m in by_end if m.span.latest <= later.span.earliest and m.km > later.km]
        if earlier:
            yield max(earlier, key=lambda m: m.km), later
