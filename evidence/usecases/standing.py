"""Where matters stand on a day: one dossier, or all of them from the lists."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import groupby
from operator import itemgetter

from evidence.claim.marks import Mark
from evidence.claim.place import PlaceRules
from evidence.claim.standing import Standing, standing
from evidence.errors import EvidenceError
from evidence.model.base import Json, say
from evidence.model.dossier import Dossier
from evidence.model.happening import DossierOpening
from evidence.ports import Desk
from evidence.usecases.pen import need


@dataclass(frozen=True, slots=True, kw_only=True)
class Matter:
    """One dossier and how it stands."""

    name: str
    title: str
    place: PlaceRules | None
    standing: Standing
    place_problem: str = ""  # why the place that the dossier names could not be read; its days are told without it


def matters(desk: Desk, dossier: str, today: dt.date, place: str = "") -> tuple[Matter, ...]:
    """The standing of a dossier, or of all where none is named, by name. ``place`` goes before what a dossier names.

    A place named here must be readable; one that a dossier names and that is not here, or is broken, hides no other matter.
    """
    with desk.ledgers.reading() as view:
        only = need(view, dossier) if dossier else None
        rows = {row.id: row for row in view.dossiers("")}
        asked = desk.place(place) if place else None
        place_named = cache(lambda name: (asked, "") if asked else _named_place(desk, name))
        told = {
            ledger: _told([m for _, m in found], today, place_named)
            for ledger, found in groupby(view.marks(only), key=itemgetter(0))
        }
    chosen = [rows[only]] if only else sorted(rows.values(), key=lambda r: r.name)
    nothing = _told([], today, place_named)
    return tuple(
        Matter(name=row.name, title=row.title, place=rules, standing=stands, place_problem=problem)
        for row in chosen
        for stands, rules, problem in (told.get(row.id, nothing),)
    )


def _told(
    marks: list[Mark], today: dt.date, place_named: Callable[[str], tuple[PlaceRules | None, str]]
) -> tuple[Standing, PlaceRules | None, str]:
    """The standing that the marks of one dossier tell, by the place that it names."""
    rules, problem = place_named(next((m.what for m in marks if m.sort == "place"), ""))
    return standing(marks, today, rules), rules, problem


def _named_place(desk: Desk, name: str) -> tuple[PlaceRules | None, str]:
    """The place that a dossier names, or why it cannot be read."""
    try:
        return (desk.place(name) if name else None), ""
    except EvidenceError as err:
        return None, str(err)


def place_of(desk: Desk, dossier: Dossier, name: str = "") -> PlaceRules | None:
    """The place that a dossier names, or the one named here; ``None`` where it names none, or its file is not here or broken."""
    opening = next(iter(dossier.of(DossierOpening)), None)
    if name:
        return desk.place(name)
    return _named_place(desk, opening.value.place or "")[0] if opening else None


def matters_json(found: Sequence[Matter]) -> Json:
    """As it stands in JSON; days are ISO 8601."""
    return {"format": 1, "matters": [_matter(m) for m in found]}


def _matter(matter: Matter) -> Json:
    told, here = matter.standing, matter.standing.course.here
    return {
        "dossier": matter.name,
        "title": matter.title,
        "stage": here.what if here else None,
        "step": here.label if here else None,
        "next": told.course.following,
        "blocked": list(told.blocked),
        "remarks": list(told.remarks),
        "stages": [
            {"stage": s.stage, "steps": [m.label for m in s.steps], "skipped": s.skipped or None}
            for s in told.course.stages
        ],
        "due": [
            {
                "day": d.day.isoformat() if d.day else None, "what": d.what, "words": d.words, "record": d.record,
                "computed": d.computed, "done": d.done or None, "note": d.note or None,
                "reminders": [r.isoformat() for r in d.reminders],
            }
            for d in told.dues
        ],
        "place": matter.place.name if matter.place else None,
        "place_problem": matter.place_problem or None,
    }  # fmt: skip


def here_words(told: Standing) -> str:
    """The stage in words: ``demand, 2026-06-10 (Step 7)``."""
    here = told.course.here
    return f"{say(here.what)}, {here.day[:10]} ({here.label})" if here else "no step recorded"
