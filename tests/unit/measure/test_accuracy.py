"""Accuracy statements of instruments: range, temperature, age, last digit; and statements that are refused.

Temperature and age are handled as makers of hand-held meters state them (accuracy at 23 °C ± 5 °C for one year, 0.1 times the
accuracy for each degree outside): common practice, no source. The values are worked by hand.
"""

from decimal import Decimal

import pytest
from evidence.measure.uncertainty import Shown, Value, of_measurement, of_reading, off_by_instrument
from evidence.model.examination import Measurement
from evidence.model.instrument import Accuracy, Instrument
from evidence.model.quantity import UNITS
from evidence.model.when import When
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

YEAR = {"temperature": {"low": "18", "high": "28"}, "per_degree": "0.1", "valid_months": 12}
VOLTS = {"quantity": "voltage", "unit": "V", "percent": "0.5", "counts": "2", "resolution": "0.001"}


def at(text):
    return When.model_validate(text, context={"zone": "UTC"})


def meter(calibrated="2026-01-10", **accuracy):
    base = {"calibrated": at(calibrated)} if calibrated else {"checked_against": "a reference"}
    return Instrument(description="meter", accuracies=[{**VOLTS, **accuracy}], **base)


def drop(value="0.200", ambient=None, time="2026-05-05 10:00", **more):
    circumstances = {"ambient_temperature": ambient} if ambient else {}
    return Measurement(
        quantity="voltage_drop", value=value, unit="V", of="x", circumstances=circumstances, time=at(time), **more
    )


def test_inside_the_band_the_accuracy_is_as_stated():
    found = of_measurement(drop(ambient="23 °C"), meter(**YEAR))
    assert found.half_width == Decimal("0.003")  # 0.5 % of 0.200 V + 2 mV
    assert found.to_support() is found
    assert "read at 23 °C, inside 18 to 28 °C" in found.basis


@pytest.mark.parametrize(("ambient", "a"), [("33 °C", "0.0045"), ("8 °C", "0.006"), ("91.4 °F", "0.0045"), ("306.15 K", "0.0045")])
def test_each_degree_outside_adds_its_share(ambient, a):
    found = of_measurement(drop(ambient=ambient), meter(**YEAR))
    assert found.half_width == Decimal(a)
    assert "degrees outside 18 to 28 °C" in found.basis


def test_a_coefficient_in_percent_of_the_reading():
    found = of_measurement(drop(ambient="33 °C"), meter(temperature={"low": "18", "high": "28"}, percent_per_degree="0.05"))
    assert found.half_width == Decimal("0.0035")  # 0.003 + 0.200 x 0.05 % x 5


def test_without_a_temperature_support_bears_the_worst_of_the_operating_range():
    found = of_measurement(drop(), meter(**YEAR))
    assert found.half_width == Decimal("0.003")
    assert found.to_support().half_width == Decimal("0.0105")  # 25 degrees assumed on either side: 2.5 times more
    assert "no ambient temperature stated" in found.basis
    narrow = of_measurement(drop(), meter(operating={"low": "10", "high": "40"}, **YEAR))
    assert narrow.to_support().half_width == Decimal("0.0066")  # 12 degrees above the band


def test_beyond_the_operating_range_the_statement_supports_nothing():
    found = of_measurement(drop(ambient="-10 °C"), meter(**YEAR))
    assert "is not stated (-7 to 53 °C)" in found.unreliable


@given(st.integers(-7, 53))
def test_leaving_the_temperature_out_never_helps(celsius):
    stated = of_measurement(drop(ambient=f"{celsius} °C"), meter(**YEAR)).to_support()
    silent = of_measurement(drop(), meter(**YEAR)).to_support()
    assert silent.expanded >= stated.expanded


@pytest.mark.parametrize(
    ("time", "holds"), [("2027-01-10 18:00", True), ("2027-01-12", False), ("2026-05", True), ("2026-06 / 2027-06", False)]
)
def test_a_statement_for_a_year_after_calibration(time, holds):
    found = of_measurement(drop(time=time), meter(valid_months=12))
    assert (found.unreliable == "") == holds
    assert found.half_width == Decimal("0.003")  # what speaks against keeps its weight


def test_a_month_may_be_shorter_than_the_day_of_calibration():
    assert not of_measurement(drop(time="2026-02-28 10:00"), meter("2026-01-31", valid_months=1)).unreliable
    assert of_measurement(drop(time="2026-03-02 10:00"), meter("2026-01-31", valid_months=1)).unreliable


def test_without_a_date_of_calibration_a_statement_that_ages_supports_nothing():
    assert "no dated calibration" in of_measurement(drop(), meter(calibrated=None, valid_months=12)).unreliable
    assert not of_measurement(drop(), meter(calibrated=None)).unreliable


def test_percent_of_the_range_as_gauges_state_it():  # class 1.6 gauge of 16 bar: 0.256 bar anywhere on it
    gauge = Instrument(
        description="gauge",
        accuracies=[{"quantity": "pressure", "unit": "bar", "low": "0", "high": "16", "percent_of_range": "1.6", "resolution": "0.5"}],
    )
    found = of_measurement(Measurement(quantity="fuel_pressure", value="3.5", unit="bar", of="x"), gauge)
    assert found.half_width == Decimal("0.256")
    # u = sqrt((0.256² + 0.25²) / 3): half of the scale's step comes to it
    assert round(found.standard, 4) == Decimal("0.2066")


def test_half_of_the_last_digit_comes_to_a_statement_without_counts():
    found = of_measurement(drop("0.20"), meter(counts=None, percent="0", fixed="0.003"))
    assert found.half_width == Decimal("0.003")
    assert found.standard == ((Decimal("0.003") ** 2 + Decimal("0.005") ** 2) / 3).sqrt()  # read to 0.01 V only


