"""A recorded trace: its file, its channels, and what was read from it, by a person or by the program."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from pydantic import field_validator, model_validator

from evidence.model.base import Component, Count, ExhibitRef, Line, Plain, Slug, Value, say
from evidence.model.examination import Taken
from evidence.model.quantity import check_unit, unit_of

FeatureName = Literal[
    "pulses_per_cycle", "pulse_count", "pulse_width", "peak_voltage", "peak_current", "mean_current", "frequency", "duty",
    "dwell", "engine_speed", "ripple_frequency", "relative_compression", "cranking_compression", "voltage_drop",
    "pulse_period", "events_per_cycle", "missing_events", "cycles_read", "ripple_count", "pump_speed", "peak_pressure",
    "event_to_top",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Engine:
    """What the vehicle record says of the engine."""

    cylinders: int | None = None
    firing_order: tuple[str, ...] = ()


class Channel(Value):
    """One column of a waveform file, what it stands for, and what the program is to read from it.

    The last fields say what a trace cannot tell of itself; without them some features cannot be read.
    """

    column: Line
    quantity: Line
    unit: str
    of: Component | None = None
    position: Slug | None = None
    scale: Plain | None = None  # units of the quantity for each unit in the file
    find: tuple[FeatureName, ...] = ()
    active: Literal["low", "high"] | None = None  # which level is the pulse
    threshold: Plain | None = None  # in ``unit``: what a pulse crosses
    event: Literal["start", "end"] | None = None  # which edge of a pulse is the event; "start" where not stated
    per_cycle: Count | None = None  # pulses or humps expected in one engine cycle of two turns
    bars: tuple[Count, ...] = ()  # assumed numbers of commutator bars of a motor
    full_scale: tuple[Plain, Plain] | None = None  # ends of the recorder's range, in ``unit``

    @field_validator("unit")
    @classmethod
    def _unit(cls, value: str) -> str:
        return unit_of(value)

    @model_validator(mode="after")
    def _fits(self) -> Channel:
        check_unit(self.quantity, self.unit)
        if self.find and self.of is None:
            raise ValueError("says what to find, and not 'of' which component it then is")
        if 0 in (self.per_cycle, *self.bars):
            raise ValueError("'per_cycle' and 'bars' count from 1")
        return self


class Feature(Value):
    """Something read from the trace: a number with its unit, said by a person or a named program."""

    feature: FeatureName
    value: Plain
    unit: str
    uncertainty: Plain | None = None  # by the program: limits that held in 99 % of trials, without the instrument's own
    of: Component
    position: Slug | None = None
    read_by: Line
    note: Line | None = None  # how it was read: over how many pulses, between which values

    @field_validator("unit")
    @classmethod
    def _unit(cls, value: str) -> str:
        return unit_of(value)

    def amount(self) -> str:
        """Value, uncertainty, unit: ``11.18 ± 0.10 ms``."""
        off = f" ± {self.uncertainty}" if self.uncertainty else ""
        return self.value + off + ("" if self.unit == "count" else f" {self.unit}")

    def words(self) -> str:
        """One line."""
        how = f" ({self.note})" if self.note else ""
        return f"{say(self.feature)}, {_place(self.of, self.position)}: {self.amount()}{how}, read by {self.read_by}"


class NotRead(Value):
    """A feature that the trace does not allow to be read, and why."""

    feature: FeatureName
    of: Component
    position: Slug | None = None
    why: Line

    def words(self) -> str:
        """One line."""
        return f"{say(self.feature)}, {_place(self.of, self.position)}: cannot be read, {self.why}"


class Marked(Value):
    """Places on one column where something was read, for the plot: moments in the file's time unit, or levels."""

    column: Line
    what: Literal["pulse_start", "pulse_end", "hump", "top", "level"]
    at: tuple[Plain, ...]
    more: Count | None = None  # further ones, which are not listed


class TraceReading(Value):
    """What the program read from the file when the record was made. Judgement reads this and never the file."""

    program: Line
    cylinders: Count | None = None  # of the engine, by the vehicle record as it stood
    firing_order: tuple[Slug, ...] = ()
    features: tuple[Feature, ...] = ()
    not_read: tuple[NotRead, ...] = ()
    marked: tuple[Marked, ...] = ()

    def words(self) -> str:
        """A line for each feature; what is only there for the plot is left out."""
        lines = [f.words().removesuffix(f", read by {self.program}") for f in self.features]
        return "\n".join([f"by {self.program}", *lines, *(n.words() for n in self.not_read)])


def _place(of: str, position: str | None) -> str:
    return say(of) + (f" {say(position)}" if position else "")


class Waveform(Taken):
    """A recorded trace: the file, its channels, and what was read from it."""

    kind: ClassVar[str] = "waveform"
    label: ClassVar[str] = "Waveform"
    filled_in: ClassVar[frozenset[str]] = frozenset({"read"})

    trace: ExhibitRef
    title: Line
    time_column: Line
    time_unit: Literal["s", "ms", "µs"]
    channels: tuple[Channel, ...]
    features: tuple[Feature, ...] = ()  # read by a person
    cycles_shown: Count | None = None
    read: TraceReading | None = None  # by the program; filled in at intake

    @property
    def all_features(self) -> tuple[Feature, ...]:
        """What persons read, then what the program read."""
        return self.features + (self.read.features if self.read else ())

    @property
    def asked(self) -> bool:
        """Whether the program is to read anything."""
        return any(c.find for c in self.channels)

    def summary(self) -> str:
        """Title and channels."""
        return f"{self.title} ({', '.join(c.column for c in self.channels)})"
