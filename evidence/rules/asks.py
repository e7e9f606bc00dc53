"""What a finding asks of the record: a small closed language, the same for findings, common findings and alternatives.

An ask is data. Exactly one of the keys ``measure``, ``feature``, ``observe``, ``read``, ``document``, ``computed``,
``all``, ``any``, ``change`` says its kind; a key that the kind does not know is refused. Asks are frozen and compare
by content: equal asks are one question in every entry.
"""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import AfterValidator, BeforeValidator, Discriminator, Field, Tag, model_validator

from evidence.model.base import Line, Slug, nearest
from evidence.model.quantity import QUANTITIES, Condition, State, Which, check_unit, fits
from evidence.model.waveform import FeatureName
from evidence.rules.criteria import (
    Circumstance,
    Closed,
    Components,
    Milestone,
    Number,
    NumberAsked,
    Parts,
    Relative,
    StepAsked,
    Words,
    WordsOrNumber,
    by_name,
    listed,
    one_or_more,
)

Expected = Literal["met", "not met"]
Person = Literal["anyone", "owner", "later_repairer"]


def _finding_id(value: str) -> str:
    if not re.fullmatch(r"[A-Z][A-Z0-9]{0,7}", value):
        raise ValueError(f"{value!r} is not the id of a finding such as F4 or C2")
    return value


FindingId = Annotated[str, AfterValidator(_finding_id)]


class Taken(Closed):
    """What every ask about something measured, seen or read may say of its circumstances.

    Without ``state`` and ``after`` the vehicle as found is asked about, before the first intervention on a component
    of the mechanism. ``lasting`` lifts that for what putting things right does not change: a mark, a fracture, a part
    on the bench. Without ``which`` the part on the vehicle is asked about.
    """

    of: Components
    to: Components | None = None
    which: Which | None = None
    when: Annotated[tuple[Condition, ...], BeforeValidator(listed)] = ()
    given: Annotated[tuple[Circumstance, ...], BeforeValidator(by_name)] = Field(default=(), alias="with")
    state: State | None = None
    before: Milestone | None = None
    after: StepAsked | None = None
    lasting: bool = False
    over: Parts | None = None
    test: Slug | None = None


def _check_number(number: Number, quantity: str, over: Parts | None) -> None:
    if isinstance(number, Relative) and number.unit is None:
        return
    if over and over.reduce == "low/high":
        quantity = "ratio"
    check_unit(quantity, str(number.unit))


def _quantity(value: str) -> str:
    if value not in QUANTITIES:
        raise ValueError(f"{value!r} is not a quantity known here{nearest(value, QUANTITIES)}")
    return value


class Measure(Taken):
    """A number that was read with an instrument: a measurement record of that quantity."""

    measure: Annotated[str, AfterValidator(_quantity)]
    held: NumberAsked = Field(alias="is")

    @model_validator(mode="after")
    def _fits(self) -> Measure:
        _check_number(self.held, self.measure, self.over)
        for circumstance in self.given:
            bound = circumstance.bound
            if circumstance.name in QUANTITIES and bound.unit and not fits(circumstance.name, bound.unit):
                check_unit(circumstance.name, bound.unit)
        return self


FEATURES: dict[str, str] = {  # feature of a waveform -> the quantity whose units carry it
    "pulses_per_cycle": "count", "pulse_count": "count", "pulse_width": "pulse_width", "peak_voltage": "peak_voltage",
    "peak_current": "peak_current", "mean_current": "current", "frequency": "frequency", "duty": "duty",
    "dwell": "dwell", "engine_speed": "engine_speed", "ripple_frequency": "frequency",
    "relative_compression": "relative_compression", "cranking_compression": "cranking_compression",
    "voltage_drop": "voltage_drop", "pulse_period": "duration", "events_per_cycle": "count", "missing_events": "count",
    "cycles_read": "count", "ripple_count": "count", "pump_speed": "engine_speed", "peak_pressure": "pressure",
    "event_to_top": "duration",
}  # fmt: skip


