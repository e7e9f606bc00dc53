"""How far a reading can be off, from the instrument's own statement or, without one, from the digits that were read.

Limits of error a = reading x percent + counts x resolution + fixed, taken as rectangular: u = a / sqrt(3)
(JCGM 100, 4.3.7). Repeats add the standard deviation of their mean (4.2.3). U = 2 u. Counts of things are exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from evidence.measure.quantities import convert, convert_difference
from evidence.model.examination import Accuracy, Instrument, Measurement
from evidence.model.quantity import QUANTITIES

_ROOT_3 = Decimal(3).sqrt()
COVERAGE = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """A value with its standard uncertainty, both in ``unit``, and where the uncertainty comes from.

    ``beyond`` marks an instrument that showed over- or under-range: the true value lies above or below ``value``.
    """

    value: Decimal
    unit: str
    standard: Decimal = Decimal(0)
    half_width: Decimal = Decimal(0)
    basis: str = "exact"
    beyond: Literal["above", "below"] | None = None

    @property
    def expanded(self) -> Decimal:
        """U = 2 u, about 95 % coverage."""
        return COVERAGE * self.standard

    def into(self, unit: str) -> Value:
        """The same in another unit of the dimension."""
        if unit == self.unit:
            return self
        return Value(
            value=convert(self.value, self.unit, unit), unit=unit,
            standard=abs(convert_difference(self.standard, self.unit, unit)),
            half_width=abs(convert_difference(self.half_width, self.unit, unit)), basis=self.basis, beyond=self.beyond,
        )  # fmt: skip

    def words(self) -> str:
        """``0.240 V ± 0.0037 V``; the uncertainty with two significant digits."""
        sign = {"above": "> ", "below": "< "}.get(self.beyond or "", "")
        unit = "" if self.unit in ("count", "ratio") else f" {self.unit}"
        if not self.standard:
            return f"{sign}{plain(self.value)}{unit}"
        margin, value = round_to(self.expanded, 2), self.value
        if len(value.as_tuple().digits) > 9:  # digits that only arithmetic made end where the uncertainty ends
            value = value.quantize(margin)
        return f"{sign}{plain(value)}{unit} ± {margin:f}{unit}"


def of_measurement(measurement: Measurement, instrument: Instrument | None) -> Value:
    """The measured value with its uncertainty; repeats are further readings of the same thing, and are averaged."""
    readings = [measurement.number, *(Decimal(r) for r in measurement.repeats)]
    mean = sum(readings, Decimal(0)) / len(readings) if len(readings) > 1 else readings[0]
    half_width, basis = limits_of_error(mean, measurement.quantity, measurement.unit, measurement.value, instrument)
    systematic = half_width / _ROOT_3
    scatter = standard_of_mean(readings)
    standard = (systematic**2 + scatter**2).sqrt() if scatter else systematic
    if scatter:
        basis += f"; scatter of {len(readings)} readings"
    return Value(
        value=mean, unit=measurement.unit, standard=standard, half_width=half_width, basis=basis,
        beyond=measurement.beyond_range,
    )  # fmt: skip


def of_reading(text: str, unit: str, *, stated: str | None = None) -> Value:
    """A number read without an instrument of its own. ``stated`` is an expanded uncertainty, from whoever read it."""
    number = Decimal(text)
    if stated is not None:
        standard = abs(Decimal(stated)) / COVERAGE
        return Value(
            value=number, unit=unit, standard=standard, half_width=standard * _ROOT_3, basis="as stated with it"
        )
    half_width, basis = limits_of_error(number, "", unit, text, None)
    return Value(value=number, unit=unit, standard=half_width / _ROOT_3, half_width=half_width, basis=basis)


def limits_of_error(
    value: Decimal, quantity: str, unit: str, text: str, instrument: Instrument | None
) -> tuple[Decimal, str]:
    """Half-width a in ``unit``, and where it comes from in words."""
    if unit == "count":
        return Decimal(0), "a count is exact"
    step = last_digit(text)
    accuracy = matching(instrument.accuracies, value, quantity, unit) if instrument else None
    if accuracy is None:
        return step / 2, "half of the last digit read; no accuracy stated for the instrument"
    half_width, parts = Decimal(0), []
    if accuracy.percent:
        half_width += abs(value) * Decimal(accuracy.percent) / 100
        parts.append(f"{accuracy.percent} % of reading")
    if accuracy.counts:
        if accuracy.resolution:
            step = convert_difference(Decimal(accuracy.resolution), accuracy.unit, unit)
        half_width += Decimal(accuracy.counts) * step
        parts.append(f"{accuracy.counts} counts of {plain(step)} {unit}")
    if accuracy.fixed:
        half_width += convert_difference(Decimal(accuracy.fixed), accuracy.unit, unit)
        parts.append(f"{accuracy.fixed} {accuracy.unit}")
    if not parts:
        return step / 2, "half of the last digit read; no accuracy stated for the instrument"
    return half_width, "± (" + " + ".join(parts) + ") by the instrument's statement"


def matching(accuracies: Sequence[Accuracy], value: Decimal, quantity: str, unit: str) -> Accuracy | None:
    """The statement for this function and the narrowest range that holds the value.

    One for the very quantity goes before one for its dimension (a meter states volts, and reads a voltage drop).
    """
    dimension = QUANTITIES.get(quantity)
    fitting: list[tuple[bool, Decimal, int, Accuracy]] = []
    for place, accuracy in enumerate(accuracies):
        if QUANTITIES[accuracy.quantity] != dimension:
            continue
        here = convert(value, unit, accuracy.unit)
        low = Decimal(accuracy.low) if accuracy.low is not None else None
        high = Decimal(accuracy.high) if accuracy.high is not None else None
        inside = (low is None or low <= here) and (high is None or abs(here) <= high)
        if inside:
            width = convert(high, accuracy.unit, unit) if high is not None else Decimal("Infinity")
            fitting.append((accuracy.quantity != quantity, width, place, accuracy))
    return min(fitting, key=lambda f: f[:3])[3] if fitting else None


def standard_of_mean(readings: Sequence[Decimal]) -> Decimal:
    """Experimental standard deviation of the mean; zero for a single reading."""
    n = len(readings)
    if n < 2:
        return Decimal(0)
    mean = sum(readings, Decimal(0)) / n
    return (sum(((r - mean) ** 2 for r in readings), Decimal(0)) / (n - 1) / n).sqrt()


def last_digit(text: str) -> Decimal:
    """The resolution that the digits show: "0.240" was read to 0.001."""
    exponent = Decimal(text).as_tuple().exponent
    return Decimal(1).scaleb(exponent) if isinstance(exponent, int) else Decimal(0)


def plain(value: Decimal) -> str:
    """Without exponent and without digits that only arithmetic made."""
    if len(value.as_tuple().digits) > 9:
        value = value.normalize()
        if len(value.as_tuple().digits) > 9:
            value = round_to(value, 6)
    return f"{value:f}"


def two_digits(value: Decimal) -> str:
    """Two significant digits, as uncertainties are given (JCGM 100, 7.2.6)."""
    return f"{round_to(value, 2):f}"


def round_to(value: Decimal, digits: int) -> Decimal:
    """``value`` with that many significant digits."""
    if not value:
        return Decimal(0)
    return value.quantize(Decimal(1).scaleb(value.adjusted() - digits + 1))
