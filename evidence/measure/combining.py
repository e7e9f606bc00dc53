"""Standard uncertainties brought together, and the factor that expands them: JCGM 100:2008 (the GUM), 4.2, 5.1, 5.2 and annex G.

The factor belongs to a level of confidence of 95.45 %, so that it is 2 where the number of readings sets no bound.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from decimal import Decimal
from functools import cache
from itertools import combinations

COVERAGE = 2  # factor of an uncertainty with infinitely many degrees of freedom: 95.45 % of a normal distribution
CONFIDENCE = 0.9545
_ROOT_3 = Decimal(3).sqrt()
_MANY = 1000  # degrees of freedom from here on: the factor is 2 to three digits
_NO_CORRELATION: Mapping[tuple[int, int], Decimal] = {}


def rectangular(half_width: Decimal) -> Decimal:
    """Standard uncertainty of a value that may lie anywhere within ± ``half_width`` (4.3.7)."""
    return half_width / _ROOT_3


def combined(
    terms: Sequence[Decimal], correlations: Mapping[tuple[int, int], Decimal] = _NO_CORRELATION
) -> Decimal:  # fmt: skip
    """Combined standard uncertainty (5.1.2; with correlations 5.2.2, formula 16).

    ``terms`` are the standard uncertainties, each times its sensitivity coefficient, sign included. ``correlations``
    gives the coefficient of a pair of places, the lower one first; a pair that is not named is independent.
    """
    square = sum((t * t for t in terms), Decimal(0))
    for i, j in combinations(range(len(terms)), 2):
        if coefficient := correlations.get((i, j)):
            square += 2 * terms[i] * terms[j] * coefficient
    return max(square, Decimal(0)).sqrt()


def correlation(one: Sequence[Decimal], other: Sequence[Decimal]) -> Decimal:
    """Correlation coefficient of two series read at the same time (5.2.3, formulas 14 and 17); zero where one is constant."""
    n = len(one)
    if n != len(other):
        raise ValueError(f"{n} readings cannot be held against {len(other)}")
    mean_1, mean_2 = (sum(s, Decimal(0)) / n for s in (one, other))
    apart = [(a - mean_1, b - mean_2) for a, b in zip(one, other, strict=True)]
    product = sum((a * b for a, b in apart), Decimal(0))
    scale = (sum((a * a for a, _ in apart), Decimal(0)) * sum((b * b for _, b in apart), Decimal(0))).sqrt()
    return product / scale if scale else Decimal(0)


def standard_of_mean(readings: Sequence[Decimal]) -> Decimal:
    """Experimental standard deviation of the mean (4.2.3); zero for a single reading."""
    n = len(readings)
    if n < 2:
        return Decimal(0)
    mean = sum(readings, Decimal(0)) / n
    return (sum(((r - mean) ** 2 for r in readings), Decimal(0)) / (n - 1) / n).sqrt()


def effective_freedom(parts: Sequence[tuple[Decimal, int | None]]) -> int | None:
    """Effective degrees of freedom of independent parts (Welch-Satterthwaite, G.4.1), cut to a whole number.

    Each part is a standard uncertainty with its degrees of freedom, ``None`` for one that no number of readings bounds.
    """
    weighted = sum((u**4 / freedom for u, freedom in parts if freedom), Decimal(0))
    if not weighted:
        return None
    whole = sum((u * u for u, _ in parts), Decimal(0)) ** 2 / weighted
    return int(whole) if whole < _MANY else None


@cache
def coverage_factor(freedom: int | None, confidence: float = CONFIDENCE) -> Decimal:
    """Student's t for that many degrees of freedom (G.3, table G.2), four decimals; ``None``: the factor is 2 as agreed."""
    if freedom is None and confidence == CONFIDENCE:
        return Decimal(COVERAGE)
    low, high = 0.0, math.pi / 2  # the angle whose tangent is t / sqrt(freedom): a bounded search
    freedom = freedom or 1_000_000
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if _within(middle, freedom) < confidence else (low, middle)
    return Decimal(math.tan(low) * math.sqrt(freedom)).quantize(Decimal("0.0001"))


def _within(angle: float, freedom: int) -> float:
    """Probability that Student's variable lies within ± sqrt(freedom) tan(angle).

    The finite sums of Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.3 and 26.7.4.
    """
    if freedom > 10_000:  # normal to better than the digits that are kept
        return math.erf(math.tan(angle) * math.sqrt(freedom / 2))
    odd = freedom % 2
    square, term, total = math.cos(angle) ** 2, math.cos(angle) if odd else 1.0, 0.0
    for n in range(2 + odd, freedom + 1, 2):
        total += term
        term *= square * (n - 1) / n
    if odd:
        return 2 / math.pi * (angle + math.sin(angle) * total)
    return math.sin(angle) * total


@cache
def normal(deviations: Decimal) -> Decimal:
    """Probability of a normal variable below that many standard deviations, in exact decimals: the same on every machine."""
    if abs(deviations) > 8:
        return Decimal(1 if deviations > 0 else 0)
    term, total, odd = deviations, Decimal(0), 1
    while abs(term) > Decimal("1e-25"):
        total += term
        odd += 2
        term *= deviations * deviations / odd
    density = (-deviations * deviations / 2).exp() / (2 * _PI).sqrt()
    return (Decimal("0.5") + density * total).quantize(Decimal("1e-12"))


_PI = Decimal("3.141592653589793238462643383")
