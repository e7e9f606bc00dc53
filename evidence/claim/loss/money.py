"""Money: decimals, half up at the digits of the currency (ISO 4217), and shares that add up to the cent."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_FLOOR, ROUND_HALF_UP, Decimal
from typing import Final

ZERO: Final = Decimal(0)
Part = tuple[str, ...]  # nature, head, and whether a paper is named: what every total is told apart by
# Where the CLDR data of babel follows the custom of cash instead of ISO 4217.
_ISO_NOT_CLDR: Final[Mapping[str, int]] = {
    "AFN": 2, "ALL": 2, "IQD": 3, "IRR": 2, "KPW": 2, "LAK": 2, "LBP": 2, "MGA": 2, "MMK": 2, "RSD": 2, "SOS": 2, "SYP": 2,
    "YER": 2,
}  # fmt: skip


def digits_of(currency: str) -> int:
    """Decimal places of a currency by ISO 4217: the CLDR data of babel, set right where it departs from the standard."""
    from babel.numbers import get_currency_precision

    return _ISO_NOT_CLDR.get(currency, int(get_currency_precision(currency)))


def is_known(currency: str) -> bool:
    """Whether the code is one of a currency."""
    from babel.numbers import is_currency

    return bool(is_currency(currency))


@dataclass(frozen=True, slots=True)
class Rounding:
    """Rounds half up to the digits of one currency."""

    digits: int

    @property
    def cent(self) -> Decimal:
        """The least amount of the currency."""
        return Decimal(1).scaleb(-self.digits)

    def __call__(self, amount: Decimal) -> Decimal:
        return amount.quantize(self.cent, rounding=ROUND_HALF_UP)

    def down(self, amount: Decimal) -> Decimal:
        """Rounded down."""
        return amount.quantize(self.cent, rounding=ROUND_FLOOR)


def share_out(amount: Decimal, weights: Mapping[Part, Decimal], rounding: Rounding) -> dict[Part, Decimal]:
    """A rounded amount, 0 or more, shared out by weight: first over what stands first in the parts, then within it.

    The shares add up to the amount. Cents that rounding down leaves go where it took most; equal shares are told apart
    by name, so the order of the weights changes nothing. Negative weights count as none; without any weight nothing is
    shared out and the result is empty.
    """
    groups: dict[str, dict[Part, Decimal]] = defaultdict(dict)
    for part, weight in weights.items():
        if weight > 0:
            groups[part[0]][part[1:]] = weight
    whole = sum((sum(of.values(), ZERO) for of in groups.values()), ZERO)
    if not whole:
        return {}
    exact = {name: amount * sum(of.values(), ZERO) / whole for name, of in groups.items()}
    shares = {name: rounding.down(share) for name, share in exact.items()}
    missing = int((amount - sum(shares.values(), ZERO)) / rounding.cent)
    for name in sorted(exact, key=lambda n: (shares[n] - exact[n], n))[:missing]:
        shares[name] += rounding.cent
    found: dict[Part, Decimal] = {}
    for name, share in shares.items():
        of = groups[name]
        inner = {(): share} if () in of else share_out(share, of, rounding)
        found |= {(name, *rest): part for rest, part in inner.items()}
    return found
