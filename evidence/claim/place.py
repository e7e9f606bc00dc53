"""What holds at a place: ceilings, limitation, betterment and tax habits, holidays; filled in by a person, with source and day.

The program knows no law. A field that nobody filled in is absent, and nothing is assumed in its stead.
"""

from __future__ import annotations

import datetime as dt
from functools import cached_property, lru_cache
from typing import Final

from pydantic import Field, field_validator, model_validator

from evidence.errors import NotFound
from evidence.model.base import Line, Plain, Text, Value
from evidence.model.quantity import Money

ENTRIES: Final = (
    "small-claims ceiling",
    "limitation",
    "betterment",
    "notice",
    "tax",
    "holidays",
)  # by their names in words
STALE_AFTER: Final = dt.timedelta(days=365)  # an entry older than that is said to be old; by choice


class Entry(Value):
    """One thing that a person looked up: in which text, and when."""

    source: Line
    on: dt.date
    note: Text | None = None

    def age_words(self, today: dt.date) -> str:
        """Where it comes from and how old it is: ``… (looked up 2026-01-03, 5 months ago)``."""
        days = (today - self.on).days
        if days < 0:
            return f"{self.source} (looked up on {self.on.isoformat()}, which is still to come)"
        months = 12 * (today.year - self.on.year) + today.month - self.on.month - (today.day < self.on.day)
        age = f"{days} days" if days < 60 else f"{months} months"
        return f"{self.source} (looked up {self.on.isoformat()}, {age} ago)"


class Ceiling(Entry):
    """The most that a small-claims court of the place hears."""

    amount: Money

    @field_validator("amount")
    @classmethod
    def _positive(cls, value: Money) -> Money:
        if value.number <= 0:
            raise ValueError(f"{value.words()} is no ceiling; it is more than nothing")
        return value


class Words(Entry):
    """A rule of the place in words: limitation, betterment, what a letter must hold."""

    text: Text


class Tax(Entry):
    """The tax that the place puts on parts or labour."""

    rate: Plain  # per cent
    on_labour: bool | None = None

    @field_validator("rate")
    @classmethod
    def _rate(cls, value: str) -> str:
        if not 0 <= float(value) <= 100:
            raise ValueError(f"a tax of {value} % is not between 0 and 100 %")
        return value


class Holidays(Entry):
    """The calendar of the place: an ISO 3166 country with its subdivision, or the days themselves."""

    country: str | None = Field(default=None, pattern="^[A-Z]{2}$")
    subdivision: Line | None = None
    days: tuple[dt.date, ...] = ()

    @model_validator(mode="after")
    def _known(self) -> Holidays:
        if self.country:
            import holidays

            known = holidays.list_supported_countries()
            if self.country not in known:
                raise ValueError(f"no calendar is known for the country {self.country!r}; list the days themselves")
            if self.subdivision and self.subdivision not in known[self.country]:
                raise ValueError(f"{self.country} has no subdivision {self.subdivision!r} in the calendar")
        return self


class PlaceRules(Value):
    """One place file. Every field may be missing."""

    format: int = Field(ge=1, le=1)
    name: Line
    fictional: bool | None = None
    small_claims_ceiling: Ceiling | None = None
    limitation: Words | None = None
    betterment: Words | None = None
    notice: Words | None = None
    tax: Tax | None = None
    holidays: Holidays | None = None

    @cached_property
    def entries(self) -> tuple[tuple[str, Entry], ...]:
        """What is filled in, by its name in words."""
        held = (self.small_claims_ceiling, self.limitation, self.betterment, self.notice, self.tax, self.holidays)
        return tuple((name, entry) for name, entry in zip(ENTRIES, held, strict=True) if entry)

    def stale(self, today: dt.date) -> tuple[str, ...]:
        """A sentence for every entry that was looked up long ago, or on a day still to come."""
        told = []
        for name, entry in self.entries:
            if entry.on > today:
                told.append(f"{name}: looked up on {entry.on.isoformat()}, which is still to come; mend the date")
            elif today - entry.on > STALE_AFTER:
                told.append(f"{name}: {entry.age_words(today)}; look it up again before relying on it")
        return tuple(told)

    def free_days(self, first: int, last: int) -> frozenset[dt.date]:
        """The holidays from one year to another, both included."""
        if self.holidays is None:
            return frozenset()
        found = frozenset(self.holidays.days)
        if self.holidays.country:
            found |= _calendar_days(self.holidays.country, self.holidays.subdivision, first, last)
        return found


@lru_cache(maxsize=256)
def _calendar_days(country: str, subdivision: str | None, first: int, last: int) -> frozenset[dt.date]:
    """Kept, because thousands of matters at one place ask for the same few years."""
    import holidays

    return frozenset(holidays.country_holidays(country, subdiv=subdivision, years=range(first, last + 1)))


def no_place(name: str) -> PlaceRules:
    """What a desk without place files answers."""
    raise NotFound(
        "there is no file of this place", item=name, advice="'evidence place new NAME' makes one to fill in."
    )
