"""The mistakes that a dossier shows as recorded now. Nothing is written."""

from __future__ import annotations

from collections.abc import Sequence

from evidence.claim.mistakes.ground import Made
from evidence.claim.mistakes.made import mistakes
from evidence.model.base import Json
from evidence.ports import Desk
from evidence.rules.mistakes import MISTAKES
from evidence.usecases.assess import assess_held
from evidence.usecases.pen import need, read_dossier


def mistakes_of(desk: Desk, dossier: str) -> tuple[str, tuple[Made, ...]]:
    """The title of the dossier, and what was made where."""
    with desk.ledgers.reading() as view:
        held = read_dossier(view, need(view, dossier))
    return held.title, mistakes(held, assess_held(desk, held))


def mistakes_json(title: str, found: Sequence[Made]) -> Json:
    """As it stands in JSON; ``record`` is a label, or null where the mistake lies in what is not on record."""
    return {
        "format": 1,
        "title": title,
        "looked_for": list(MISTAKES),
        "made": [
            {
                "mistake": m.code, "record": m.label if m.subject else None, "words": m.words, "why": m.kind.why,
                "mendable": m.kind.mendable, "mend": m.kind.mend, "reason": m.despite or None,
            }
            for m in found
        ],
    }  # fmt: skip
