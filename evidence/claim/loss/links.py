"""What makes a line of loss recoverable, and who could be responsible for it: by the findings, never by a percentage."""

from __future__ import annotations

from dataclasses import dataclass

from evidence.model.dossier import Dossier, Recorded
from evidence.model.loss import LossItem
from evidence.model.people import Party
from evidence.model.repair import WorkOrder
from evidence.rules.assessment import Assessment, Candidate

_NONE = "the record speaks for no explanation so far"
_HANDS = {"owner_work": "owner", "later_repairer": "later_repairer"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """``linked``: whether the findings carry it so far; ``words``: by what, or why not; ``could_be``: names."""

    linked: bool
    words: str
    could_be: tuple[str, ...]


def link_of(item: Recorded[LossItem], dossier: Dossier, assessment: Assessment) -> Link:
    """The causal link of one line."""
    v = item.value
    named = tuple(dict.fromkeys(dossier.party(p) for p in v.could_be))
    if v.unlinked:
        return Link(linked=False, words=v.unlinked, could_be=named)
    candidate = _candidate(v, assessment)
    if candidate is None:
        asked = (
            f"the explanation {v.mechanism!r} is not called up by the record"
            if v.mechanism
            else "the record speaks for no explanation so far"
        )
        return Link(linked=False, words=asked, could_be=named)
    who = named or _hands(dossier, candidate)
    if candidate.weight.side != "mechanism":
        return Link(linked=False, words=f"“{candidate.title}” is not shown: {candidate.weight.band}", could_be=who)
    if v.nature == "rework" and not any(f.limb == "D" and f.answer == "met" for f in candidate.findings):
        return Link(linked=False, words=f"no departure of “{candidate.title}” is on record", could_be=who)
    words = f"“{candidate.title}”: {candidate.weight.band}"
    for other in () if v.mechanism or named else _others(assessment, candidate):
        if more := [name for name in _hands(dossier, other) if name not in who]:
            who = (*who, *more)
            words += f"; “{other.title}”: {other.weight.band}"
    return Link(linked=True, words=words, could_be=who)


def _others(assessment: Assessment, leading: Candidate) -> list[Candidate]:
    """Further explanations that the record speaks for: where they are somebody else's work, he could be responsible too."""
    return [c for c in assessment.candidates if c.weight.side == "mechanism" and c is not leading]


def _candidate(item: LossItem, assessment: Assessment) -> Candidate | None:
    if item.mechanism:
        return next((c for c in assessment.candidates if c.mechanism == item.mechanism), None)
    return next((c for c in assessment.candidates if c.weight.side == "mechanism"), None)


def _hands(dossier: Dossier, candidate: Candidate) -> tuple[str, ...]:
    """Whose work calls it up, and whoever an open alternative leaves in."""
    labels = {x for point in candidate.why for x in point.records}
    names = [dossier.party(o.value.repairer) for o in dossier.of(WorkOrder) if o.label in labels]
    roles = {_HANDS[a.kind] for a in candidate.alternatives if a.kind in _HANDS and a.status != "excluded"}
    names += [p.value.full_name for p in dossier.of(Party) if roles & set(p.value.roles)]
    return tuple(dict.fromkeys(names))
