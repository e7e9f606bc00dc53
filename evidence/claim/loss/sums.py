"""Sums of money: decimals, half up at the digits of the currency (ISO 4217), tax on the sum and rounded once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from functools import cached_property
from typing import Final, Literal

from evidence.model.loss import LossItem

Reading = Literal["low", "claimed", "high"]
ZERO: Final = Decimal(0)
# What a repair is made of; against its sum stands the value of the vehicle before, less salvage.
REPAIR: Final = frozenset(
    {"repair_parts", "repair_labour", "programming", "secondary_damage", "rework_cost", "sales_tax"}
)
# Where the CLDR data of babel follows the custom of cash instead of ISO 4217.
_ISO_NOT_CLDR: Final[Mapping[str, int]] = {
    "AFN": 2, "ALL": 2, "IQD": 3, "IRR": 2, "KPW": 2, "LAK": 2, "LBP": 2, "MGA": 2, "MMK": 2, "RSD": 2, "SOS": 2, "SYP": 2,
    "YER": 2,
}  # fmt: skip


def digits_of(currency: str) -> int:
    """Decimal places of a currency by ISO 4217: the CLDR data of babel, set right where it departs from the standard."""
    from babel.numbers import get_currency_precision

    return _ISO_NOT_CLDR.get(currency, int(get_currency_precision(currency)))


@dataclass(frozen=True, slots=True)
class Rounding:
    """Rounds half up to the digits of one currency."""

    digits: int

    def __call__(self, amount: Decimal) -> Decimal:
        return amount.quantize(Decimal(1).scaleb(-self.digits), rounding=ROUND_HALF_UP)


@dataclass(frozen=True)
class Sums:
    """One reading of some lines: each counts with ``net`` of it, wear and shares of fault as the reading has them."""

    items: tuple[LossItem, ...]  # without those that are only compared
    net: tuple[Decimal, ...]  # of each, rounded
    reading: Reading
    rounding: Rounding
    value: Decimal | None = field(default=None)  # of the vehicle before, less salvage: the most that a repair may cost

    @cached_property
    def gross(self) -> Decimal:
        """Lines with the tax on them, before anything is taken off."""
        return self.repair + self.other

    @cached_property
    def repair(self) -> Decimal:
        """The repair with its tax, in full."""
        return self._with_tax(i.head in REPAIR for i in self.items)

    @cached_property
    def other(self) -> Decimal:
        """Everything else that is added."""
        return sum((n for i, n in self._added if i.head not in REPAIR), ZERO) + self.tax - self._tax_of_repair

    @cached_property
    def tax(self) -> Decimal:
        """Tax on the lines that carry a rate, each rate on its sum and rounded once."""
        return self._tax(self._added)

    @cached_property
    def by_value(self) -> bool:
        """Whether the value of the vehicle rules, because the repair would cost more."""
        return self.value is not None and self.repair > self.value

    @cached_property
    def wear(self) -> tuple[tuple[LossItem, Decimal], ...]:
        """Lines whose wear is taken off in this reading, with what is taken off. None where the value rules."""
        if self.by_value:
            return ()
        return tuple(
            (i, self.rounding(n * i.wear.used))
            for i, n in self._added
            if i.wear and self._counts(disputed=i.wear.disputed)
        )

    @cached_property
    def tax_on_wear(self) -> Decimal:
        """The tax that falls away with it: that on the lines, less that on what wear leaves of them.

        Rounded on the sums and not on the wear, so that a lower line never raises the total by a cent.
        """
        worn = {id(i): w for i, w in self.wear}
        return self.tax - self._tax([(i, n - worn.get(id(i), ZERO)) for i, n in self._added])

    @cached_property
    def credits(self) -> Decimal:
        """Other deductions with an amount, payments apart."""
        return self._deducted(lambda i: i.head in ("betterment", "core_credit"))

    @cached_property
    def core_credits(self) -> Decimal:
        """What was credited for old parts handed back."""
        return self._deducted(lambda i: i.head == "core_credit")

    @cached_property
    def before_fault(self) -> Decimal:
        """What is left before a share of fault."""
        most = self.value if self.by_value and self.value is not None else self.repair
        return most + self.other - sum((w for _, w in self.wear), ZERO) - self.tax_on_wear - self.credits

    @cached_property
    def fault(self) -> Decimal:
        """The share of fault of what is left, rounded once."""
        percent = sum(
            (
                Decimal(i.percent or 0)
                for i in self.items
                if i.head == "share_of_fault" and self._counts(disputed=i.disputed)
            ),
            ZERO,
        )
        return self.rounding(max(self.before_fault, ZERO) * min(percent, Decimal(100)) / 100)

    @cached_property
    def payments(self) -> Decimal:
        """What has been paid."""
        return self._deducted(lambda i: i.head == "payment")

    @cached_property
    def total(self) -> Decimal:
        """What is left to pay in this reading."""
        return self.before_fault - self.fault - self.payments

    def by_nature(self) -> Mapping[str, Decimal]:
        """Lines with their tax, rework, resulting damage, diagnosis and incidentals apart; the sum is ``gross``.

        The tax of a rate is shared out by rounding; the nature that carries most of it takes what rounding leaves.
        """
        found: dict[str, Decimal] = defaultdict(lambda: ZERO)
        for item, net in self._added:
            found[item.nature] += net
        for rate, lines in self._taxed(self._added).items():
            shares: dict[str, Decimal] = defaultdict(lambda: ZERO)
            for item, net in lines:
                shares[item.nature] += net
            most = max(shares, key=lambda n: (shares[n], n))
            whole = self.rounding(sum(shares.values(), ZERO) * rate / 100)
            for nature, share in shares.items():
                if nature != most:
                    part = min(self.rounding(share * rate / 100), whole)
                    found[nature] += part
                    whole -= part
            found[most] += whole
        return dict(found)

    @cached_property
    def _added(self) -> tuple[tuple[LossItem, Decimal], ...]:
        return tuple(
            (i, n) for i, n in zip(self.items, self.net, strict=True) if i.nature not in ("deduction", "value")
        )

    @cached_property
    def _tax_of_repair(self) -> Decimal:
        return self._tax([(i, n) for i, n in self._added if i.head in REPAIR])

    def _with_tax(self, chosen: Iterable[bool]) -> Decimal:
        keep = dict(zip(map(id, self.items), chosen, strict=True))
        lines = [(i, n) for i, n in self._added if keep[id(i)]]
        return sum((n for _, n in lines), ZERO) + self._tax(lines)

    def _tax(self, lines: Iterable[tuple[LossItem, Decimal]]) -> Decimal:
        return sum(
            (self.rounding(sum((n for _, n in of), ZERO) * rate / 100) for rate, of in self._taxed(lines).items()), ZERO
        )

    @staticmethod
    def _taxed(lines: Iterable[tuple[LossItem, Decimal]]) -> dict[Decimal, list[tuple[LossItem, Decimal]]]:
        found: dict[Decimal, list[tuple[LossItem, Decimal]]] = defaultdict(list)
        for item, net in lines:
            if item.tax_rate and not item.tax_included:
                found[Decimal(item.tax_rate)].append((item, net))
        return found

    def _deducted(self, which: object) -> Decimal:
        assert callable(which)
        lines = zip(self.items, self.net, strict=True)
        return sum((n for i, n in lines if which(i) and self._counts(disputed=i.disputed)), ZERO)

    def _counts(self, *, disputed: bool | None) -> bool:
        """What is taken off counts where it is not disputed, and in the lowest reading."""
        return not disputed or self.reading == "low"
