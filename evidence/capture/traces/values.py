"""A feature as it was read: a number, how far it may be off, and a remark; units and digits for the record."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from evidence.capture.traces.recording import CannotRead

_CLOCK: Final = 1e-4
_WORTHLESS: Final = 0.5  # of the value: a reading that may be off by more is none


@dataclass(frozen=True, slots=True)
class Found:
    """A value with limits of error, both in ``unit`` (seconds for times). Counts are exact."""

    value: float
    off: float
    unit: str
    note: str = ""


def counted(number: int, thing: str) -> str:
    """``1 pulse``, ``4 pulses``."""
    return f"{number} {thing}" + ("" if number == 1 else "s")


def positive(value: float, off: float, unit: str, note: str = "") -> Found:
    """A value that is known well enough to be one; :class:`CannotRead` otherwise."""
    if not math.isfinite(value) or off > _WORTHLESS * abs(value):
        raise CannotRead(f"it could be off by {off / abs(value):.0%}" if value else "it comes out as nothing")
    return Found(value, off, unit, note)


def with_clock(found: Found) -> Found:
    """Times, speeds and frequencies are as good as the recorder's clock; taken as 1 in 10,000 (common practice, no source)."""
    if found.unit not in ("s", "Hz", "rpm"):
        return found
    return Found(found.value, found.off + _CLOCK * abs(found.value), found.unit, found.note)


def in_time_unit(found: Found) -> Found:
    """Seconds as milliseconds or microseconds where a person would say so."""
    if found.unit != "s" or found.value == 0:
        return found
    size = abs(found.value)
    factor, unit = (1.0, "s") if size >= 1 else (1e3, "ms") if size >= 1e-4 else (1e6, "µs")
    return Found(found.value * factor, found.off * factor, unit, found.note)


def texts(found: Found) -> tuple[str, str | None]:
    """Value and uncertainty as plain decimals: two digits of uncertainty, rounded up, and the value to the same place."""
    if found.unit == "count" and not found.off:
        exact = Decimal(repr(round(found.value, 3))).normalize()
        return f"{exact:f}", None
    off = max(found.off, abs(found.value) * 1e-9, 1e-12)
    places = max(0, 1 - math.floor(math.log10(off)))
    scale = 10.0**places
    return f"{found.value:.{places}f}", f"{math.ceil(off * scale - 1e-9) / scale:.{places}f}"
