"""What an answer is held against, and the circumstances it is asked under: the small parts that asks are made of."""

from __future__ import annotations

from decimal import Decimal
from functools import cached_property
from typing import Annotated, Any, Literal, TypeAlias, get_args

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Discriminator, Tag, model_validator

from evidence.measure.uncertainty import Value
from evidence.model.base import Component, Plain, Slug
from evidence.model.quantity import Operator, unit_of

Milestone = Literal[
    "prior_work_opened", "prior_work_closed", "onset", "last_shown_good", "first_shown_bad", "drive_in", "drive_out",
    "lamp_on", "stop", "tow", "arrival", "first_intervention",
]  # fmt: skip
Take = Literal["any", "all", "none", "some", "2+"]
Reduction = Literal["spread", "low/high"]

Unit = Annotated[str, AfterValidator(unit_of)]


def listed(value: Any) -> Any:
    """A single word or group stands for a list of one."""
    return [value] if isinstance(value, (str, dict)) else value


def one_or_more(value: tuple[Any, ...]) -> tuple[Any, ...]:
    """Refuse an empty list: it would ask nothing and look like a question."""
    if not value:
        raise ValueError("is an empty list; leave the key out or name at least one")
    return value


Components = Annotated[tuple[Component, ...], BeforeValidator(listed), AfterValidator(one_or_more)]
Words = Annotated[tuple[Slug, ...], BeforeValidator(listed), AfterValidator(one_or_more)]


class Closed(BaseModel):
    """Frozen; a key that is not named here is refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True, defer_build=True)


class Bound(Closed):
    """``{op: ">", value: 0.2, unit: V}``; ``figure`` names the maker's figure that replaces the value where recorded."""

    op: Operator
    value: Plain
    unit: Unit = "count"
    figure: Slug | None = None

    @cached_property
    def limit(self) -> Value:
        """The limit, exact."""
        return Value(value=Decimal(self.value), unit=self.unit)


class Between(Closed):
    """``{between: [4, 9], unit: A}``, both ends belonging to it; ``figure`` as for :class:`Bound`."""

    between: tuple[Plain, Plain]
    unit: Unit
    figure: Slug | None = None

    @model_validator(mode="after")
    def _rises(self) -> Between:
        if Decimal(self.between[0]) > Decimal(self.between[1]):
            raise ValueError("the lower end stands above the upper end")
        return self

    @cached_property
    def ends(self) -> tuple[Value, Value]:
        """Both ends, exact, the lower first."""
        low, high = (Value(value=Decimal(end), unit=self.unit) for end in self.between)
        return low, high


def _reference(value: str) -> str:
    if value == "others" or value in get_args(Milestone) or (value.startswith("maker/") and len(value) > 6):
        return value
    raise ValueError(f"{value!r} is no reference; right would be maker/<figure>, others, or a milestone such as onset")


Reference = Annotated[str, AfterValidator(_reference)]


class Relative(Closed):
    """``{op: "<", times: 0.3, of: maker/drain-plug-torque}`` or ``{op: ">", plus: 2, unit: mm, of: others}``."""

    op: Operator
    times: Plain | None = None
    plus: Plain | None = None
    unit: Unit | None = None
    of: Reference

    @model_validator(mode="after")
    def _one_form(self) -> Relative:
        if self.times is None and self.plus is None:
            raise ValueError("give 'times', 'plus' or both")
        if (self.plus is None) != (self.unit is None):
            raise ValueError("'plus' and 'unit' go together")
        return self


class Within(Closed):
    """``{within: 0.5, unit: mm, of: maker/gap}``: no further than that from the reference."""

    within: Plain
    unit: Unit
    of: Reference


Number: TypeAlias = Bound | Between | Relative | Within


def _form(value: Any) -> str | None:
    def has(key: str) -> bool:
        return key in value if isinstance(value, dict) else getattr(value, key, None) is not None

    if isinstance(value, (dict, Closed)):
        for key, form in (("between", "between"), ("within", "within"), ("times", "relative"), ("plus", "relative")):
            if has(key):
                return f"[{form}]"
        return "[relative]" if has("of") else "[bound]"
    return None


NumberAsked: TypeAlias = Annotated[
    Annotated[Bound, Tag("[bound]")]
    | Annotated[Between, Tag("[between]")]
    | Annotated[Relative, Tag("[relative]")]
    | Annotated[Within, Tag("[within]")],
    Discriminator(
        _form,
        custom_error_type="no_criterion",
        custom_error_message="is not {op, value, unit}, {between, unit}, {op, times or plus, of} or {within, unit, of}",
    ),
]


def _words_or_number(value: Any) -> str | None:
    return "[words]" if isinstance(value, (str, list, tuple)) else _form(value)


WordsOrNumber: TypeAlias = Annotated[
    Annotated[Bound, Tag("[bound]")]
    | Annotated[Between, Tag("[between]")]
    | Annotated[Relative, Tag("[relative]")]
    | Annotated[Within, Tag("[within]")]
    | Annotated[Words, Tag("[words]")],
    Discriminator(
        _words_or_number,
        custom_error_type="no_criterion",
        custom_error_message="is neither a list of words nor a number with its operator and unit",
    ),
]


class Circumstance(Closed):
    """A quantity that must have held, by its name: ``lamp_current: {op: ">=", value: 2, unit: A}``."""

    name: Slug
    bound: NumberAsked


def by_name(value: Any) -> Any:
    """``{name: bound}`` as a list of circumstances, in order of name."""
    if isinstance(value, dict):
        return [{"name": name, "bound": bound} for name, bound in sorted(value.items())]
    return value


class Parts(Closed):
    """Over every part of a kind: ``{every: coil, take: any}`` or ``{every: cylinder, reduce: low/high}``.

    ``every`` is a count of the vehicle record. ``low/high`` is lowest over highest, a ratio; ``spread`` is highest
    less lowest.
    """

    every: Slug
    take: Take | None = None
    reduce: Reduction | None = None

    @model_validator(mode="after")
    def _one(self) -> Parts:
        if (self.take is None) == (self.reduce is None):
            raise ValueError("give either 'take' or 'reduce'")
        return self


class Step(Closed):
    """An intervention, by what it was done to; a bare component name is enough. ``action`` narrows it."""

    on: Components
    action: Words | None = None


def _step(value: Any) -> Any:
    return {"on": value} if isinstance(value, (str, list)) else value


StepAsked = Annotated[Step, BeforeValidator(_step)]
