"""Combined and expanded uncertainty against the examples and tables of JCGM 100:2008 (the GUM)."""

import math
from decimal import ROUND_HALF_EVEN, Decimal
from statistics import NormalDist, mean

import pytest
from evidence.measure.combining import (
    combined,
    correlation,
    coverage_factor,
    effective_freedom,
    normal,
    rectangular,
    standard_of_mean,
)
from hypothesis import given
from hypothesis import strategies as st

# Table G.2, columns 95 % and 99 %, and 95.45 %: the factor that goes with k = 2
T_95 = {1: "12.706", 2: "4.303", 5: "2.571", 10: "2.228", 20: "2.086", 30: "2.042"}
T_9545 = {1: "13.97", 2: "4.53", 3: "3.31", 4: "2.87", 5: "2.65", 8: "2.37", 10: "2.28", 20: "2.13", 50: "2.05", 100: "2.025"}


@pytest.mark.parametrize(("freedom", "factor"), T_95.items())
def test_t_factors_of_table_g_2_for_95_percent(freedom, factor):
    assert round(coverage_factor(freedom, 0.95), 3) == Decimal(factor)


@pytest.mark.parametrize(("freedom", "factor"), T_9545.items())
def test_t_factors_of_table_g_2_for_95_45_percent(freedom, factor):
    digits = len(factor) - factor.index(".") - 1
    assert round(coverage_factor(freedom), digits) == Decimal(factor)


def test_without_a_bound_on_the_readings_the_factor_is_two():  # JCGM 100, 6.3.3: k = 2, about 95 %
    assert coverage_factor(None) == 2
    assert abs(coverage_factor(999) - 2) < Decimal("0.003")


def test_no_factor_stands_so_close_to_a_rounding_that_machines_could_differ():
    from evidence.measure import combining

    for freedom in range(1, combining._MANY):
        angle = math.atan(float(coverage_factor(freedom)) / math.sqrt(freedom))
        slope = (combining._within(angle * (1 + 1e-6), freedom) - combining._within(angle, freedom)) / (angle * 1e-6)
        off = (combining._within(angle, freedom) - combining.CONFIDENCE) / slope * math.sqrt(freedom) / math.cos(angle) ** 2
        assert abs(abs(off) - 5e-5) > 1e-10  # the unrounded factor lies that far from the middle of two steps


def test_rectangular_limits_of_4_4_5():  # ± 4 °C: 2.309 °C; and triangular, 4.4.6, stands beside it for its factor
    assert round(rectangular(Decimal(4)), 3) == Decimal("2.309")
    assert round(Decimal(4) / Decimal(6).sqrt(), 3) == Decimal("1.633")


def test_resistor_of_4_3_4():  # 10.000742 Ω ± 129 µΩ at 99 %: u = 50 µΩ, k = 2.58
    factor = coverage_factor(None, 0.99)
    assert round(factor, 2) == Decimal("2.58")
    assert round(Decimal(129) / factor) == 50


def test_voltmeter_of_4_3_7_and_5_1_5():  # u_A = 12 µV and u = 8.7 µV: u_c = 15 µV
    a = Decimal("0.928571") * 14 + 2  # in µV: 14e-6 of the reading, 2e-6 of the range of 1 V
    assert round(a, 1) == 15
    assert round(rectangular(a), 2) == Decimal("8.66")
    assert round(combined([Decimal(12), rectangular(a)]), 1) == Decimal("14.8")


def test_end_gauge_of_h_1():
    """Annex H.1: components in nm with their degrees of freedom; u_c = 32 nm, 16 degrees, t99 = 2.92, U99 = 93 nm."""
    parts = [("25", 18), ("9.7", 25.6), ("2.9", 50), ("16.6", 2)]
    parts = [(Decimal(u), Decimal(str(freedom))) for u, freedom in parts]
    whole = combined([u for u, _ in parts])
    assert round(whole, 1) == Decimal("31.7")
    weighted = sum(u**4 / f for u, f in parts)
    assert round(whole**4 / weighted, 2) == Decimal("16.76")
    assert effective_freedom(parts) == 16
    assert coverage_factor(16, 0.99) == Decimal("2.9208")
    assert round(coverage_factor(16, 0.99) * whole) == 93


