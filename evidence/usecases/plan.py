"""What to capture next in a dossier."""

from __future__ import annotations

from dataclasses import dataclass

from evidence.ports import Desk
from evidence.rules.capture_plan import CapturePlan
from evidence.usecases.assess import assess_dossier


@dataclass(frozen=True)
class PlannedDossier:
    """The plan with what it was computed from."""

    title: str
    entries: int  # size of the ledger
    plan: CapturePlan


def plan_dossier(desk: Desk, dossier: str) -> PlannedDossier:
    """Plan on what is recorded now. Nothing is written."""
    found = assess_dossier(desk, dossier)
    return PlannedDossier(found.title, found.entries, found.plan)
