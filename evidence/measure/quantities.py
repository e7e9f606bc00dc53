"""Values between units of one dimension. The units library does the arithmetic, in exact fractions; nothing is parsed.

Offsets (temperatures) are exact too. Where a definition is irrational (degrees to radians) the library's own digits
are used. Source of the definitions: NIST SP 811, as the library carries them.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import Any

from evidence.model.quantity import UNITS


def convert(value: Decimal, unit: str, to: str) -> Decimal:
    """``value`` of ``unit`` in ``to``, both as printed (:data:`evidence.model.quantity.UNITS`); 28 digits.

    Raises ``ValueError`` where the two are not of one dimension.
    """
    if unit == to:
        return value
    factor, offset = _line(unit, to)
    exact = Fraction(value) * factor + offset
    return Decimal(exact.numerator) / Decimal(exact.denominator)


def convert_difference(value: Decimal, unit: str, to: str) -> Decimal:
    """A difference or an uncertainty: the offset between the scales plays no part."""
    if unit == to:
        return value
    exact = Fraction(value) * _line(unit, to)[0]
    return Decimal(exact.numerator) / Decimal(exact.denominator)


@cache
def _line(unit: str, to: str) -> tuple[Fraction, Fraction]:
    """Factor and offset of the straight line from ``unit`` to ``to``."""
    units = next((u for u in UNITS.values() if unit in u and to in u), None)
    if units is None:
        raise ValueError(f"{unit} cannot be turned into {to}: they are not of one dimension")
    registry = _registry()
    start, finish = registry.Unit(units[unit]), registry.Unit(units[to])
    at_0, at_1 = (Fraction(registry.Quantity(Fraction(x), start).to(finish).magnitude) for x in (0, 1))
    return at_1 - at_0, at_0


@cache
def _registry() -> Any:
    import pint  # half a second; only where units differ

    return pint.UnitRegistry(non_int_type=Fraction, cache_folder=None, autoconvert_offset_to_baseunit=True)
