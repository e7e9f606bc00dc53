"""How much an answer tells, in bits: entropy, expected information, and how far one part settles a question of many.

Exact fractions go in; logarithms are taken in decimal arithmetic of fixed precision, which rounds alike on every machine,
and what is compared is quantized first. C. E. Shannon, A Mathematical Theory of Communication, Bell System Technical
Journal 27 (1948); information gain as in J. R. Quinlan, Induction of Decision Trees, Machine Learning 1 (1986).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction
from functools import lru_cache

_EXACT = Context(prec=28, rounding=ROUND_HALF_EVEN)
_LN2 = _EXACT.ln(Decimal(2))
_STEP = Decimal("0.000001")  # a millionth of a bit: far below what grades can carry, far above the rounding
_FINE = 10**12
_NONE = Decimal(0)


def entropy(weights: Sequence[Fraction | int]) -> Decimal:
    """Bits of a distribution; ``weights`` need not add up to one. Quantized to a millionth of a bit."""
    return _quantized(_entropy(_shared(weights)))


def expected_information(weights: Sequence[Fraction | int], outcomes: Sequence[Sequence[Fraction]]) -> Decimal:
    """Bits that the outcome of one test is expected to tell about which hypothesis is true.

    ``weights``: of the hypotheses, in any scale. ``outcomes[h]``: probability of each outcome under hypothesis ``h``,
    adding up to one. It is never negative, and nothing where all hypotheses expect the same.
    """
    shares = _shared(weights)
    if len(shares) != len(outcomes):
        raise ValueError(f"{len(shares)} hypotheses and {len(outcomes)} rows of outcomes")
    alike: dict[
        tuple[Fraction, ...], Fraction
    ] = {}  # hypotheses that expect the same count as one: same bits, less work
    for share, row in zip(shares, outcomes, strict=True):
        if sum(row) != 1:
            raise ValueError(f"the outcomes of a test add up to {sum(row)}, not to 1")
        alike[tuple(row)] = alike.get(tuple(row), Fraction(0)) + share
    if len(alike) == 1:
        return _NONE
    whole = [sum((s * row[o] for row, s in alike.items()), Fraction(0)) for o in range(len(outcomes[0]))]
    told = _entropy(whole)
    for row, share in alike.items():
        told = _EXACT.subtract(told, _EXACT.multiply(_decimal(share), _entropy(row)))
    return max(_quantized(told), _NONE)


@lru_cache
def settling(parts: int) -> Decimal:
    """Bits that one of ``parts`` open answers is expected to tell about a yes-or-no question that needs all of them.

    The question starts even, and so does no part by itself: each is taken to turn out with the probability whose
    ``parts``-th power is one half. One part alone settles it: one bit. By symmetry the same holds for any-of.
    """
    if parts < 1:
        raise ValueError("a question is settled by at least one part")
    each = _power_of_two(-1, parts)
    rest = _power_of_two(1 - parts, parts)
    return _quantized(_EXACT.subtract(Decimal(1), _EXACT.multiply(each, _binary(rest))))


def shares(weights: Mapping[str, Fraction]) -> dict[str, Fraction]:
    """Weights as shares of one, in whole billionths of a thousandth; what rounding leaves goes to the last of them."""
    if not weights:
        return {}
    total = sum(weights.values(), Fraction(0))
    found = {name: Fraction(int(weight / total * _FINE), _FINE) for name, weight in weights.items()}
    last = next(reversed(found))
    found[last] += 1 - sum(found.values(), Fraction(0))
    return found


def scaled(bits: Decimal, share: Fraction) -> Decimal:
    """Bits about a question that matters only with a certain share of weight."""
    return _quantized(_EXACT.multiply(bits, _decimal(share)))


def per_minute(bits: Decimal, minutes: Fraction) -> Decimal:
    """Bits per minute of work, quantized like the bits."""
    if minutes <= 0:
        raise ValueError("a step takes some time")
    return _quantized(_EXACT.multiply(bits, _decimal(1 / minutes)))


def _shared(weights: Sequence[Fraction | int]) -> list[Fraction]:
    total = Fraction(sum(weights, Fraction(0)))
    if total <= 0 or any(w < 0 for w in weights):
        raise ValueError("weights are not negative, and not all of them nothing")
    return [w / total for w in weights]


def _entropy(probabilities: Sequence[Fraction]) -> Decimal:
    told = _NONE
    for p in probabilities:
        told = _EXACT.add(told, _term(p))
    return told


@lru_cache(maxsize=4096)
def _term(p: Fraction) -> Decimal:
    """-p log2 p; nothing at both ends."""
    return _bits(_decimal(p)) if 0 < p < 1 else _NONE


def _bits(p: Decimal) -> Decimal:
    return _EXACT.divide(_EXACT.multiply(_EXACT.minus(p), _EXACT.ln(p)), _LN2)


def _binary(p: Decimal) -> Decimal:
    return _NONE if p in (0, 1) else _EXACT.add(_bits(p), _bits(_EXACT.subtract(Decimal(1), p)))


def _power_of_two(over: int, under: int) -> Decimal:
    return _EXACT.power(Decimal(2), _decimal(Fraction(over, under)))


def _decimal(value: Fraction) -> Decimal:
    return _EXACT.divide(Decimal(value.numerator), Decimal(value.denominator))


def _quantized(bits: Decimal) -> Decimal:
    return bits.quantize(_STEP, rounding=ROUND_HALF_EVEN)
