"""The vehicle: identity, distance, modules, and the maker's figures for it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from typing import Any, ClassVar, Literal, cast

from pydantic import ValidationInfo, field_validator, model_validator
from vininfo import Vin
from vininfo.exceptions import ValidationError as BadVin

from evidence.model.base import Component, Count, ExhibitRef, Line, PartyRef, Plain, Record, Slug, Text, say
from evidence.model.despite import Despite
from evidence.model.quantity import Condition, DecisionRule, Distance, Which, unit_of
from evidence.model.when import When


def vin_note(vin: str) -> str:
    """Return "" when the check digit of 49 CFR 565.15(c) holds, else what can be said of it.

    Raises ``ValueError`` when the text cannot be a VIN, or when the digit binds (built for North America:
    first character 1 to 5) and is wrong.
    """
    text = vin.strip().upper()
    if len(text) != 17:
        raise ValueError(
            f"{vin!r} has {len(text)} characters; a VIN has 17 (give the plate and leave the VIN out if unknown)"
        )
    if bad := re.findall(r"[^A-HJ-NPR-Z0-9]", text):
        raise ValueError(f"{vin!r} holds {', '.join(sorted(set(bad)))}, which no VIN does (I, O and Q never occur)")
    try:
        holds = Vin(text).verify_checksum(check_year=False)
    except BadVin as err:
        raise ValueError(f"{vin!r} is not a VIN: {err}") from None
    if holds:
        return ""
    if text[0] in "12345":
        raise ValueError(
            f"{vin!r}: the check digit (9th character {text[8]!r}) does not fit the rest; "
            "read it again from the plate: on a vehicle made for North America it must (49 CFR 565.15)"
        )
    return "check digit does not hold; it binds only vehicles made for North America, so this is no proof of an error"


class Vehicle(Record):
    """The vehicle in the matter."""

    kind: ClassVar[str] = "vehicle"
    label: ClassVar[str] = "Vehicle"
    filled_in: ClassVar[frozenset[str]] = frozenset({"vin_note"})

    description: Line
    vin: Line | None = None
    vin_note: Line | None = None
    plate: Line | None = None
    engine: Line | None = None
    build_date: When | None = None
    counts: dict[Slug, Count] = {}  # how many it has of a part: coil, cylinder, wheel ...
    firing_order: tuple[Slug, ...] = ()  # cylinders as they fire, each by the position it is recorded under
    owner: PartyRef | None = None
    exhibits: tuple[ExhibitRef, ...] = ()

    @field_validator("counts")
    @classmethod
    def _counted(cls, value: dict[str, int], info: ValidationInfo) -> dict[str, int]:
        known = cast("Mapping[str, Any]", info.context or {}).get("count")
        return {known(name) if known else name: number for name, number in value.items()}

    @field_validator("vin")
    @classmethod
    def _possible(cls, value: str | None) -> str | None:
        if value:
            vin_note(value)
        return value.upper() if value else value

    @model_validator(mode="before")
    @classmethod
    def _judge_vin(cls, raw: Any) -> Any:
        if isinstance(raw, dict) and isinstance(raw.get("vin"), str) and "vin_note" not in raw:
            with suppress(ValueError):  # told at the field itself
                note = vin_note(raw["vin"])
                return {**raw, "vin_note": note} if note else raw
        return raw

    def summary(self) -> str:
        """Description and identity."""
        plate = f", plate {self.plate}" if self.plate else ""
        return f"{self.description}{plate}" + (f", VIN {self.vin}" if self.vin else ", VIN not stated")


class OdometerReading(Record):
    """A distance read at a moment, in the unit it was read in."""

    kind: ClassVar[str] = "odometer_reading"
    label: ClassVar[str] = "Odometer reading"

    reading: Distance
    time: When
    basis: Literal["seen", "photographed", "read_from_module", "document", "told"]
    by: PartyRef | None = None
    exhibits: tuple[ExhibitRef, ...] = ()
    note: Line | None = None

    def summary(self) -> str:
        """Reading and time."""
        return f"{self.reading.words()} at {self.time.given}"


class ModuleIdentity(Record):
    """What a control module says, or its label says, about itself."""

    kind: ClassVar[str] = "module_identity"
    label: ClassVar[str] = "Module identity"

    module: Component
    which: Which | None = None
    part_number: Line | None = None
    software: Line | None = None
    build_date: When | None = None
    coding: Literal["coded", "not_coded", "unknown"] | None = None
    vin_stored: Line | None = None
    serial: Line | None = None
    time: When
    by: PartyRef | None = None
    exhibits: tuple[ExhibitRef, ...] = ()
    despite: tuple[Despite, ...] = ()  # mistakes made knowingly, each with its reason

    def summary(self) -> str:
        """Module, numbers and coding."""
        bits = [
            self.part_number,
            f"software {self.software}" if self.software else None,
            self.coding and self.coding.replace("_", " "),
        ]
        return f"{say(self.module)}: " + ", ".join(b for b in bits if b)


class MakerFigure(Record):
    """A value from the maker's document for this vehicle; it replaces the default of a rule.

    A reading that does not state the ``conditions`` of the figure is not comparable with it.
    """

    kind: ClassVar[str] = "maker_figure"
    label: ClassVar[str] = "Maker's figure"

    figure: Slug
    value: Plain | None = None
    between: tuple[Plain, Plain] | None = None
    unit: str
    document: Line
    page: Line | None = None
    valid_on: When | None = None
    conditions: tuple[Condition, ...] = ()
    decision_rule: DecisionRule | None = None
    text: Text | None = None
    exhibits: tuple[ExhibitRef, ...] = ()

    @field_validator("unit")
    @classmethod
    def _unit(cls, value: str) -> str:
        return unit_of(value)

    @model_validator(mode="after")
    def _one_form(self) -> MakerFigure:
        if (self.value is None) == (self.between is None):
            raise ValueError("give either 'value' or 'between' with two values")
        return self

    def summary(self) -> str:
        """Figure and its document."""
        value = self.value or " to ".join(self.between or ())
        return f"{say(self.figure)}: {value} {self.unit} ({self.document})"
