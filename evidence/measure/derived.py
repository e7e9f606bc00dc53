"""Values worked out from several readings, with the uncertainty carried through (JCGM 100:2008, 5.1 and 5.2).

How much of the error of two readings with one instrument is common to both is seldom stated. They are taken as independent
unless ``shared`` says otherwise: for a difference, and for a ratio of values of one sign, that is the widest (5.2.2).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from statistics import median

from evidence.measure.combining import combined, effective_freedom
from evidence.measure.uncertainty import Value

_NONE = Decimal(0)


def difference(one: Value, other: Value, *, shared: Decimal = _NONE, basis: str = "") -> Value:
    """``one`` less ``other``, in the unit of the first; ``shared`` is the correlation coefficient of their errors."""
    other = other.into(one.unit)
    terms = (one.standard, -other.standard)
    plainly = _of(one.value - other.value, one.unit, terms, (one.freedom, other.freedom), shared, basis)
    return _strictly(plainly, (one, other), lambda a, b: difference(a, b, shared=shared, basis=basis))


def quotient(one: Value, other: Value, *, shared: Decimal = _NONE, basis: str = "") -> Value:
    """``one`` over ``other``, a ratio of two values of one dimension; ``other`` is not zero."""
    one = one.into(other.unit)
    terms = (one.standard / other.value, -one.value * other.standard / other.value**2)
    plainly = _of(one.value / other.value, "ratio", terms, (one.freedom, other.freedom), shared, basis)
    return _strictly(plainly, (one, other), lambda a, b: quotient(a, b, shared=shared, basis=basis))


def scaled(value: Value, *, times: Decimal = Decimal(1), plus: Decimal = _NONE, unit: str | None = None) -> Value:
    """``times`` the value and ``plus`` an amount of ``unit``, both exact."""
    grown = replace(
        value,
        value=value.value * times,
        standard=value.standard * abs(times),
        half_width=value.half_width * abs(times),
        strict=None,
    )
    here = grown.into(unit) if unit else grown
    shifted = replace(here, value=here.value + plus)
    return replace(shifted, strict=scaled(value.strict, times=times, plus=plus, unit=unit)) if value.strict else shifted


def middle(values: Sequence[Value]) -> Value:
    """The median, with the widest uncertainty among them."""
    unit = values[0].unit
    alike = [v.into(unit) for v in values]
    widest = max(alike, key=lambda v: v.expanded)
    plainly = Value(
        value=median(v.value for v in alike), unit=unit, standard=widest.standard, freedom=widest.freedom,
        basis=f"median of {len(alike)} like parts, with the widest uncertainty among them",
    )  # fmt: skip
    if any(v.strict for v in alike):
        return replace(plainly, strict=middle([v.to_support() for v in alike]))
    return plainly


def _of(
    value: Decimal,
    unit: str,
    terms: tuple[Decimal, Decimal],
    freedom: tuple[int | None, int | None],
    shared: Decimal,
    basis: str,
) -> Value:
    standard = combined(terms, {(0, 1): shared})
    if shared:  # Welch-Satterthwaite holds for independent parts alone
        effective = min((f for f in freedom if f), default=None)
    else:
        effective = effective_freedom([(abs(t), f) for t, f in zip(terms, freedom, strict=True)])
    return Value(
        value=value, unit=unit, standard=standard, freedom=effective, basis=basis or "worked out from two readings"
    )


def _strictly(plainly: Value, parts: tuple[Value, Value], again: Callable[[Value, Value], Value]) -> Value:
    if any(p.strict for p in parts):
        return replace(plainly, strict=again(*(p.to_support() for p in parts)))
    return plainly
