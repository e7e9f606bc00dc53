"""A straight line through points of known uncertainty, in exact fractions: the same on every machine.

Weighted least squares (JCGM 100:2008, H.3) about the weighted mean of x. A bound on the slope enters as one further
observation "slope 0", a rectangular distribution (JCGM 100, 4.3.7) of that half-width; so the variance of the line at
any x can only grow when a point is taken away.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import isqrt


@dataclass(frozen=True, slots=True)
class Point:
    """A value at ``x`` with the variance of ``y``."""

    x: Fraction
    y: Fraction
    variance: Fraction


@dataclass(frozen=True, slots=True)
class StraightLine:
    """``y = level + slope * (x - origin)``, with the variances of the two estimates and how far they vary together."""

    origin: Fraction
    level: Fraction
    slope: Fraction
    level_variance: Fraction
    slope_variance: Fraction
    covariance: Fraction

    def at(self, x: Fraction) -> Fraction:
        """The line's value."""
        return self.level + self.slope * (x - self.origin)

    def variance_at(self, x: Fraction) -> Fraction:
        """The variance of :meth:`at`, from the variances of the points and the bound on the slope."""
        d = x - self.origin
        return self.level_variance + 2 * d * self.covariance + d * d * self.slope_variance


def line_through(
    points: Sequence[Point], *, slope_bound: Fraction | None = None, origin: Fraction | None = None
) -> StraightLine:
    """The weighted least-squares line. Without ``slope_bound`` at least two different x are needed.

    ``origin`` is where ``level`` is told; by default the weighted mean of x, where level and slope are independent.
    Raises ``ValueError`` where the points do not decide a line.
    """
    weights = [1 / p.variance for p in points]
    total = sum(weights, Fraction(0))
    if not points:
        raise ValueError("no point to lay a line through")
    mean = sum((w * p.x for w, p in zip(weights, points, strict=True)), Fraction(0)) / total
    level = sum((w * p.y for w, p in zip(weights, points, strict=True)), Fraction(0)) / total
    spread = sum((w * (p.x - mean) ** 2 for w, p in zip(weights, points, strict=True)), Fraction(0))
    known = spread + (3 / slope_bound**2 if slope_bound else 0)
    if known == 0:
        raise ValueError("points at one x decide no slope")
    slope = sum((w * (p.x - mean) * p.y for w, p in zip(weights, points, strict=True)), Fraction(0)) / known
    around = mean if origin is None else origin
    shift = around - mean
    return StraightLine(
        origin=around, level=level + slope * shift, slope=slope, level_variance=1 / total + shift * shift / known,
        slope_variance=1 / known, covariance=shift / known,
    )  # fmt: skip


def root_up(value: Fraction) -> int:
    """The square root, rounded up to a whole number."""
    whole = -(-value.numerator // value.denominator)
    root = isqrt(whole)
    return root if root * root == whole else root + 1
