"""Conversions against NIST SP 811 Appendix B and the exact definitions of pound, inch, mile and standard gravity."""

from decimal import Decimal

import pytest
from evidence.measure.quantities import convert, convert_difference
from evidence.model.quantity import UNITS, unit_of

SP_811 = [
    ("1", "psi", "kPa", "6.894757293168361"),
    ("150", "psi", "bar", "10.342135939752542"),
    ("1", "lbf·ft", "Nm", "1.3558179483314003"),
    ("1", "lbf·in", "Nm", "0.1129848290276167"),
    ("89", "lbf·ft", "Nm", "120.66779740149463"),
    ("1", "inHg", "kPa", "3.386388640341"),
    ("20", "inHg", "kPa", "67.72777"),
    ("1", "bar", "psi", "14.503773773020923"),
    ("1", "hp", "kW", "0.74569987158227"),
    ("1", "inH2O", "Pa", "249.08891"),
    ("1", "mmHg", "Pa", "133.322387415"),
    ("195", "°F", "°C", "90.5555555555"),
    ("20", "inHg", "Pa", "67727.77"),
    ("0", "°F", "°C", "-17.7777777778"),
]
EXACT = [
    ("1", "mi", "km", "1.609344"),
    ("62.5", "mi", "km", "100.584"),
    ("1", "gal", "L", "3.785411784"),
    ("1", "gal(UK)", "L", "4.54609"),
    ("1", "atm", "Pa", "101325"),
    ("1", "PS", "kW", "0.73549875"),
    ("-40", "°F", "°C", "-40"),
    ("32", "°F", "°C", "0"),
    ("98.6", "°F", "°C", "37"),
    ("212", "°F", "°C", "100"),
    ("221", "°F", "°C", "105"),
    ("36", "ft", "m", "10.9728"),
    ("18", "Δ°F", "Δ°C", "10"),
]


@pytest.mark.parametrize(("value", "unit", "to", "expected"), SP_811)
def test_factors_of_sp_811_to_seven_digits(value, unit, to, expected):
    got, want = convert(Decimal(value), unit, to), Decimal(expected)
    assert abs(got - want) <= abs(want) * Decimal("1e-7")


@pytest.mark.parametrize(("value", "unit", "to", "expected"), EXACT)
def test_exact_definitions_stay_exact(value, unit, to, expected):
    assert convert(Decimal(value), unit, to) == Decimal(expected)


def test_a_length_rounded_as_sp_811_b_7_does():  # 36 ft is 10.9728 m, given to as many digits as were read: 11.0 m
    assert round(convert(Decimal(36), "ft", "m"), 1) == Decimal("11.0")


@pytest.mark.parametrize(("spelt", "unit"), [("imp.gal", "gal(UK)"), ("gal(US)", "gal"), ("atm", "atm")])
def test_a_gallon_says_whose_it_is(spelt, unit):
    assert unit_of(spelt) == unit


def test_a_rise_is_not_a_temperature():  # SP 811: a rise of 18 °F is a rise of 10 °C
    assert convert_difference(Decimal(18), "°F", "°C") == 10
    assert convert(Decimal(18), "°F", "°C") == Decimal("-7.777777777777777777777777778")


@pytest.mark.parametrize("dimension", UNITS)
def test_every_unit_converts_and_comes_back(dimension):
    units = list(UNITS[dimension])
    for unit in units:
        there = convert(Decimal("12.5"), unit, units[0])
        back = convert(there, units[0], unit)
        assert abs(back - Decimal("12.5")) < Decimal("1e-18")


def test_other_dimension_is_refused():
    with pytest.raises(ValueError, match="not of one dimension"):
        convert(Decimal(1), "V", "A")
