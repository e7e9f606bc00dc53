"""A review laid beside the dossier that it speaks of: each thing that can be marked, its marks, and the answers.

The reviewer's marks stand in his ledger, the shop's answers in the dossier's; nothing of either is copied into the other.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from evidence.errors import NotFound
from evidence.model.base import nearest
from evidence.model.dossier import Dossier, Recorded
from evidence.model.reviewing import ReviewAnswer, Reviewed, ReviewMark
from evidence.review.compare import Comparison
from evidence.rules.assessment import Assessment, Candidate

Key = tuple[str, str, str]  # what is marked: kind of thing, mechanism, name


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """One answer of the shop: which of its records, and what it says."""

    label: str
    by: str
    text: str
    records: tuple[str, ...]  # labels in the dossier


@dataclass(frozen=True, slots=True, kw_only=True)
class Marked:
    """One mark with what was answered to it. ``old``: a later mark on the same thing goes before it."""

    number: int
    label: str
    mark: str
    text: str
    by: str
    time: str
    entries: int | None  # of the version that it was made on
    records: tuple[str, ...]  # labels in the review
    answers: tuple[Answered, ...]
    old: bool = False

    @property
    def waits(self) -> bool:
        """A question or rejection that stands and has no answer."""
        return not self.old and self.mark != "accepted" and not self.answers


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One thing that can be marked, where it stands, and its marks, the newest first."""

    key: Key
    name: str  # F1, A2, custody and notice, Exhibit 7
    statement: str
    state: str  # met, open, complete, the band
    records: tuple[str, ...]
    marks: tuple[Marked, ...] = ()

    @property
    def mark(self) -> str:
        """The mark that counts, or an empty text."""
        return self.marks[0].mark if self.marks else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One candidate, or the records marked by themselves."""

    title: str
    mechanism: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The whole review beside the whole dossier."""

    title: str
    entries: int
    parts: tuple[Part, ...]

    def lines(self) -> Iterator[Line]:
        """All lines in order."""
        for part in self.parts:
            yield from part.lines

    def count(self, mark: str) -> int:
        """How many things carry this mark now; an empty text counts what carries none."""
        return sum(line.mark == mark for line in self.lines() if line.key[0] != "record" or mark)

    def waiting(self) -> tuple[tuple[Line, Marked], ...]:
        """Questions and rejections without an answer, in order of their numbers."""
        found = [(line, m) for line in self.lines() for m in line.marks if m.waits]
        return tuple(sorted(found, key=lambda pair: pair[1].number))


@dataclass(frozen=True, slots=True, kw_only=True)
class Presented:
    """A review as it is printed: beside which dossier, from which file, and what changed since the version before."""

    of: Reviewed
    sheet: Sheet
    bundle_name: str  # of the file as received
    bundle_sha256: str
    compared: Comparison | None = None


def sheet(dossier: Dossier, assessment: Assessment, review: Dossier) -> Sheet:
    """Lay a review beside a dossier. Marks on what this version no longer has keep their place at the end."""
    marks = _marks(review, answers_to(dossier, review.ledger))
    parts = [_part(c, marks) for c in assessment.candidates]
    placed = {line.key for part in parts for line in part.lines}
    rest = [_loose(key, found, dossier) for key, found in marks.items() if key not in placed]
    if rest:
        parts.append(Part(title="Single records, and what this version no longer has", mechanism="", lines=tuple(rest)))
    return Sheet(title=dossier.title, entries=dossier.size, parts=tuple(parts))


def answers_to(dossier: Dossier, review_ledger: str) -> dict[int, tuple[Answered, ...]]:
    """Answers that a dossier holds to a review, by number of the mark."""
    found: dict[int, tuple[Answered, ...]] = {}
    for answer in dossier.of(ReviewAnswer):
        v = answer.value
        if v.review == review_ledger:
            told = Answered(
                label=answer.label, by=dossier.party(v.by), text=v.text,
                records=tuple(dossier.label(s) for s in (*v.records, *v.exhibits)),
            )  # fmt: skip
            found[v.mark] = (*found.get(v.mark, ()), told)
    return found