class Feature(Taken):
    """A number read from a recorded trace."""

    feature: FeatureName
    held: NumberAsked = Field(alias="is")

    @model_validator(mode="after")
    def _fits(self) -> Feature:
        _check_number(self.held, FEATURES[self.feature], self.over)
        return self


class Observe(Taken):
    """Something seen, heard or felt: met by any of the words, not met by any other word of the aspect."""

    observe: Slug  # an aspect of the vocabulary
    held: Words = Field(alias="is")


class Read(Taken):
    """What a module gave: ``codes`` (how many of the patterns, by number), or one of the others by words.

    ``communication``: answers, silent. ``response`` (of an actuator test): responded, no_response, partial,
    wrong_response. ``coding``: coded, not_coded. ``vin_stored``: same, differs (against the vehicle record).
    """

    read: Literal["codes", "communication", "response", "coding", "vin_stored", "distance_since_cleared"]
    codes: tuple[Line, ...] = ()  # P0351, or P03* for all that start so; none given: every code
    every_module: bool = False  # the scan must have covered every module
    held: WordsOrNumber = Field(alias="is")

    @model_validator(mode="after")
    def _fits(self) -> Read:
        numeric = self.read in ("codes", "distance_since_cleared")
        if numeric == isinstance(self.held, tuple):
            raise ValueError(f"'read: {self.read}' is held against {'a number' if numeric else 'words'}")
        if not isinstance(self.held, tuple):
            _check_number(self.held, "count" if self.read == "codes" else "distance", None)
        return self


class Document(Closed):
    """What a paper in hand says. Met when one of the papers says (complaint tags, or topics of a declaration) or
    carries (operations, or components of parts) any of the words; ``is: [not_stated]`` turns it round, and needs the
    paper in hand all the same. For a declaration ``is`` lists the answers wanted: none, some, unknown.
    """

    document: Literal["prior_work_order", "owner_work_order", "present_work_order", "owner_declaration"]
    says: Words | None = None
    carries: Words | None = None
    held: Words = Field(default=("stated",), alias="is")
    test: Slug | None = None

    @model_validator(mode="after")
    def _one(self) -> Document:
        if (self.says is None) == (self.carries is None):
            raise ValueError("give either 'says' or 'carries'")
        declared = self.document == "owner_declaration"
        if declared and self.says is None:
            raise ValueError("a declaration 'says' something; it carries no lines")
        right = {"none", "some", "unknown"} if declared else {"stated", "not_stated"}
        if wrong := sorted(set(self.held) - right):
            raise ValueError(f"{wrong[0]!r} does not fit a {self.document}; one of: {', '.join(sorted(right))}")
        return self


# Computed asks that rest on other answers of the entry; all others rest on the record alone.
OF_ANSWERS = frozenset({"captured_undisturbed", "cured", "rivals_dealt_with", "exclusions_hold"})


class Computed(Closed):
    """What timeline and vocabulary work out. ``of`` defaults to the components of the mechanism.

    ``days`` and ``distance`` run between two milestones and are held against ``is``; ``latency`` holds both against
    the mechanism's own window.
    """

    computed: Literal[
        "days", "distance", "latency", "opportunity", "prior_work_in_hand", "absent_before", "nobody_else",
        "captured_undisturbed", "instruments_known", "standard_cited", "damage_on_path", "cured", "rivals_dealt_with",
        "exclusions_hold",
    ]  # fmt: skip
    of: Components | None = None
    by: Person = "anyone"
    start: Milestone = Field(default="prior_work_closed", alias="from")
    to: Milestone = "onset"
    held: NumberAsked | None = Field(default=None, alias="is")
    test: Slug | None = None

    @model_validator(mode="after")
    def _fits(self) -> Computed:
        counted = {"days": "duration", "distance": "distance"}.get(self.computed)
        if (counted is not None) != (self.held is not None):
            raise ValueError("'is' goes with 'days' and 'distance', and only with them")
        if counted and self.held:
            _check_number(self.held, counted, None)
        return self


class AllOf(Closed):
    """Met when every part is met; not met as soon as one is not."""

    every: Annotated[tuple[Ask, ...], AfterValidator(one_or_more)] = Field(alias="all")
    test: Slug | None = None


