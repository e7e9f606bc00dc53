"""How things are said on paper: times, people, labels, answers, amounts. No word of the storage format gets out."""

from __future__ import annotations

import datetime as dt
import itertools
import re
from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction
from typing import Any

from evidence.model.base import say, shorten
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


def when(dossier: Dossier, moment: When | None) -> str:
    """As given; with its zone where that is not the dossier's own, which stands at the foot of every page."""
    if moment is None:
        return NOT_STATED
    source = f"; from {SOURCES[moment.source]}" if moment.source else ""
    return clock(dossier, moment) + source + (f"; {moment.note}" if moment.note else "")


def clock(dossier: Dossier, moment: When) -> str:
    """The time alone, with a space between date and hour."""
    home = moment.zone and moment.zone == dossier.opening.zone
    return re.sub(r"(?<=\d)T(?=\d)", " ", moment.given if home else moment.words())


def moment(at: dt.datetime) -> str:
    """A moment of the record itself, in UTC."""
    return f"{at.astimezone(dt.UTC):%Y-%m-%d %H:%M} UTC"


def labels(dossier: Dossier, subjects: Iterable[str | None]) -> str:
    """``Exhibit 3, Exhibit 7`` for subjects; empty for none."""
    return runs(dossier.label(s) for s in subjects if s)


def runs(found: Iterable[str]) -> str:
    """Labels in order of their numbers; three and more in a row as ``Measurement 2 to 5``."""
    kinds: dict[str, set[int]] = {}
    others: list[str] = []
    for label in found:
        kind, _, number = label.rpartition(" ")
        if kind and number.isdecimal():
            kinds.setdefault(kind, set()).add(int(number))
        elif label not in others:
            others.append(label)
    said: list[str] = []
    for kind, numbers in kinds.items():
        for _, group in itertools.groupby(enumerate(sorted(numbers)), lambda pair: pair[1] - pair[0]):
            row = [number for _, number in group]
            said += [f"{kind} {row[0]} to {row[-1]}"] if len(row) > 2 else [f"{kind} {n}" for n in row]
    return ", ".join(said + others)


def parts(names: Iterable[str]) -> str:
    """Components as a person reads them."""
    return ", ".join(map(say, names))


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
    return capital(say(word))


def capital(text: str) -> str:
    """A text with its first letter large."""
    return text[:1].upper() + text[1:]


def whole_sentences(text: str, limit: int) -> str:
    """As many whole sentences as fit; the first one in any case, cut if need be."""
    kept = ""
    for part in re.split(r"(?<=[.!?]) ", " ".join(text.split())):
        if kept and len(kept) + len(part) > limit:
            return kept
        kept = f"{kept} {part}".strip()
    return shorten(kept, limit)


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