VOLTS = [Decimal(x) for x in ("5.007", "4.994", "5.005", "4.990", "4.999")]
AMPERES = [Decimal(x) / 1000 for x in ("19.663", "19.639", "19.640", "19.685", "19.678")]
PHASES = [Decimal(x) for x in ("1.0456", "1.0438", "1.0468", "1.0428", "1.0433")]


def test_correlated_readings_of_h_2():
    """Annex H.2: resistance, reactance and impedance from five readings of V, I and phase taken together."""
    series = (VOLTS, AMPERES, PHASES)
    v, i, phi = (mean(s) for s in series)
    u = [standard_of_mean(s) for s in series]
    r = {(a, b): correlation(series[a], series[b]) for a, b in ((0, 1), (0, 2), (1, 2))}
    assert [round(r[k], 2) for k in ((0, 1), (0, 2), (1, 2))] == [Decimal("-0.36"), Decimal("0.86"), Decimal("-0.65")]
    cos, sin = Decimal(math.cos(phi)), Decimal(math.sin(phi))
    ohms, reactance, impedance = v / i * cos, v / i * sin, v / i
    slopes = {
        "R": (ohms, (cos / i, -ohms / i, -reactance)),
        "X": (reactance, (sin / i, -reactance / i, ohms)),
        "Z": (impedance, (1 / i, -impedance / i, Decimal(0))),
    }
    expected = {"R": ("127.7322", "0.0711"), "X": ("219.8465", "0.2956"), "Z": ("254.2597", "0.2363")}
    for name, (value, slope) in slopes.items():
        terms = [c * s for c, s in zip(slope, u, strict=True)]
        assert round(value, 4) == Decimal(expected[name][0])
        assert round(combined(terms, r), 4) == Decimal(expected[name][1])
    each = [[a / b * f(p) for a, b, p in zip(VOLTS, AMPERES, PHASES, strict=True)] for f in (_cos, _sin, lambda _: Decimal(1))]
    # the coefficients of table H.4 follow from the series of results as well (second approach of H.2.4)
    assert [round(correlation(each[a], each[b]), 3) for a, b in ((0, 1), (0, 2), (1, 2))] == [
        Decimal("-0.588"), Decimal("-0.485"), Decimal("0.993"),
    ]  # fmt: skip


def _cos(x):
    return Decimal(math.cos(x))


def _sin(x):
    return Decimal(math.sin(x))


def test_correlation_wants_pairs_and_has_none_with_a_constant():
    with pytest.raises(ValueError, match="cannot be held against"):
        correlation(VOLTS, AMPERES[:3])
    assert correlation(VOLTS, [Decimal(1)] * 5) == 0


@given(st.decimals(-8, 8, places=6))
def test_the_normal_probability_is_that_of_the_standard_library(z):
    assert float(normal(z)) == pytest.approx(NormalDist().cdf(float(z)), abs=1e-11)


@given(st.decimals(-8, 8, places=6), st.decimals(-8, 8, places=6))
def test_the_normal_probability_rises_and_is_symmetrical(a, b):
    low, high = sorted((a, b))
    assert normal(low) <= normal(high)
    assert normal(a) + normal(-a) == 1


TERMS = st.lists(st.decimals("0.001", 10, places=3), min_size=1, max_size=4)


@given(TERMS, st.decimals("0.001", 10, places=3))
def test_a_further_part_never_makes_it_smaller(terms, further):
    assert combined([*terms, further]) >= combined(terms)


@given(st.lists(st.tuples(st.decimals("0.01", 10, places=2), st.integers(1, 40)), min_size=1, max_size=4))
def test_effective_freedom_lies_between_the_least_and_the_sum(parts):  # JCGM 100, G.4.1: ν_eff <= Σ ν_i
    found = effective_freedom(parts)
    assert found is not None
    assert min(f for _, f in parts) - 1 <= found <= sum(f for _, f in parts)


def test_against_a_library_of_uncertainties():
    """The package uncertainties, as an independent computation: R = V / I with V 0.500 u 0.010 V and I 150 u 3 A."""
    from uncertainties import ufloat

    theirs = ufloat(0.500, 0.010) / ufloat(150, 3)
    terms = [Decimal("0.010") / 150, Decimal("0.500") / 150**2 * 3]
    ours = combined(terms)
    assert float(ours) == pytest.approx(theirs.std_dev, rel=1e-12)
    assert (ours * 1000).quantize(Decimal("0.0001"), ROUND_HALF_EVEN) == Decimal("0.0943")  # mΩ
