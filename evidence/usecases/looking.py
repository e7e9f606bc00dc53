"""Looking things up: a dossier's records, one record with its history, the ledger entry by entry."""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

from evidence.errors import EvidenceError, NotFound
from evidence.measure.figures import chance_words
from evidence.model.base import Json, Record
from evidence.model.dossier import Dossier, Recorded
from evidence.model.examination import Measurement
from evidence.model.exhibit import Exhibit
from evidence.model.kinds import enumerated, label_of
from evidence.model.telling import history, tell
from evidence.model.when import span_of, utc_text
from evidence.ports import Desk, DossierRow
from evidence.record.entry import Header
from evidence.rules.holdings import Holdings
from evidence.rules.own_limits import own_verdict
from evidence.timeline.clock_telling import spread
from evidence.timeline.clocks import Clocks, Correction
from evidence.usecases.pen import need, read_dossier
from evidence.usecases.photos import signs_of
from evidence.usecases.record import resting_on


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One record in a list."""

    label: str
    kind: str
    number: int
    name: str
    summary: str
    state: str  # "", "amended", "withdrawn"


@dataclass(frozen=True, slots=True, kw_only=True)
class Overview:
    """A dossier and its records in order."""

    id: str
    title: str
    records: tuple[Row, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Detail:
    """One record with everything that was said of it."""

    label: str
    subject: str
    summary: str
    withdrawn: bool
    body: Json
    rows: tuple[tuple[str, str], ...]
    history: tuple[str, ...]
    used_by: tuple[str, ...]
    clock: Correction | None = None  # its time, where the clock of its device was put right
    signs: tuple[str, ...] = ()  # in the file of a photo, in whole sentences


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One entry of a ledger, readable."""

    seq: int
    recorded_at: str
    recorded_by: str
    what: str
    reason: str
    via: str
    leaf: str
    subject: str


def list_dossiers(desk: Desk, query: str = "", *, vehicle: str = "", since: str = "") -> list[DossierRow]:
    """Dossiers, newest change first. ``since`` is a date or time as a person writes it, in the workspace's zone."""
    earliest = ""
    if since:
        try:
            earliest = utc_text(span_of(since, desk.zone).earliest)
        except ValueError as err:
            raise EvidenceError(str(err), item="--since") from None
    with desk.ledgers.reading() as view:
        return view.dossiers(query, vehicle=vehicle, since=earliest)


def overview(desk: Desk, dossier: str, find: str = "") -> Overview:
    """All records of a dossier, or those in which the words of ``find`` occur."""
    with desk.ledgers.reading() as view:
        ledger = need(view, dossier)
        held = read_dossier(view, ledger)
        hits = {k.subject for k in view.search(find, ledger)} if find else None
    rows = [
        Row(
            label=r.label, kind=r.kind, number=r.number, name=r.name, summary=r.value.summary(),
            state="withdrawn" if r.withdrawn else "amended" if len(r.versions) > 1 else "",
        )
        for r in held.by_subject.values()
        if hits is None or r.subject in hits
    ]  # fmt: skip
    return Overview(id=ledger, title=held.title, records=tuple(rows))


def detail(desk: Desk, dossier: str, which: str) -> Detail:
    """One record."""
    with desk.ledgers.reading() as view:
        ledger = need(view, dossier)
        known = view.named(ledger, which)
        if known is None:
            raise NotFound(
                "no such record in this dossier", item=which,
                advice="Name it by its short name or its number, such as 'exhibit 7'; 'evidence show' lists them.",
            )  # fmt: skip
        held = read_dossier(view, ledger)
    found = held.by_subject[known.subject]
    moved = Clocks.of(held).corrections.get(found.subject)
    rows = [*tell(found.value, held.mention), *_judged(held, found), *(_put_right(moved) if moved else ())]
    return Detail(
        label=found.label, subject=found.subject, summary=found.value.summary(), withdrawn=found.withdrawn,
        body=found.value.body(), rows=tuple(rows), history=tuple(history(found.versions)), clock=moved,
        used_by=tuple(f"{r.label}: {r.value.summary()}" for r in resting_on(held, found.subject)),
        signs=_signs(desk, held, found),
    )  # fmt: skip


def _judged(held: Dossier, found: Recorded[Record]) -> list[tuple[str, str]]:
    """Uncertainty and verdict of a measurement by the limit written beside it."""
    if not isinstance(found.value, Measurement):
        return []
    own = own_verdict(Holdings(held), cast("Recorded[Measurement]", found))
    rows = [("value with uncertainty", own.value.words()), ("uncertainty from", own.value.basis)]
    if told := own.words():
        chance = own.judgement.probability if own.judgement else None
        rows.append(("against its limit", told))
        rows += (
            [("probability", f"{chance_words(chance)} that the true value is as the limit says")]
            if chance is not None
            else []
        )
        rows += [("decision rule", own.rule_words)] if own.rule_words else []
    return [*rows, *([("supports nothing", f"{found.label} {own.unusable}")] if own.unusable else [])]


def _put_right(moved: Correction) -> list[tuple[str, str]]:
    by = "\n".join([enumerated(moved.references), *moved.notes])
    return [("time by its clock", spread(moved.before)), ("put right", f"{spread(moved.after)}\nby {by}")]


def _signs(desk: Desk, held: Dossier, found: Recorded[Record]) -> tuple[str, ...]:
    if not isinstance(found.value, Exhibit) or not found.value.read or found.value.read.media != "photo":
        return ()
    return tuple(s.sentence for s in signs_of(desk, held) if found.subject in s.subjects)


def ledger_lines(desk: Desk, dossier: str) -> tuple[Line, ...]:
    """Every entry of a ledger, in order."""
    with desk.ledgers.reading() as view:
        ledger = need(view, dossier)
        held = read_dossier(view, ledger)
        entries = list(view.entries(ledger))
    reasons = {v.seq: (v.reason, v.via) for r in held.by_subject.values() for v in r.versions}
    lines = []
    for entry in entries:
        header = Header.read(entry.header)
        found = held.get(header.subject)
        label = label_of(found.kind, found.number) if found else header.kind
        deed = {"record": "", "amend": " amended", "withdraw": " withdrawn"}[header.action]
        reason, via = reasons.get(header.seq, ("", ""))
        lines.append(
            Line(
                seq=header.seq, recorded_at=f"{header.recorded_at:%Y-%m-%d %H:%M:%S}",
                recorded_by=held.party(header.recorded_by), what=label + deed, reason=reason, via=via,
                leaf=entry.leaf.hex(), subject=header.subject,
            )
        )  # fmt: skip
    return tuple(lines)
