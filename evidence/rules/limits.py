"""A value against what is asked of it: fixed limits, the maker's figures, like parts, and milestones."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from statistics import median

from evidence.measure.uncertainty import Value
from evidence.measure.verdicts import Judgement, judge, judge_between
from evidence.model.dossier import Recorded
from evidence.model.vehicle import MakerFigure
from evidence.rules.criteria import Between, Bound, Number, Relative, Within


@dataclass(frozen=True, slots=True, kw_only=True)
class References:
    """Where a limit may come from. ``others`` are the like parts not judged; ``moment`` answers for milestones."""

    figures: Mapping[str, Recorded[MakerFigure]]
    others: tuple[Value, ...] = ()
    moment: Callable[[str, str], Value | None] | None = None  # milestone and unit -> value


def held_against(value: Value, number: Number, references: References | None) -> Judgement | None:
    """The judgement; ``None`` where the limit has no figure, which gives no answer."""
    if isinstance(number, Bound):
        if replaced := _maker(number.figure, references):
            return _by_maker(value, number, replaced)
        return judge(value, number.op, Value(value=number.number, unit=number.unit))
    if isinstance(number, Between):
        if replaced := _maker(number.figure, references):
            return _by_maker(value, number, replaced)
        low, high = (Value(value=Decimal(end), unit=number.unit) for end in number.between)
        return judge_between(value, low, high)
    reference = _reference(number.of, value.unit, references)
    if reference is None:
        return None
    if isinstance(number, Relative):
        return judge(value, number.op, _scaled(reference, number))
    return _near(value, number, reference)


def missing_figure(number: Number) -> str:
    """What has no figure, in words."""
    of = number.of if isinstance(number, (Relative, Within)) else ""
    if of.startswith("maker/"):
        return f"the maker's figure {of.removeprefix('maker/')!r} is not on record"
    if of == "others":
        return "fewer than two like parts were measured to compare with"
    return f"the milestone {of.replace('_', ' ')} is not on record"


def _maker(name: str | None, references: References | None) -> MakerFigure | None:
    found = references.figures.get(name) if references and name else None
    return found.value if found else None


def _by_maker(value: Value, asked: Bound | Between, figure: MakerFigure) -> Judgement:
    """The maker's figure for the vehicle replaces the default."""
    if figure.between:
        low, high = (Value(value=Decimal(end), unit=figure.unit) for end in figure.between)
        held = judge_between(value, low, high)
    else:
        assert figure.value is not None
        limit = Value(value=Decimal(figure.value), unit=figure.unit)
        held = judge(value, asked.op, limit) if isinstance(asked, Bound) else judge_between(value, limit, limit)
    return Judgement(verdict=held.verdict, words=f"{held.words} (maker's figure, {figure.document})")


def _reference(of: str, unit: str, references: References | None) -> Value | None:
    if references is None:
        return None
    if of == "others":
        return _median(references.others)
    if of.startswith("maker/"):
        figure = _maker(of.removeprefix("maker/"), references)
        return Value(value=Decimal(figure.value), unit=figure.unit) if figure and figure.value else None
    return references.moment(of, unit) if references.moment else None


def _median(others: tuple[Value, ...]) -> Value | None:
    if len(others) < 2:
        return None
    unit = others[0].unit
    alike = [v.into(unit) for v in others]
    return Value(
        value=median(v.value for v in alike), unit=unit, standard=max(v.standard for v in alike),
        basis="median of the like parts, with the widest uncertainty among them",
    )  # fmt: skip


def _scaled(reference: Value, number: Relative) -> Value:
    times = Decimal(number.times) if number.times else Decimal(1)
    scaled = Value(
        value=reference.value * times, unit=reference.unit, standard=reference.standard * abs(times),
        basis=reference.basis,
    )  # fmt: skip
    if number.plus is None:
        return scaled
    assert number.unit is not None
    here = scaled.into(number.unit)
    return Value(value=here.value + Decimal(number.plus), unit=here.unit, standard=here.standard, basis=here.basis)


def _near(value: Value, number: Within, reference: Value) -> Judgement:
    here, margin = reference.into(number.unit), Decimal(number.within)

    def end(shift: Decimal) -> Value:
        return Value(value=here.value + shift, unit=here.unit, standard=here.standard)

    return judge_between(value, end(-margin), end(margin))
