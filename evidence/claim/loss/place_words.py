"""What the place adds to a loss: the source of a tax rate, its habit with betterment, its ceiling; each with its age."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from evidence.claim.loss.sums import Sums
from evidence.claim.place import STALE_AFTER, Entry, PlaceRules
from evidence.model.dossier import Recorded
from evidence.model.loss import LossItem

_LABOUR = frozenset({"repair_labour", "programming", "diagnosis_fee", "rework_cost"})


@dataclass(frozen=True, slots=True, kw_only=True)
class TaxTold:
    """One rate of tax: on how much, how much, and where the rate comes from."""

    rate: str  # per cent
    on: Decimal
    tax: Decimal
    source: str


def aged(entry: Entry, today: dt.date | None) -> str:
    """The source of an entry with its age, and a word where that is old."""
    if today is None:
        return f"{entry.source} (looked up {entry.on.isoformat()})"
    old = "; look it up again before relying on it" if today - entry.on > STALE_AFTER else ""
    return entry.age_words(today) + old


def taxes_told(
    sums: Sums, lines: tuple[Recorded[LossItem], ...], place: PlaceRules | None, today: dt.date | None
) -> tuple[TaxTold, ...]:
    """Every rate with its source: what the lines say, else the file of the place."""
    found = []
    for rate, (on, tax) in sums.taxes.items():
        own = dict.fromkeys(i.value.tax_source for i in lines if i.value.tax_source and _same(i.value.tax_rate, rate))
        if own:
            source = "; ".join(str(s) for s in own)
        elif place and place.tax and _same(place.tax.rate, rate):
            source = aged(place.tax, today)
        elif place and place.tax:
            source = f"as stated in the lines; {place.name} has {place.tax.rate} %: {aged(place.tax, today)}"
        else:
            source = "as stated in the lines; no source is on record"
        found.append(TaxTold(rate=rate, on=on, tax=tax, source=source))
    return tuple(found)


def habit(place: PlaceRules | None, today: dt.date | None) -> str:
    """What the place does about betterment, with source and age; empty where nobody looked it up."""
    entry = place.betterment if place else None
    return f"{entry.text} {aged(entry, today)}" if entry and place else ""


def ceiling_told(total: Decimal, currency: str, place: PlaceRules | None, today: dt.date | None, digits: int) -> str:
    """How a claim stands to the ceiling of the place; empty without one, or where it is in another currency."""
    ceiling = place.small_claims_ceiling if place else None
    if ceiling is None or place is None or ceiling.amount.currency != currency:
        return ""
    beyond = total - ceiling.amount.number
    how = (
        f"above it by {beyond:.{digits}f} {currency}"
        if beyond > 0
        else f"within it, with {-beyond:.{digits}f} {currency} to spare"
    )
    return (
        f"{ceiling.amount.words()} is the most that a small-claims court of {place.name} hears: {aged(ceiling, today)}. "
        f"The sum claimed is {how}"
    )


def at_odds(lines: tuple[Recorded[LossItem], ...], currency: str, place: PlaceRules | None) -> Iterator[str]:
    """Where the lines and the file of the place do not fit together."""
    if place is None:
        return
    ceiling = place.small_claims_ceiling
    if ceiling and ceiling.amount.currency != currency:
        yield f"the ceiling of the place is in {ceiling.amount.currency}, so the claim in {currency} was not compared with it"
    taxed = [i.label for i in lines if i.value.head in _LABOUR and i.value.tax_rate]
    if place.tax and place.tax.on_labour is False and taxed:
        yield f"{place.name} puts no tax on labour ({place.tax.source}), and a rate is stated on {', '.join(taxed)}"


def _same(one: str | None, other: str) -> bool:
    return one is not None and Decimal(one) == Decimal(other)
