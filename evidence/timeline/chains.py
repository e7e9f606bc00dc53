"""Who held what, link by link: the custody chains of a dossier, read from its records. Nothing is judged here.

A file's chain begins with its taking-in: from there on its hash guards it. A part taken off the vehicle begins with the
intervention that took it off, where that names the part; before that the vehicle's chain is the part's.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

from evidence.model.base import Record, say
from evidence.model.dossier import Dossier, Recorded
from evidence.model.examination import ActuatorTest, CodeScan, Measurement, Observation, Taken
from evidence.model.exhibit import Exhibit
from evidence.model.instrument import Instrument
from evidence.model.people import CustodyTransfer, Fate, Party
from evidence.model.repair import Intervention
from evidence.model.vehicle import ModuleIdentity, Vehicle
from evidence.model.waveform import Waveform
from evidence.model.when import TimeSpan

ItemKind = Literal["vehicle", "part", "device", "file"]
Act = Literal["hand-over", "taken off", "taken in"]
_EXAMINED: tuple[type[Record], ...] = (
    CodeScan, ModuleIdentity, Observation, Measurement, ActuatorTest, Waveform, Intervention,
)  # fmt: skip
_TAKES_OFF = ("removed", "replaced", "drained")
_NOT_ON_THE_VEHICLE = ("on-bench", "removed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """A party as a holder. A firm holds through its people: whoever shares a name or firm shares its custody."""

    subject: str
    name: str
    houses: frozenset[str]  # firm, or own name where there is none; in small letters
    of_a_firm: bool

    def same(self, other: Person) -> bool:
        """Whether what the one holds, the other holds."""
        return self.subject == other.subject or not self.houses.isdisjoint(other.houses)

    def colleague(self, other: Person) -> bool:
        """Whether they are two persons of one firm."""
        return self.subject != other.subject and self.of_a_firm and other.of_a_firm and self.same(other)


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One change of holder, or one act of the holder. ``left`` and ``came`` are one span where it went hand to hand."""

    record: str  # label
    act: Act
    given_by: Person | None  # None: not stated
    taken_by: Person
    left: TimeSpan
    came: TimeSpan
    when: str
    when_came: str
    place: str = ""
    purpose: str = ""
    condition: str = ""
    container: str = ""
    seal: str = ""
    seal_opened: str = ""
    fate: Fate | None = None
    knowing: str = ""
    odometer: str = ""
    both_signed: bool | None = None
    exhibits: tuple[str, ...] = ()
    recorded: dt.datetime | None = None  # when the newest version of the record was written

    @property
    def own_act(self) -> bool:
        """Whether the holder did something to it and it stayed with him."""
        return self.given_by is not None and self.given_by.subject == self.taken_by.subject


@dataclass(frozen=True, slots=True, kw_only=True)
class Handling:
    """A record by which somebody had his hands on the item. ``sure``: the record itself says that it was this item."""

    record: str
    by: Person | None
    span: TimeSpan | None
    sure: bool
    used: bool = False  # a device used for it, rather than the thing examined


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """The custody of one item: links in the order in which they fit best, and who examined it."""

    item: str  # label
    subject: str
    kind: ItemKind
    what: str
    links: tuple[Link, ...]
    handled: tuple[Handling, ...]
    container: str = ""  # as the record of the item itself states them
    seal: str = ""
    location: str = ""
    digest: str = ""  # SHA-256 of a file

    @property
    def holder(self) -> Person | None:
        """Who holds it by the last link; None where there is none, or it was scrapped."""
        last = self.links[-1] if self.links else None
        return last.taken_by if last and last.fate != "scrapped" else None


def state_now(chain: Chain) -> str:
    """Where the item is by its last link, in words."""
    last = chain.links[-1] if chain.links else None
    if last is None:
        return "holder not on record"
    return f"{say(last.fate)} ({last.when})" if last.fate else f"held by {last.taken_by.name}"


def read_chains(dossier: Dossier) -> tuple[Chain, ...]:
    """One chain for each item, unordered links sorted by time as written: vehicles, parts, devices, files."""
    people = _People(dossier)
    links: dict[str, list[Link]] = {}
    for transfer in dossier.of(CustodyTransfer):
        links.setdefault(transfer.value.item, []).append(_handed_over(transfer, people, dossier))
    for step in dossier.of(Intervention):
        if step.value.item and step.value.action in _TAKES_OFF:
            links.setdefault(step.value.item, []).append(_taken_off(step, people))
    handled = _handled(dossier, people)
    found = [_chain(r, kind, links, handled) for kind, r in _items(dossier)]
    found = [_with_intake(c, dossier, people) if c.kind == "file" else c for c in found]
    return tuple(replace(c, links=tuple(sorted(c.links, key=written_order))) for c in found)


def written_order(link: Link) -> tuple[dt.datetime, dt.datetime, dt.datetime, str, str, str, int]:
    """Order by time as written; of one moment by what they say, so that the order of recording does not matter."""
    giver, number = link.given_by.name if link.given_by else "", link.record.rpartition(" ")[2]
    return (
        link.left.earliest, link.left.latest, link.came.earliest, giver, link.taken_by.name, link.purpose,
        int(number) if number.isdecimal() else 0,
    )  # fmt: skip


