"""What is taken off: how much of it in which reading, and a core deposit against the credit that brings it back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal

from evidence.claim.loss.money import ZERO, Rounding
from evidence.model.loss import LossItem

Reading = Literal["low", "claimed", "high"]


@dataclass(frozen=True, slots=True)
class Entry:
    """A line as it enters a reading: ``net`` is what counts of it, rounded, without the tax that is added on the sum."""

    subject: str
    item: LossItem
    net: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Core:
    """Deposits for old parts and what was credited for them, with the tax on them where a rate is stated."""

    deposits: Decimal
    credits: Decimal
    back: Decimal  # of the deposits, without tax: they came back and are no loss
    beyond: Decimal  # credited beyond the deposits


def counts(reading: Reading, *, disputed: bool | None) -> bool:
    """What is taken off counts where it is not disputed, and in the lowest reading."""
    return not disputed or reading == "low"


def amount_off(entry: Entry, reading: Reading, rounding: Rounding) -> Decimal:
    """What a deduction takes off in this reading, with its tax. Of a disputed one only ``at_least`` counts in the others."""
    net, item = entry.net, entry.item
    if not counts(reading, disputed=item.disputed):
        net = min(net, rounding(item.at_least.number)) if item.at_least else ZERO
    return net + (rounding(net * _rate(item)))


def settle_cores(entries: Sequence[Entry], reading: Reading, rounding: Rounding) -> tuple[tuple[Entry, ...], Core]:
    """The lines without core credits, each deposit less what has come back of it, so that no total holds both.

    A credit goes to the deposits that it names, else to all, in an order that does not hang on when they were recorded.
    """
    left = {e.subject: e.net for e in entries if e.item.head == "core_charge"}
    deposits = sorted(
        (e for e in entries if e.subject in left), key=lambda e: (e.item.nature, _rate(e.item), e.net, e.item.text)
    )
    credited = beyond = ZERO
    for credit in sorted(
        (e for e in entries if e.item.head == "core_credit"), key=lambda e: (not e.item.taken_off, e.net)
    ):
        rest = amount_off(credit, reading, rounding)
        credited += rest
        for deposit in deposits:
            if not credit.item.taken_off or deposit.subject in credit.item.taken_off:
                with_tax = 1 + _rate(deposit.item)
                back = min(left[deposit.subject], rounding(rest / with_tax))
                left[deposit.subject] -= back
                rest = max(rest - rounding(back * with_tax), ZERO) if left[deposit.subject] == 0 else ZERO
        beyond += rest
    whole = sum((rounding(e.net * (1 + _rate(e.item))) for e in deposits), ZERO)
    came_back = sum((e.net - left[e.subject] for e in deposits), ZERO)
    kept = tuple(replace(e, net=left.get(e.subject, e.net)) for e in entries if e.item.head != "core_credit")
    return kept, Core(deposits=whole, credits=credited, back=came_back, beyond=beyond)


def _rate(item: LossItem) -> Decimal:
    return Decimal(item.tax_rate) / 100 if item.tax_rate and not item.tax_included else ZERO
