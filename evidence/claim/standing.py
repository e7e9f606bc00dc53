"""The standing of a matter on a day: the course, what is due next, and what blocks the next step."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from evidence.claim.course import Course, course_from
from evidence.claim.due import Due, due_from
from evidence.claim.marks import Mark
from evidence.claim.place import PlaceRules
from evidence.model.base import say


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Where it stands, what comes, and what is in the way."""

    course: Course
    dues: tuple[Due, ...]
    blocked: tuple[str, ...]  # what keeps the next step from being made
    remarks: tuple[str, ...]  # steps dated too early or without proof, entries of the place that are old
    today: dt.date

    @property
    def ahead(self) -> tuple[Due, ...]:
        """What is still to be done, past days included, the earliest first."""
        return tuple(d for d in self.dues if not d.done and d.day) if not self.course.closed else ()

    @property
    def overdue(self) -> tuple[Due, ...]:
        """Open days that are past."""
        return tuple(d for d in self.ahead if d.day and d.day < self.today)

    @property
    def pressing(self) -> Due | None:
        """The day to look at first: one of the matter before one of the tools, the one longest past before the next."""
        return min(self.ahead, key=lambda d: (d.what == "calibration", d.day or dt.date.max), default=None)


def standing(marks: Sequence[Mark], today: dt.date, place: PlaceRules | None = None) -> Standing:
    """The standing that marks tell on a day."""
    found = course_from(marks)
    dues = due_from(marks, place, found)
    following = found.following
    blocked = (
        [f"{say(s)} is neither recorded nor left out with a reason" for s in found.missing_before(following)]
        if following
        else []
    )
    early = [words for m in found.steps if (words := found.too_early(m))]
    unproven = [f"{m.label} ({say(m.what)}) names no exhibit that proves it" for m in found.steps if not m.done]
    return Standing(
        course=found, dues=dues, blocked=tuple(blocked), today=today,
        remarks=(*early, *unproven, *(place.stale(today) if place else ())),
    )  # fmt: skip