def test_a_digit_that_was_not_written_down_counts_too():
    fine, coarse = (of_measurement(drop(v), meter()) for v in ("0.200", "0.2"))
    assert fine.half_width == coarse.half_width == Decimal("0.003")
    assert coarse.standard == ((Decimal("0.003") ** 2 + Decimal("0.05") ** 2) / 3).sqrt()


def test_no_statement_is_assumed_wide_where_it_is_to_support():
    bare = Instrument(description="meter", calibrated=at("2026-01-10"))
    found = of_measurement(drop("0.240"), bare)
    assert found.half_width == Decimal("0.0005")
    assert found.to_support().half_width == Decimal("0.034")  # 10 % + 10 counts
    other = of_measurement(Measurement(quantity="current", value="5.0", unit="A", of="x"), meter())
    assert "no accuracy stated" in other.basis
    beyond = of_measurement(drop("7.000"), meter(high="6"))
    assert "outside every range" in beyond.basis


def test_a_range_that_starts_below_zero_is_held_with_its_sign():
    probe = {"quantity": "temperature", "unit": "°C", "low": "-40", "high": "20", "fixed": "2", "counts": "0"}
    warm = {"quantity": "temperature", "unit": "°C", "low": "20", "high": "500", "fixed": "5", "counts": "0"}
    thermometer = Instrument(description="t", accuracies=[probe, warm])
    assert of_measurement(Measurement(quantity="temperature", value="-30", unit="°C", of="x"), thermometer).half_width == 2
    assert of_measurement(Measurement(quantity="temperature", value="212", unit="°F", of="x"), thermometer).half_width == 9


def test_percent_of_a_temperature_is_taken_in_the_unit_of_the_statement():
    thermometer = Instrument(description="t", accuracies=[{"quantity": "temperature", "unit": "°C", "percent": "1", "counts": "0"}])
    found = of_measurement(Measurement(quantity="temperature", value="212", unit="°F", of="x"), thermometer)
    assert found.half_width == Decimal("1.8")  # 1 °C at 100 °C


def test_five_repeats_with_their_degrees_of_freedom():
    """JCGM 100, table H.2 voltages without an instrument: u_A 0.0032 V at 4 degrees, u of half a digit 0.00029 V."""
    found = of_measurement(drop("5.007", repeats=["4.994", "5.005", "4.990", "4.999"]), None)
    assert found.freedom == 4
    assert round(found.factor, 2) == Decimal("2.87")  # table G.2, 95.45 %
    assert "k = 2.87 for 4 degrees of freedom" in found.basis


def test_a_trace_bears_the_error_of_its_recorder():
    read = of_reading("12.0", "V", stated="0.2")
    shown = Shown(value=read.value, quantity="voltage", unit="V", step=Decimal("0.1"))
    scope = Instrument(description="s", accuracies=[{"quantity": "voltage", "unit": "V", "percent": "2", "counts": "0", "resolution": "0.1"}])
    found = off_by_instrument(read, shown, scope)
    assert found.standard == (Decimal("0.1") ** 2 + (Decimal("0.24") / Decimal(3).sqrt()) ** 2).sqrt()
    assert off_by_instrument(read, shown, None) == read


BAD = [
    ({"percent": None, "counts": None}, "at least one of percent"),
    ({"percent": "0", "counts": "0"}, "never off"),
    ({"percent": "-0.5"}, "without a sign"),
    ({"low": "6", "high": "6"}, "not above its start"),
    ({"percent_of_range": "1"}, "needs the end of the range"),
    ({"resolution": "0"}, "is none"),
    ({"per_degree": "0.1"}, "needs the band it starts from"),
    ({"temperature": {"low": "28", "high": "18"}}, "not above its start"),
    ({"temperature": {"low": "18", "high": "28", "unit": "V"}}, "a temperature is not measured in V"),
    ({"temperature": {"low": "18", "high": "28"}, "per_degree": "0.1", "percent_per_degree": "1"}, "not both"),
    ({"operating": {"low": "0", "high": "40"}}, "needs the band inside which"),
    ({"valid_months": 0}, "1 to 240 months"),
    ({"percent": "half"}, "plain decimal"),
    ({"unit": "A"}, "a voltage is not measured in A"),
]  # fmt: skip


@pytest.mark.parametrize(("wrong", "told"), BAD)
def test_a_bad_statement_is_refused_with_what_is_wrong(wrong, told):
    with pytest.raises(ValidationError, match=told):
        Accuracy.model_validate({**VOLTS, **wrong})


def test_an_ambient_temperature_has_a_unit_of_temperature():
    with pytest.raises(ValidationError, match="a temperature is not measured in V"):
        drop(ambient="23 V")


LENGTHS = [(q, u) for q, u in (("voltage", "V"), ("pressure", "psi"), ("temperature", "°F"), ("torque", "lbf·ft"), ("distance", "mi"))]


@given(st.sampled_from(LENGTHS), st.decimals("1", "400", places=1), st.data())
def test_a_statement_in_another_unit_gives_the_same_half_width(what, value, data):
    quantity, unit = what
    dimension = next(d for d, units in UNITS.items() if unit in units)
    other = data.draw(st.sampled_from(list(UNITS[dimension])))
    accuracy = {"quantity": quantity, "unit": other, "percent": "1", "counts": "1", "resolution": "0.5"}
    held = Instrument(description="x", accuracies=[accuracy])
    found = of_measurement(Measurement(quantity=quantity, value=str(value), unit=unit, of="x"), held)
    there = Value(value=value, unit=unit).into(other)
    expected = (abs(there.value) / 100 + Decimal("0.5")).normalize()
    assert abs(found.into(other).half_width - expected) <= expected * Decimal("1e-20")
