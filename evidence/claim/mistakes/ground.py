"""What the detectors share: one mistake that was made, and who did what when, read from the record."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, TypeVar

from evidence.model.base import Record
from evidence.model.despite import Despite, MistakeCode
from evidence.model.dossier import Dossier, Recorded
from evidence.model.examination import Taken
from evidence.model.people import Correspondence, Party
from evidence.model.repair import Intervention, WorkOrder
from evidence.rules.mistakes import MISTAKES, Kind
from evidence.timeline.states import sure_before

R = TypeVar("R", bound=Record)

NOTICES: Final = frozenset({"notice", "inspection_opportunity", "cure_opportunity", "preservation_letter"})
_OURS = frozenset({"present_repairer", "technician"})
_THEIRS = frozenset({"prior_repairer", "owner", "driver", "carrier"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A mistake as it was made: at which record, in a sentence, and the reason a person gave, if one did."""

    code: MistakeCode
    subject: str  # of the record; empty where it is one that is not there
    label: str  # "Intervention 3", or "the dossier"
    words: str
    despite: str = ""

    @property
    def kind(self) -> Kind:
        """The row of the catalogue."""
        return MISTAKES[self.code]


def at(record: Recorded[R], code: MistakeCode, words: str, despite: str = "") -> Made:
    """A mistake made at ``record``; the reason is the record's own where it gives one for this mistake."""
    held: tuple[Despite, ...] = getattr(record.value, "despite", ())
    reason = despite or "; ".join(d.why for d in held if d.mistake == code)
    return Made(code=code, subject=record.subject, label=record.label, words=words, despite=reason)


def nowhere(code: MistakeCode, words: str) -> Made:
    """A mistake that lies in what is not on record."""
    return Made(code=code, subject="", label="the dossier", words=words)


def disputed(dossier: Dossier) -> bool:
    """Whether the work of a prior repairer is on record at all."""
    return any(o.value.side == "prior_repairer" for o in dossier.of(WorkOrder))


def our_steps(dossier: Dossier) -> tuple[Recorded[Intervention], ...]:
    """What the present shop changed, in order of time."""
    orders = {o.subject: o.value.side for o in dossier.of(WorkOrder)}
    roles = {p.subject: frozenset(p.value.roles) for p in dossier.of(Party)}
    found = []
    for step in dossier.of(Intervention):
        side, had = orders.get(step.value.work_order or ""), roles.get(step.value.by, frozenset())
        if side == "present_repairer" or (side is None and had & _OURS and not had & _THEIRS):
            found.append(step)
    return tuple(sorted(found, key=lambda s: (s.value.time.span.earliest, s.number)))


def undone_before(steps: tuple[Recorded[Intervention], ...], step: Recorded[Intervention]) -> bool:
    """Whether the step only puts back what the shop itself had taken off, opened or disconnected."""
    return step.value.action in ("refitted", "reconnected", "tightened", "filled") and any(
        other.value.action in ("removed", "disconnected", "opened", "loosened", "drained")
        and set(other.value.components) & set(step.value.components)
        and not sure_before(step.value.time.span, other.value.time.span)
        for other in steps
        if other.subject != step.subject
    )


def told_before(dossier: Dossier, step: Recorded[Intervention]) -> bool:
    """Whether a notice or an offer to inspect went out, not surely after the step."""
    return any(
        letter.value.about in NOTICES and not sure_before(step.value.time.span, letter.value.sent.span)
        for letter in dossier.of(Correspondence)
    )


def taken(dossier: Dossier) -> Iterator[Recorded[Taken]]:
    """Everything measured, seen and read that stands."""
    for record in dossier.by_subject.values():
        if isinstance(record.value, Taken) and not record.withdrawn:
            yield record  # type: ignore[misc]
