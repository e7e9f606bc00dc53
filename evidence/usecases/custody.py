"""Custody: chains with their faults, and the duty to keep what a finding rests on."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from evidence.errors import EvidenceError, NotFound
from evidence.model.dossier import Dossier
from evidence.model.when import known_zone, span_of
from evidence.ports import Desk, Reader
from evidence.timeline.custody import Chain, CustodyFault, chains, doubts_of, faults_of
from evidence.timeline.forms import Filled, HandoverSheet, LabelCard, handover_sheet, label_card
from evidence.usecases.pen import need, read_dossier


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
    return _view(held, items, wanted)


def custody_held(held: Dossier, items: Collection[str] = ()) -> CustodyView:
    """The same for a dossier that is folded already, such as that of a bundle."""
    known = {word: r.subject for r in held.by_subject.values() for word in (r.label.casefold(), r.name) if word}
    if unknown := [word for word in items if word.casefold() not in known]:
        raise _no_record(unknown[0])
    return _view(held, items, [known[word.casefold()] for word in items])


def _view(held: Dossier, items: Collection[str], wanted: Sequence[str]) -> CustodyView:
    """``wanted`` are the subjects of ``items``."""
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
    if filled.when:
        _moment(filled.when, view.dossier.opening.zone or desk.zone)
    sides = [_party(desk, dossier, word) if word else "" for word in (giver, receiver)]
    return handover_sheet(view.dossier, view.chains, desk.recorder.firm, sides[0], sides[1], filled)


def _moment(text: str, zone: str) -> None:
    """Refuse what could not be recorded as the time of the hand-over afterwards."""
    try:
        span_of(text, known_zone(zone) if zone else None)
    except ValueError as err:
        raise EvidenceError(
            str(err), item="--when", advice="Write it as 2026-03-02 14:30, or leave it out for a blank."
        ) from None


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
        raise _no_record(word)
    return known.subject


def _no_record(word: str) -> NotFound:
    return NotFound(
        "no such record in this dossier", item=word,
        advice="Name it by its short name or its number, such as 'exhibit 7'; 'evidence show' lists them.",
    )  # fmt: skip
