"""How far an instrument can be off by its own statement, for one reading: function, range, temperature, age of the calibration.

Limits of error a = reading x percent + range x percent + counts x resolution + fixed; they are taken as rectangular
(JCGM 100, 4.3.7). Each is given twice: as stated, and as it counts where the reading is to support something. What the
record leaves open widens the second one only, so that it never helps the side that must show something, and never weakens a
reading that speaks against it.
"""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from evidence.measure.figures import plain, with_unit
from evidence.measure.quantities import convert, convert_difference
from evidence.model.instrument import Accuracy, Band, Instrument
from evidence.model.quantity import QUANTITIES, UNITS, Reading
from evidence.model.when import TimeSpan

# Assumptions of this program, from no source. Each bears on support alone.
ASSUMED_PERCENT, ASSUMED_COUNTS = Decimal(10), Decimal(10)  # an instrument of which no accuracy is stated
ASSUMED_PER_DEGREE = Decimal("0.1")  # times the stated accuracy; what hand-held meters commonly state
ASSUMED_OPERATING = Decimal(25)  # kelvin that an instrument works beyond its band where nothing else is stated


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Half-widths in the unit of the reading. ``unreliable``: why the statement is not relied on for support, or empty."""

    half_width: Decimal
    strict: Decimal  # where the reading is to support something
    resolution: Decimal  # half of the last digit, where the statement does not include it
    basis: str
    unreliable: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What an instrument showed: a value in a unit, the step of its last digit, the room's temperature, and when."""

    value: Decimal
    quantity: str
    unit: str
    step: Decimal
    ambient: Reading | None = None
    at: TimeSpan | None = None


def limits_of(shown: Shown, instrument: Instrument | None) -> Limits:
    """The limits of error of one reading, and where they come from in words."""
    if shown.unit == "count":
        return Limits(half_width=Decimal(0), strict=Decimal(0), resolution=Decimal(0), basis="a count is exact")
    accuracy = matching(instrument.accuracies, shown.value, shown.quantity, shown.unit) if instrument else None
    if instrument is None or accuracy is None:
        return _unstated(shown, instrument)
    here = abs(convert(shown.value, shown.unit, accuracy.unit))
    read_to = convert_difference(shown.step, shown.unit, accuracy.unit)
    step = max(read_to, Decimal(accuracy.resolution)) if accuracy.resolution else read_to
    stated, parts = _stated(accuracy, here, read_to)
    includes_step = accuracy.counts is not None and not (accuracy.resolution and read_to > Decimal(accuracy.resolution))
    warmth = _warmth(accuracy, shown.ambient)

    def half_width(degrees: Decimal) -> Decimal:
        if accuracy.percent_per_degree is not None:
            wider = stated + here * Decimal(accuracy.percent_per_degree) / 100 * degrees
        else:
            each = Decimal(accuracy.per_degree) if accuracy.per_degree is not None else ASSUMED_PER_DEGREE
            wider = stated * (1 + each * degrees)
        return convert_difference(wider, accuracy.unit, shown.unit)

    basis = f"± ({' + '.join(parts)}) by the instrument's statement"
    if not includes_step:
        basis += f", and half of one step of {with_unit(plain(step), accuracy.unit)}"
    return Limits(
        half_width=half_width(warmth.degrees), strict=half_width(warmth.strict),
        resolution=Decimal(0) if includes_step else convert_difference(step, accuracy.unit, shown.unit) / 2,
        basis="; ".join(filter(None, (basis, warmth.words))),
        unreliable=warmth.unreliable or _aged(accuracy, instrument, shown.at),
    )  # fmt: skip


def matching(accuracies: Sequence[Accuracy], value: Decimal, quantity: str, unit: str) -> Accuracy | None:
    """The statement for this function and the narrowest range that holds the value.

    One for the very quantity goes before one for its dimension (a meter states volts, and reads a voltage drop). A range
    that starts at zero or above holds for either sign.
    """
    dimension = QUANTITIES.get(quantity)
    fitting: list[tuple[bool, Decimal, int, Accuracy]] = []
    for place, accuracy in enumerate(accuracies):
        if QUANTITIES[accuracy.quantity] != dimension:
            continue
        here = convert(value, unit, accuracy.unit)
        low = Decimal(accuracy.low) if accuracy.low is not None else None
        high = Decimal(accuracy.high) if accuracy.high is not None else None
        size = here if low is not None and low < 0 else abs(here)
        if (low is None or low <= size) and (high is None or size <= high):
            width = convert(high, accuracy.unit, unit) if high is not None else Decimal("Infinity")
            fitting.append((accuracy.quantity != quantity, width, place, accuracy))
    return min(fitting, key=lambda f: f[:3])[3] if fitting else None


