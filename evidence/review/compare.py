"""Two versions of one dossier: what was added, amended, withdrawn and withheld since, and what that did to the findings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from evidence.errors import EvidenceError
from evidence.model.base import Record, shorten
from evidence.model.dossier import Dossier, Recorded
from evidence.model.telling import tell
from evidence.rules.assessment import Assessment, Candidate

_NOT_STATED = "not stated"


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldChange:
    """One field that reads otherwise."""

    field: str
    was: str
    now: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordChange:
    """One record that is new, changed or gone. ``fields`` only where it was amended."""

    label: str
    summary: str
    reasons: tuple[str, ...] = ()
    fields: tuple[FieldChange, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CandidateChange:
    """What became of one candidate: each line says what stood there and what stands there now."""

    mechanism: str
    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Everything that differs between two versions; sizes are numbers of entries."""

    title: str
    before: int
    after: int
    added: tuple[RecordChange, ...]
    amended: tuple[RecordChange, ...]
    withdrawn: tuple[RecordChange, ...]
    withheld: tuple[RecordChange, ...]  # shown before, not shown now
    shown: tuple[RecordChange, ...]  # recorded before and withheld then, shown now
    findings: tuple[CandidateChange, ...]

    @property
    def nothing(self) -> bool:
        """Whether the two say the same."""
        return not (self.added or self.amended or self.withdrawn or self.withheld or self.shown or self.findings)


def compare(before: Dossier, after: Dossier, judged: tuple[Assessment, Assessment]) -> Comparison:
    """Compare an earlier version with a later one; ``judged`` are their assessments, by the same rules."""
    if before.ledger != after.ledger:
        raise EvidenceError(
            "these are two different dossiers, not two versions of one", item=f"{before.title}; {after.title}"
        )
    if before.size > after.size:
        raise EvidenceError(
            f"the first has {before.size} entries and the second {after.size}: the first is the later one",
            advice="Name the earlier version first.",
        )
    old, new = before.by_subject, after.by_subject
    fresh = [r for s, r in new.items() if s not in old]
    both = [(old[s], r) for s, r in new.items() if s in old]
    return Comparison(
        title=after.title, before=before.size, after=after.size,
        added=tuple(_told(r) for r in fresh if r.versions[0].seq > before.size),
        shown=tuple(_told(r) for r in fresh if r.versions[0].seq <= before.size),
        amended=tuple(_amended(was, now, before, after) for was, now in both if _is_amended(was, now)),
        withdrawn=tuple(
            _told(now, now.newest.reason) for was, now in both if now.withdrawn and not was.withdrawn
        ),
        withheld=tuple(_told(r) for s, r in old.items() if s not in new),
        findings=tuple(_candidates(*judged)),
    )  # fmt: skip


def _told(record: Recorded[Record], *reasons: str) -> RecordChange:
    return RecordChange(label=record.label, summary=record.value.summary(), reasons=tuple(filter(None, reasons)))


def _is_amended(was: Recorded[Record], now: Recorded[Record]) -> bool:
    return was.value != now.value


def _amended(was: Recorded[Record], now: Recorded[Record], before: Dossier, after: Dossier) -> RecordChange:
    return RecordChange(
        label=now.label, summary=now.value.summary(), fields=tuple(_fields(was, now, before, after)),
        reasons=tuple(v.reason for v in now.versions if v.seq > was.newest.seq and v.action == "amend" and v.reason),
    )  # fmt: skip


def _fields(was: Recorded[Record], now: Recorded[Record], before: Dossier, after: Dossier) -> Iterator[FieldChange]:
    old, new = dict(tell(was.value, before.mention)), dict(tell(now.value, after.mention))
    for field in dict.fromkeys((*old, *new)):
        first, second = (shorten(told.get(field, _NOT_STATED), 200) for told in (old, new))
        if old.get(field) != new.get(field):
            yield FieldChange(field=field, was=first, now=second)


def _candidates(before: Assessment, after: Assessment) -> Iterator[CandidateChange]:
    old = {c.mechanism: c for c in before.candidates}
    new = {c.mechanism: c for c in after.candidates}
    for mechanism, candidate in new.items():
        fresh = [f"called up now, not before: {candidate.weight.band}"]
        lines = list(_lines(old[mechanism], candidate)) if mechanism in old else fresh
        if lines:
            yield CandidateChange(mechanism=mechanism, title=candidate.title, lines=tuple(lines))
    for mechanism, candidate in old.items():
        if mechanism not in new:
            told = f"not called up any more; it stood at {candidate.weight.band}"
            yield CandidateChange(mechanism=mechanism, title=candidate.title, lines=(told,))


def _lines(was: Candidate, now: Candidate) -> Iterator[str]:
    if was.weight.band != now.weight.band:
        yield f"band: {was.weight.band} → {now.weight.band}"
    if was.weight.low != now.weight.low:
        yield f"ratio, low end: {was.weight.low_printed} → {now.weight.low_printed}"
    if (was.weight.ratio, was.weight.high) != (now.weight.ratio, now.weight.high):
        told = [f"{w.printed} (at most {w.high_printed})" for w in (was.weight, now.weight)]
        yield f"ratio by the grades as they stand: {told[0]} → {told[1]}"
    yield from _moved(
        {f.id: (f.answer, f.statement) for f in (*was.findings, *was.common)},
        {f.id: (f.answer, f.statement) for f in (*now.findings, *now.common)},
    )
    yield from _moved(
        {a.id: (a.status, a.claim) for a in was.alternatives}, {a.id: (a.status, a.claim) for a in now.alternatives}
    )
    yield from _ceilings(was, now)
    yield from _contradictions(was, now)
    complete = {e.name: e.complete for e in was.elements}
    for element in now.elements:
        if complete.get(element.name) != element.complete:
            yield f"element {element.name}: {'complete now' if element.complete else 'not complete any more'}"


def _moved(was: Mapping[str, tuple[str, str]], now: Mapping[str, tuple[str, str]]) -> Iterator[str]:
    for name, (state, statement) in now.items():
        before = was.get(name, (_NOT_STATED, ""))[0]
        if before != state:
            yield f"{name}: {before} → {state} ({shorten(statement, 90)})"


def _ceilings(was: Candidate, now: Candidate) -> Iterator[str]:
    old, new = ({c.code: c for c in x.ceilings if c.holds} for x in (was, now))
    for code, ceiling in new.items():
        if code not in old:
            yield f"held at {ceiling.at} now: {ceiling.reason}"
    for code, ceiling in old.items():
        if code not in new:
            yield f"not held at {ceiling.at} any more ({ceiling.reason})"


def _contradictions(was: Candidate, now: Candidate) -> Iterator[str]:
    old = {(c.about, c.records): c for c in was.contradictions}
    new = {(c.about, c.records): c for c in now.contradictions}
    for key, found in new.items():
        if key not in old:
            yield f"new contradiction: {shorten(found.text, 160)}"
        elif found.resolved and not old[key].resolved:
            yield f"contradiction about {found.about} resolved: {shorten(found.resolved, 160)}"
    for key, found in old.items():
        if key not in new:
            yield f"no contradiction any more: {shorten(found.text, 160)}"
