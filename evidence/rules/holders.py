"""Who had the vehicle, and whose work touched the part: by orders, hand-overs and interventions, house by house.

A firm holds through its people. Where nobody else is on record the vehicle is taken to be with its owner, and that is
said to be no record. Every hold begins and ends in a span: what it surely covers, and what it may cover.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from evidence.model.base import say
from evidence.model.dossier import Dossier, Recorded
from evidence.model.people import Party
from evidence.model.repair import Intervention, WorkOrder
from evidence.model.vehicle import Vehicle
from evidence.rules.departures import Departure, any_related
from evidence.rules.vocabulary import Vocabulary
from evidence.timeline.chains import Chain, Link, plain
from evidence.timeline.custody import chains
from evidence.timeline.stated import micros
from evidence.timeline.stretches import Stretch
from evidence.timeline.tightened import Tight, Tightened

_EVER = (-(2**62), 2**62)
Hands = Literal["on the part", "on other parts", "not told apart", "not by itself"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """A stretch through which somebody had the vehicle, by one record, or work done at a moment."""

    record: str  # label
    how: Literal["order", "custody", "work", "own order"]
    words: str
    sure: Stretch  # empty where it ends before it begins
    possible: Stretch
    hands: Hands
    sealed: str = ""  # the record by which a seal put on before was found whole after


@dataclass(slots=True, kw_only=True)
class House:
    """A firm, or a person on his own, with everything by which he held the vehicle or touched the part."""

    name: str
    subjects: set[str] = field(default_factory=set)
    roles: dict[str, None] = field(default_factory=dict)
    holds: list[Hold] = field(default_factory=list)
    owner: bool = False

    @property
    def part(self) -> str:
        """Its part in the matter, in words."""
        return ", ".join(map(say, self.roles)) or "part in the matter not stated"


def houses(dossier: Dossier, departure: Departure, times: Tightened, vocabulary: Vocabulary) -> list[House]:
    """Everyone on record, the owner always; in order of recording."""
    found = _Houses(dossier)
    steps = [
        s for s in dossier.of(Intervention) if any_related(s.value.components, departure.around, vocabulary)
    ]  # fmt: skip
    for order in dossier.of(WorkOrder):
        house = found.of(order.value.repairer)
        house.roles.setdefault(order.value.side)
        timed = [s.label for s in steps if _is_of(s, order, house)]
        house.holds.append(_of_order(order, house, departure, times, vocabulary, timed))
    for step in steps:
        if at := times.of(step.label):
            span = _reach(at)
            house = found.of(step.value.by)
            words = step.value.summary()
            house.holds.append(
                Hold(record=step.label, how="work", words=words, sure=(0, 0), possible=span, hands="on the part")
            )
    vehicle = next(iter(dossier.of(Vehicle)), None)
    for chain in chains(dossier):
        if vehicle and chain.subject == vehicle.subject:
            _of_custody(chain, found, times)
    return found.all()


class _Houses:
    def __init__(self, dossier: Dossier) -> None:
        self.dossier = dossier
        self.known: dict[str, House] = {}
        vehicle = next(iter(dossier.of(Vehicle)), None)
        parties = dossier.of(Party)
        owners = [p.subject for p in parties if {"owner", "driver"} & set(p.value.roles)]
        named = vehicle.value.owner if vehicle and vehicle.value.owner else None
        for subject in dict.fromkeys([*([named] if named else []), *owners]):
            self.of(subject).owner = True
        if not self.known:
            self.known[""] = House(name="owner or keeper, not named", owner=True, roles={"owner": None})

    def of(self, subject: str) -> House:
        """The house of a party; one that is not held here is its own."""
        held = self.dossier.get(subject)
        party = held.value if held and isinstance(held.value, Party) else None
        name = (party.firm or party.full_name) if party else self.dossier.label(subject)
        house = self.known.setdefault(plain(name) if party else subject, House(name=name))
        house.subjects.add(subject)
        for role in party.roles if party else ():
            house.roles.setdefault(role)
        return house

    def all(self) -> list[House]:
        """Everyone with a hold, and the owner."""
        return [h for h in self.known.values() if h.holds or h.owner]


def _is_of(step: Recorded[Intervention], order: Recorded[WorkOrder], house: House) -> bool:
    """Whether the present shop's own record says when this work of its order was done."""
    mine = step.value.work_order == order.subject or (not step.value.work_order and step.value.by in house.subjects)
    return order.value.side == "present_repairer" and mine


