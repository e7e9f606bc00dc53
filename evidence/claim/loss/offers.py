"""Which lines count: of several offers for one thing one, and nothing that a person does not claim."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal

from evidence.claim.loss.money import ZERO
from evidence.model.dossier import Recorded
from evidence.model.loss import LossItem

Item = Recorded[LossItem]


def stated(item: LossItem) -> Decimal:
    """The amount as stated or worked out, not rounded."""
    if item.amount:
        return item.amount.number
    return Decimal(item.quantity) * item.rate.number if item.quantity and item.rate else ZERO


def left_out(items: Sequence[Item]) -> Mapping[str, str]:
    """By subject, why a line does not count; lines that do are not named.

    Of several offers for one thing the one that is claimed counts, else the lowest of those that are not given up.
    """
    why: dict[str, str] = {}
    for same in _offers(items).values():
        standing = [i for i in same if i.value.claimed is not False]
        for item in same:
            if item.value.claimed is False:
                why[item.subject] = "not claimed" if item.value.why else "not claimed; why is not on record"
        if standing:
            named = [i for i in standing if i.value.claimed] or standing
            counted = min(named, key=lambda i: (stated(i.value), i.number))
            how = "is claimed" if counted.value.claimed else "is the lowest and counts"
            why |= {
                i.subject: f"another offer for the same: {counted.label} {how}" for i in standing if i is not counted
            }
    why |= {i.subject: "compared with, not added" for i in items if i.value.nature == "value"}
    return why


def range_of(item: Item, items: Sequence[Item]) -> tuple[Decimal, Decimal]:
    """The lowest and the highest of the offers for the same thing; of one alone what it states."""
    same = [stated(i.value) for i in items if item.value.offer_for and i.value.offer_for == item.value.offer_for]
    return min(same, default=stated(item.value)), max(same, default=stated(item.value))


def unclear(items: Sequence[Item]) -> Iterator[str]:
    """Offers and values of which it is not said which one holds, or why."""
    for thing, same in sorted(_offers(items).items()):
        named = [i for i in same if i.value.claimed]
        offers = [i for i in same if i.value.offer_for]
        if len(named) > 1:
            yield f"{' and '.join(i.label for i in named)} are both claimed for {thing}; only the lowest is counted"
        elif len(offers) > 1 and all(i.value.claimed is False for i in offers):
            yield f"none of the offers for {thing} is claimed"
        elif len(offers) > 1 and not named:
            yield f"of the offers for {thing} none is said to be the one claimed; the lowest is counted"
        elif len(offers) > 1 and not named[0].value.why:
            yield f"{named[0].label}: why this offer for {thing} is claimed is not on record"
    values = [i for i in items if i.value.head == "value_before"]
    if len(values) > 1 and not any(i.value.claimed for i in values):
        yield f"{' and '.join(i.label for i in values)} each state a value before; the lowest is compared with"


def _offers(items: Sequence[Item]) -> Mapping[str, list[Item]]:
    found: dict[str, list[Item]] = {}
    for item in items:
        if item.value.nature != "value":
            found.setdefault(item.value.offer_for or item.subject, []).append(item)
    return found
