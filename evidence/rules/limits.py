"""A value against what is asked of it: fixed limits, the maker's figures, like parts, and milestones.

Every verdict names where its limit comes from. A maker's figure for other conditions than those of the reading is not
comparable with it, and gives no verdict.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from evidence.measure.derived import middle, scaled
from evidence.measure.uncertainty import Value, of_reading
from evidence.measure.verdicts import Judgement, judge, judge_between, not_comparable, rule_for
from evidence.model.base import say
from evidence.model.dossier import Recorded
from evidence.model.quantity import DecisionRule, Reading, page_words
from evidence.model.vehicle import MakerFigure
from evidence.rules.criteria import Between, Bound, Number, Relative


@dataclass(frozen=True, slots=True, kw_only=True)
class References:
    """Where a limit may come from. ``others`` are the like parts not judged; ``moment`` answers for milestones.

    ``conditions`` are those of the reading, ``rule`` is the decision rule of the dossier, ``source`` that of the limits
    which stand in the rule itself.
    """

    figures: Mapping[str, tuple[Recorded[MakerFigure], ...]]
    others: tuple[Value, ...] = ()
    moment: Callable[[str, str], Value | None] | None = None  # milestone and unit -> value
    conditions: frozenset[str] = frozenset()
    rule: DecisionRule | None = None
    source: str = ""

    def figure(self, name: str) -> MakerFigure | None:
        """The newest figure of that name which holds under the conditions of the reading."""
        return next((f.value for f in self.figures.get(name, ()) if not self._against(f.value)), None)

    def clash(self, name: str) -> str:
        """Why none of the figures of that name can be compared with the reading, or an empty text."""
        found = self.figures.get(name, ())
        return self._against(found[0].value) if found and self.figure(name) is None else ""

    def _against(self, figure: MakerFigure) -> str:
        return not_comparable(figure.conditions, self.conditions)


_NOTHING = References(figures={})


def held_against(value: Value, number: Number, references: References | None) -> Judgement | None:
    """The judgement; ``None`` where the limit has no figure that can be compared, which gives no answer."""
    known = references or _NOTHING
    rule = rule_for(known.rule)
    if isinstance(number, (Bound, Between)):
        return _fixed(value, number, known, rule)
    reference = _reference(number.of, value.unit, known)
    if reference is None:
        return None
    base, source, own_rule = reference
    rule = rule_for(own_rule, known.rule)
    if isinstance(number, Relative):
        times = Decimal(number.times) if number.times else Decimal(1)
        limit = scaled(base, times=times, plus=Decimal(number.plus or 0), unit=number.unit)
        told = f"{number.times} times the {source}" if times != 1 else source
        plus = f" plus {number.plus} {number.unit}" if number.plus else ""
        return judge(value, number.op, limit, rule=rule, source=told + plus)
    ends = (scaled(base, plus=Decimal(number.within) * sign, unit=number.unit) for sign in (-1, 1))
    return judge_between(value, *ends, rule=rule, source=f"within {number.within} {number.unit} of the {source}")


@dataclass(frozen=True, slots=True)
class Fixed:
    """Limits that are the same for every reading, those of the rule and the maker's: each value is held to each of them once."""

    figures: Mapping[str, tuple[Recorded[MakerFigure], ...]]
    rule: DecisionRule | None
    held: dict[tuple[object, ...], Judgement | None] = field(default_factory=dict, compare=False)

    def against(
        self, value: Value, number: Bound | Between, conditions: frozenset[str], source: str
    ) -> Judgement | None:
        """As :func:`held_against`; ``conditions`` are those of the reading, ``source`` that of the rule's own limits."""
        # Equal numbers may be written with more or fewer digits, and are told as written.
        key = (value, str(value.value), number, source, conditions if number.figure else None)
        if key not in self.held:
            known = References(figures=self.figures, conditions=conditions, rule=self.rule, source=source)
            self.held[key] = held_against(value, number, known)
        return self.held[key]

    def meets(self, circumstance: Reading, number: Number) -> bool:
        """Whether what was read beside a reading is as asked; nothing but the number asked stands against it."""
        key = (circumstance, number)
        if key not in self.held:
            self.held[key] = held_against(of_reading(circumstance.value, circumstance.unit), number, None)
        held = self.held[key]
        return held is not None and held.verdict == "met"


def missing_figure(number: Number, references: References | None = None) -> str:
    """What has no figure, or none that can be compared, in words."""
    known = references or _NOTHING
    if isinstance(number, (Bound, Between)):
        return known.clash(number.figure or "")
    of = number.of
    if of.startswith("maker/"):
        name = of.removeprefix("maker/")
        return known.clash(name) or f"the maker's figure {name!r} is not on record"
    if of == "others":
        return "fewer than two like parts were measured to compare with"
    return f"the milestone {say(of)} is not on record"


def _fixed(value: Value, asked: Bound | Between, known: References, rule: DecisionRule) -> Judgement | None:
    """The maker's figure for the vehicle replaces the default."""
    if asked.figure and known.clash(asked.figure):
        return None
    if figure := known.figure(asked.figure or ""):
        return _by_maker(value, asked, figure, rule_for(figure.decision_rule, rule))
    if isinstance(asked, Bound):
        return judge(value, asked.op, asked.limit, rule=rule, source=known.source)
    return judge_between(value, *asked.ends, rule=rule, source=known.source)


def _by_maker(value: Value, asked: Bound | Between, figure: MakerFigure, rule: DecisionRule) -> Judgement:
    source = _paper(figure)
    if figure.between:
        low, high = (Value(value=Decimal(end), unit=figure.unit) for end in figure.between)
        return judge_between(value, low, high, rule=rule, source=source)
    assert figure.value is not None
    limit = Value(value=Decimal(figure.value), unit=figure.unit)
    if isinstance(asked, Bound):
        return judge(value, asked.op, limit, rule=rule, source=source)
    return judge_between(value, limit, limit, rule=rule, source=source)


def _paper(figure: MakerFigure) -> str:
    return ", ".join(filter(None, ("maker's figure", figure.document, page_words(figure.page))))


def _reference(of: str, unit: str, known: References) -> tuple[Value, str, DecisionRule | None] | None:
    """The value to compare with, where it comes from, and a rule of its own."""
    if of == "others":
        if len(known.others) < 2:
            return None
        return middle(known.others), f"median of {len(known.others)} like parts", None
    if of.startswith("maker/"):
        figure = known.figure(of.removeprefix("maker/"))
        if figure is None or figure.value is None:
            return None
        return Value(value=Decimal(figure.value), unit=figure.unit), _paper(figure), figure.decision_rule
    moment = known.moment(of, unit) if known.moment else None
    return (moment, say(of), None) if moment else None
