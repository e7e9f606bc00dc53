"""Weighing a dossier by the rules."""

from __future__ import annotations

from evidence.model.dossier import Dossier
from evidence.ports import Desk
from evidence.rules.assess import assess
from evidence.rules.assessment import Assessment
from evidence.usecases.pen import need, read_dossier


def assess_dossier(desk: Desk, dossier: str) -> Assessment:
    """Assess a dossier as recorded now. Nothing is written."""
    with desk.ledgers.reading() as view:
        held = read_dossier(view, need(view, dossier))
    return assess_held(desk, held)


def assess_held(desk: Desk, held: Dossier, *, firmness: bool = True) -> Assessment:
    """Assess a dossier that is already folded; without ``firmness`` for comparisons that ask the bands alone."""
    return assess(held, desk.packs(), desk.vocabulary(), firmness=firmness)