def _of_order(
    order: Recorded[WorkOrder], house: House, departure: Departure, times: Tightened, vocabulary: Vocabulary,
    timed: list[str],
) -> Hold:  # fmt: skip
    """``timed``: interventions that say when its work on the part was done, so that the order's whole time does not."""
    opened, closed = (times.of(f"{order.label}, {word}") for word in ("opened", "closed"))
    sure, possible = _between(opened, closed)
    return Hold(
        record=order.label, how="own order" if house.owner else "order", words=order.value.summary(), sure=sure,
        possible=possible, hands="not by itself" if timed else _hands(order, departure, vocabulary),
    )  # fmt: skip


def _hands(order: Recorded[WorkOrder], departure: Departure, vocabulary: Vocabulary) -> Hands:
    v = order.value
    touched = {c for line in v.operations for c in line.components} | {p.component for p in v.parts if p.component}
    for line in v.operations:
        if line.operation and line.operation in vocabulary.operations:
            touched |= vocabulary.disturbed_by(line.operation)
    if order.label in departure.called_by or any_related(touched, departure.around, vocabulary):
        return "on the part"
    unread = [line for line in v.operations if not line.operation and not line.components]
    return "not told apart" if unread or not v.operations else "on other parts"


def _of_custody(chain: Chain, found: _Houses, times: Tightened) -> None:
    """Each holder from its taking to the next letting go; the first giver from an unknown time on, unless he is the owner."""
    links = [x for x in chain.links if x.act == "hand-over"]
    for n, link in enumerate(links):
        if n == 0 and link.given_by and not (first := found.of(link.given_by.subject)).owner:
            first.holds.append(_hold(link, None, _moment(link, "let go", times), "released it"))
        if link.own_act:
            continue
        following = next((x for x in links[n + 1 :] if not x.own_act), None)
        until = _moment(following, "let go", times) if following else None
        whole = bool(
            link.seal and following and plain(following.seal_opened) == plain(link.seal)
            and not any(x.seal_opened for x in links[n + 1 : links.index(following)])
        )  # fmt: skip
        words = f"{link.purpose}, {link.place}" if link.place else link.purpose
        house = found.of(link.taken_by.subject)
        house.holds.append(
            _hold(link, _moment(link, "taken", times), until, words, following.record if whole and following else "")
        )


def _hold(link: Link, came: Tight | None, went: Tight | None, words: str, sealed: str = "") -> Hold:
    sure, possible = _between(came, went, ends=False)
    return Hold(
        record=link.record,
        how="custody",
        words=words,
        sure=sure,
        possible=possible,
        hands="not by itself",
        sealed=sealed,
    )


def _moment(link: Link, word: str, times: Tightened) -> Tight | None:
    return times.of(f"{link.record}, {word}") or times.of(link.record)


def _between(came: Tight | None, went: Tight | None, *, ends: bool = True) -> tuple[Stretch, Stretch]:
    """What is surely and what is possibly covered. Without an end: to the present, surely only where ``ends`` is False."""
    if not came and not went:
        return (0, 0), _EVER
    start, end = _reach(came) if came else _EVER, _reach(went) if went else _EVER
    if came and not went and ends:
        return (start[0], start[0]), (start[0], _EVER[1])
    sure = (start[1] if came else end[0], end[0] if went else _EVER[1])
    return sure, (start[0] if came else _EVER[0], end[1] if went else _EVER[1])


def _reach(at: Tight) -> Stretch:
    low = micros(at.earliest) if at.earliest else _EVER[0]
    return low, micros(at.latest) if at.latest else _EVER[1]
