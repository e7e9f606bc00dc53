"""The clocks of a dossier: what is known of each device's, what was put right by it, and what is missing."""

from __future__ import annotations

from dataclasses import dataclass

from evidence.model.base import Json
from evidence.model.dossier import Dossier
from evidence.model.when import TimeSpan, utc_text
from evidence.ports import Desk
from evidence.timeline.clock_signs import Sign, signs
from evidence.timeline.clock_telling import ClockLine, told
from evidence.timeline.clocks import Clocks, Correction
from evidence.usecases.pen import need, read_dossier


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockReport:
    """All of it."""

    title: str
    devices: tuple[ClockLine, ...]
    moved: tuple[Correction, ...]
    signs: tuple[Sign, ...]


def clocks_of(desk: Desk, dossier: str) -> ClockReport:
    """What the record says of its devices' clocks. Nothing is written."""
    with desk.ledgers.reading() as view:
        held = read_dossier(view, need(view, dossier))
    return clock_report(held)


def clock_report(held: Dossier) -> ClockReport:
    """The same for a dossier that is already folded."""
    clocks = Clocks.of(held)
    moved = tuple(clocks.corrections.values())
    return ClockReport(title=held.title, devices=told(clocks), moved=moved, signs=signs(held, clocks))


def moved_json(moved: Correction) -> Json:
    """A time before and after, as it stands in JSON: UTC, RFC 3339."""
    return {
        "record": moved.label, "given": moved.when.words(), "before": _span(moved.before), "after": _span(moved.after),
        "references": list(moved.references), "notes": list(moved.notes),
    }  # fmt: skip


def _span(span: TimeSpan) -> Json:
    return {"earliest": utc_text(span.earliest), "latest": utc_text(span.latest)}
