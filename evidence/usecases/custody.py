"""Custody: chains with their faults, and the duty to keep what a finding rests on."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from evidence.errors import DutyToKeep, NotFound
from evidence.model.base import Record
from evidence.model.dossier import Dossier, Recorded, fold
from evidence.model.kinds import KINDS
from evidence.ports import Desk, Reader
from evidence.rules.keeping import GivenUp, given_up, gives_up, resting_on, warning
from evidence.timeline.custody import Chain, CustodyFault, chains, doubts_of, faults_of
from evidence.timeline.forms import Filled, HandoverSheet, LabelCard, handover_sheet, label_card
from evidence.usecases.assess import assess_held
from evidence.usecases.pen import Pen, need, read_dossier, steps


@dataclass(frozen=True, slots=True, kw_only=True)
class CustodyView:
    """The chains of a dossier, what does not fit in them, and what cannot be told."""

    dossier: Dossier
    chains: tuple[Chain, ...]
    faults: tuple[CustodyFault, ...]
    doubts: tuple[CustodyFault, ...]


def custody_of(desk: Desk, dossier: str, items: Collection[str] = ()) -> CustodyView:
    """Chains of all items, or of those named (short name or number), in the order named. Nothing is written."""
    with desk.ledgers.reading() as view:
        ledger = need(view, dossier)
        wanted = [_item(view, ledger, word) for word in items]
        held = read_dossier(view, ledger)
    found = {c.subject: c for c in chains(held)}
    if items:
        if missing := [word for word, subject in zip(items, wanted, strict=True) if subject not in found]:
            raise NotFound(
                "has no chain of custody", item=missing[0],
                advice="The vehicle, exhibits and instruments have one, while they are not withdrawn.",
            )  # fmt: skip
        found = {subject: found[subject] for subject in wanted}
    shown = tuple(found.values())
    return CustodyView(dossier=held, chains=shown, faults=faults_of(shown), doubts=doubts_of(shown))


def label_cards(desk: Desk, dossier: str, items: Sequence[str]) -> tuple[LabelCard, ...]:
    """What stands on a label of each item named. Nothing is written."""
    view = custody_of(desk, dossier, items)
    return tuple(label_card(view.dossier, chain, desk.recorder.firm) for chain in view.chains)


def handover_form(
    desk: Desk, dossier: str, items: Sequence[str], giver: str, receiver: str, filled: Filled
) -> HandoverSheet:
    """A hand-over form for the items named; the parties by short name or number, or empty. Nothing is written."""
    view = custody_of(desk, dossier, items)
    sides = [_party(desk, dossier, word) if word else "" for word in (giver, receiver)]
    return handover_sheet(view.dossier, view.chains, desk.recorder.firm, sides[0], sides[1], filled)


def _party(desk: Desk, dossier: str, word: str) -> str:
    with desk.ledgers.reading() as view:
        known = view.named(need(view, dossier), word)
    if known is None or known.kind != "party":
        raise NotFound(
            "no such party in this dossier", item=word, advice="Leave it out: the form then has a blank to fill in."
        )
    return known.subject


def _item(view: Reader, ledger: str, word: str) -> str:
    known = view.named(ledger, word)
    if known is None:
        raise NotFound(
            "no such record in this dossier", item=word,
            advice="Name it by its short name or its number, such as 'exhibit 7'; 'evidence show' lists them.",
        )  # fmt: skip
    return known.subject


def heed(desk: Desk, work: Reader, pen: Pen) -> tuple[str, ...]:
    """Look at what is about to be recorded: does it give up what a finding rests on?

    Raises :class:`DutyToKeep` where it does and no reason is given; with a reason the warnings are returned.
    """
    subjects = [step.subject for step in pen.steps if step.value and gives_up(step.value)]
    if not subjects:
        return ()
    held = fold(pen.ledger, [*steps(work, pen.ledger), *pen.steps])
    things = [t for s in subjects if (r := held.get(s)) for t in _newly_given_up(held, r)]
    if not things:
        return ()
    assessment, vocabulary = assess_held(desk, held), desk.vocabulary()
    told = [(t, resting_on(t, assessment, held, vocabulary)) for t in things]
    warned = [(t, warning(t, rests, held)) for t, rests in told if rests or t.whole]
    if refused := [text for t, text in warned if not t.knowing]:
        raise DutyToKeep("a finding rests on what this gives up; nothing recorded\n" + "\n".join(refused))
    return tuple(f"{text}\nRecorded knowingly: {t.knowing}" for t, text in warned)


def _newly_given_up(held: Dossier, record: Recorded[Record]) -> list[GivenUp]:
    """What the newest version of a record gives up and the one before did not."""
    now = given_up(held, record)
    bodies = [v.body for v in record.versions[:-1] if v.action != "withdraw" and v.body]
    if not now or not bodies:
        return list(now)
    before = given_up(held, replace(record, value=KINDS[record.kind].stored(bodies[-1])))
    known = {(t.subject, t.components, t.how) for t in before}
    return [t for t in now if (t.subject, t.components, t.how) not in known]
