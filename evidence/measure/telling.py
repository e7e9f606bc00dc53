"""A comparison in a sentence: ``0.240 V ± 0.0037 V is above 0.2 V by more than the reading can be off: met``."""

from __future__ import annotations

from decimal import Decimal

from evidence.measure.figures import chance_words, cut_to, plain, with_unit
from evidence.measure.uncertainty import Value
from evidence.model.quantity import DecisionRule, Operator

_EXACT = {  # where nothing is uncertain: met, not met
    ">": ("is above", "is not above"), ">=": ("is at least", "is below"), "<": ("is below", "is not below"),
    "<=": ("is at most", "is above"), "==": ("is exactly", "is not"),
}  # fmt: skip
_NAMED: dict[DecisionRule, str] = {
    "simple": " (simple acceptance)",
    "guarded": " (guarded acceptance)",
    "guarded_both_sides": "",
}


def compared(
    value: Value, op: Operator, limit: Value, verdict: str, *, source: str, uncertain: bool, both: bool, rule: DecisionRule,
    clear: bool, apart: Decimal, needed: Decimal | None, chance: Decimal | None,
) -> str:  # fmt: skip
    """One limit. ``apart`` is value less limit, in the unit of the limit; ``clear`` that it is no less than they can be off."""
    here, against = value.words(), limit.words() + (f" ({source})" if source else "")
    if value.beyond:
        side = "above" if value.beyond == "above" else "below"
        told = f"is {side} {against}" if verdict != "undecided" else f"may lie on either side of {against}"
        return f"{here}, past the end of the range, {told}: {verdict}"
    if not uncertain:
        return f"{here} {_EXACT[op][verdict != 'met']} {against}: {verdict}"
    side = "is above" if apart > 0 else "is below" if apart < 0 else "is at"
    off = "the two can be off" if both else "the reading can be off"
    if op == "==" and verdict == "undecided":
        return f"{here} cannot be told from {against}: undecided"
    if rule == "simple" and op != "==":
        return f"{here} {side} {against} as it was read{_NAMED[rule]}: {verdict}"
    if verdict == "undecided":
        told = f"{side} {against}" + (f", but by less than {off}" if apart else "")
        return f"{here} {told}: undecided{_decide(needed, limit, chance)}"
    how = f" by more than {off}" if clear else f", but by less than {off}" if apart else ""
    return f"{here} {side} {against}{how}{_NAMED[rule] if op != '==' else ''}: {verdict}"


def compared_between(
    value: Value, low: Value, high: Value, verdict: str, *, source: str, uncertain: bool, both: bool, rule: DecisionRule,
    clear: bool, outside: tuple[Decimal, Decimal], needed: Decimal | None, chance: Decimal | None,
) -> str:  # fmt: skip
    """An interval. ``outside`` says how far the value lies inside each end (negative: outside); ``clear`` as above."""
    span = f"{plain(low.value)} to {high.words()}" + (f" ({source})" if source else "")
    here = value.words() + (", past the end of the range," if value.beyond else "")
    inside = min(outside) >= 0
    told = f"lies within {span}" if inside else f"lies {'below' if outside[0] < 0 else 'above'} {span}"
    off = "the two can be off" if both else "the reading can be off"
    if value.beyond and verdict == "undecided":
        return f"{here} may lie on either side of an end of {span}: undecided"
    if not uncertain or value.beyond:
        return f"{here} {told}: {verdict}"
    if rule == "simple":
        return f"{here} {told} as it was read{_NAMED[rule]}: {verdict}"
    if verdict == "undecided":
        end = low if abs(outside[0]) <= abs(outside[1]) else high
        near = f", but no further from {with_unit(plain(end.value), end.unit)} than {off}"
        return f"{here} {told}{near}: undecided{_decide(needed, low, chance)}"
    how = f" by more than {off}" if clear else f", but by less than {off}"
    return f"{here} {told}{how}{_NAMED[rule]}: {verdict}"


def _decide(needed: Decimal | None, limit: Value, chance: Decimal | None) -> str:
    """What would decide it, and how likely it is as it stands."""
    if needed is not None:
        told = f"a reading good to ± {with_unit(f'{cut_to(needed, 2):f}', limit.unit)} would decide it"
    elif limit.standard:
        told = "the limit itself is not known well enough to decide it"
    else:
        told = "it stands on the limit, where no meter would decide it"
    return f" ({told}{f'; probability {chance_words(chance)}' if chance is not None else ''})"
