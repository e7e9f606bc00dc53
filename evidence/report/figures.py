"""Numbers for paper: ratios, sums of money, whole numbers in groups of three."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction


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


def amount(value: Decimal, digits: int) -> str:
    """A sum of money with the digits of its currency, thin groups of three."""
    return f"{value:,.{digits}f}".replace(",", "\u202f").replace("-", "−")


def thousands(number: int) -> str:
    """A whole number in groups of three with thin spaces."""
    return f"{number:,}".replace(",", "\u202f")


def three_digits(value: float) -> str:
    """A number read off a curve: three significant figures, no exponent."""
    if not value:
        return "0"
    exact = Decimal(repr(value))
    return f"{round(exact, 2 - exact.adjusted()):f}".replace("-", "−")


def fours(fingerprint: str) -> str:
    """Hexadecimal digits in groups of four, as they are read out and compared."""
    return " ".join(fingerprint[i : i + 4] for i in range(0, len(fingerprint), 4))
