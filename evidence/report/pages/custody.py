"""Who held what: the chain of custody of each item, what does not fit in it, and what was given out of keeping."""

from __future__ import annotations

from collections.abc import Iterator

from evidence.model.base import say
from evidence.model.dossier import Dossier
from evidence.model.kinds import enumerated
from evidence.model.people import CustodyTransfer
from evidence.report.blocks import Block, Bullets, Column, Heading, Para, Row, Section, Table
from evidence.report.given import ReportInput
from evidence.report.phrasing import joined, or_not_stated
from evidence.report.tables import records
from evidence.report.words import labels, when
from evidence.rules.keeping import given_up
from evidence.timeline.chains import Chain, Link, state_now
from evidence.timeline.custody import CustodyFault, chains, doubts_of, faults_of

_COLUMNS = (
    Column("No.", 1.35), Column("When", 1.5), Column("From, to", 2.0), Column("Where, why, condition", 2.9),
    Column("Container, seal", 1.7), Column("Signed, papers", 1.2),
)  # fmt: skip


def custody(given: ReportInput) -> Section:
    """Faults first, then the chain of every vehicle and part, devices and files in short."""
    dossier = given.dossier
    found = chains(dossier)
    blocks: list[Block] = [*_verdict(found)]
    shown = [c for c in found if _has_a_place(c)]
    for chain in shown:
        blocks += _chain(dossier, chain)
    blocks += _in_short(found)
    blocks += _given_up(dossier)
    blocks += _others(dossier, {link.record for c in shown for link in c.links})
    return Section("Custody", tuple(blocks))


def _verdict(found: tuple[Chain, ...]) -> Iterator[Block]:
    faults, doubts = faults_of(found), doubts_of(found)
    handed = any(link.act == "hand-over" for c in found for link in c.links)
    if not handed:
        yield Para(
            "No hand-over recorded. Who held the vehicle and the parts, and since when, is not known from this record.",
            tone="muted",
        )
    elif not faults:
        yield Para("Every hand-over on record fits the one before it.")
    if faults:
        yield Para("What does not fit, computed from the hand-overs, seals and times on record:", head="Faults.")
        yield Bullets(tuple(_told(f) for f in faults))
    if doubts:
        yield Para("What may or may not fit, because the record does not say enough:", head="Cannot be told.")
        yield Bullets(tuple(_told(f) for f in doubts))


def _told(fault: CustodyFault) -> str:
    """The sentence, and those of its records that it does not name itself."""
    unsaid = [record for record in fault.records if record not in fault.sentence]
    return f"{fault.sentence} ({enumerated(unsaid)})" if unsaid else fault.sentence


def _has_a_place(chain: Chain) -> bool:
    """Whether its chain is printed as a table: vehicles and parts always, devices and files where they changed hands."""
    if chain.kind in ("vehicle", "part"):
        return bool(chain.links) or chain.kind == "part"
    return any(link.act == "hand-over" for link in chain.links)


def _chain(dossier: Dossier, chain: Chain) -> list[Block]:
    zone = dossier.opening.zone or ""
    blocks: list[Block] = [Heading(f"{chain.item}: {chain.what}")]
    if chain.links:
        blocks.append(Para(f"Now {state_now(chain)}.".replace(f" ({zone})", "")))
        blocks.append(Table(_COLUMNS, tuple(_row(link, zone) for link in chain.links)))
    else:
        blocks.append(Para("No hand-over on record.", tone="muted"))
    return blocks


def _row(link: Link, zone: str) -> Row:
    left, came = (text.removesuffix(f" ({zone})") for text in (link.when, link.when_came))
    giver = link.given_by.name if link.given_by else ""
    hands = (
        f"kept by {link.taken_by.name}" if link.own_act else joined([giver and f"{giver} →", link.taken_by.name], "\n")
    )
    fate = joined([link.fate and say(link.fate), link.knowing and f"knowingly: {link.knowing}"], ", ")
    condition = f"condition: {link.condition}" if link.condition else ""
    opened = f"opened seal {link.seal_opened}" if link.seal_opened else ""
    closed = [link.container, opened, link.seal and f"seal {link.seal}"]
    return Row(
        (
            link.record,
            left if left == came else f"{left}\nreceived {came}",
            hands,
            joined([link.place, link.purpose, condition, link.odometer, fate], "\n"),
            joined(closed, "\n") or ("not stated" if link.act == "hand-over" else ""),
            joined([_signed(link), enumerated(link.exhibits)], "\n"),
        ),
        key=link.record if link.act == "hand-over" else "",
    )


def _signed(link: Link) -> str:
    if link.act != "hand-over":
        return ""
    return {True: "by both", False: "not by both", None: "not stated"}[link.both_signed]


def _in_short(found: tuple[Chain, ...]) -> Iterator[Block]:
    """Devices that never changed hands on record, and files by who took them in and when."""
    devices = [c.item for c in found if c.kind == "device" and not _has_a_place(c)]
    taken: dict[str, list[str]] = {}
    for chain in found:
        if chain.kind == "file" and not _has_a_place(chain):
            link = chain.links[0]
            taken.setdefault(f"{link.taken_by.name} on {link.left.earliest:%Y-%m-%d} (UTC)", []).append(chain.item)
    if devices or taken:
        yield Heading("Devices and files")
    if devices:
        yield Para(f"No hand-over on record: {enumerated(devices)}.", head="Devices.")
    for who, items in taken.items():
        yield Para(
            f"Taken into the record by {who}, each with its hash, which guards it since (manifest of hashes): "
            f"{enumerated(items)}. How it came there before, its own record says.", head="Files.",
        )  # fmt: skip


def _given_up(dossier: Dossier) -> Iterator[Block]:
    """Parts that left the keeping, with the reason stated."""
    gone = [t for r in dossier.by_subject.values() if not r.withdrawn for t in given_up(dossier, r)]
    if gone:
        yield Heading("Given out of keeping")
        yield Bullets(
            tuple(
                f"{t.what}: {t.how} ({t.by}). " + (f"Reason: {t.knowing}" if t.knowing else "No reason is stated.")
                for t in gone
            )
        )


def _others(dossier: Dossier, placed: set[str]) -> tuple[Block, ...]:
    """Hand-overs that are in no chain: withdrawn ones, and those of an item that is not shown."""
    return records(
        dossier,
        CustodyTransfer,
        [
            (Column("Item", 1.5), lambda r: dossier.label(r.value.item)),
            (Column("From, to", 2.1), lambda r: f"{dossier.party(r.value.released_by)}\n{dossier.party(r.value.received_by)}"),
            (Column("When, where", 2.2), lambda r: joined([when(dossier, r.value.time), r.value.place], "\n")),
            (Column("Purpose, condition", 2.4), lambda r: joined(
                [r.value.purpose, f"condition {or_not_stated(r.value.condition)}", r.value.knowing], "\n")),
            (Column("Container, seal, papers", 1.9), lambda r: joined(
                [or_not_stated(r.value.container), r.value.seal and f"seal {r.value.seal}", labels(dossier, r.value.exhibits)], "\n")),
        ],
        heading="Other hand-overs",
        keep=lambda r: r.label not in placed,
    )  # fmt: skip
