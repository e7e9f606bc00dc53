"""Marks: what one record says of the course of a matter and of the days in it.

They are small enough to be kept in a list for every dossier, so that where thousands of matters stand is told from marks alone;
one dossier is told from the same marks, made from its records.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from evidence.model.base import Record, say
from evidence.model.course import CourseStep, DueDate
from evidence.model.dossier import Dossier
from evidence.model.happening import DossierOpening
from evidence.model.instrument import Instrument
from evidence.model.kinds import label_of
from evidence.model.people import Correspondence
from evidence.model.repair import WorkOrder
from evidence.model.vehicle import OdometerReading
from evidence.model.when import When

Sort = Literal["step", "skip", "due", "answer", "odometer", "place"]
_OFFERS = ("inspection_opportunity", "cure_opportunity")


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One thing said; texts are empty where nothing is said.

    ``what`` is a stage, or what is due; ``day`` an ISO day (for a step the UTC text of its earliest moment, for order);
    ``period`` runs from that day; ``refers`` is the record answered; ``km`` a distance in plain decimals.
    """

    subject: str
    kind: str
    number: int
    sort: Sort
    what: str = ""
    day: str = ""
    period: str = ""
    text: str = ""
    refers: str = ""
    km: str = ""
    done: bool = False

    @property
    def label(self) -> str:
        """The record as a person knows it."""
        return label_of(self.kind, self.number)


def day_of(when: When) -> dt.date:
    """The last day that a time as written can mean, in its own zone."""
    last = when.given.split(" / ")[-1].strip()
    try:
        return dt.date.fromisoformat(last[:10])
    except ValueError:  # a month alone, which ends before the first of the next in the zone it was written for
        return (when.span.latest - dt.timedelta(hours=12)).date()


def marks_of(dossier: Dossier) -> tuple[Mark, ...]:
    """The marks of a dossier as it stands, in order of recording."""
    return tuple(
        mark
        for r in dossier.by_subject.values()
        if not r.withdrawn
        for mark in marks_in(r.subject, r.kind, r.number, r.value)
    )


def marks_in(subject: str, kind: str, number: int, record: Record) -> Iterator[Mark]:
    """The marks of one record; most records have none."""

    def mark(sort: Sort, **more: str | bool) -> Mark:
        return Mark(subject=subject, kind=kind, number=number, sort=sort, **more)  # type: ignore[arg-type]

    if isinstance(record, CourseStep):
        yield mark(
            "step", what=record.stage, day=record.time.earliest, text=record.text or "", done=bool(record.exhibits)
        )
        for skip in record.skips:
            yield mark("skip", what=skip.stage, day=record.time.earliest, text=skip.why)
    elif isinstance(record, DueDate):
        yield mark(
            "due", what=record.what, day=day_of(record.day).isoformat(), text=record.text, done=record.done is not None
        )
    elif isinstance(record, Correspondence):
        if record.answers:
            yield mark("answer", refers=record.answers)
        if record.until or record.answer_within:
            what = "inspection" if record.about in _OFFERS else "answer"
            start = day_of(record.until or record.sent).isoformat()
            period = "" if record.until else record.answer_within or ""
            yield mark("due", what=what, day=start, period=period, text=say(record.about))
    elif isinstance(record, WorkOrder):
        yield from _of_order(record, mark)
    elif isinstance(record, Instrument) and record.calibration_due:
        yield mark("due", what="calibration", day=day_of(record.calibration_due).isoformat(), text=record.description)
    elif isinstance(record, DossierOpening) and record.place:
        yield mark("place", what=record.place)
    elif isinstance(record, OdometerReading):
        yield mark("odometer", km=f"{record.reading.km():f}", text=record.reading.words())


def _of_order(order: WorkOrder, mark: object) -> Iterator[Mark]:
    assert callable(mark)
    if order.side == "prior_repairer" and order.closed and (order.warranty_period or order.warranty_distance):
        start = order.odometer_at_close
        limit = start + order.warranty_distance.km() if start is not None and order.warranty_distance else None
        yield mark(
            "due", what="warranty", day=day_of(order.closed).isoformat() if order.warranty_period else "",
            period=order.warranty_period or "", text=order.number or "", km=f"{limit:f}" if limit is not None else "",
        )  # fmt: skip
    if order.side == "present_repairer" and order.odometer_in:
        yield mark("odometer", km=f"{order.odometer_in.km():f}", text=order.odometer_in.words())
