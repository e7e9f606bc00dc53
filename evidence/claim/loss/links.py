"""What makes a line of loss recoverable: the explanation, its findings, and the records and exhibits that carry them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from evidence.claim.loss.offers import Item
from evidence.model.dossier import Dossier
from evidence.model.kinds import enumerated
from evidence.model.people import Party
from evidence.model.repair import WorkOrder
from evidence.rules.assessment import Assessment, Candidate, FindingResult

# Which limbs carry a line: what was done wrongly carries doing it again; link and effect carry the damage that followed.
_CARRY: Final[Mapping[str, tuple[str, ...]]] = {"rework": ("D",), "resulting_damage": ("L", "E")}
_ANY: Final = ("D", "L", "E")
_LACKING: Final[Mapping[str, str]] = {
    "rework": "no departure of “{title}” is on record",
    "resulting_damage": "neither a link nor an effect of “{title}” is on record",
}
# Alternatives that are somebody's work: as long as they are not excluded, he could be responsible.
_HANDS: Final = {
    "owner_work": (frozenset({"owner"}), "own work"),
    "later_repairer": (frozenset({"present_repairer", "later_repairer"}), "work since"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Carrier:
    """One finding that carries a line, with the records that answer it."""

    id: str
    limb: str  # in words: departure, link, effect
    statement: str
    records: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand:
    """Who could be responsible, and by what on record."""

    name: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """``linked``: whether the findings carry it so far; ``words``: which explanation, or why not."""

    linked: bool
    words: str
    carriers: tuple[Carrier, ...] = ()
    exhibits: tuple[str, ...] = ()  # labels of what those records show
    hands: tuple[Hand, ...] = ()
    not_excluded: tuple[str, ...] = ()  # alternatives that are still open, which would take the line away

    @property
    def could_be(self) -> tuple[str, ...]:
        """Names alone."""
        return tuple(dict.fromkeys(hand.name for hand in self.hands))

    @property
    def records(self) -> tuple[str, ...]:
        """Labels of every record that carries it."""
        return tuple(dict.fromkeys(r for c in self.carriers for r in c.records))


def link_of(item: Item, dossier: Dossier, assessment: Assessment) -> Link:
    """The causal link of one line."""
    v = item.value
    named = tuple(Hand(name=dossier.party(p), why="named in the line") for p in dict.fromkeys(v.could_be))
    if v.unlinked:
        return Link(linked=False, words=v.unlinked, hands=named)
    candidate = _candidate(v.mechanism, assessment)
    if candidate is None:
        called = f"the explanation {v.mechanism!r} is not called up by the record"
        return Link(
            linked=False, words=called if v.mechanism else "the record speaks for no explanation so far", hands=named
        )
    hands = named or _hands(dossier, candidate)
    if candidate.weight.side != "mechanism":
        return Link(linked=False, words=f"“{candidate.title}” is not shown: {candidate.weight.band}", hands=hands)
    carrying, lacking = _carrying(item, candidate)
    if lacking:
        return Link(linked=False, words=lacking, hands=hands)
    words = f"“{candidate.title}”: {candidate.weight.band}"
    for other in () if v.mechanism or named else _others(assessment, candidate):
        if more := [h for h in _hands(dossier, other) if h.name not in {x.name for x in hands}]:
            hands = (*hands, *more)
            words += f"; “{other.title}”: {other.weight.band}"
    records = [r for f in carrying for r in f.records]
    return Link(
        linked=True, words=words, hands=hands, exhibits=_shown(dossier, records),
        carriers=tuple(Carrier(id=f.id, limb=f.limb_words, statement=f.statement, records=f.records) for f in carrying),
        not_excluded=tuple(a.claim for a in candidate.alternatives if a.status in ("open", "supported") and not a.resolved),
    )  # fmt: skip


def _carrying(item: Item, candidate: Candidate) -> tuple[list[FindingResult], str]:
    """The met findings that carry a line, or why none does."""
    known = {f.id: f for f in (*candidate.findings, *candidate.common)}
    if item.value.findings:
        missing = [f"{name} is no finding of “{candidate.title}”" for name in item.value.findings if name not in known]
        asked = [known[name] for name in item.value.findings if name in known]
        missing += [f"{f.id} of “{candidate.title}” is {f.answer}: {f.statement}" for f in asked if f.answer != "met"]
        return asked, "; ".join(missing)
    limbs = _CARRY.get(item.value.nature, _ANY)
    met = [f for f in candidate.findings if f.answer == "met" and f.limb in limbs]
    lacking = "" if met else _LACKING.get(item.value.nature, "nothing of “{title}” is met so far")
    return met, lacking.format(title=candidate.title)


def _shown(dossier: Dossier, labels: Sequence[str]) -> tuple[str, ...]:
    """The exhibits of records, by label, in order of their number."""
    by_label = {r.label: r for r in dossier.by_subject.values()}
    subjects: list[str] = []
    for record in (by_label[x] for x in labels if x in by_label):
        subjects += [record.subject] if record.kind == "exhibit" else getattr(record.value, "exhibits", ())
        subjects += [s for s in (getattr(record.value, "trace", None),) if s]
    found = [r for s in dict.fromkeys(subjects) if (r := dossier.get(s))]
    return tuple(r.label for r in sorted(found, key=lambda r: r.number))


def _others(assessment: Assessment, leading: Candidate) -> list[Candidate]:
    """Further explanations that the record speaks for: where they are somebody else's work, he could be responsible too."""
    return [c for c in assessment.candidates if c.weight.side == "mechanism" and c is not leading]


def _candidate(mechanism: str | None, assessment: Assessment) -> Candidate | None:
    if mechanism:
        return next((c for c in assessment.candidates if c.mechanism == mechanism), None)
    return next((c for c in assessment.candidates if c.weight.side == "mechanism"), None)


def _hands(dossier: Dossier, candidate: Candidate) -> tuple[Hand, ...]:
    """Whose work calls it up, and whoever an open alternative leaves in."""
    labels = {x for point in candidate.why for x in point.records}
    orders: dict[str, list[str]] = {}
    for order in dossier.of(WorkOrder):
        if (
            order.label in labels and order.value.side != "present_repairer"
        ):  # that one comes in by an alternative, if at all
            orders.setdefault(dossier.party(order.value.repairer), []).append(order.label)
    found = [Hand(name=name, why=f"work of {enumerated(of)}") for name, of in orders.items()]
    for alternative in candidate.alternatives:
        if alternative.kind in _HANDS and alternative.status != "excluded":
            roles, words = _HANDS[alternative.kind]
            parties = [p.value.full_name for p in dossier.of(Party) if roles & set(p.value.roles)]
            found += [Hand(name=name, why=f"{words} is not excluded: “{alternative.claim}”") for name in parties]
    by_name: dict[str, Hand] = {}
    for hand in found:
        by_name.setdefault(hand.name, hand)
    return tuple(by_name.values())
