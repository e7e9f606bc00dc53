"""Who could have made each departure found, as recorded now."""

from __future__ import annotations

from dataclasses import dataclass

from evidence.model.base import Json
from evidence.ports import Desk
from evidence.rules.opportunity import Opportunity, opportunities, opportunity_json
from evidence.usecases.assess import assess_held
from evidence.usecases.pen import need, read_dossier


@dataclass(frozen=True, slots=True, kw_only=True)
class OpportunityReport:
    """All of it, what is best supported first."""

    title: str
    found: tuple[Opportunity, ...]


def opportunity_of(desk: Desk, dossier: str) -> OpportunityReport:
    """Hold everyone on record against each departure. Nothing is written."""
    with desk.ledgers.reading() as view:
        held = read_dossier(view, need(view, dossier))
    return OpportunityReport(title=held.title, found=opportunities(held, assess_held(desk, held), desk.vocabulary()))


def report_json(found: OpportunityReport) -> Json:
    """As it stands in JSON."""
    return {"format": 1, "title": found.title, "departures": [opportunity_json(o) for o in found.found]}