def _items(dossier: Dossier) -> Iterator[tuple[ItemKind, Recorded[Any]]]:
    exhibits = dossier.of(Exhibit)
    for vehicle in dossier.of(Vehicle):
        yield "vehicle", vehicle
    for thing in (e for e in exhibits if e.value.form == "physical"):
        yield "part", thing
    for device in dossier.of(Instrument):
        yield "device", device
    for file in (e for e in exhibits if e.value.form == "file"):
        yield "file", file


def _chain(
    item: Recorded[Any], kind: ItemKind, links: Mapping[str, list[Link]], handled: Mapping[str, list[Handling]]
) -> Chain:
    v = item.value
    exhibit = v if isinstance(v, Exhibit) else None
    return Chain(
        item=item.label, subject=item.subject, kind=kind, what=v.summary(),
        links=tuple(links.get(item.subject, ())),
        handled=tuple(sorted(handled.get(item.subject, ()), key=lambda h: (h.record, h.used))),
        container=(exhibit.container or "") if exhibit else "", seal=(exhibit.seal or "") if exhibit else "",
        location=(exhibit.location or "") if exhibit else "",
        digest=exhibit.file.sha256 if exhibit and exhibit.file else "",
    )  # fmt: skip


class _People:
    """Parties as holders; one that is not held here is nobody else's house."""

    def __init__(self, dossier: Dossier) -> None:
        self._dossier = dossier

    def __getitem__(self, subject: str) -> Person:
        found = self._dossier.get(subject)
        if found is None or not isinstance(found.value, Party):
            return Person(
                subject=subject, name=self._dossier.label(subject), houses=frozenset({subject}), of_a_firm=False
            )
        party = found.value
        names = [party.firm] if party.firm else [party.full_name, party.legal_name]
        return Person(
            subject=subject, name=party.full_name, houses=frozenset(plain(n) for n in names if n),
            of_a_firm=party.firm is not None,
        )  # fmt: skip


def plain(text: str) -> str:
    """Names and numbers as they are compared: small letters, single blanks."""
    return " ".join(text.casefold().split())


def _handed_over(transfer: Recorded[CustodyTransfer], people: _People, dossier: Dossier) -> Link:
    v = transfer.value
    came = v.received or v.time
    return Link(
        record=transfer.label, act="hand-over", given_by=people[v.released_by], taken_by=people[v.received_by],
        left=v.time.span, came=came.span, when=v.time.words(), when_came=came.words(), place=v.place, purpose=v.purpose,
        condition=v.condition or "", container=v.container or "", seal=v.seal or "", seal_opened=v.seal_opened or "",
        fate=v.fate, knowing=v.knowing or "", odometer=v.odometer.words() if v.odometer else "", both_signed=v.both_signed,
        exhibits=tuple(dossier.label(e) for e in v.exhibits), recorded=transfer.newest.recorded_at,
    )  # fmt: skip


def _taken_off(step: Recorded[Intervention], people: _People) -> Link:
    v = step.value
    return Link(
        record=step.label, act="taken off", given_by=None, taken_by=people[v.by], left=v.time.span, came=v.time.span,
        when=v.time.words(), when_came=v.time.words(), purpose="taken off the vehicle",
        recorded=step.newest.recorded_at,
    )  # fmt: skip


def _with_intake(chain: Chain, dossier: Dossier, people: _People) -> Chain:
    """A file's chain from its taking-in on. Where it came from before is what hand-overs on record say."""
    first = dossier.by_subject[chain.subject].versions[0]
    moment = TimeSpan(first.recorded_at, first.recorded_at)
    words = f"{first.recorded_at:%Y-%m-%d %H:%M} UTC"
    link = Link(
        record=chain.item, act="taken in", given_by=None, taken_by=people[first.recorded_by], left=moment, came=moment,
        when=words, when_came=words, purpose="taken into the record, hash computed", recorded=first.recorded_at,
    )  # fmt: skip
    return replace(chain, links=(*chain.links, link))


def _handled(dossier: Dossier, people: _People) -> dict[str, list[Handling]]:
    """Subject of an item -> the records by which it was examined, worked on or used."""
    vehicles = [v.subject for v in dossier.of(Vehicle)]
    things = {e.subject for e in dossier.of(Exhibit) if e.value.form == "physical"}
    found: dict[str, list[Handling]] = {}
    for cls in _EXAMINED:
        for record in dossier.of(cls):
            v = record.value
            when, by = getattr(v, "time", None), getattr(v, "by", None)
            handling = Handling(
                record=record.label, by=people[by] if by else None, span=when.span if when else None, sure=True
            )
            if isinstance(v, Taken) and v.instrument:
                found.setdefault(v.instrument, []).append(replace(handling, used=True))
            for subject, sure in _objects(v, vehicles, things):
                found.setdefault(subject, []).append(replace(handling, sure=sure))
    return found


def _objects(v: Record, vehicles: list[str], things: set[str]) -> Iterator[tuple[str, bool]]:
    """What a record had its hands on: the item it names; else the things among its exhibits, perhaps; else the vehicle."""
    item = getattr(v, "item", None)
    if item and not (isinstance(v, Intervention) and v.action in _TAKES_OFF):
        yield item, True
        return  # taking a part off is its first link, and work on the vehicle
    cited = [] if item else [e for e in getattr(v, "exhibits", ()) if e in things]
    yield from ((e, False) for e in cited)
    elsewhere = getattr(v, "which", None) or set(getattr(v, "conditions", ())) & set(_NOT_ON_THE_VEHICLE)
    if len(vehicles) == 1:
        yield vehicles[0], not (cited or elsewhere)
