"""What is due when: days that papers state, and days worked out from periods that papers state. No law is computed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Final

from evidence.claim.calendar import NO_DAYS, end_of, rolled
from evidence.claim.course import Course, course_from
from evidence.claim.marks import Mark, marks_of
from evidence.claim.place import PlaceRules
from evidence.model.dossier import Dossier

REMIND_BEFORE: Final = (14, 3)  # days before a day that is due; by choice
_WORDS: Final = {
    "limitation": "Limitation", "filing": "Filing", "hearing": "Hearing", "answer": "Answer due",
    "inspection": "Offer to inspect ends", "core_return": "Core to be back",
    "storage": "Storage costs money from then on",
    "payment": "Payment",
    "other": "Due", "warranty": "Repair warranty ends", "calibration": "Calibration due",
}  # fmt: skip
_LAST_YEAR: Final = dt.MAXYEAR - 200  # a period is at most a hundred years long
# What a period that ends on a free day is moved for: an act of the other side or of a court, not a warranty.
_ROLLED = frozenset({"answer", "inspection"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """One day. ``computed``: from a period; ``done``: why it no longer matters; ``note``: what else bears on it."""

    day: dt.date | None  # None: only a distance bounds it
    what: str
    words: str
    record: str
    subject: str = ""  # the same, by its own id
    computed: bool = False
    done: str = ""
    note: str = ""

    def days_left(self, today: dt.date) -> int | None:
        """Days until then, negative when past."""
        return (self.day - today).days if self.day else None

    @property
    def reminders(self) -> tuple[dt.date, ...]:
        """The days on which to be reminded."""
        return _reminders(self.day) if self.day else ()


@lru_cache(maxsize=4096)  # thousands of matters share a few hundred days
def _reminders(day: dt.date) -> tuple[dt.date, ...]:
    return tuple(day - dt.timedelta(days=n) for n in REMIND_BEFORE if day.toordinal() > n)


def due(dossier: Dossier, place: PlaceRules | None = None) -> tuple[Due, ...]:
    """Everything that is due in a dossier, the earliest first; done things stay listed."""
    return due_from(marks_of(dossier), place)


def due_from(marks: Sequence[Mark], place: PlaceRules | None = None, found: Course | None = None) -> tuple[Due, ...]:
    """The same from marks, with the course that they tell where it is known already."""
    answered = {m.refers: m.label for m in marks if m.sort == "answer"}
    driven = max((Decimal(m.km) for m in marks if m.sort == "odometer"), default=None)
    seen = (found or course_from(marks)).stage("inspection")
    looked = ", ".join(m.label for m in seen.steps) or (f"left out: {seen.skipped}" if seen.skipped else "")
    dues = [_due(m, place, answered, driven, looked) for m in marks if m.sort == "due"]
    return tuple(sorted(dues, key=lambda d: (d.day or dt.date.max, d.what, d.record)))


def _due(mark: Mark, place: PlaceRules | None, answered: dict[str, str], driven: Decimal | None, looked: str) -> Due:
    start = dt.date.fromisoformat(mark.day) if mark.day else None
    day, note = start, ""
    if start and mark.period and start.year > _LAST_YEAR:
        day, note = None, f"{mark.period} from {start.isoformat()}, too far off to be counted"
    elif start and mark.period:
        last = end_of(start, mark.period).year + 2  # holidays move the last of a hundred years of business days by less
        free = place.free_days(start.year, last) if place else NO_DAYS
        day = end_of(start, mark.period, free)
        if mark.what in _ROLLED:
            day = rolled(day, free)
        note = f"{mark.period} from {start.isoformat()}"
        if "business" in mark.period and not (place and place.holidays):
            note += "; without the holidays of any place"
    if mark.what == "warranty" and mark.km:
        note = "; ".join(filter(None, (note, _distance(Decimal(mark.km), driven))))
    done = "done" if mark.done else f"answered by {answered[mark.subject]}" if mark.subject in answered else ""
    if mark.what == "warranty" and mark.km and driven is not None and driven >= Decimal(mark.km):
        done = done or "ended by distance"
    if mark.what == "inspection" and looked:
        done = done or f"inspection {looked}"
    words = _WORDS[mark.what] + (f": {mark.text}" if mark.text else "")
    return Due(
        day=day,
        what=mark.what,
        words=words,
        record=mark.label,
        subject=mark.subject,
        computed=bool(mark.period),
        done=done,
        note=note,
    )


def _distance(limit: Decimal, driven: Decimal | None) -> str:
    told = f"or at {limit:.0f} km, whichever comes first"
    if driven is None:
        return told + "; no odometer reading since then is recorded"
    passed = "passed" if driven >= limit else f"{limit - driven:.0f} km left"
    return f"{told}; at {driven:.0f} km by the last reading: {passed}"
