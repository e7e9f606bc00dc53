"""The duty to keep evidence: which parts a record gives up, and what rests on them. Pure; whoever records decides."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from evidence.model.base import Record, say
from evidence.model.dossier import Dossier, Recorded
from evidence.model.exhibit import Exhibit
from evidence.model.kinds import enumerated
from evidence.model.people import CustodyTransfer
from evidence.model.references import references
from evidence.model.repair import WorkOrder
from evidence.model.vehicle import Vehicle
from evidence.rules.assessment import Assessment, Candidate
from evidence.rules.vocabulary import Vocabulary

DUTY = (
    "What matters to a dispute has to be kept until the dispute is settled, or until everyone concerned has agreed in "
    "writing to its release. Once it is gone the other side cannot examine it, and that may be held against whoever let it "
    "go. Rules differ from place to place: ask there before it leaves."
)
_GIVEN_UP = ("returned_to_owner", "returned_as_core", "scrapped")


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenUp:
    """A thing that a record lets out of the keeping."""

    what: str  # "Exhibit 48 (Engine control module …)" or "old engine control module"
    how: str  # "scrapped"
    subject: str  # of the exhibit, or empty: an old part that was never made one
    components: frozenset[str]  # empty with ``whole``: the vehicle itself
    whole: bool = False
    knowing: str = ""  # the reason given, or empty
    by: str = ""  # label of the record


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """What of one candidate rests on the thing: met findings with their records, or the component alone."""

    title: str
    findings: tuple[tuple[str, str, tuple[str, ...]], ...]  # id, statement, labels of records
    components: tuple[str, ...]


def gives_up(record: Record) -> bool:
    """Whether a record lets anything go at all; what it was is :func:`given_up`'s to say."""
    if isinstance(record, CustodyTransfer):
        return record.fate is not None
    if isinstance(record, Exhibit):
        return record.retained is False
    return isinstance(record, WorkOrder) and any(p.old_part in _GIVEN_UP for p in record.parts)


def given_up(dossier: Dossier, record: Recorded[Record]) -> tuple[GivenUp, ...]:
    """What a record gives up: parts scrapped, returned as a core or to the owner, or said not to be kept."""
    return tuple(_of(dossier, record, record.value))


def _of(dossier: Dossier, record: Recorded[Record], v: Record) -> Iterator[GivenUp]:
    label = record.label
    if isinstance(v, CustodyTransfer) and v.fate:
        item = dossier.get(v.item)
        if item and isinstance(item.value, Exhibit):
            yield _exhibit(item, say(v.fate), v.knowing, label)
        elif item and isinstance(item.value, Vehicle) and v.fate == "scrapped":
            yield GivenUp(
                what=f"{item.label} ({item.value.description})", how=say(v.fate), subject=item.subject,
                components=frozenset(), whole=True, knowing=v.knowing or "", by=label,
            )  # fmt: skip
    elif isinstance(v, Exhibit) and v.form == "physical" and v.retained is False:
        shown = v.caption or v.description or ""
        yield GivenUp(
            what=f"{label} ({shown})", how="not kept", subject=record.subject, components=frozenset(v.shows),
            knowing=v.knowing or "", by=label,
        )  # fmt: skip
    elif isinstance(v, WorkOrder) and v.side == "present_repairer":
        for part in v.parts:
            if part.old_part in _GIVEN_UP and part.component:
                yield GivenUp(
                    what=f"the old {say(part.component)}", how=say(part.old_part), subject="",
                    components=frozenset({part.component}), knowing=v.knowing or "", by=label,
                )  # fmt: skip


def _exhibit(item: Recorded[Record], how: str, knowing: str | None, by: str) -> GivenUp:
    shows = item.value.shows if isinstance(item.value, Exhibit) else ()
    return GivenUp(
        what=f"{item.label} ({item.value.summary()})", how=how, subject=item.subject, components=frozenset(shows),
        knowing=knowing or "", by=by,
    )  # fmt: skip


def resting_on(thing: GivenUp, assessment: Assessment, dossier: Dossier, vocabulary: Vocabulary) -> tuple[Rest, ...]:
    """What rests on it, candidate by candidate, those with met findings first; empty: nothing does."""
    by_label = {r.label: r for r in dossier.by_subject.values()}
    found = [r for c in assessment.candidates if (r := _rest(thing, c, dossier, by_label, vocabulary))]
    return tuple(sorted(found, key=lambda r: not r.findings))


def _rest(
    thing: GivenUp,
    candidate: Candidate,
    dossier: Dossier,
    by_label: dict[str, Recorded[Record]],
    vocabulary: Vocabulary,
) -> Rest | None:
    findings = []
    for finding in candidate.findings:
        if finding.answer == "met":
            records = [
                label
                for label in finding.records
                if _speaks_of(by_label.get(label), thing, dossier.by_subject, vocabulary)
            ]
            if records:
                findings.append((finding.id, finding.statement, tuple(records)))
    components = tuple(c for c in candidate.components if _in_it(c, thing, vocabulary))
    if not findings and not components:
        return None
    return Rest(title=candidate.title, findings=tuple(findings), components=components)


def _speaks_of(
    record: Recorded[Record] | None, thing: GivenUp, by_subject: Mapping[str, Recorded[Record]], vocabulary: Vocabulary
) -> bool:
    """Whether a record is the thing, names it, tells of a component that it is or holds, or has an exhibit that shows it."""
    if record is None:
        return False
    named = [to for _path, to, _kinds in references(record.value)]
    if thing.subject and thing.subject in (record.subject, *named):
        return True
    shown = (by_subject.get(to) for to in named)
    parts = [getattr(record.value, "of", None), *getattr(record.value, "components", ())]
    for exhibit in (record, *shown):
        if exhibit and isinstance(exhibit.value, Exhibit):
            parts += exhibit.value.shows
    return any(part and _in_it(part, thing, vocabulary) for part in parts)


def _in_it(component: str, thing: GivenUp, vocabulary: Vocabulary) -> bool:
    return any(component == part or vocabulary.within(component, part) for part in thing.components)


def warning(thing: GivenUp, rests: tuple[Rest, ...], dossier: Dossier) -> str:
    """What a person should read before it leaves: the findings in words, their exhibits, the duty."""
    lines = [f"{thing.what} is to be {thing.how}." if thing.how != "not kept" else f"{thing.what} is not to be kept."]
    for rest in rests:
        lines.append(f"It carries “{rest.title}”:")
        for number, statement, records in rest.findings:
            shown = dict.fromkeys([*records, *_exhibits(records, dossier)])
            lines.append(f"  {number}, met: {statement} ({enumerated(shown)})")
        if not rest.findings:
            lines.append(f"  nothing is met yet; it is where to look: {', '.join(map(say, rest.components))}")
    if thing.whole:
        lines.append("Everything in this dossier was found on it.")
    lines.append(DUTY)
    return "\n".join(lines)


def _exhibits(labels: tuple[str, ...], dossier: Dossier) -> Iterator[str]:
    by_label = {r.label: r for r in dossier.by_subject.values()}
    for label in labels:
        record = by_label.get(label)
        yield from (dossier.label(e) for e in getattr(record.value if record else None, "exhibits", ()))
