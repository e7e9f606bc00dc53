"""One reading of the lines: tax on the sum of a rate, wear, repair against value, share of fault, payments, in that order.

Every total is told apart by nature, head and whether a paper is named, and the parts add up to it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property
from typing import Final

from evidence.claim.loss.deductions import Core, Entry, Reading, amount_off, counts, settle_cores
from evidence.claim.loss.money import ZERO, Part, Rounding, share_out
from evidence.model.loss import Head, LossItem

# What a repair is made of; against its sum stands the value of the vehicle before, less salvage.
REPAIR: Final[frozenset[Head]] = frozenset(
    {"repair_parts", "repair_labour", "programming", "secondary_damage", "rework_cost", "sales_tax", "diminished_value"}
)
NATURES: Final = ("rework", "resulting_damage", "diagnosis", "incidental", "deduction")


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """The vehicle before, and what is left of it. ``alone``: the value is claimed although no repair is on record."""

    before: Decimal
    salvage: Decimal
    alone: bool = False


@dataclass(frozen=True)
class Sums:
    """One reading of the lines that count."""

    entries: tuple[Entry, ...]
    reading: Reading
    rounding: Rounding
    worth: Worth | None = None

    # ---- what is added --------------------------------------------------------------------------------------------

    @cached_property
    def gross(self) -> Decimal:
        """Lines with the tax on them, before anything is taken off but deposits that came back."""
        return self._whole(self.added)

    @cached_property
    def tax(self) -> Decimal:
        """Tax on the lines that carry a rate, each rate on its sum and rounded once."""
        return sum((tax for _, tax in self.taxes.values()), ZERO)

    @cached_property
    def taxes(self) -> Mapping[str, tuple[Decimal, Decimal]]:
        """By rate in per cent: the sum that it is on, and the tax."""
        return _taxed(self.added, self.rounding)

    @cached_property
    def repair(self) -> Decimal:
        """The repair with its tax, in full."""
        return self._whole(_repair(self.added))

    @cached_property
    def added(self) -> tuple[Entry, ...]:
        """What is added of each line, deposits less what has come back."""
        return tuple(e for e in self._settled[0] if e.item.nature not in ("deduction", "value"))

    @cached_property
    def core(self) -> Core:
        """Core deposits and credits."""
        return self._settled[1]

    # ---- what is taken off ----------------------------------------------------------------------------------------

    @cached_property
    def wear(self) -> tuple[tuple[LossItem, Decimal], ...]:
        """Lines whose wear is taken off in this reading, with what is taken off. None of a repair where the value rules."""
        worn = zip(self._standing, self._unworn, strict=True)
        return tuple((one.item, one.net - left.net) for one, left in worn if self._wears(one.item))

    @cached_property
    def tax_on_wear(self) -> Decimal:
        """The tax that falls away with it: that on the lines, less that on what wear leaves of them.

        Rounded on the sums and not on the wear, so that a lower line never raises the total by a cent.
        """
        return _tax(self._standing, self.rounding) - _tax(self._unworn, self.rounding)

    @cached_property
    def betterment(self) -> Decimal:
        """Deductions for betterment that are lines of their own. None where the value rules, which is that of a used vehicle."""
        return ZERO if self.by_value else self._off("betterment")

    @cached_property
    def salvage_credit(self) -> Decimal:
        """What was received for what is left over. Where the value rules, it is within the value less salvage."""
        return ZERO if self.by_value else self._off("salvage_credit")

    @cached_property
    def value(self) -> Decimal | None:
        """Of the vehicle before, less salvage or what was received for it: the most that a repair may cost."""
        if self.worth is None:
            return None
        return max(self.worth.before - max(self.worth.salvage, self._off("salvage_credit")), ZERO)

    @cached_property
    def repair_less(self) -> Decimal:
        """The repair with its tax, less wear, betterment and salvage credit: what is held against the value."""
        return self._whole(_repair(self._left)) - self._off("betterment") - self._off("salvage_credit")

    @cached_property
    def by_value(self) -> bool:
        """Whether the value of the vehicle rules, because the repair less wear would come to more."""
        if self.worth is None:
            return False
        return self._by_repair > self._by_value if _repair(self.added) else self.worth.alone

    @cached_property
    def over_value(self) -> Decimal:
        """What falls away because the value rules. Negative where it is claimed without a repair on record."""
        off = (
            sum((w for _, w in self.wear), ZERO)
            + self.tax_on_wear
            + self.betterment
            + self.salvage_credit
            + self.core.beyond
        )
        return self.gross - off - self.before_fault

    @cached_property
    def before_fault(self) -> Decimal:
        """What is left before a share of fault."""
        return (self._by_value if self.by_value else self._by_repair) - self.core.beyond

    @cached_property
    def fault(self) -> Decimal:
        """The share of fault: amounts first, then the per cent of what is left, rounded once."""
        most = max(self.before_fault, ZERO)
        amounts = min(sum((self._amount(e) for e in self._faults if e.item.percent is None), ZERO), most)
        percent = sum(
            (Decimal(e.item.percent or 0) for e in self._faults if counts(self.reading, disputed=e.item.disputed)), ZERO
        )
        return amounts + self.rounding((most - amounts) * min(percent, Decimal(100)) / 100)

    @cached_property
    def payments(self) -> Decimal:
        """What has been paid."""
        return self._off("payment")

    @cached_property
    def total(self) -> Decimal:
        """What is left to pay in this reading."""
        return self.before_fault - self.fault - self.payments

    # ---- told apart -----------------------------------------------------------------------------------------------

    @cached_property
    def parts(self) -> Mapping[Part, Decimal]:
        """``gross`` by nature, head and ``documented`` or ``bare``."""
        return _parts(self.added, self.rounding)

    @cached_property
    def parts_left(self) -> Mapping[Part, Decimal]:
        """``total`` in the same parts. What is taken off no line in particular is shared out by what the parts come to.

        Where the value rules, it is shared out as the repair is. What is taken off with nothing to take it from stands
        under the nature ``deduction``.
        """
        parts = self._parts_before()
        for head, amount in (
            ("betterment", self.betterment), ("salvage_credit", self.salvage_credit), ("core_credit", self.core.beyond),
            ("share_of_fault", self.fault), ("payment", self.payments),
        ):  # fmt: skip
            parts = self._less(parts, head, amount)
        return parts

    @cached_property
    def by_nature(self) -> Mapping[str, Decimal]:
        """``gross``: rework, resulting damage, diagnosis and incidentals apart."""
        return by(self.parts, 0)

    @cached_property
    def left_by_nature(self) -> Mapping[str, Decimal]:
        """``total``, told apart in the same way."""
        return by(self.parts_left, 0)

    # ---- within ---------------------------------------------------------------------------------------------------

    @cached_property
    def _settled(self) -> tuple[tuple[Entry, ...], Core]:
        return settle_cores(self.entries, self.reading, self.rounding)

    @cached_property
    def _left(self) -> tuple[Entry, ...]:
        """Every line less its wear."""
        return self._worn(self.added)

    @cached_property
    def _standing(self) -> tuple[Entry, ...]:
        """The lines that count as they are: without the repair where the value takes its place."""
        return _others(self.added) if self.by_value else self.added

    @cached_property
    def _unworn(self) -> tuple[Entry, ...]:
        return self._worn(self._standing)

    def _worn(self, entries: Iterable[Entry]) -> tuple[Entry, ...]:
        return tuple(
            replace(e, net=e.net - self.rounding(e.net * e.item.wear.used))
            if e.item.wear and self._wears(e.item)
            else e
            for e in entries
        )

    def _wears(self, item: LossItem) -> bool:
        return item.wear is not None and counts(self.reading, disputed=item.wear.disputed)

    @cached_property
    def _by_repair(self) -> Decimal:
        return self._whole(self._left) - self._off("betterment") - self._off("salvage_credit")

    @cached_property
    def _by_value(self) -> Decimal:
        return (self.value or ZERO) + self._whole(_others(self._left))

    @property
    def _faults(self) -> list[Entry]:
        return [e for e in self.entries if e.item.head == "share_of_fault"]

    def _amount(self, entry: Entry) -> Decimal:
        return amount_off(entry, self.reading, self.rounding)

    def _off(self, head: Head) -> Decimal:
        return sum((self._amount(e) for e in self.entries if e.item.head == head), ZERO)

    def _whole(self, entries: Sequence[Entry]) -> Decimal:
        return sum((e.net for e in entries), ZERO) + _tax(entries, self.rounding)

    def _parts_before(self) -> dict[Part, Decimal]:
        """Lines less wear, or the value in the place of the repair: before anything else is taken off."""
        parts = _parts(self._unworn, self.rounding)
        if self.by_value:
            value = self.value or ZERO
            found = share_out(value, _parts(_repair(self._left), self.rounding), self.rounding)
            for part, share in (found or {("resulting_damage", "value_before", "bare"): value}).items():
                parts[part] = parts.get(part, ZERO) + share
        return parts

    def _less(self, parts: dict[Part, Decimal], head: str, amount: Decimal) -> dict[Part, Decimal]:
        """The parts less an amount. Lines named by the deduction bear as much of it as they come to, the rest is on all."""
        left = dict(parts)
        named = {s for e in self.entries if e.item.head == head for s in e.item.taken_off}
        if bearing := {_part(e.item) for e in self.added if e.subject in named}:
            weights = {p: left.get(p, ZERO) for p in bearing}
            there = min(amount, sum((w for w in weights.values() if w > 0), ZERO))
            _take(left, share_out(there, weights, self.rounding))
            amount -= there
        if amount:
            _take(left, share_out(amount, left, self.rounding) or {("deduction", head, "bare"): amount})
        return left


def by(parts: Mapping[Part, Decimal], place: int) -> dict[str, Decimal]:
    """Parts summed by what stands at ``place`` of them: 0 the nature, 1 the head, 2 whether a paper is named."""
    found: dict[str, Decimal] = defaultdict(lambda: ZERO)
    for part, amount in parts.items():
        found[part[place]] += amount
    return {name: found[name] for name in sorted(found, key=lambda n: (NATURES.index(n) if n in NATURES else 0, n))}


def _take(parts: dict[Part, Decimal], shares: Mapping[Part, Decimal]) -> None:
    for part, share in shares.items():
        parts[part] = parts.get(part, ZERO) - share


def _part(item: LossItem) -> Part:
    return (item.nature, item.head, "documented" if item.exhibits else "bare")


def _repair(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    return tuple(e for e in entries if e.item.head in REPAIR)


def _others(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    return tuple(e for e in entries if e.item.head not in REPAIR)


def _parts(entries: Sequence[Entry], rounding: Rounding) -> dict[Part, Decimal]:
    """The lines with their tax; the tax of a rate is shared out over the lines that carry it."""
    found: dict[Part, Decimal] = defaultdict(lambda: ZERO)
    by_rate: dict[str, dict[Part, Decimal]] = defaultdict(lambda: defaultdict(lambda: ZERO))
    for e in entries:
        found[_part(e.item)] += e.net
        if rate := _rate(e.item):
            by_rate[rate][_part(e.item)] += e.net
    for rate, (_, tax) in _taxed(entries, rounding).items():
        for part, share in share_out(tax, by_rate[rate], rounding).items():
            found[part] += share
    return dict(found)


def _tax(entries: Sequence[Entry], rounding: Rounding) -> Decimal:
    return sum((tax for _, tax in _taxed(entries, rounding).values()), ZERO)


def _taxed(entries: Sequence[Entry], rounding: Rounding) -> dict[str, tuple[Decimal, Decimal]]:
    sums: dict[str, Decimal] = defaultdict(lambda: ZERO)
    for e in entries:
        if rate := _rate(e.item):
            sums[rate] += e.net
    return {rate: (sums[rate], rounding(sums[rate] * Decimal(rate) / 100)) for rate in sorted(sums, key=Decimal)}


def _rate(item: LossItem) -> str:
    """The rate that is added on the sum, written one way: 20, 20.0 and 20.00 are one rate."""
    if not item.tax_rate or item.tax_included or not Decimal(item.tax_rate):
        return ""
    return f"{Decimal(item.tax_rate).normalize():f}"
