"""A measurement against the limit written beside it: what the report and the command line show of a reading.

The uncertainty is the one it has where it is to support something; what the record leaves open has widened it already.
"""

from __future__ import annotations

from dataclasses import dataclass

from evidence.measure.uncertainty import Value, of_measurement
from evidence.measure.verdicts import RULES, Judgement, judge_limit, not_comparable, rule_for
from evidence.model.dossier import Recorded
from evidence.model.examination import Measurement
from evidence.model.quantity import DecisionRule
from evidence.rules.holdings import Holdings


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnVerdict:
    """``judgement`` is ``None`` without a limit, and where ``incomparable`` says why there is none."""

    value: Value
    judgement: Judgement | None
    incomparable: str = ""
    unusable: str = ""  # why it supports nothing

    def words(self) -> str:
        """The whole of it in a sentence, or an empty text without a limit."""
        return self.judgement.words if self.judgement else self.incomparable

    @property
    def rule_words(self) -> str:
        """The decision rule with its source, where one was used."""
        return RULES[self.judgement.rule] if self.judgement and self.judgement.rule else ""


def own_verdict(holdings: Holdings, recorded: Recorded[Measurement]) -> OwnVerdict:
    """The verdict on one measurement by its own limit."""
    taken = recorded.value
    item = next(iter(holdings.by_subject.get(recorded.subject, ())), None)
    if item is not None and item.value is not None:
        value, unusable = item.value.to_support(), item.unusable
    else:  # withdrawn: it answers nothing any more, and is shown as it stood
        instrument = holdings.instruments.get(taken.instrument or "")
        value, unusable = of_measurement(taken, instrument.value if instrument else None).to_support(), ""
    if taken.limit is None:
        return OwnVerdict(value=value, judgement=None, unusable=unusable)
    if why := not_comparable(taken.limit.conditions, taken.conditions):
        return OwnVerdict(value=value, judgement=None, incomparable=why, unusable=unusable)
    held = judge_limit(value, taken.limit, rule=holdings.decision_rule)
    return OwnVerdict(value=value, judgement=held, unusable=unusable)


def rules_used(holdings: Holdings, found: list[OwnVerdict]) -> tuple[DecisionRule, ...]:
    """The decision rules behind the verdicts, the dossier's own first."""
    used = [v.judgement.rule for v in found if v.judgement and v.judgement.rule]
    return tuple(dict.fromkeys([rule_for(holdings.decision_rule), *used]))
