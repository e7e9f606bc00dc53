"""The second ledger of a dossier: talk about settling, and lessons. Nothing that goes out ever reads it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from pydantic import ValidationError

from evidence.errors import MistakesFound, NotFound
from evidence.model.aside import ASIDE, Lesson, SettlementTalk, aside_of
from evidence.model.base import Json
from evidence.model.course import STAGES, Stage
from evidence.model.dossier import Dossier, Recorded, fold
from evidence.model.mistakes import mistakes_of
from evidence.ports import Desk, Known, Reader, Writer
from evidence.usecases.pen import Pen, need, recorder_party, steps


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """One line of a second ledger."""

    dossier: str  # its short name
    record: Recorded[SettlementTalk | Lesson]


def note(desk: Desk, dossier: str, cls: type[SettlementTalk | Lesson], fields: Json) -> str:
    """Write a talk or a lesson into the second ledger of a dossier; returns its label."""
    with desk.ledgers.writing() as work:
        ledger = need(work, dossier)
        zone = next((b.get("zone") for k, b in work.opening_and_parties(ledger) if k.kind == "dossier"), None)
        try:
            record = cls.handed_in(fields, {"zone": zone or desk.zone})
        except ValidationError as err:
            found = mistakes_of(err, cls, file="", item=cls.label)
            raise MistakesFound(found, advice="Mend the options named and run the command again.") from None
        pen, _held = _pen(desk, work, ledger)
        _kind, number = pen.record(record, desk.ids.subject())
        pen.put_down()
        work.commit()
    return f"{cls.label} {number}"


def with_second(view: Reader, ledger: str) -> list[str]:
    """A ledger and, where there is one, the second ledger of its dossier."""
    return [ledger, *({aside_of(ledger)} & set(view.ledgers()))]


def take_back(desk: Desk, dossier: str, cls: type[SettlementTalk | Lesson], number: int, reason: str) -> str:
    """Withdraw a line of the second ledger: it stays listed as withdrawn."""
    with desk.ledgers.writing() as work:
        pen, held = _pen(desk, work, need(work, dossier))
        found = next((r for r in held.of(cls) if r.number == number), None)
        if found is None:
            raise NotFound("no such line in the second ledger", item=f"{cls.label} {number}")
        known = Known(
            ledger=held.ledger, subject=found.subject, kind=found.kind, number=number, name="", seq=found.newest.seq,
            withdrawn=False, summary=found.value.summary(),
        )  # fmt: skip
        pen.withdraw(known, reason)
        pen.put_down()
        work.commit()
    return found.label


def noted(desk: Desk, dossier: str, cls: type[SettlementTalk | Lesson]) -> tuple[Noted, ...]:
    """What the second ledger of one dossier holds of a kind, or those of all where none is named; withdrawn ones too."""
    with desk.ledgers.reading() as view:
        names = {row.id: row.name for row in view.dossiers("")}
        wanted = [need(view, dossier)] if dossier else sorted(names, key=names.__getitem__)
        there = set(view.ledgers())
        held = [(names[w], _read(view, aside_of(w))) for w in wanted if aside_of(w) in there]
    return tuple(Noted(dossier=name, record=r) for name, of in held for r in of.all_of(cls))


def missing_by_stage(found: Sequence[Noted]) -> tuple[tuple[Stage, str, int], ...]:
    """Stage, what was missing, and in how many lessons: by stage, the most frequent first. Withdrawn ones do not count."""
    counts: Counter[tuple[Stage, str]] = Counter()
    for line in found:
        lesson = line.record.value
        if isinstance(lesson, Lesson) and not line.record.withdrawn:
            counts.update({(lesson.stage, " ".join(m.lower().split())) for m in lesson.missing})
    rows = sorted(counts.items(), key=lambda c: (STAGES.index(c[0][0]), -c[1], c[0][1]))
    return tuple((stage, missing, count) for (stage, missing), count in rows)


def _read(view: Reader, ledger: str) -> Dossier:
    return fold(ledger, steps(view, ledger), ASIDE)


def _pen(desk: Desk, work: Writer, ledger: str) -> tuple[Pen, Dossier]:
    """A pen for the second ledger, locked; whoever records is its first party."""
    aside = aside_of(ledger)
    work.state(aside)
    held = _read(work, aside)
    wanted = recorder_party(desk)
    party = next((p for p in held.of(type(wanted)) if p.value.full_name == wanted.full_name), None)
    own = party.subject if party else desk.ids.subject()
    pen = Pen(desk, work, aside, recorded_by=own, via="command")
    if party is None:
        pen.record(wanted, own)
    return pen, held
