"""Is a value beyond a limit: met, not met or undecided, by a decision rule that is named with the verdict.

Three rules, after JCGM 106:2012 and ILAC-G8:09/2019. The strictest is taken where neither the limit nor the dossier states one:
it gives nobody the benefit of the meter. Where the limit is itself uncertain, both uncertainties are combined. The
probability of conformity is that of a normal variable whose standard deviation is half of the expanded uncertainty.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from evidence.measure.combining import COVERAGE, combined, coverage_factor, effective_freedom, normal
from evidence.measure.telling import compared, compared_between
from evidence.measure.uncertainty import Value
from evidence.model.base import say
from evidence.model.quantity import DecisionRule, Limit, Operator, implied

Verdict = Literal["met", "not met", "undecided"]

STRICT: DecisionRule = "guarded_both_sides"
RULES: dict[DecisionRule, str] = {
    "guarded_both_sides": "guarded on both sides: met only when the value lies beyond the limit by its whole expanded "
    "uncertainty, not met only when it falls short by as much, undecided between (JCGM 106:2012, 8.3; ILAC-G8:09/2019, 4.2.3 "
    "with w = U)",
    "guarded": "guarded acceptance: met only when the value lies beyond the limit by its whole expanded uncertainty, otherwise "
    "not met (JCGM 106:2012, 8.3.2; ILAC-G8:09/2019, 4.2.2 with w = U)",
    "simple": "simple acceptance: the value as read decides, however far it can be off (JCGM 106:2012, 8.2; "
    "ILAC-G8:09/2019, 4.2.1)",
}  # fmt: skip
_NOISE = Decimal("1e-20")  # what turning units into each other may leave behind


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """The verdict and the comparison in words, with the rule, the uncertainty's origin, and what would decide it.

    ``below`` and ``above`` are the standard deviations between the value and the ends of what meets the criterion.
    """

    verdict: Verdict
    words: str
    rule: DecisionRule | None = None  # None: nothing there is uncertain
    basis: str = ""  # where the uncertainty comes from
    needed: Decimal | None = (
        None  # undecided: an expanded uncertainty of the value below this would decide it; in ``unit``
    )
    unit: str = ""  # of the limit
    below: Decimal | None = None
    above: Decimal | None = None

    @property
    def probability(self) -> Decimal | None:
        """That the true value meets the criterion, four decimals; ``None`` where nothing is uncertain or it has no answer."""
        return _probability(self.below, self.above)

    @property
    def holds(self) -> Fraction:
        """How probable it is that the verdict holds: 1 where nothing is uncertain."""
        probability = self.probability
        if probability is None or self.verdict == "undecided":
            return Fraction(1)
        met = Fraction(probability)
        return met if self.verdict == "met" else 1 - met


@dataclass(frozen=True, slots=True)
class _Held:
    """One comparison: how far the value fulfils it (negative: falls short), and how far the two can be off."""

    over: Decimal
    margin: Decimal
    verdict: Verdict
    needed: Decimal | None
    apart: Decimal  # value less limit

    @property
    def clear(self) -> bool:
        return abs(self.over) >= self.margin

    @property
    def deviations(self) -> Decimal | None:
        return (self.over * COVERAGE / self.margin).quantize(Decimal("1e-6")) if self.margin else None


def rule_for(*stated: DecisionRule | None) -> DecisionRule:
    """The first rule that is stated: the limit's own, then the dossier's; else the strictest."""
    return next((rule for rule in stated if rule), STRICT)


def judge(value: Value, op: Operator, limit: Value, *, rule: DecisionRule = STRICT, source: str = "") -> Judgement:
    """Compare a value with a limit; both may be uncertain, units of one dimension. ``source`` is that of the limit."""
    here = value.into(limit.unit)
    held = _held(here, op, limit, rule)
    sided = op != "==" and not value.beyond
    deviations = held.deviations if sided else None
    return Judgement(
        verdict=held.verdict, rule=rule if held.margin else None, basis=value.basis, needed=held.needed, unit=limit.unit, below=deviations,
        words=compared(
            value, op, limit, held.verdict, source=source, uncertain=bool(held.margin), both=bool(limit.standard),
            rule=rule, clear=held.clear, apart=held.apart, needed=held.needed, chance=_chance(held, deviations),
        ),
    )  # fmt: skip


def judge_between(
    value: Value, low: Value, high: Value, *, rule: DecisionRule = STRICT, source: str = ""
) -> Judgement:  # fmt: skip
    """Compare a value with an interval whose ends belong to it."""
    here, top = value.into(low.unit), high.into(low.unit)
    ends = (_held(here, ">=", low, rule), _held(here, "<=", top, rule))
    verdicts = {e.verdict for e in ends}
    verdict: Verdict = "met" if verdicts == {"met"} else "not met" if "not met" in verdicts else "undecided"
    open_ends = [e for e in ends if e.verdict == "undecided"] if verdict == "undecided" else []
    needed = min((e.needed for e in open_ends if e.needed is not None), default=None)
    if any(e.needed is None for e in open_ends):
        needed = None
    below, above = (None, None) if value.beyond else (e.deviations for e in ends)
    chance = _probability(below, above) if verdict == "undecided" else None
    return Judgement(
        verdict=verdict, rule=rule if any(e.margin for e in ends) else None, basis=value.basis, needed=needed, unit=low.unit,
        below=below, above=above,
        words=compared_between(
            value, low, top, verdict, source=source, rule=rule, needed=needed, chance=chance,
            both=bool(low.standard or top.standard), uncertain=any(e.margin for e in ends),
            clear=_clear(*ends), outside=(ends[0].over, ends[1].over),
        ),
    )  # fmt: skip


def judge_limit(value: Value, limit: Limit, *, rule: DecisionRule | None = None) -> Judgement:
    """Compare a value with the limit written beside it, which is exact. ``rule`` is that of the dossier."""
    chosen, source = rule_for(limit.decision_rule, rule), limit.source_words()
    if limit.between:
        low, high = (Value(value=Decimal(end), unit=limit.unit) for end in limit.between)
        return judge_between(value, low, high, rule=chosen, source=source)
    assert limit.op is not None
    assert limit.value is not None
    return judge(value, limit.op, Value(value=Decimal(limit.value), unit=limit.unit), rule=chosen, source=source)


def not_comparable(held_for: Iterable[str], stated: Iterable[str]) -> str:
    """Why a reading under the ``stated`` conditions cannot be held against a limit for others, or an empty text."""
    here = implied(stated)
    missing = [say(c) for c in held_for if c not in here]
    if not missing:
        return ""
    under = f"was read {', '.join(map(say, stated))}" if here else "states no conditions"
    return f"not comparable: the limit holds for {', '.join(missing)}, the reading {under}"


def _clear(*ends: _Held) -> bool:
    """Inside both ends, or outside one, by no less than can be off."""
    outside = [e for e in ends if e.over < 0]
    return any(e.clear for e in outside) if outside else all(e.clear for e in ends)


def _held(value: Value, op: Operator, limit: Value, rule: DecisionRule) -> _Held:
    apart, margin = value.value - limit.value, _margin(value, limit)
    noise = _NOISE * max(abs(value.value), abs(limit.value))
    if abs(apart) <= noise:
        apart = Decimal(0)
    if op == "==":
        verdict = _equal(value, apart, margin)
        return _Held(-abs(apart), margin, verdict, None, apart)
    down = op in ("<", "<=")
    over = -apart if down else apart
    beyond = {"above": "below", "below": "above"}.get(value.beyond or "") if down else value.beyond
    guard = Decimal(0) if rule == "simple" else margin
    sharp = op in ("<", ">") and not guard
    clear = over > 0 if sharp else over - guard >= -noise
    short = (over <= 0 if sharp else over < 0) if not guard else over + guard <= noise
    if beyond == "above":  # at least this far: it can only show that the limit is passed
        verdict = "met" if clear else "undecided"
    elif beyond == "below":
        verdict = "not met" if short else "undecided"
    elif rule == "guarded":
        verdict = "met" if clear else "not met"
    else:
        verdict = "met" if clear else "not met" if short else "undecided"
    needed = _needed(over, limit) if verdict == "undecided" and not beyond else None
    return _Held(over, margin, verdict, needed, apart)


def _equal(value: Value, apart: Decimal, margin: Decimal) -> Verdict:
    """Equality can be refuted by a reading, and shown by a count alone; the rule plays no part."""
    if value.beyond:
        room = apart > margin if value.beyond == "above" else -apart > margin
        return "not met" if room else "undecided"
    if abs(apart) > margin:
        return "not met"
    return "undecided" if margin else "met"


def _needed(over: Decimal, limit: Value) -> Decimal | None:
    """The expanded uncertainty of the value below which this would be decided; ``None`` where none would do."""
    room = over * over - limit.expanded * limit.expanded
    return room.sqrt() if room > 0 else None


def _margin(value: Value, limit: Value) -> Decimal:
    if not limit.standard:
        return value.expanded
    if not value.standard:
        return limit.expanded
    freedom = effective_freedom([(value.standard, value.freedom), (limit.standard, limit.freedom)])
    return coverage_factor(freedom) * combined([value.standard, limit.standard])


def _chance(held: _Held, deviations: Decimal | None) -> Decimal | None:
    return _probability(deviations, None) if held.verdict == "undecided" else None


def _probability(below: Decimal | None, above: Decimal | None) -> Decimal | None:
    if below is None and above is None:
        return None
    both = (normal(below) if below is not None else Decimal(1)) - (normal(-above) if above is not None else Decimal(0))
    return both.quantize(Decimal("0.0001"))