def _unstated(shown: Shown, instrument: Instrument | None) -> Limits:
    dimension = QUANTITIES.get(shown.quantity)
    ranges = [a for a in instrument.accuracies if QUANTITIES[a.quantity] == dimension] if instrument else []
    why = "outside every range that the instrument states" if ranges else "no accuracy stated for the instrument"
    assumed = abs(shown.value) * ASSUMED_PERCENT / 100 + ASSUMED_COUNTS * shown.step
    return Limits(
        half_width=shown.step / 2, strict=max(assumed, shown.step / 2), resolution=Decimal(0),
        basis=f"{why}: half of the last digit read; where the reading is to support something ± ({ASSUMED_PERCENT} % of reading "
        f"+ {ASSUMED_COUNTS} counts) is assumed, from no source",
    )  # fmt: skip


def _stated(accuracy: Accuracy, here: Decimal, read_to: Decimal) -> tuple[Decimal, list[str]]:
    """Half-width in the unit of the statement, and its terms in words."""
    half_width, parts = Decimal(0), []
    step = Decimal(accuracy.resolution) if accuracy.resolution else read_to
    if accuracy.percent:
        half_width += here * Decimal(accuracy.percent) / 100
        parts.append(f"{accuracy.percent} % of reading")
    if accuracy.percent_of_range and accuracy.high:
        half_width += Decimal(accuracy.high) * Decimal(accuracy.percent_of_range) / 100
        parts.append(f"{accuracy.percent_of_range} % of {accuracy.high} {accuracy.unit}")
    if accuracy.counts:
        half_width += Decimal(accuracy.counts) * step
        parts.append(f"{accuracy.counts} counts of {with_unit(plain(step), accuracy.unit)}")
    if accuracy.fixed:
        half_width += Decimal(accuracy.fixed)
        parts.append(f"{accuracy.fixed} {accuracy.unit}")
    return half_width, parts


@dataclass(frozen=True, slots=True)
class _Warmth:
    """Degrees outside the band: by the record, and where the reading is to support something."""

    degrees: Decimal = Decimal(0)
    strict: Decimal = Decimal(0)
    words: str = ""
    unreliable: str = ""


def _warmth(accuracy: Accuracy, ambient: Reading | None) -> _Warmth:
    band = accuracy.temperature
    if band is None:
        return _Warmth()
    operating = accuracy.operating or _assumed_operating(band)
    low, high = (convert(Decimal(t), operating.unit, band.unit) for t in (operating.low, operating.high))
    worst = max(Decimal(band.low) - low, high - Decimal(band.high), Decimal(0))
    if ambient is None:
        told = (
            f"no ambient temperature stated: taken as within {band.words()} where the reading speaks against, "
            f"as anywhere from {operating.words()} where it is to support something"
        )
        return _Warmth(strict=worst, words=told)
    if ambient.unit not in UNITS["temperature"]:
        return _Warmth(strict=worst, words="the ambient temperature has no unit of temperature")
    there = convert(ambient.number, ambient.unit, band.unit)
    outside = max(Decimal(band.low) - there, there - Decimal(band.high), Decimal(0))
    if not outside:
        return _Warmth(words=f"read at {ambient.words()}, inside {band.words()}")
    coefficient = "" if accuracy.per_degree or accuracy.percent_per_degree else ", coefficient assumed"
    told = f"read at {ambient.words()}, {plain(outside)} degrees outside {band.words()}{coefficient}"
    if there < low or there > high:
        why = f"was read at {ambient.words()}, where the accuracy of its instrument is not stated ({operating.words()})"
        return _Warmth(degrees=outside, strict=outside, words=told, unreliable=why)
    return _Warmth(degrees=outside, strict=outside, words=told)


def _assumed_operating(band: Band) -> Band:
    reach = convert_difference(ASSUMED_OPERATING, "°C", band.unit)
    low, high = Decimal(band.low) - reach, Decimal(band.high) + reach
    return Band(low=plain(low), high=plain(high), unit=band.unit)


def _aged(accuracy: Accuracy, instrument: Instrument, at: TimeSpan | None) -> str:
    """Why the statement is too old to be relied on for a reading then. What the times leave open does not help."""
    if accuracy.valid_months is None:
        return ""
    months = f"{accuracy.valid_months} month{'s' if accuracy.valid_months > 1 else ''}"
    if instrument.calibrated is None:
        return f"rests on no dated calibration, and the accuracy of its instrument holds for {months} after one"
    end = _months_later(instrument.calibrated.span.earliest, accuracy.valid_months) + dt.timedelta(days=1)
    if at is not None and at.latest <= end:
        return ""
    return (
        f"is not shown to be taken while the accuracy of its instrument held, {months} after the calibration of "
        f"{instrument.calibrated.given}"
    )


def _months_later(moment: dt.datetime, months: int) -> dt.datetime:
    years, month = divmod(moment.month - 1 + months, 12)
    year = moment.year + years
    day = min(moment.day, calendar.monthrange(year, month + 1)[1])
    return moment.replace(year=year, month=month + 1, day=day)
