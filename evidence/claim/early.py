"""What is dated before the earlier work was begun, and cannot follow from it: a step of the matter, a loss, a day to answer,
a notice or a demand."""

from __future__ import annotations

from evidence.claim.mistakes.ground import NOTICES
from evidence.model.base import Record
from evidence.model.course import CourseStep, DueDate
from evidence.model.dossier import Dossier
from evidence.model.loss import LossItem
from evidence.model.people import Correspondence
from evidence.model.repair import WorkOrder
from evidence.model.when import When
from evidence.timeline.states import sure_before

DATED = (CourseStep, DueDate, LossItem, Correspondence)
# Letters that speak of the earlier work as done; a request or an answer may belong to something else.
_OF_THE_WORK = frozenset({*NOTICES, "demand_letter"})


def before_the_work(dossier: Dossier, subject: str) -> str:
    """Why a record cannot belong to the matter, in words: surely before the earliest of the earlier work; empty where not."""
    held = dossier.get(subject)
    when = _of(held.value) if held else None
    begun = [(o, o.value.opened or o.value.closed) for o in dossier.of(WorkOrder) if o.value.side == "prior_repairer"]
    dated = [(o, w) for o, w in begun if w]
    if held is None or when is None or len(dated) != len(begun) or not dated:
        return ""
    order, first = min(dated, key=lambda pair: pair[1].span.earliest)
    if not sure_before(when.span, first.span):
        return ""
    return f"{held.label} is dated {when.given}, before the earlier work was begun ({order.label}, {first.given})"


def _of(value: Record) -> When | None:
    if isinstance(value, CourseStep):
        return value.time
    if isinstance(value, DueDate):
        return value.day
    if isinstance(value, Correspondence):
        return value.sent if value.about in _OF_THE_WORK else None
    return value.begins if isinstance(value, LossItem) else None
