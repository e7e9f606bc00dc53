"""Likelihood ratios as intervals in exact fractions, from grades that are intervals and answers that are only probable.

How the end points are reached: met gives p/q, which rises with p and falls with q, so its least value stands at the least p
with the greatest q; not met gives (1-p)/(1-q), which falls with p and rises with q, so its least value stands at the greatest
p with the least q. The other corner gives the greatest. An answer that is itself only probable enters by Jeffrey's rule: with
the probability s that it holds, a hypothesis expects s P + (1-s)(1-P) of it, which rises with P as long as s is above one half.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from evidence.rules.assessment import Answer
from evidence.rules.grades import Odds

End = Literal["low", "point", "high"]
_ONE = Fraction(1)


@dataclass(frozen=True, slots=True)
class Interval:
    """A likelihood ratio: 0 < low <= point <= high, exact. The low end carries what is said."""

    low: Fraction = _ONE
    point: Fraction = _ONE
    high: Fraction = _ONE

    def at(self, end: End) -> Fraction:
        """One of the three."""
        return {"low": self.low, "point": self.point, "high": self.high}[end]

    def __iter__(self) -> Iterator[Fraction]:
        return iter((self.low, self.point, self.high))


def ratio_of(if_true: Odds, if_not: Odds, answer: Answer, sure: Fraction = _ONE) -> Interval | None:
    """The ratio that an answer gives; None where it gives none.

    ``sure`` is the probability that a met answer holds. It takes support away, and never an adverse answer's weight. Equal
    intervals are one unknown on both sides: whatever it is, the ratio is exactly one.
    """
    if answer not in ("met", "not met"):
        return None
    if if_true == if_not:
        return Interval()
    if answer == "not met":
        return _divided(if_true.turned, if_not.turned)
    plain = _divided(if_true, if_not)
    if sure == 1:
        return plain
    soft = _divided(_uncertain(if_true, sure), _uncertain(if_not, sure))
    return Interval(*(min(pair) for pair in zip(soft, plain, strict=True)))


def uncertain(probability: Fraction, sure: Fraction) -> Fraction:
    """How probable an uncertain answer is where the certain one has ``probability`` (Jeffrey; Pearl's virtual evidence)."""
    return sure * probability + (1 - sure) * (1 - probability)


def break_even(ratio: Fraction) -> Fraction:
    """The prior probability at which the odds are even once the findings are taken in: prior odds times ratio are one."""
    return 1 / (1 + ratio)


def _uncertain(odds: Odds, sure: Fraction) -> Odds:
    held = max(sure, Fraction(1, 2))  # below one half it would speak for the contrary
    return Odds(uncertain(odds.low, held), uncertain(odds.point, held), uncertain(odds.high, held))


def _divided(above: Odds, below: Odds) -> Interval:
    return Interval(above.low / below.high, above.point / below.point, above.high / below.low)
