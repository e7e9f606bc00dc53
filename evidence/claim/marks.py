"""Marks: what one record says of the course of a matter and of the days in it.

They are small enough to be kept in a list for every dossier, so that where thousands of matters stand is told from marks alone;
one dossier is told from the same marks, made from its records.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from typing import Any, Literal, NamedTuple

from evidence.model.base import Record, say
from evidence.model.course import CourseStep, DueDate
from evidence.model.dossier import Dossier
from evidence.model.happening import DossierOpening
from evidence.model.instrument import Instrument
from evidence.model.kinds import label_of
from evidence.model.loss import LossItem
from evidence.model.people import Correspondence
from evidence.model.repair import WorkOrder
from evidence.model.vehicle import OdometerReading
from evidence.model.when import When

Sort = Literal["step", "skip", "due", "answer", "odometer", "worked", "place"]
_OFFERS = ("inspection_opportunity", "cure_opportunity")


class Mark(NamedTuple):  # a plain tuple: some hundred thousand are read at once
    """One thing said; texts are empty where nothing is said.

    ``what`` is a stage, or what is due; ``day`` an ISO day where it was written; ``moment`` the UTC text of a step's earliest
    moment, for order; ``period`` runs from that day; ``refers`` is the record answered; ``km`` a distance in plain decimals.
    """

    subject: str
    kind: str
    number: int
    sort: Sort
    what: str = ""
    day: str = ""
    moment: str = ""
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
    told = _TOLD.get(type(record))
    base = Mark(subject=subject, kind=kind, number=number, sort="step")
    for said in told(record) if told else ():
        yield base._replace(**said)


_Said = Iterator[dict[str, Any]]


def _of_step(step: CourseStep) -> _Said:
    day = day_of(step.time).isoformat()
    said = {"day": day, "moment": step.time.earliest}
    yield {**said, "what": step.stage, "text": step.text or "", "done": bool(step.exhibits)}
    for skip in step.skips:
        yield {**said, "sort": "skip", "what": skip.stage, "text": skip.why}


def _of_due(due: DueDate) -> _Said:
    yield {**_on(due.what, due.day, due.text), "done": due.done is not None}


def _of_letter(letter: Correspondence) -> _Said:
    if letter.answers:
        yield {"sort": "answer", "refers": letter.answers}
    if letter.until or letter.answer_within:
        what = "inspection" if letter.about in _OFFERS else "answer"
        period = "" if letter.until else letter.answer_within or ""
        yield {**_on(what, letter.until or letter.sent, say(letter.about)), "period": period}


def _of_order(order: WorkOrder) -> _Said:
    if order.side == "prior_repairer" and (begun := order.opened or order.closed):
        yield {"sort": "worked", "day": day_of(begun).isoformat(), "text": order.number or ""}
    if order.side == "prior_repairer" and order.closed and (order.warranty_period or order.warranty_distance):
        start = order.odometer_at_close
        limit = start + order.warranty_distance.km() if start is not None and order.warranty_distance else None
        said = _on("warranty", order.closed, order.number or "")
        yield {
            **said, "day": said["day"] if order.warranty_period else "", "period": order.warranty_period or "",
            "km": f"{limit:f}" if limit is not None else "",
        }  # fmt: skip
    if order.side == "present_repairer" and order.odometer_in:
        yield {"sort": "odometer", "km": f"{order.odometer_in.km():f}", "text": order.odometer_in.words()}


def _of_instrument(instrument: Instrument) -> _Said:
    if instrument.calibration_due:
        yield _on("calibration", instrument.calibration_due, instrument.description)


def _of_loss(item: LossItem) -> _Said:
    for what, day in (("core_return", item.return_by), ("storage", item.free_until)):
        if day:
            yield _on(what, day, item.text)


def _of_reading(reading: OdometerReading) -> _Said:
    yield {"sort": "odometer", "km": f"{reading.reading.km():f}", "text": reading.reading.words()}


def _of_opening(opening: DossierOpening) -> _Said:
    if opening.place:
        yield {"sort": "place", "what": opening.place}


def _on(what: str, day: When, text: str) -> dict[str, Any]:
    return {"sort": "due", "what": what, "day": day_of(day).isoformat(), "text": text}


_TOLD: dict[type[Record], Callable[[Any], _Said]] = {
    CourseStep: _of_step, DueDate: _of_due, Correspondence: _of_letter, WorkOrder: _of_order, Instrument: _of_instrument,
    LossItem: _of_loss, OdometerReading: _of_reading, DossierOpening: _of_opening,
}  # fmt: skip
