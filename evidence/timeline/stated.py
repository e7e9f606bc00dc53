"""What a dossier states of time: a moment for every dated thing, and a bound for everything that any record says of it.

Facts only: what a record says of its own time (a device's clock put right), which of two came first because a record says
so or because it cannot be otherwise (an order is opened before it is closed), and the odometer. What is only taken to be
so stands in :mod:`evidence.timeline.supposed`.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from evidence.model.base import Record, say, shorten
from evidence.model.dossier import Dossier, Recorded
from evidence.model.examination import ActuatorTest, CodeScan, Measurement, Observation, Taken
from evidence.model.exhibit import Exhibit
from evidence.model.happening import Event, TimeRelation, apart
from evidence.model.kinds import enumerated
from evidence.model.people import CallNote, Consent, Correspondence, CustodyTransfer, OwnerDeclaration
from evidence.model.repair import Intervention, WorkOrder
from evidence.model.vehicle import ModuleIdentity, OdometerReading
from evidence.model.waveform import Waveform
from evidence.model.when import TimeSpan, When
from evidence.timeline.clocks import Clocks
from evidence.timeline.devices import microseconds, originals
from evidence.timeline.network import Bound
from evidence.timeline.odometer_clock import Read, in_order

ORIGIN = ""  # the moment from which all are counted: 1970 in UTC
EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_ONE_TIME: tuple[type[Record], ...] = (
    Event, Intervention, CodeScan, ModuleIdentity, Observation, Measurement, ActuatorTest, Waveform, OdometerReading,
    CallNote, Consent, OwnerDeclaration,
)  # fmt: skip
# kind -> its two times, in order, with the words that tell them apart
_TWO_TIMES: tuple[tuple[type[Record], tuple[str, str], tuple[str, str]], ...] = (
    (WorkOrder, ("opened", "closed"), ("opened", "closed")),
    (CustodyTransfer, ("time", "received"), ("let go", "taken")),
    (Correspondence, ("sent", "received"), ("sent", "received")),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """Something that happened at one moment. ``key``: the label of its record, with a word where that has several."""

    key: str
    subject: str
    record: str
    what: str
    given: TimeSpan | None  # as the record has it, clocks put right; None: it states no time


@dataclass(frozen=True, kw_only=True)
class Stated:
    """All moments of a dossier in order of recording, and the bounds between them."""

    moments: tuple[Moment, ...]
    bounds: tuple[Bound, ...]
    reads: tuple[Read, ...]
    ends: dict[str, tuple[str, str]]  # subject -> keys of its first and last moment


def stated(dossier: Dossier) -> Stated:
    """Read all of it from the standing records."""
    return _Reader(dossier).read()


def micros(moment: dt.datetime) -> int:
    """Microseconds since 1970 in UTC."""
    return microseconds(moment - EPOCH)


class _Reader:
    def __init__(self, dossier: Dossier) -> None:
        self.dossier = dossier
        self.clocks = Clocks.of(dossier)
        self.files = originals(dossier)
        self.moments: dict[str, Moment] = {}  # by key
        self.bounds: list[Bound] = []
        self.reads: list[Read] = []
        self.ends: dict[str, tuple[str, str]] = {}

    def read(self) -> Stated:
        for cls, fields, words in _TWO_TIMES:
            for record in self.dossier.of(cls):
                self._two(record, fields, words)
        for cls in _ONE_TIME:
            for record in self.dossier.of(cls):
                self._one(record)
        for exhibit in self.dossier.of(Exhibit):
            if when := _captured(exhibit.value):
                self._moment(exhibit, exhibit.label, when)
        self._odometers()
        self.bounds += in_order(self.reads)
        self._relations()
        return Stated(
            moments=tuple(self.moments.values()), bounds=tuple(self.bounds), reads=tuple(self.reads), ends=self.ends
        )

    def _moment(self, record: Recorded[Any], key: str, when: When, what: str = "") -> None:
        """A moment with the time that its record states."""
        span = self.clocks.span(record.subject, when)
        self._add(record, key, span, what)
        moved = self.clocks.corrections.get(record.subject)
        by = moved.references if moved and moved.when == when else ()
        told = f"{key}: {when.words()}" + (f", put right by {enumerated(by)}" if by else "")
        self._dated(key, span, told, (record.label, *by))

    def _add(self, record: Recorded[Any], key: str, span: TimeSpan | None, what: str = "") -> None:
        what = what or record.value.summary()
        self.moments[key] = Moment(key=key, subject=record.subject, record=record.label, what=what, given=span)
        first, _last = self.ends.get(record.subject, (key, key))
        self.ends[record.subject] = (first, key)

    def _dated(self, key: str, span: TimeSpan, words: str, records: tuple[str, ...]) -> None:
        self.bounds += [
            Bound(start=ORIGIN, end=key, most=micros(span.latest), words=words, records=records),
            Bound(start=key, end=ORIGIN, most=-micros(span.earliest), words=words, records=records),
        ]

    def _not_after(self, first: str, second: str, words: str, *records: str, least: int = 0) -> None:
        """``first`` lies at least ``least`` before ``second``."""
        bound = Bound(start=second, end=first, most=-least, words=words, records=tuple(dict.fromkeys(records)))
        self.bounds.append(bound)

    def _two(self, record: Recorded[Any], fields: tuple[str, str], words: tuple[str, str]) -> None:
        whens = [getattr(record.value, f) for f in fields]
        dated = [(f"{record.label}, {w}", when) for w, when in zip(words, whens, strict=True) if when]
        if len(dated) == 1 and not isinstance(record.value, WorkOrder):  # let go and taken at once
            dated = [(record.label, dated[0][1])]
        for key, when in dated:
            self._moment(record, key, when)
        if len(dated) == 2:
            (first, _), (second, _) = dated
            self._not_after(first, second, f"{record.label} was {words[0]} before it was {words[1]}", record.label)

    def _one(self, record: Recorded[Any]) -> None:
        value = record.value
        if value.time is not None:
            self._moment(record, record.label, value.time)
        else:
            self._by_its_files(record)
        for statement in value.statements if isinstance(value, OwnerDeclaration) else ():
            key = f"{record.label}, {say(statement.topic)}"
            if statement.time and key not in self.moments:
                own = self.ends[record.subject]
                told = f"{say(statement.topic)}: {statement.text or statement.answer}"
                self._moment(record, key, statement.time, shorten(told))
                self.ends[record.subject] = own  # a relation to the declaration is one to when it was given
                self._not_after(key, record.label, f"{record.label} tells of what had happened", record.label)

    def _by_its_files(self, record: Recorded[Taken]) -> None:
        """A reading without a time of its own was taken when its files were."""
        files = {e: self.files[e] for e in record.value.exhibits if e in self.files}
        spans = {
            e: self.clocks.span(f.subject, when) for e, f in files.items() if (when := _captured(f.value))
        }  # fmt: skip
        if not spans:
            self._add(record, record.label, None)
            return
        span = TimeSpan(min(s.earliest for s in spans.values()), max(s.latest for s in spans.values()))
        labels = [self.dossier.label(e) for e in spans]
        moved = [self.clocks.corrections.get(files[e].subject) for e in spans]
        by = [r for c in moved if c for r in c.references]
        self._add(record, record.label, span)
        words = f"{record.label} has the time of {enumerated(labels)}"
        self._dated(record.label, span, words, tuple(dict.fromkeys((record.label, *labels, *by))))

    def _odometers(self) -> None:
        for o in self.dossier.of(OdometerReading):
            self._reading(o.label, o.label, o.value.reading, explained=o.value.note is not None)
        for w in self.dossier.of(WorkOrder):
            explained = w.value.odometer_note is not None
            for word, read in (("opened", w.value.odometer_in), ("closed", w.value.odometer_out)):
                self._reading(f"{w.label}, {word}", w.label, read, explained=explained)
        for e in self.dossier.of(Event):
            self._reading(e.label, e.label, e.value.odometer, explained=False)
        for c in self.dossier.of(CustodyTransfer):
            self._reading(self.ends[c.subject][0], c.label, c.value.odometer, explained=False)

    def _reading(self, key: str, label: str, reading: Any, *, explained: bool) -> None:
        if reading and key in self.moments:
            self.reads.append(Read(moment=key, record=label, reading=reading, explained=explained))

    def _relations(self) -> None:
        for step in self.dossier.of(Intervention):
            self._after(step, step.value.after)
            order = self.ends.get(step.value.work_order or "")
            if order:
                label = self.dossier.label(str(step.value.work_order))
                words = f"{step.label} is work of {label}"
                self._during(step.label, step.label, order, words, step.label, label)
        for cls in (Observation, Measurement, CodeScan, ActuatorTest, Waveform):
            for taken in self.dossier.of(cls):
                self._after(taken, taken.value.after)
        for letter in self.dossier.of(Correspondence):
            asked = self.ends.get(letter.value.answers or "")
            if asked and letter.subject in self.ends:
                label = self.dossier.label(str(letter.value.answers))
                self._not_after(
                    asked[0], self.ends[letter.subject][0], f"{letter.label} answers {label}", letter.label, label
                )
        for relation in self.dossier.of(TimeRelation):
            self._related(relation)

    def _after(self, record: Recorded[Any], other: str | None) -> None:
        if other in self.ends and record.subject in self.ends and other != record.subject:
            label = self.dossier.label(other)
            self._not_after(
                self.ends[other][1], record.label, f"{record.label} came after {label}", record.label, label
            )

    def _during(self, first: str, last: str, other: tuple[str, str], words: str, *records: str) -> None:
        """Between the two times of the other; as far as it has both."""
        opened, closed = other
        if not opened.endswith(", closed"):
            self._not_after(opened, first, words, *records)
        if not closed.endswith(", opened"):
            self._not_after(last, closed, words, *records)

    def _related(self, relation: Recorded[TimeRelation]) -> None:
        v = relation.value
        if v.what not in self.ends or v.other not in self.ends:
            return
        what, other = self.ends[v.what], self.ends[v.other]
        labels = (relation.label, self.dossier.label(v.what), self.dossier.label(v.other))
        words = f"{relation.label}: {shorten(v.text)}"
        if v.relation == "during":
            self._inside(what, other, words, labels)
            return
        least, most = (apart(x) if x else None for x in (v.least, v.most))
        if v.relation == "within":
            assert most is not None
            self._not_after(other[0], what[1], words, *labels, least=-most)
            self._not_after(what[0], other[1], words, *labels, least=-most)
            return
        first, second = (what, other) if v.relation == "before" else (other, what)
        self._not_after(first[1], second[0], words, *labels, least=least or 0)
        if most is not None:
            self.bounds.append(Bound(start=first[1], end=second[0], most=most, words=words, records=labels))

    def _inside(self, what: tuple[str, str], other: tuple[str, str], words: str, labels: tuple[str, ...]) -> None:
        if other[0] != other[1]:
            self._during(what[0], what[1], other, words, *labels)
            return
        only = self.moments[other[0]]
        if only.given:
            self._dated(what[0], only.given, words, labels)


def _captured(exhibit: Exhibit) -> When | None:
    """When a file was made; a derived copy says nothing of its own."""
    if exhibit.derived_from:
        return None
    return exhibit.taken or (exhibit.read.captured if exhibit.read else None)
