"""A dossier: the fold of its entries. Nothing here is stored; it is computed from the record each time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType
from typing import Generic, TypeVar, cast

from evidence.model.base import Json, Record
from evidence.model.happening import DossierOpening
from evidence.model.kinds import KINDS, label_of
from evidence.model.people import Party

R = TypeVar("R", bound=Record)


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """One entry about a subject: what was recorded, when, by whom and why."""

    seq: int
    action: str  # record, amend, withdraw
    recorded_at: dt.datetime
    recorded_by: str  # subject of a party
    via: str = ""
    reason: str = ""
    body: Json = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded(Generic[R]):
    """The newest state of one record, with everything that was said of it before."""

    kind: str
    number: int  # n-th of its kind, never changes
    subject: str
    value: R
    versions: tuple[Version, ...]
    withdrawn: bool = False

    @property
    def label(self) -> str:
        """``Exhibit 7``."""
        return label_of(self.kind, self.number)

    @property
    def newest(self) -> Version:
        """The entry that made the present state."""
        return self.versions[-1]

    @property
    def name(self) -> str:
        """The author's short name, or an empty text."""
        return self.value.name or ""


@dataclass(frozen=True)
class Dossier:
    """All records of a ledger in order of their first entry. Withdrawn ones stay listed and answer nothing."""

    ledger: str
    size: int  # entries folded
    last_at: dt.datetime | None  # recorded_at of the last entry
    by_subject: Mapping[str, Recorded[Record]]

    @cached_property
    def _by_kind(self) -> dict[str, tuple[Recorded[Record], ...]]:
        found: dict[str, list[Recorded[Record]]] = {}
        for recorded in self.by_subject.values():
            found.setdefault(recorded.kind, []).append(recorded)
        return {kind: tuple(items) for kind, items in found.items()}

    @property
    def opening(self) -> DossierOpening:
        """The record that says what the matter is."""
        return self.all_of(DossierOpening)[0].value

    @property
    def title(self) -> str:
        """The dossier's title."""
        return self.opening.title

    def of(self, cls: type[R]) -> tuple[Recorded[R], ...]:
        """Standing records of a kind, withdrawn ones left out."""
        return tuple(r for r in self.all_of(cls) if not r.withdrawn)

    def all_of(self, cls: type[R]) -> tuple[Recorded[R], ...]:
        """Records of a kind, withdrawn ones included."""
        return cast("tuple[Recorded[R], ...]", self._by_kind.get(cls.kind, ()))

    def get(self, subject: str) -> Recorded[Record] | None:
        """The record with this subject."""
        return self.by_subject.get(subject)

    def label(self, subject: str) -> str:
        """``Exhibit 7`` for a subject; a plain word when it is not in what we hold."""
        found = self.by_subject.get(subject)
        return found.label if found else "a record not held here"

    def mention(self, subject: str) -> str:
        """A record as named in a sentence: a party by his name, everything else by its number."""
        found = self.by_subject.get(subject)
        return found.value.full_name if found and isinstance(found.value, Party) else self.label(subject)

    def party(self, subject: str | None) -> str:
        """A party's name for printing; "not stated" when there is none."""
        found = self.by_subject.get(subject or "")
        return found.value.full_name if found and isinstance(found.value, Party) else "not stated"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One entry as the fold needs it; ``body`` is None where its content is withheld."""

    seq: int
    kind: str
    subject: str
    action: str
    recorded_at: dt.datetime
    recorded_by: str
    via: str = ""
    reason: str = ""
    body: Json | None = None
    value: Record | None = field(default=None, compare=False, repr=False)  # the body read, where it is at hand


def fold(ledger: str, steps: Iterable[Step], kinds: Mapping[str, type[Record]] = KINDS) -> Dossier:
    """Compute the dossier from its entries in order of ``seq``. Kinds that are not among ``kinds`` are passed over."""
    versions: dict[str, list[Version]] = {}
    numbers: dict[str, tuple[str, int]] = {}
    counts: dict[str, int] = {}
    size, last_at = 0, None
    for step in steps:
        size, last_at = step.seq, step.recorded_at
        if step.action == "record":
            counts[step.kind] = counts.get(step.kind, 0) + 1
            numbers[step.subject] = (step.kind, counts[step.kind])
        versions.setdefault(step.subject, []).append(
            Version(
                seq=step.seq, action=step.action, recorded_at=step.recorded_at, recorded_by=step.recorded_by,
                via=step.via, reason=step.reason, body=step.body or {},
            )
        )  # fmt: skip
    by_subject: dict[str, Recorded[Record]] = {}
    for subject, (kind, number) in numbers.items():
        history = versions[subject]
        bodies = [v.body for v in history if v.action != "withdraw"]
        if kind not in kinds or not bodies[-1]:
            continue
        by_subject[subject] = Recorded(
            kind=kind,
            number=number,
            subject=subject,
            value=kinds[kind].stored(bodies[-1]),
            versions=tuple(history),
            withdrawn=history[-1].action == "withdraw",
        )
    return Dossier(ledger=ledger, size=size, last_at=last_at, by_subject=MappingProxyType(by_subject))
