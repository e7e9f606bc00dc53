"""Devices that measure: what they are, how far they can be off, and when that was last shown."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import ClassVar

from pydantic import field_validator, model_validator

from evidence.model.base import Count, ExhibitRef, Line, PartyRef, Plain, Record, Value
from evidence.model.quantity import check_unit, unit_of
from evidence.model.when import When

AMBIENT = "ambient_temperature"  # the circumstance that an accuracy statement looks at


class Band(Value):
    """Temperatures from ``low`` to ``high``."""

    low: Plain
    high: Plain
    unit: str = "°C"

    @field_validator("unit")
    @classmethod
    def _unit(cls, value: str) -> str:
        unit = unit_of(value)
        check_unit("temperature", unit)
        return unit

    @model_validator(mode="after")
    def _rises(self) -> Band:
        if Decimal(self.low) >= Decimal(self.high):
            raise ValueError(f"the band ends at {self.high} {self.unit}, not above its start at {self.low} {self.unit}")
        return self

    def words(self) -> str:
        """As printed."""
        return f"{self.low} to {self.high} {self.unit}"


class Accuracy(Value):
    """An accuracy statement: ± (percent of reading + percent of range + counts of the last digit + fixed) within a range.

    It holds inside ``temperature``; outside, within ``operating``, each degree adds ``per_degree`` times the whole of it, or
    ``percent_per_degree`` of the reading. After ``valid_months`` from the calibration it is not relied on.
    """

    quantity: Line
    unit: str
    low: Plain | None = None
    high: Plain | None = None
    percent: Plain | None = None
    percent_of_range: Plain | None = None  # of ``high``
    counts: Plain | None = None
    fixed: Plain | None = None  # in ``unit``
    resolution: Plain | None = None  # in ``unit``
    temperature: Band | None = None
    operating: Band | None = None
    per_degree: Plain | None = None
    percent_per_degree: Plain | None = None
    valid_months: Count | None = None

    @model_validator(mode="after")
    def _fits(self) -> Accuracy:
        check_unit(self.quantity, self.unit)
        if faults := list(self._faults()):
            raise ValueError("; ".join(faults))
        return self

    def _faults(self) -> Iterator[str]:
        terms = (self.percent, self.percent_of_range, self.counts, self.fixed)
        if all(t is None for t in terms):
            yield "an accuracy states at least one of percent, percent_of_range, counts and fixed"
        elif not any(t and Decimal(t) for t in terms):
            yield "an accuracy of ± 0 says that the instrument is never off; leave it out if it is not known"
        for name in ("percent", "percent_of_range", "counts", "fixed", "per_degree", "percent_per_degree"):
            held = getattr(self, name)
            if held is not None and Decimal(held) < 0:
                yield f"{name} is {held}; it is given without a sign, ± is meant"
        if self.resolution is not None and Decimal(self.resolution) <= 0:
            yield f"a resolution of {self.resolution} {self.unit} is none; it is the step of the last digit, such as 0.001"
        if self.low is not None and self.high is not None and Decimal(self.low) >= Decimal(self.high):
            yield f"the range ends at {self.high} {self.unit}, not above its start at {self.low} {self.unit}"
        if self.percent_of_range is not None and (self.high is None or Decimal(self.high) <= 0):
            yield "percent_of_range needs the end of the range, 'high'"
        yield from self._faults_of_temperature()

    def _faults_of_temperature(self) -> Iterator[str]:
        steps = [n for n in ("per_degree", "percent_per_degree") if getattr(self, n) is not None]
        if len(steps) > 1:
            yield "give per_degree (times the stated accuracy) or percent_per_degree (of the reading), not both"
        if steps and self.temperature is None:
            yield f"{steps[0]} needs the band it starts from: temperature: {{low: 18, high: 28, unit: °C}}"
        if self.operating is not None and self.temperature is None:
            yield "operating needs the band inside which the accuracy holds as stated, 'temperature'"
        if self.valid_months is not None and not 1 <= self.valid_months <= 240:
            yield f"valid_months is {self.valid_months}; an accuracy holds for 1 to 240 months after calibration"

    @field_validator("unit")
    @classmethod
    def _unit(cls, value: str) -> str:
        return unit_of(value)


class Instrument(Record):
    """A device used to measure: what it is, how good it is, and when that was last shown."""

    kind: ClassVar[str] = "instrument"
    label: ClassVar[str] = "Instrument"

    description: Line  # type and function, no brand needed
    serial: Line | None = None
    accuracies: tuple[Accuracy, ...] = ()
    calibrated: When | None = None
    calibration_due: When | None = None
    calibration_document: Line | None = None
    checked_against: Line | None = None
    software: Line | None = None
    owner: PartyRef | None = None
    exhibits: tuple[ExhibitRef, ...] = ()

    @model_validator(mode="after")
    def _order(self) -> Instrument:
        if (
            self.calibrated
            and self.calibration_due
            and self.calibration_due.span.latest <= self.calibrated.span.earliest
        ):
            raise ValueError("calibration is due before it was done")
        return self

    def summary(self) -> str:
        """What and which."""
        return self.description + (f", serial {self.serial}" if self.serial else ", serial not stated")
