"""Numbers as they are printed: no exponent, no digits that only arithmetic made, uncertainties with two digits."""

from __future__ import annotations

from decimal import ROUND_DOWN, ROUND_HALF_EVEN, Decimal


def plain(value: Decimal) -> str:
    """Without exponent and without digits that only arithmetic made."""
    if len(value.as_tuple().digits) > 9:
        value = value.normalize()
        if len(value.as_tuple().digits) > 9:
            value = round_to(value, 6)
    return f"{value:f}"


def two_digits(value: Decimal) -> str:
    """Two significant digits, as uncertainties are given (JCGM 100, 7.2.6)."""
    return f"{round_to(value, 2):f}"


def round_to(value: Decimal, digits: int, rounding: str = ROUND_HALF_EVEN) -> Decimal:
    """``value`` with that many significant digits."""
    if not value:
        return Decimal(0)
    return value.quantize(Decimal(1).scaleb(value.adjusted() - digits + 1), rounding=rounding)


def cut_to(value: Decimal, digits: int) -> Decimal:
    """As :func:`round_to`, never above ``value``."""
    return round_to(value, digits, ROUND_DOWN)


def last_digit(text: str) -> Decimal:
    """The resolution that the digits show: "0.240" was read to 0.001."""
    exponent = Decimal(text).as_tuple().exponent
    return Decimal(1).scaleb(exponent) if isinstance(exponent, int) else Decimal(0)


def chance_words(chance: Decimal) -> str:
    """A probability of four decimals; its ends are bounds, not certainties."""
    return {Decimal(0): "below 0.0001", Decimal(1): "above 0.9999"}.get(chance, f"{chance:f}")


def with_unit(text: str, unit: str) -> str:
    """``0.2 V``; counts and ratios have none."""
    return text if unit in ("count", "ratio") else f"{text} {unit}"
