"""Clock references: what a device's clock showed at a time that is known from elsewhere."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, model_validator

from evidence.model.base import ExhibitRef, InstrumentRef, Line, PartyRef, Record, Text, say
from evidence.model.quantity import Reading
from evidence.model.when import When, span_of, utc_text

ReferenceSource = Literal[
    "reference_clock", "network_time", "radio_time", "satellite_time", "shared_event", "scan_tool", "other_device",
]  # fmt: skip
MICROSECONDS = {"ms": 1_000, "s": 1_000_000, "min": 60_000_000, "h": 3_600_000_000, "d": 86_400_000_000}  # by unit


def _as_shown(raw: Any) -> Any:
    """A device's clock as it showed: the dossier's zone is not put to it, for the device may be set to another."""
    given = raw.get("given") if isinstance(raw, dict) and "earliest" not in raw else raw
    if not isinstance(given, str):
        return raw
    text = given.strip()
    span = span_of(text, None)
    return When(given=text, earliest=utc_text(span.earliest), latest=utc_text(span.latest), source="device_clock")


Shown = Annotated[When, BeforeValidator(_as_shown)]


class ClockReference(Record):
    """What the clock of a camera, phone, tool or recorder showed at a moment known from elsewhere.

    The reading is ``clock_showed``, or the capture time that the device wrote into the first of ``exhibits`` that
    it made itself: a photo of a reference clock states both at once.
    """

    kind: ClassVar[str] = "clock_reference"
    label: ClassVar[str] = "Clock reference"

    device: Line | None = None  # as the exhibits name it, or as their files do
    instrument: InstrumentRef | None = None
    clock_showed: Shown | None = None
    true_time: When
    uncertainty: Reading  # the true time is surely within plus or minus this
    source: ReferenceSource
    source_text: Text | None = None  # which clock, which event
    clock_set_after: bool | None = None  # the device's clock was set right after this
    by: PartyRef | None = None
    exhibits: tuple[ExhibitRef, ...] = ()
    note: Text | None = None

    @model_validator(mode="after")
    def _whole(self) -> ClockReference:
        if (self.device is None) == (self.instrument is None):
            raise ValueError("names either a device or an instrument; write 'device: …' or 'instrument: …'")
        if self.clock_showed is None and not self.exhibits:
            raise ValueError(
                "says nowhere what the clock showed; write 'clock_showed: …', or name the photo the device took"
            )
        if not self.true_time.zone_known:
            raise ValueError("the true time has no zone; write it with its offset from UTC")
        if self.uncertainty.unit not in MICROSECONDS or self.uncertainty.number < 0:
            raise ValueError("the uncertainty is no length of time; write it such as '1 s' or '2 min'")
        return self

    @property
    def half_width(self) -> Fraction:
        """The uncertainty of the true time, microseconds."""
        return Fraction(self.uncertainty.number) * MICROSECONDS[self.uncertainty.unit]

    def summary(self) -> str:
        """Which clock was held against what."""
        shown = self.clock_showed.given if self.clock_showed else "its own file"
        return f"{self.device or 'instrument'}: {shown} at {self.true_time.given}, by {say(self.source)}"
