"""How far a reading can be off: limits of the instrument, last digit and scatter of repeats, combined and expanded.

Limits and last digit are rectangular (JCGM 100:2008, 4.3.7), repeats add the standard deviation of their mean (4.2.3), the
sum is that of 5.1.2, and U = k u with the factor for 95.45 % at the effective degrees of freedom (annex G): 2 where no
number of readings bounds it. Counts of things are exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal

from evidence.measure.accuracy import Limits, Shown, limits_of, matching
from evidence.measure.combining import (
    COVERAGE,
    combined,
    coverage_factor,
    effective_freedom,
    rectangular,
    standard_of_mean,
)
from evidence.measure.figures import last_digit, plain, round_to, with_unit
from evidence.measure.quantities import convert, convert_difference
from evidence.model.examination import Measurement
from evidence.model.instrument import AMBIENT, Instrument
from evidence.model.when import TimeSpan


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """A value with its standard uncertainty, both in ``unit``, and where the uncertainty comes from.

    ``beyond`` marks an instrument that showed over- or under-range: the true value lies above or below ``value``.
    ``freedom`` are the degrees of freedom, ``None`` where no number of readings bounds them. ``strict`` is the same value
    as it counts where it is to support something, if that is another; ``unreliable`` why it cannot support at all.
    """

    value: Decimal
    unit: str
    standard: Decimal = Decimal(0)
    half_width: Decimal = Decimal(0)  # limits of error by the instrument's statement
    basis: str = "exact"
    beyond: Literal["above", "below"] | None = None
    freedom: int | None = None
    strict: Value | None = None
    unreliable: str = ""

    @property
    def factor(self) -> Decimal:
        """k of U = k u, for 95.45 %."""
        return coverage_factor(self.freedom)

    @property
    def expanded(self) -> Decimal:
        """U = k u, about 95 % coverage."""
        return self.factor * self.standard

    def to_support(self) -> Value:
        """The value as it counts where it is to support something: never with a smaller uncertainty."""
        return self.strict or self

    def into(self, unit: str) -> Value:
        """The same in another unit of the dimension."""
        if unit == self.unit:
            return self
        return replace(
            self, value=convert(self.value, self.unit, unit), unit=unit,
            standard=abs(convert_difference(self.standard, self.unit, unit)),
            half_width=abs(convert_difference(self.half_width, self.unit, unit)),
            strict=self.strict.into(unit) if self.strict else None,
        )  # fmt: skip

    def words(self) -> str:
        """``0.240 V ± 0.0037 V``; the uncertainty with two significant digits."""
        sign = {"above": "> ", "below": "< "}.get(self.beyond or "", "")
        if not self.standard:
            return sign + with_unit(plain(self.value), self.unit)
        margin, value = round_to(self.expanded, 2), self.value
        if len(value.as_tuple().digits) > 9:  # digits that only arithmetic made end where the uncertainty ends
            value = value.quantize(margin)
        return f"{sign}{with_unit(plain(value), self.unit)} ± {with_unit(f'{margin:f}', self.unit)}"


def of_measurement(measurement: Measurement, instrument: Instrument | None, at: TimeSpan | None = None) -> Value:
    """The measured value with its uncertainty; repeats are further readings of the same thing, and are averaged.

    ``at`` is when it was read, where that is better known than by the record's own time.
    """
    texts = [measurement.value, *measurement.repeats]
    readings = [Decimal(t) for t in texts]
    mean = sum(readings, Decimal(0)) / len(readings) if len(readings) > 1 else readings[0]
    limits = limits_of(
        Shown(
            value=mean, quantity=measurement.quantity, unit=measurement.unit, step=max(map(last_digit, texts)),
            ambient=measurement.circumstances.get(AMBIENT), at=at or (measurement.time.span if measurement.time else None),
        ),
        instrument,
    )  # fmt: skip
    plainly = _value(measurement, mean, limits, limits.half_width, readings)
    if limits.strict == limits.half_width:
        return plainly
    return replace(plainly, strict=_value(measurement, mean, limits, limits.strict, readings))


def _value(
    measurement: Measurement, mean: Decimal, limits: Limits, half_width: Decimal, readings: Sequence[Decimal]
) -> Value:
    scatter, basis = standard_of_mean(readings), limits.basis
    fixed = (
        combined([rectangular(half_width), rectangular(limits.resolution)])
        if limits.resolution
        else rectangular(half_width)
    )
    freedom = effective_freedom([(fixed, None), (scatter, len(readings) - 1)]) if scatter else None
    if scatter:
        basis += f"; scatter of {len(readings)} readings"
        if freedom is not None:
            basis += f", expanded with k = {round_to(coverage_factor(freedom), 3):f} for {freedom} degrees of freedom"
    return Value(
        value=mean, unit=measurement.unit, standard=combined([fixed, scatter]) if scatter else fixed, half_width=half_width,
        basis=basis, beyond=measurement.beyond_range, freedom=freedom, unreliable=limits.unreliable,
    )  # fmt: skip


def off_by_instrument(read: Value, shown: Shown, instrument: Instrument | None) -> Value:
    """A value read off something that the instrument made, such as a trace, with the instrument's own limits added.

    As it is where the instrument states no accuracy for the quantity.
    """
    if instrument is None or matching(instrument.accuracies, shown.value, shown.quantity, shown.unit) is None:
        return read
    limits = limits_of(shown, instrument)

    def widened(half_width: Decimal) -> Value:
        standard = combined([read.standard, rectangular(half_width)])
        basis = f"{read.basis}, and {limits.basis}"
        return replace(read, standard=standard, half_width=half_width, basis=basis, unreliable=limits.unreliable)

    plainly = widened(limits.half_width)
    return plainly if limits.strict == limits.half_width else replace(plainly, strict=widened(limits.strict))


def of_reading(text: str, unit: str, *, stated: str | None = None) -> Value:
    """A number read without an instrument of its own. ``stated`` is an expanded uncertainty, from whoever read it."""
    number = Decimal(text)
    if stated is not None:
        return Value(value=number, unit=unit, standard=abs(Decimal(stated)) / COVERAGE, basis="as stated with it")
    if unit == "count":
        return Value(value=number, unit=unit, basis="a count is exact")
    half_width = last_digit(text) / 2
    return Value(
        value=number,
        unit=unit,
        standard=rectangular(half_width),
        half_width=half_width,
        basis="half of the last digit read",
    )
