"""The least-squares line against published data with certified or printed results, and against NumPy."""

from fractions import Fraction
from math import isclose, sqrt

import numpy as np
import pytest
from evidence.timeline.straight_line import Point, line_through, root_up
from hypothesis import given
from hypothesis import strategies as st

# NIST Statistical Reference Datasets, linear regression, "Norris" (36 observations, lower level of difficulty):
# y x. The data are written here from memory; that the certified values come out to 13 digits shows that they are right.
NORRIS = """
0.1 0.2  338.8 337.4  118.1 118.2  888.0 884.6  9.2 10.1  228.1 226.5  668.5 666.3  998.5 996.3  449.1 448.6
778.9 777.0  559.2 558.2  0.3 0.4  0.1 0.6  778.1 775.5  668.8 666.9  339.3 338.0  448.9 447.5  10.8 11.6
557.7 556.0  228.3 228.1  998.0 995.8  888.8 887.6  119.6 120.2  0.3 0.3  0.6 0.3  557.6 556.8  339.3 339.1
888.0 887.2  998.5 999.0  778.9 779.0  10.2 11.1  117.6 118.3  228.9 229.2  668.4 669.1  449.2 448.9  0.2 0.5
"""
# Certified: intercept, slope, their standard deviations, residual standard deviation.
NORRIS_B0, NORRIS_B1 = -0.262323073774029, 1.00211681802045
NORRIS_SD0, NORRIS_SD1, NORRIS_RESIDUAL = 0.232818234301152, 0.429796848199937e-03, 0.884796396144373

# JCGM 100:2008, H.3, table H.6: readings of a thermometer, and corrections found by calibration.
GUM_T = ["21.521", "22.012", "22.512", "23.003", "23.507", "23.999", "24.513", "25.002", "25.503", "26.010", "26.511"]
GUM_B = ["-0.171", "-0.169", "-0.166", "-0.159", "-0.164", "-0.165", "-0.156", "-0.157", "-0.159", "-0.161", "-0.160"]


def unweighted(pairs, origin):
    """Line and residual variance of equally uncertain points, as the published examples have them."""
    points = [Point(Fraction(x), Fraction(y), Fraction(1)) for x, y in pairs]
    line = line_through(points, origin=origin)
    return line, sum((p.y - line.at(p.x)) ** 2 for p in points) / (len(points) - 2)


def test_norris_of_the_statistical_reference_datasets():
    numbers = NORRIS.split()
    pairs = list(zip(numbers[1::2], numbers[::2], strict=True))
    assert len(pairs) == 36
    line, residual = unweighted(pairs, Fraction(0))
    assert isclose(line.level, NORRIS_B0, rel_tol=1e-13)
    assert isclose(line.slope, NORRIS_B1, rel_tol=1e-14)
    assert isclose(sqrt(line.level_variance * residual), NORRIS_SD0, rel_tol=1e-13)
    assert isclose(sqrt(line.slope_variance * residual), NORRIS_SD1, rel_tol=1e-13)
    assert isclose(sqrt(residual), NORRIS_RESIDUAL, rel_tol=1e-13)


def test_the_thermometer_of_the_guide_to_uncertainty():
    """Printed results: y1 = -0.1712, s 0.0029; y2 = 0.00218, s 0.00067; r = -0.930; s = 0.0035; b(30) = -0.1494, u 0.0041."""
    line, residual = unweighted(zip(GUM_T, GUM_B, strict=True), Fraction(20))
    assert round(float(line.level), 4) == -0.1712
    assert round(float(line.slope), 5) == 0.00218
    assert round(sqrt(line.level_variance * residual), 4) == 0.0029
    assert round(sqrt(line.slope_variance * residual), 5) == 0.00067
    assert round(sqrt(residual), 4) == 0.0035
    assert round(float(line.covariance) / sqrt(line.level_variance * line.slope_variance), 3) == -0.930
    assert round(float(line.at(Fraction(30))), 4) == -0.1494
    assert round(sqrt(line.variance_at(Fraction(30)) * residual), 4) == 0.0041


def test_numpy_finds_the_same_weighted_line():
    random = np.random.default_rng(7)
    x = np.sort(random.uniform(-50, 50, 12))
    deviation = random.uniform(0.2, 3.0, 12)
    y = 4.0 - 0.3 * x + random.normal(0, deviation)
    points = [Point(Fraction(a), Fraction(b), Fraction(s) ** 2) for a, b, s in zip(x, y, deviation, strict=True)]
    (slope, level), covariance = np.polyfit(x, y, 1, w=1 / deviation, cov="unscaled")
    line = line_through(points, origin=Fraction(0))
    found = [line.slope, line.level, line.slope_variance, line.level_variance, line.covariance]
    assert np.allclose([float(f) for f in found], [slope, level, covariance[0, 0], covariance[1, 1], covariance[0, 1]], rtol=1e-10)


def test_a_bound_on_the_slope_is_one_more_observation():
    one = line_through([Point(Fraction(3), Fraction(8), Fraction(4))], slope_bound=Fraction(6))
    assert (one.slope, one.at(Fraction(100)), one.variance_at(Fraction(3))) == (0, 8, 4)
    assert one.variance_at(Fraction(5)) == 4 + 4 * Fraction(36, 3)
    with pytest.raises(ValueError, match="no slope"):
        line_through([Point(Fraction(3), Fraction(8), Fraction(4))])
    with pytest.raises(ValueError, match="no point"):
        line_through([], slope_bound=Fraction(1))


numbers = st.fractions(min_value=-1000, max_value=1000, max_denominator=50)
points = st.builds(Point, numbers, numbers, st.fractions(min_value=Fraction(1, 50), max_value=100, max_denominator=50))


@given(st.lists(points, min_size=2, max_size=6), numbers, st.data())
def test_a_point_fewer_never_makes_the_line_surer(given_points, x, data):
    left_out = data.draw(st.integers(0, len(given_points) - 1))
    fewer = [p for n, p in enumerate(given_points) if n != left_out]
    bound = Fraction(3)
    assert line_through(fewer, slope_bound=bound).variance_at(x) >= line_through(given_points, slope_bound=bound).variance_at(x)


@given(st.fractions(min_value=0, max_value=10**30, max_denominator=10**9))
def test_the_root_is_the_smallest_whole_number_that_is_large_enough(value):
    root = root_up(value)
    assert root * root >= value
    assert root == 0 or (root - 1) ** 2 < value
