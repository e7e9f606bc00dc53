"""What was measured, seen and read, and with which instrument."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any, ClassVar, Literal, cast

from pydantic import ValidationInfo, field_validator, model_validator

from evidence.model.base import (
    Component,
    ExhibitRef,
    InstrumentRef,
    InterventionRef,
    ItemRef,
    Line,
    PartyRef,
    Plain,
    Record,
    Slug,
    Text,
    Value,
    say,
    shorten,
)
from evidence.model.despite import Despite
from evidence.model.instrument import AMBIENT
from evidence.model.quantity import QUANTITIES, Condition, Limit, Reading, State, Which, check_unit, unit_of
from evidence.model.when import When


class Taken(Record):
    """What every reading, observation and test has in common."""

    position: Slug | None = None  # which one of several: 1, 2, front-left, bank-1
    which: Which | None = None
    conditions: tuple[Condition, ...] = ()
    circumstances: dict[Slug, Reading] = {}  # quantities that held: lamp_current 2.1 A, engine_speed 210 rpm
    state: State | None = None
    after: InterventionRef | None = None
    time: When | None = None
    by: PartyRef | None = None
    instrument: InstrumentRef | None = None
    item: ItemRef | None = None  # what lay before him, where that is not the vehicle itself: a part taken off
    exhibits: tuple[ExhibitRef, ...] = ()
    note: Text | None = None
    despite: tuple[Despite, ...] = ()  # mistakes made knowingly, each with its reason

    def where(self) -> str:
        """Point as printed; kinds that have one add it."""
        return f" {self.position}" if self.position else ""


class Measurement(Taken):
    """A number that was read, where, how, and with what."""

    kind: ClassVar[str] = "measurement"
    label: ClassVar[str] = "Measurement"

    quantity: Line
    value: Plain
    unit: str
    beyond_range: Literal["above", "below"] | None = None  # the instrument showed over- or under-range at ``value``
    of: Component
    to: Component | None = None
    repeats: tuple[Plain, ...] = ()
    limit: Limit | None = None

    @field_validator("unit")
    @classmethod
    def _unit(cls, value: str) -> str:
        return unit_of(value)

    @model_validator(mode="after")
    def _fits(self) -> Measurement:
        check_unit(self.quantity, self.unit)
        if self.limit:
            check_unit(self.quantity, self.limit.unit)
        for name, reading in self.circumstances.items():
            if name in QUANTITIES:
                check_unit(name, reading.unit)
            elif name == AMBIENT:
                check_unit("temperature", reading.unit)
        return self

    @property
    def number(self) -> Decimal:
        """The value, exact."""
        return Decimal(self.value)

    def reading_words(self) -> str:
        """Value and unit, with a sign where the instrument was out of range."""
        sign = {"above": "> ", "below": "< "}.get(self.beyond_range or "", "")
        return f"{sign}{self.value}" + ("" if self.unit == "count" else f" {self.unit}")

    def point(self) -> str:
        """Test points as printed."""
        return f"{say(self.of)}{self.where()}" + (f" to {say(self.to)}" if self.to else "")

    def summary(self) -> str:
        """Quantity, point, value."""
        return f"{say(self.quantity)}, {self.point()}: {self.reading_words()}"


class Observation(Taken):
    """Something seen, heard or felt that has no number. ``seen`` is a word of the aspect's list."""

    kind: ClassVar[str] = "observation"
    label: ClassVar[str] = "Observation"

    of: Component
    aspect: Slug
    seen: Slug
    text: Text

    @field_validator("aspect")
    @classmethod
    def _known_aspect(cls, value: str, info: ValidationInfo) -> str:
        known = cast("Mapping[str, Any]", info.context or {}).get("aspect")
        return known(value) if known else value

    @field_validator("seen")
    @classmethod
    def _word_of_the_aspect(cls, value: str, info: ValidationInfo) -> str:
        known = cast("Mapping[str, Any]", info.context or {}).get("aspect_word")
        return known(info.data["aspect"], value) if known and "aspect" in info.data else value

    def summary(self) -> str:
        """Component and what was found."""
        return shorten(f"{say(self.of)}{self.where()}: {self.text}")


class StoredCode(Value):
    """A trouble code as the module gave it."""

    code: Line
    status: tuple[
        Literal[
            "test_failed", "test_failed_this_cycle", "pending", "confirmed", "not_completed_since_clear",
            "failed_since_clear", "not_completed_this_cycle", "lamp_requested", "stored", "permanent", "history",
        ],
        ...,
    ] = ()  # fmt: skip
    text: Line | None = None

    @field_validator("code")
    @classmethod
    def _form(cls, value: str) -> str:
        code = value.strip().upper()
        if not re.fullmatch(r"[PCBU][0-3][0-9A-F]{3}(-[0-9A-F]{2})?", code):
            raise ValueError(f"{value!r} is not a trouble code such as P0351 or U0100-87 (SAE J2012)")
        return code


class ModuleRead(Value):
    """What one module answered. Silence and an empty memory are different things."""

    module: Component
    result: Literal["codes", "none_stored", "no_communication"]
    codes: tuple[StoredCode, ...] = ()

    @model_validator(mode="after")
    def _agrees(self) -> ModuleRead:
        if (self.result == "codes") != bool(self.codes):
            raise ValueError(
                f"result {self.result!r} with {len(self.codes)} codes listed; say 'codes' exactly when some are listed"
            )
        return self


class CodeScan(Taken):
    """A read-out of trouble codes over the modules."""

    kind: ClassVar[str] = "code_scan"
    label: ClassVar[str] = "Code scan"

    modules: tuple[ModuleRead, ...]
    before_clearing: bool
    all_modules: bool | None = None
    distance_since_cleared: Reading | None = None

    def summary(self) -> str:
        """How many modules and codes."""
        codes = [c.code for m in self.modules for c in m.codes]
        silent = sum(m.result == "no_communication" for m in self.modules)
        return (
            f"{len(self.modules)} modules read, codes: {', '.join(codes) or 'none stored'}"
            + (f", {silent} without communication" if silent else "")
            + (", before clearing" if self.before_clearing else ", after clearing")
        )


class ActuatorTest(Taken):
    """An output was commanded; this is how it answered."""

    kind: ClassVar[str] = "actuator_test"
    label: ClassVar[str] = "Actuator test"

    of: Component
    commanded: Line
    response: Literal["responded", "no_response", "partial", "wrong_response"]
    text: Text | None = None

    def summary(self) -> str:
        """Component, command, answer."""
        return f"{say(self.of)}{self.where()}: {self.commanded}, {say(self.response)}"
