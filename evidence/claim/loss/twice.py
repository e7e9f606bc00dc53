"""What must not be counted twice, and looks as if it were: told, never taken out by the program."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from evidence.model.dossier import Recorded
from evidence.model.loss import LossItem

_PAIRS = (
    ("prior_work_refund", "rework_cost", "the earlier work is paid back and done again"),
    ("hire", "loss_of_use", "a vehicle was hired, and its loss of use is counted for the same days"),
)


def counted_twice(items: Sequence[Recorded[LossItem]]) -> tuple[str, ...]:
    """A sentence for each pair of counted lines that cover the same, and for days that cost nothing."""
    return (*_pairs(items), *_same(items), *_free_days(items), *_tax(items), *_core(items))


def _pairs(items: Sequence[Recorded[LossItem]]) -> Iterator[str]:
    for one, other, why in _PAIRS:
        for a in (i for i in items if i.value.head == one):
            for b in (i for i in items if i.value.head == other):
                if _overlap(a.value, b.value):
                    yield f"{a.label} and {b.label}: {why}; only one of them can be claimed"


def _overlap(one: LossItem, other: LossItem) -> bool:
    """Whether two periods may share a day; without both of them they may."""
    if not (one.begins and one.ends and other.begins and other.ends):
        return True
    return one.begins.span.earliest < other.ends.span.latest and other.begins.span.earliest < one.ends.span.latest


def _same(items: Sequence[Recorded[LossItem]]) -> Iterator[str]:
    for a, b in combinations(items, 2):
        plain = ("head", "text", "amount", "quantity", "rate")
        if a.value.nature != "deduction" and all(getattr(a.value, f) == getattr(b.value, f) for f in plain):
            yield f"{a.label} and {b.label} say the same; is it one thing?"


def _free_days(items: Sequence[Recorded[LossItem]]) -> Iterator[str]:
    for item in items:
        v = item.value
        if v.head == "storage" and v.free_until and v.begins and v.begins.span.earliest < v.free_until.span.earliest:
            yield f"{item.label} charges days from {v.begins.given} that were free until {v.free_until.given}"


def _tax(items: Sequence[Recorded[LossItem]]) -> Iterator[str]:
    lines = [i for i in items if i.value.head == "sales_tax"]
    rated = [i for i in items if i.value.tax_rate and not i.value.tax_included]
    if lines and rated:
        yield f"{lines[0].label} is a line of tax, and {rated[0].label} states a rate as well; the tax may stand there twice"


def _core(items: Sequence[Recorded[LossItem]]) -> Iterator[str]:
    """A deposit that came back is no loss, and a credit takes off a deposit that stands among the lines."""
    deposits = [i for i in items if i.value.head == "core_charge"]
    credited = [i for i in items if i.value.head == "core_credit"]
    if credited and not deposits:
        yield f"{credited[0].label} is a credit for a core, and no deposit for one stands among the lines"
    for item in deposits:
        if not credited and not item.value.temporary:
            yield f"{item.label} is a deposit for a core, which comes back; the line does not say so"