def targets(dossier: Dossier, assessment: Assessment) -> list[Key]:
    """Everything that a mark can be on."""
    found = [line.key for c in assessment.candidates for line in _part(c, {}).lines]
    return found + [("record", "", r.label) for r in dossier.by_subject.values()]


def find_target(dossier: Dossier, assessment: Assessment, on: str, mechanism: str, name: str) -> Key:
    """The thing that a person means. Without a mechanism that of the first candidate; refused when there is none such."""
    known = targets(dossier, assessment)
    if on == "record":
        wanted = next((k for k in known if k[0] == "record" and k[2].lower() == name.strip().lower()), None)
        if wanted is None:
            raise NotFound("the dossier under review has no such record", item=name, advice="Name it as 'Exhibit 7'.")
        return wanted
    if not assessment.candidates:
        raise NotFound("the dossier under review calls up no mechanism: there is no finding to mark", item=name)
    mechanism = mechanism or assessment.candidates[0].mechanism
    here = [k for k in known if k[0] == on and k[1] == mechanism]
    if not here:
        raise NotFound(
            f"the dossier under review does not call up that mechanism{nearest(mechanism, {k[1] for k in known})}",
            item=mechanism,
        )  # fmt: skip
    wanted = next((k for k in here if k[2].lower() == name.strip().lower()), None)
    if wanted is None:
        raise NotFound(f"no such {on} of {mechanism}{nearest(name, [k[2] for k in here])}", item=name)
    return wanted


def _marks(review: Dossier, answers: dict[int, tuple[Answered, ...]]) -> dict[Key, tuple[Marked, ...]]:
    """Marks by target, the newest first."""
    found: dict[Key, list[Marked]] = {}
    for mark in reversed(review.of(ReviewMark)):
        rows = found.setdefault(mark.value.target, [])
        rows.append(_marked(mark, review, answers.get(mark.number, ()), old=bool(rows)))
    return {key: tuple(rows) for key, rows in found.items()}


def _marked(mark: Recorded[ReviewMark], review: Dossier, answers: tuple[Answered, ...], *, old: bool) -> Marked:
    v = mark.value
    return Marked(
        number=mark.number, label=mark.label, mark=v.mark, text=v.text or "", by=review.party(v.by), time=v.time.given,
        entries=v.entries, records=tuple(review.label(s) for s in (*v.records, *v.exhibits)), answers=answers, old=old,
    )  # fmt: skip


def _part(candidate: Candidate, marks: dict[Key, tuple[Marked, ...]]) -> Part:
    def line(on: str, name: str, statement: str, state: str, records: Iterable[str] = ()) -> Line:
        key = (on, candidate.mechanism, name)
        return Line(
            key=key,
            name=name or "conclusion",
            statement=statement,
            state=state,
            records=tuple(records),
            marks=marks.get(key, ()),
        )

    lines = [line("conclusion", "", candidate.conclusion, candidate.weight.band)]
    lines += [line("finding", f.id, f.statement, f.answer, f.records) for f in (*candidate.findings, *candidate.common)]
    lines += [line("alternative", a.id, a.claim, a.status, a.records) for a in candidate.alternatives]
    lines += [
        line("element", e.name, e.question, "complete" if e.complete else "not complete",
             dict.fromkeys(r for p in e.shown for r in p.records))
        for e in candidate.elements
    ]  # fmt: skip
    return Part(title=candidate.title, mechanism=candidate.mechanism, lines=tuple(lines))


def _loose(key: Key, marks: Sequence[Marked], dossier: Dossier) -> Line:
    """A mark on a record, or on something that this version does not have any more."""
    held = next((r for r in dossier.by_subject.values() if key[0] == "record" and r.label == key[2]), None)
    if held is None:
        state, statement = "not in this version", f"{key[0]} of {key[1]}" if key[1] else key[0]
    else:
        state = "withdrawn" if held.withdrawn else "amended" if len(held.versions) > 1 else "recorded"
        statement = held.value.summary()
    return Line(key=key, name=key[2] or "conclusion", statement=statement, state=state, records=(), marks=tuple(marks))
