"""What challenges are raised from: the record, its assessment, and the record as it would stand were a part of it gone."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType
from typing import Any

from evidence.model.base import Record
from evidence.model.dossier import Dossier, Recorded
from evidence.model.examination import Taken
from evidence.model.exhibit import Exhibit
from evidence.model.people import Party
from evidence.model.references import references
from evidence.rules.assess import assess
from evidence.rules.assessment import Assessment, Candidate, FindingResult, PlanStep
from evidence.rules.holdings import Holdings
from evidence.rules.pack import Mechanism, Pack
from evidence.rules.vocabulary import Vocabulary


@dataclass(frozen=True)
class Grounds:
    """One dossier with its assessment. ``signs`` are sentences about exhibits by label; ``withheld`` labels left out."""

    dossier: Dossier
    packs: tuple[Pack, ...]
    vocabulary: Vocabulary
    assessment: Assessment
    signs: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # subject of an exhibit -> what was noticed
    withheld: tuple[str, ...] = ()

    @classmethod
    def of(
        cls, dossier: Dossier, packs: Sequence[Pack], vocabulary: Vocabulary, *,
        signs: Mapping[str, tuple[str, ...]] | None = None, withheld: Sequence[str] = (),
    ) -> Grounds:  # fmt: skip
        """Assess the dossier and keep what the challenges ask of it."""
        return cls(dossier, tuple(packs), vocabulary, assess(dossier, packs, vocabulary), signs or {}, tuple(withheld))

    @cached_property
    def leading(self) -> tuple[Candidate, ...]:
        """The candidates that the record speaks for; where there is none, the one on which it says most, the first of equals."""
        return self.assessment.leading

    @cached_property
    def holdings(self) -> Holdings:
        """Indexes over the dossier."""
        return Holdings(self.dossier)

    @cached_property
    def readings(self) -> tuple[Recorded[Taken], ...]:
        """Everything measured, seen and read."""
        return tuple(r for r in self.standing if isinstance(r.value, Taken))  # type: ignore[misc]

    @cached_property
    def standing(self) -> tuple[Recorded[Record], ...]:
        """Records that are not withdrawn."""
        return tuple(r for r in self.dossier.by_subject.values() if not r.withdrawn)

    @cached_property
    def _by_label(self) -> Mapping[str, Recorded[Record]]:
        return {r.label: r for r in self.dossier.by_subject.values()}

    def labelled(self, label: str) -> Recorded[Record] | None:
        """The record of a label, as an assessment names it."""
        return self._by_label.get(label)

    def mechanism(self, candidate: Candidate) -> Mechanism:
        """The entry of a candidate."""
        return next(m for p in self.packs for m in p.mechanisms if m.id == candidate.mechanism)

    def related(self, one: str, other: str) -> bool:
        """Whether one component lies in the other or is it."""
        return self.vocabulary.within(one, other) or self.vocabulary.within(other, one)

    def party_of(self, role: str) -> frozenset[str]:
        """Subjects of the parties with a role."""
        return frozenset(p.subject for p in self.dossier.of(Party) if role in p.value.roles)

    def judged_again(self, other: Dossier) -> Mapping[str, Candidate]:
        """The leading candidates as assessed on another state of the record, by mechanism; a pack is cut to them."""
        wanted = {c.mechanism for c in self.leading}
        kept = [
            p.model_copy(update={"mechanisms": tuple(m for m in p.mechanisms if m.id in wanted)})
            for p in self.packs
            if any(m.id in wanted for m in p.mechanisms)
        ]
        return {c.mechanism: c for c in assess(other, kept, self.vocabulary, firmness=False).candidates}


def common(candidate: Candidate, name: str) -> FindingResult:
    """The result of a common finding, such as C1."""
    return next(f for f in candidate.common if f.id == name)


def step_for(candidate: Candidate, *ids: str) -> PlanStep | None:
    """The step of the capture plan that settles one of these findings or alternatives."""
    return next(
        (s for s in candidate.plan if set(ids) & {*s.findings, *(x.partition(":")[0] for x in s.separates)}), None
    )


def from_plan(step: PlanStep) -> str:
    """A step of the plan as an answer: what to capture, and how."""
    how = f" ({step.how})" if step.how else ""
    wait = f"; first: {step.waiting}" if step.waiting else ""
    return f"Capture: {f'{step.what}{how}{wait}'.rstrip('.')}."


def changed(dossier: Dossier, values: Mapping[str, Record]) -> Dossier:
    """The dossier with other values for some subjects."""
    by_subject = {
        subject: replace(held, value=values[subject]) if subject in values else held
        for subject, held in dossier.by_subject.items()
    }
    return replace(dossier, by_subject=MappingProxyType(by_subject))


def changing(dossier: Dossier, values: Mapping[str, Record]) -> Callable[[], Dossier]:
    """:func:`changed`, when it is asked for."""
    return lambda: changed(dossier, values)


def added(dossier: Dossier, subject: str, value: Record) -> Dossier:
    """The dossier with a record that it lacks, for asking what that would change."""
    versions = next(iter(dossier.by_subject.values())).versions
    record: Recorded[Record] = Recorded(kind=value.kind, number=0, subject=subject, value=value, versions=versions)
    return replace(dossier, by_subject=MappingProxyType({**dossier.by_subject, subject: record}))


def struck(dossier: Dossier, subjects: Collection[str]) -> Dossier:
    """The dossier without some records, as if withdrawn; readings that show nothing but struck exhibits go with them."""
    gone = set(subjects)
    for reading in dossier.by_subject.values():
        if isinstance(reading.value, Taken) and reading.value.exhibits and set(reading.value.exhibits) <= gone:
            gone.add(reading.subject)
    by_subject = {s: replace(held, withdrawn=True) if s in gone else held for s, held in dossier.by_subject.items()}
    return replace(dossier, by_subject=MappingProxyType(by_subject))


def striking(dossier: Dossier, subjects: Collection[str]) -> Callable[[], Dossier]:
    """:func:`struck`, when it is asked for."""
    kept = frozenset(subjects)
    return lambda: struck(dossier, kept)


def exhibits_of(grounds: Grounds, subjects: Iterable[str]) -> tuple[str, ...]:
    """Labels of the exhibits among some records and of those that they show, in order of number."""
    found: dict[str, int] = {}
    for subject in subjects:
        held = grounds.dossier.get(subject)
        if held is None:
            continue
        for one in (subject, *(to for _path, to, _kinds in references(held.value))):
            exhibit = grounds.dossier.get(one)
            if exhibit and isinstance(exhibit.value, Exhibit):
                found[exhibit.label] = exhibit.number
    return tuple(sorted(found, key=lambda label: found[label]))


def grouped(pairs: Iterable[tuple[Any, Any]]) -> Iterator[tuple[Any, list[Any]]]:
    """Values by key, keys in order of first use."""
    found: dict[Any, list[Any]] = {}
    for key, value in pairs:
        found.setdefault(key, []).append(value)
    yield from found.items()
