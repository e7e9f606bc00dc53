"""How things are said on paper: times, people, labels, answers, amounts. No word of the storage format gets out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction
from typing import Any

from evidence.model.base import say
from evidence.model.dossier import Dossier, Recorded
from evidence.model.when import When

NOT_STATED = "not stated"
STATES = {"undisturbed": "as found, undisturbed", "disturbed": "disturbed", "after_repair": "after repair"}
SOURCES = {
    "device_clock": "a device's clock",
    "document": "a document",
    "statement": "somebody's statement",
    "recorder": "the recorder's word",
}
SIDES = {
    "prior_repairer": "Prior repairer",
    "owner": "Owner",
    "present_repairer": "Present repairer",
    "later_repairer": "Later repairer",
}
WHICH = {"coded_replacement": "replacement, coded", "uncoded_replacement": "replacement, not coded"}


def when(moment: When | None) -> str:
    """As given, with its zone; and where it comes from when that was said."""
    if moment is None:
        return NOT_STATED
    source = f"; from {SOURCES[moment.source]}" if moment.source else ""
    return moment.words() + source + (f"; {moment.note}" if moment.note else "")


def moment(at: dt.datetime) -> str:
    """A moment of the record itself, in UTC."""
    return f"{at.astimezone(dt.UTC):%Y-%m-%d %H:%M} UTC"


def labels(dossier: Dossier, subjects: Iterable[str | None]) -> str:
    """``Exhibit 3, Exhibit 7`` for subjects; empty for none."""
    return ", ".join(dossier.label(s) for s in subjects if s)


def title(recorded: Recorded[Any]) -> str:
    """The label, with a word where the record was corrected or taken back."""
    if recorded.withdrawn:
        return f"{recorded.label}\nwithdrawn: {recorded.newest.reason or 'no reason given'}"
    if len(recorded.versions) > 1:
        return f"{recorded.label}\namended: {recorded.newest.reason or 'no reason given'}"
    return recorded.label


def sentence(text: str) -> str:
    """First letter large, full stop at the end."""
    text = " ".join(text.split())
    if not text:
        return text
    return text[0].upper() + text[1:] + ("" if text[-1] in ".!?…”" else ".")


def first_up(word: str) -> str:
    """An enumeration word with a capital."""
    text = say(word)
    return text[:1].upper() + text[1:]


def joined(parts: Iterable[object], sep: str = "; ") -> str:
    """The parts that say something."""
    return sep.join(str(p) for p in parts if p)


def or_not_stated(text: str | None) -> str:
    """The text, or the words that it is not stated."""
    return text or NOT_STATED


def ratio(value: Fraction | None) -> str:
    """Three significant figures above one, ``1/17`` below; a dash for none."""
    if value is None:
        return "–"
    if value <= 0:
        return "0"
    if value < 1:
        return f"1/{ratio(1 / value)}"
    exact = Decimal(value.numerator) / Decimal(value.denominator)
    digits = max(0, 2 - exact.adjusted())
    return f"{exact:.{digits}f}"


def amount(value: Decimal) -> str:
    """A sum of money with two decimals at least, thin groups of three."""
    places = max(2, -int(value.as_tuple().exponent))
    return f"{value:,.{places}f}".replace(",", "\u202f").replace("-", "−")


def thousands(number: int) -> str:
    """A whole number in groups of three with thin spaces."""
    return f"{number:,}".replace(",", "\u202f")
