"""Uncertainty against JCGM 100 (the GUM) and meter statements of the form ±(% of reading + counts)."""

from decimal import Decimal

import pytest
from evidence.measure.uncertainty import of_measurement, of_reading, standard_of_mean
from evidence.model.examination import Measurement
from evidence.model.instrument import Instrument


def meter(**accuracy):
    base = {"quantity": "voltage", "unit": "V"}
    return Instrument(description="multimeter", accuracies=[{**base, **accuracy}])


def reading(value, unit="V", quantity="voltage", **more):
    return Measurement(quantity=quantity, value=value, unit=unit, of="x", **more)


METERS = [  # reading, percent, counts, resolution, a, u. First row: a maker's help page; the rest computed by hand
    ("2.000", "0.08", "2", "0.001", "0.0036", "0.002078"),
    ("12.60", "0.5", "2", "0.01", "0.083", "0.04792"),
    ("14.250", "0.05", "1", "0.001", "0.008125", "0.004691"),
]


@pytest.mark.parametrize(("value", "percent", "counts", "resolution", "a", "u"), METERS)
def test_percent_and_counts(value, percent, counts, resolution, a, u):
    got = of_measurement(reading(value), meter(percent=percent, counts=counts, resolution=resolution))
    assert got.half_width == Decimal(a)
    assert got.standard == pytest.approx(Decimal(u), rel=Decimal("0.001"))


def test_resolution_comes_from_the_digits_when_the_statement_has_none():
    assert of_measurement(reading("12.60"), meter(percent="0.5", counts="2")).half_width == Decimal("0.083")


def test_milliohm_on_an_ohm_range_is_useless_for_a_ground():
    ohms = Instrument(
        description="m",
        accuracies=[{"quantity": "resistance", "unit": "Ω", "percent": "0.9", "counts": "2", "resolution": "0.1"}],
    )
    got = of_measurement(reading("0.3", "Ω", "resistance"), ohms)
    assert got.half_width == Decimal("0.2027")
    assert got.standard == pytest.approx(Decimal("0.1170"), abs=Decimal("0.0001"))


def test_gum_4_3_7_voltmeter():  # a = 15.0 µV, u = 8.66 µV; the range part is a fixed amount
    volts = meter(percent="0.0014", fixed="0.000002")
    got = of_measurement(reading("0.928571"), volts)
    assert got.half_width == pytest.approx(Decimal("0.000015"), rel=Decimal("0.01"))
    assert got.standard == pytest.approx(Decimal("8.66e-6"), rel=Decimal("0.01"))


def test_gum_h2_voltage_repeats():  # JCGM 100 table H.2: mean 4.9990 V, s of the mean 0.0032 V
    volts = [Decimal(v) for v in ("5.007", "4.994", "5.005", "4.990", "4.999")]
    assert standard_of_mean(volts) == pytest.approx(Decimal("0.0032"), abs=Decimal("0.00005"))
    got = of_measurement(reading("5.007", repeats=["4.994", "5.005", "4.990", "4.999"]), None)
    assert got.value == Decimal("4.999")
    assert got.standard > standard_of_mean(volts)


def test_without_a_statement_half_of_the_last_digit():
    got = of_measurement(reading("0.240"), None)
    assert got.half_width == Decimal("0.0005")
    assert "no accuracy stated" in got.basis


def test_the_narrowest_range_that_holds_the_value_is_taken():
    ranged = Instrument(
        description="m",
        accuracies=[
            {"quantity": "voltage", "unit": "V", "high": "600", "percent": "1"},
            {"quantity": "voltage", "unit": "mV", "high": "600", "percent": "0.5"},
        ],
    )
    assert of_measurement(reading("0.200", quantity="voltage_drop"), ranged).half_width == Decimal("0.001")
    assert of_measurement(reading("12.00"), ranged).half_width == Decimal("0.12")


def test_a_count_is_exact_and_a_stated_uncertainty_is_expanded():
    assert of_reading("0", "count").standard == 0
    assert of_reading("100", "rpm", stated="4").standard == 2