class AnyOf(Closed):
    """Met by the first part that is met; not met only when every part was covered and failed."""

    one: Annotated[tuple[Ask, ...], AfterValidator(one_or_more)] = Field(alias="any")
    test: Slug | None = None


class Change(Closed):
    """The same question before and after exactly one intervention on ``across``; ``cured`` must be met after it.

    ``change`` and ``cured`` take an ask, or the id of a finding of the same entry.
    """

    change: AskOrId
    across: Components
    cured: AskOrId | None = None
    before: Expected
    after: Expected
    test: Slug | None = None


KINDS: dict[str, type[Closed]] = {
    "measure": Measure, "feature": Feature, "observe": Observe, "read": Read, "document": Document,
    "computed": Computed, "all": AllOf, "any": AnyOf, "change": Change,
}  # fmt: skip


def _kind(value: Any) -> str | None:
    if isinstance(value, Closed):
        found = [key for key, cls in KINDS.items() if type(value) is cls]
    else:
        found = [key for key in KINDS if key in value] if isinstance(value, dict) else []
    return f"[{found[0]}]" if len(found) == 1 else None


Ask: TypeAlias = Annotated[
    Annotated[Measure, Tag("[measure]")]
    | Annotated[Feature, Tag("[feature]")]
    | Annotated[Observe, Tag("[observe]")]
    | Annotated[Read, Tag("[read]")]
    | Annotated[Document, Tag("[document]")]
    | Annotated[Computed, Tag("[computed]")]
    | Annotated[AllOf, Tag("[all]")]
    | Annotated[AnyOf, Tag("[any]")]
    | Annotated[Change, Tag("[change]")],
    Discriminator(
        _kind,
        custom_error_type="no_kind",
        custom_error_message="must hold exactly one of measure, feature, observe, read, document, computed, all, any, change",
    ),
]


def _kind_or_id(value: Any) -> str | None:
    return "[id]" if isinstance(value, str) else _kind(value)


AskOrId: TypeAlias = Annotated[
    Annotated[FindingId, Tag("[id]")]
    | Annotated[Measure, Tag("[measure]")]
    | Annotated[Feature, Tag("[feature]")]
    | Annotated[Observe, Tag("[observe]")]
    | Annotated[Read, Tag("[read]")]
    | Annotated[AllOf, Tag("[all]")]
    | Annotated[AnyOf, Tag("[any]")],
    Discriminator(
        _kind_or_id,
        custom_error_type="no_kind",
        custom_error_message="is neither the id of a finding nor an ask that can be repeated after a change",
    ),
]
for _cls in (AllOf, AnyOf, Change):
    _cls.model_rebuild()


def question(ask: Closed) -> str:
    """The ask as one canonical text: equal texts are one question, whatever entry asks it."""
    return _bare(ask).model_dump_json(by_alias=True, exclude_defaults=True)


def _bare(ask: Closed) -> Closed:
    """``ask`` without the names of tests, which say nothing about what is asked."""
    if isinstance(ask, AllOf):
        return ask.model_copy(update={"every": tuple(_bare(a) for a in ask.every), "test": None})
    if isinstance(ask, AnyOf):
        return ask.model_copy(update={"one": tuple(_bare(a) for a in ask.one), "test": None})
    return ask.model_copy(update={"test": None})


def parts_of(ask: Closed) -> tuple[Closed, ...]:
    """Every ask inside ``ask``, itself first, in the order written."""
    inner: list[Closed] = [ask]
    if isinstance(ask, AllOf):
        inner += [p for a in ask.every for p in parts_of(a)]
    elif isinstance(ask, AnyOf):
        inner += [p for a in ask.one for p in parts_of(a)]
    elif isinstance(ask, Change):
        inner += [p for a in (ask.change, ask.cured) if isinstance(a, Closed) for p in parts_of(a)]
    return tuple(inner)


def rests_on_answers(ask: Closed) -> bool:
    """Whether the answer rests on other answers of the entry; all else rests on the record alone."""
    return any(isinstance(a, Computed) and a.computed in OF_ANSWERS for a in parts_of(ask))
