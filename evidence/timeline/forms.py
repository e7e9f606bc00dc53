"""What stands on an exhibit label and on a hand-over form: read from the record, with blanks where it has nothing."""

from __future__ import annotations

import hashlib
from base64 import b32encode
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from evidence.errors import EvidenceError
from evidence.model.base import shorten
from evidence.model.dossier import Dossier
from evidence.model.exhibit import Exhibit
from evidence.model.instrument import Instrument
from evidence.model.people import Party
from evidence.model.vehicle import Vehicle
from evidence.timeline.chains import Chain

MOST_ITEMS = 6  # on the one page of a hand-over form


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelCard:
    """One label: what it is, from which dossier, who took it, and how it is recognised."""

    item: str  # "Exhibit 48"
    dossier: str  # short name, or the start of the ledger's id
    title: str
    what: str
    serial: str
    by_word: str  # "Collected by", "Held by"
    by: str
    when: str  # to the minute, as given
    place: str
    boxed: bool  # whether it is a thing that goes into a container
    container: str
    seal: str
    digest: str  # SHA-256 of a file, whole; empty for a thing
    firm: str
    demonstration: bool
    code: str  # plain text of the QR code, a line for each fact


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One side of a hand-over; empty texts are blanks to fill in."""

    name: str = ""
    firm: str = ""
    address: str = ""
    contact: str = ""
    word: str = ""  # how a command names the party


@dataclass(frozen=True, slots=True, kw_only=True)
class FormItem:
    """One thing on the form."""

    item: str
    word: str  # how a command names it
    what: str
    marks: tuple[str, ...]  # serial, container, seal, start of the hash
    holder: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HandoverSheet:
    """A hand-over form with what is known filled in."""

    reference: str  # "H-4KQ7ZD": the same record and items give the same
    dossier: str
    title: str
    firm: str
    items: tuple[FormItem, ...]
    giver: Side
    receiver: Side
    when: str
    place: str
    purpose: str
    vehicle: bool  # asks for the odometer
    zone: str
    demonstration: bool
    code: str
    commands: tuple[str, ...]  # that bring the signed form back into the record


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """What the person making the form says beforehand."""

    when: str = ""
    place: str = ""
    purpose: str = ""


def handover_sheet(
    held: Dossier, chains: Sequence[Chain], own_firm: str, giver: str, receiver: str, filled: Filled
) -> HandoverSheet:
    """A form for the items of the chains; ``giver`` and ``receiver`` are subjects of parties, or empty for a blank.

    Without a giver it is who holds the items by the record, where that is one.
    """
    if len(chains) > MOST_ITEMS:
        raise EvidenceError(
            f"a form has room for {MOST_ITEMS} items, not {len(chains)}", advice="Make a form for each half of them."
        )
    short = _short(held)
    reference = _reference(held, [c.item for c in chains])
    holders = {c.holder.subject for c in chains if c.holder}
    giver = giver or (next(iter(holders)) if len(holders) == 1 else "")
    gives, takes = (_side(held, subject) if subject else Side() for subject in (giver, receiver))
    rows = tuple(_form_item(held, c) for c in chains)
    return HandoverSheet(
        reference=reference, dossier=short, title=held.title, firm=_firm(held, own_firm), items=rows, giver=gives,
        receiver=takes, when=filled.when, place=filled.place, purpose=filled.purpose,
        vehicle=any(c.kind == "vehicle" for c in chains), zone=held.opening.zone or "",
        demonstration=bool(held.opening.demonstration),
        code="\n".join([f"Hand-over {reference}", _dossier_line(held), *(r.item for r in rows)]),
        commands=_commands(short, reference, rows, gives, takes, filled),
    )  # fmt: skip


def label_card(held: Dossier, chain: Chain, own_firm: str) -> LabelCard:
    """The label of one item; ``own_firm`` stands on it where the dossier names no present repairer."""
    value = held.by_subject[chain.subject].value
    container, seal = closed_in(chain)
    by_word, by, when, place = _taken(chain, value, held)
    marks = [f"SHA-256 {chain.digest[:16]}"] if chain.digest else list(_closed(chain, container, seal))
    if chain.kind in ("vehicle", "device") and _serial(value):
        marks.insert(0, _serial(value))
    return LabelCard(
        item=chain.item, dossier=_short(held), title=held.title, what=_what(value), serial=_serial(value),
        by_word=by_word, by=by, when=when[:16].replace("T", " "), place=place, boxed=chain.kind == "part" or bool(container),
        container=container, seal=seal, digest=chain.digest,
        firm=_firm(held, own_firm), demonstration=bool(held.opening.demonstration),
        code="\n".join([_dossier_line(held), chain.item, *marks]),
    )  # fmt: skip


def _closed(chain: Chain, container: str, seal: str) -> Iterator[str]:
    """Container and seal for the code; long ones are cut, since a code of many letters needs a large label."""
    for name, text in (("Container", container), ("Seal", seal)):
        if text or chain.kind == "part":
            yield f"{name} {shorten(text, 60) or 'not on record'}"


def closed_in(chain: Chain) -> tuple[str, str]:
    """Container and seal in which an item lies now: by its last hand-overs, else by its own record."""
    seal_said = next((link for link in reversed(chain.links) if link.seal or link.seal_opened), None)
    container = next((link.container for link in reversed(chain.links) if link.container), chain.container)
    return container, seal_said.seal if seal_said else chain.seal


def _taken(chain: Chain, value: object, held: Dossier) -> tuple[str, str, str, str]:
    """In which role, who, when and where: of a file who took the picture, of a part its first holder, else the present one."""
    if isinstance(value, Exhibit) and value.form == "file":
        facts = value.read
        when = value.taken or (facts.captured if facts else None)
        if value.taken_by:
            return "Taken by", held.party(value.taken_by), when.given if when else "", value.place or ""
        return "Taken in by", chain.links[-1].taken_by.name, chain.links[-1].when, value.place or ""
    if not chain.links:
        return "Collected by" if chain.kind == "part" else "Held by", "", "", chain.location
    if chain.kind != "part":
        last = chain.links[-1]
        return "Held by", last.taken_by.name, last.when_came, last.place
    first = chain.links[0]
    taker = first.taken_by if first.given_by is None else first.given_by
    return (
        "Collected by",
        taker.name,
        first.when,
        next((link.place for link in chain.links if link.place), chain.location),
    )


def _what(value: object) -> str:
    if isinstance(value, Exhibit):
        return value.caption or value.description or (value.file.name if value.file else "")
    if isinstance(value, Vehicle):
        return value.description + (f", plate {value.plate}" if value.plate else "")
    return value.description if isinstance(value, Instrument) else ""


def _serial(value: object) -> str:
    if isinstance(value, Vehicle):
        return f"VIN {value.vin}" if value.vin else ""
    serial = value.serial if isinstance(value, Exhibit | Instrument) else None
    return f"serial {serial}" if serial else ""


def _short(held: Dossier) -> str:
    return held.opening.name or held.ledger[:8]


def _dossier_line(held: Dossier) -> str:
    return f"Dossier {_short(held)}, ledger {held.ledger[:8]}"


def _firm(held: Dossier, own: str) -> str:
    shops = [p.value for p in held.of(Party) if "present_repairer" in p.value.roles]
    return (shops[0].firm or shops[0].full_name) if shops else own


def _reference(held: Dossier, items: list[str]) -> str:
    """Six letters and digits of a hash over ledger, its length and the items: to find the form again, not a secret."""
    digest = hashlib.sha256("\n".join([held.ledger, str(held.size), *items]).encode()).digest()
    return f"H-{b32encode(digest)[:6].decode()}"


def _form_item(held: Dossier, chain: Chain) -> FormItem:
    recorded = held.by_subject[chain.subject]
    container, seal = closed_in(chain)
    marks = [
        _serial(recorded.value), container and f"container: {container}", seal and f"seal: {seal}",
        chain.digest and f"SHA-256 {chain.digest[:16]}…",
    ]  # fmt: skip
    return FormItem(
        item=chain.item, word=recorded.name or chain.item.lower(), what=_what(recorded.value),
        marks=tuple(m for m in marks if m), holder=chain.holder.name if chain.holder else "",
    )  # fmt: skip


def _side(held: Dossier, subject: str) -> Side:
    found = held.by_subject[subject]
    assert isinstance(found.value, Party)
    p = found.value
    firm = next((f.value for f in held.of(Party) if p.firm and f.value.full_name == p.firm), None)
    return Side(
        name=p.full_name, firm=p.firm or "", address=p.address or (firm.address if firm and firm.address else ""),
        contact=p.contact or (firm.contact if firm and firm.contact else ""), word=found.name or found.label.lower(),
    )  # fmt: skip


def _commands(
    short: str, reference: str, rows: Sequence[FormItem], giver: Side, receiver: Side, filled: Filled
) -> tuple[str, ...]:
    """The exact commands that take the scan in and record the hand-over; capitals stand for what is written on the form."""
    name = f"handover-{reference[2:].lower()}"
    scan = f'evidence record exhibit {short} SCAN.pdf --name {name} --caption "Signed hand-over form {reference}"'
    transfers = [
        f"evidence record custody-transfer {short} --item {_quoted(row.word)} --released-by {_quoted(giver.word or 'RELEASED-BY')} "
        f"--received-by {_quoted(receiver.word or 'RECEIVED-BY')} --time {_quoted(filled.when or 'DATE TIME')} "
        f"--place {_quoted(filled.place or 'PLACE')} --purpose {_quoted(filled.purpose or 'PURPOSE')} --both-signed yes "
        f"--condition CONDITION --exhibits {name}"
        for row in rows
    ]  # fmt: skip
    return (scan, *transfers)


def _quoted(text: str) -> str:
    plain = text.replace("\\", "\\\\").replace('"', '\\"').replace("$", "\\$").replace("`", "\\`")
    return f'"{plain}"' if any(not (ch.isalnum() or ch in "-_.") for ch in text) else text
