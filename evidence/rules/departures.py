"""Each departure found, and its window: from the last record that shows the part in order to the first that shows it not.

A record shows the part in order when it looked at the same thing (the same aspect of the same part) and found it so, or
when it is an event "last shown good" that names the part. A vehicle that runs well shows its function, not the part.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from evidence.model.base import say
from evidence.model.dossier import Dossier, Recorded
from evidence.model.examination import ActuatorTest, Measurement, Observation
from evidence.model.happening import Event
from evidence.rules.assessment import Assessment, Candidate
from evidence.rules.vocabulary import Vocabulary
from evidence.timeline.tightened import Tight, Tightened

_SPEAKS_OF_A_PART = (Observation, Measurement, ActuatorTest)
_ON_THE_VEHICLE = (None, "original", "claimed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A record that shows the part in order, or not, at its moment; ``told``: by somebody's word alone."""

    record: str
    at: Tight
    words: str
    told: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Departure:
    """One departure found, by the records that show it; several mechanisms may rest on the same ones."""

    title: str
    mechanisms: tuple[str, ...]
    parts: tuple[str, ...]  # components in which it was seen
    around: frozenset[str]  # these and the components of the mechanisms: hands on any of them count
    records: tuple[str, ...]  # labels
    called_by: frozenset[str]  # labels of prior orders that have hands on these parts by the rules
    undisturbed: frozenset[str]  # labels of those of ``records`` that met the state as found

    @property
    def what(self) -> str:
        """The parts in words."""
        *first, last = map(say, self.parts)
        return " and ".join(filter(None, (", ".join(first), last)))


def departures(dossier: Dossier, assessment: Assessment) -> tuple[Departure, ...]:
    """The departures of all candidates, those that rest on the same records as one; what is best supported first."""
    labelled = {r.label: r for r in dossier.by_subject.values() if not r.withdrawn}
    found: list[Departure] = []
    for candidate in assessment.candidates:
        made = _departure(candidate, labelled)
        if made is None:
            continue
        same = next((d for d in found if set(d.records) & set(made.records)), None)
        if same is None:
            found.append(made)
        else:
            found[found.index(same)] = _together(same, made)
    return tuple(found)


def _departure(candidate: Candidate, labelled: dict[str, Recorded[Any]]) -> Departure | None:
    records: dict[str, bool] = {}
    for finding in candidate.findings:
        if finding.limb == "D" and finding.answer == "met":
            for label in finding.records:
                records[label] = records.get(label, False) or finding.undisturbed
    seen = {
        label: r.value for label in records if (r := labelled.get(label)) and isinstance(r.value, _SPEAKS_OF_A_PART)
    }  # fmt: skip
    if not seen:
        return None
    parts = tuple(dict.fromkeys(v.of for v in seen.values()))
    orders = [label for p in candidate.why for label in p.records if label.startswith("Work order")]
    return Departure(
        title=candidate.departure, mechanisms=(candidate.mechanism,), parts=parts,
        around=frozenset((*parts, *candidate.components)), records=tuple(seen),
        called_by=frozenset(orders if "work" in candidate.called_by else ()),
        undisturbed=frozenset(label for label in seen if records[label] and seen[label].state == "undisturbed"),
    )  # fmt: skip


def _together(one: Departure, other: Departure) -> Departure:
    return Departure(
        title=one.title, mechanisms=(*one.mechanisms, *other.mechanisms),
        parts=tuple(dict.fromkeys((*one.parts, *other.parts))), around=one.around | other.around,
        records=tuple(dict.fromkeys((*one.records, *other.records))), called_by=one.called_by | other.called_by,
        undisturbed=one.undisturbed | other.undisturbed,
    )  # fmt: skip


def first_bad(departure: Departure, dossier: Dossier, times: Tightened, vocabulary: Vocabulary) -> Shown | None:
    """The record with the earliest latest instant that shows the departure; None where none of them has a time."""
    events = [
        e for e in dossier.of(Event)
        if e.value.what == "first_shown_bad" and _names(e.value, departure, vocabulary)
    ]  # fmt: skip
    found = [_shown(r, times) for r in (*_labelled(dossier, departure.records), *events)]
    timed = [(s.at.latest, s.at.earliest or s.at.latest, s.record, s) for s in found if s and s.at.latest]
    return min(timed, key=lambda t: t[:3])[3] if timed else None


def last_good(
    departure: Departure, bad: Shown, dossier: Dossier, times: Tightened, vocabulary: Vocabulary
) -> Shown | None:
    """The latest record that shows the part in order surely before ``bad``, one that is no mere word where there is one."""
    found = [
        (not s.told, s.at.earliest, s.record, s) for r in _showing_good(departure, dossier, vocabulary)
        if (s := _shown(r, times)) and s.at.earliest and times.surely_before(s.at.moment.key, bad.at.moment.key)
    ]  # fmt: skip
    return max(found, key=lambda t: t[:3])[3] if found else None


def function_only(departure: Departure, dossier: Dossier, vocabulary: Vocabulary) -> tuple[str, ...]:
    """Events that show the vehicle running well and name no part: they close nothing here."""
    return tuple(
        e.label for e in dossier.of(Event)
        if e.value.what == "last_shown_good" and not _names(e.value, departure, vocabulary)
    )  # fmt: skip


def _showing_good(departure: Departure, dossier: Dossier, vocabulary: Vocabulary) -> Iterator[Recorded[Any]]:
    bad = [r.value for r in _labelled(dossier, departure.records) if isinstance(r.value, Observation)]
    for other in dossier.of(Observation):
        v = other.value
        words = vocabulary.aspects.get(v.aspect, ())
        if not words or v.seen != words[0] or v.which not in _ON_THE_VEHICLE:
            continue
        if any(b.aspect == v.aspect and b.of == v.of and b.position in (None, v.position) for b in bad):
            yield other
    for event in dossier.of(Event):
        if event.value.what == "last_shown_good" and _names(event.value, departure, vocabulary):
            yield event


def _names(event: Event, departure: Departure, vocabulary: Vocabulary) -> bool:
    return any(related(c, p, vocabulary) for c in event.components for p in departure.parts)


def _shown(record: Recorded[Any], times: Tightened) -> Shown | None:
    at = times.of(record.label)
    told = isinstance(record.value, Event) and record.value.basis in ("told", "inferred")
    return Shown(record=record.label, at=at, words=record.value.summary(), told=told) if at else None


def _labelled(dossier: Dossier, labels: Sequence[str]) -> list[Recorded[Any]]:
    wanted = set(labels)
    return [r for r in dossier.by_subject.values() if r.label in wanted and not r.withdrawn]


def related(one: str, other: str, vocabulary: Vocabulary) -> bool:
    """Whether one lies in the other or is it."""
    return vocabulary.within(one, other) or vocabulary.within(other, one)


def any_related(some: Iterable[str], others: Iterable[str], vocabulary: Vocabulary) -> bool:
    """Whether any of the one lies in any of the other, or the other way round."""
    known = tuple(others)
    return any(related(a, b, vocabulary) for a in some for b in known)
