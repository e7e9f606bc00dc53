"""Is a value beyond a limit: met, not met or undecided. The strict rule, which never gives anyone the benefit of the meter.

Met only when the value stays beyond the limit by the whole expanded uncertainty, not met only when it stays short of it
by as much, undecided between (JCGM 106; ILAC-G8:09/2019, 4.2 with w = U on both sides). Where the limit is itself
uncertain, both uncertainties are combined in quadrature.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from evidence.measure.uncertainty import Value, plain
from evidence.model.quantity import Limit, Operator

Verdict = Literal["met", "not met", "undecided"]

RULE = (
    "met only when the value lies beyond the limit by its whole expanded uncertainty (k = 2), "
    "not met only when it falls short by as much, undecided between"
)
_SIGNS = {"<=": "≤", ">=": "≥", "==": "="}


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """The verdict and the comparison in words: ``0.240 V ± 0.0037 V > 0.2 V: met``."""

    verdict: Verdict
    words: str


def judge(value: Value, op: Operator, limit: Value) -> Judgement:
    """Compare a value with a limit; both may be uncertain, units of one dimension."""
    here = value.into(limit.unit)
    verdict = _verdict(here, op, limit)
    return Judgement(verdict=verdict, words=f"{value.words()} {_SIGNS.get(op, op)} {limit.words()}: {verdict}")


def judge_between(value: Value, low: Value, high: Value) -> Judgement:
    """Compare a value with an interval whose ends belong to it."""
    here = value.into(low.unit)
    both = {_verdict(here, ">=", low), _verdict(here, "<=", high.into(low.unit))}
    verdict: Verdict = "met" if both == {"met"} else "not met" if "not met" in both else "undecided"
    return Judgement(verdict=verdict, words=f"{value.words()} within {plain(low.value)} to {high.words()}: {verdict}")


def judge_limit(value: Value, limit: Limit) -> Judgement:
    """Compare a value with the limit written beside it; that limit is exact."""
    if limit.between:
        low, high = (Value(value=Decimal(end), unit=limit.unit) for end in limit.between)
        return judge_between(value, low, high)
    assert limit.op is not None
    assert limit.value is not None
    return judge(value, limit.op, Value(value=Decimal(limit.value), unit=limit.unit))


def _verdict(value: Value, op: Operator, limit: Value) -> Verdict:
    over, margin = value.value - limit.value, _combined(value, limit)
    if op == "==":
        if value.beyond or abs(over) > margin:
            return "not met" if not value.beyond or _sure(value, over, margin) else "undecided"
        return "met" if not margin else "undecided"
    if op in ("<", "<="):
        over = -over
        beyond = {"above": "below", "below": "above"}.get(value.beyond or "")
    else:
        beyond = value.beyond
    sharp = op in ("<", ">")
    clear = over > 0 if sharp and not margin else over >= margin
    short = over <= 0 if sharp and not margin else over < 0 if not margin else over <= -margin
    if beyond == "above":  # at least this far: it can only show that the limit is passed
        return "met" if clear else "undecided"
    if beyond == "below":
        return "not met" if short else "undecided"
    return "met" if clear else "not met" if short else "undecided"


def _sure(value: Value, over: Decimal, margin: Decimal) -> bool:
    """Whether an out-of-range display leaves no room for equality."""
    return over > margin if value.beyond == "above" else -over > margin


def _combined(value: Value, limit: Value) -> Decimal:
    if not limit.standard:
        return value.expanded
    return (value.expanded**2 + limit.expanded**2).sqrt()
