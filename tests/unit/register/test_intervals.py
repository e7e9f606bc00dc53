"""Shares, curves and charts against published examples and two reference libraries (statsmodels, lifelines)."""

from __future__ import annotations

import sys
import warnings

import pytest
from evidence.errors import ExtraMissing
from evidence.register.intervals import curve, p_chart, share
from hypothesis import given, settings
from hypothesis import strategies as st


@pytest.mark.parametrize(
    ("came_back", "orders", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilson_is_that_of_newcombe(came_back, orders, low, high):
    """R. G. Newcombe, Two-sided confidence intervals for the single proportion, Statistics in Medicine 17 (1998), Table I, method 3."""
    found = share(came_back, orders)
    assert (found.low, found.high) == pytest.approx((low, high), abs=5e-5)
    assert found.small == (came_back < 5 or orders < 30)


def test_no_orders_give_no_share():
    assert share(0, 0) is None


@given(st.integers(1, 5000), st.data())
@settings(max_examples=40)
def test_wilson_is_that_of_statsmodels(orders, data):
    from statsmodels.stats.proportion import proportion_confint

    came_back = data.draw(st.integers(0, orders))
    found = share(came_back, orders)
    assert (found.low, found.high) == pytest.approx(proportion_confint(came_back, orders, method="wilson"), abs=1e-12)
    assert 0 <= found.low <= found.rate <= found.high <= 1


# Freireich et al., Blood 21 (1963): weeks of remission under 6-MP; the second list left while still in remission.
SEEN = [6, 6, 6, 7, 10, 13, 16, 22, 23]
LEFT = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]


def test_the_curve_is_the_one_printed_of_the_six_mp_arm():
    found = curve(SEEN, LEFT)
    rows = [(p.at, p.at_risk, round(1 - p.share, 4)) for p in found.steps]
    assert rows == [(6, 21, 0.8571), (7, 17, 0.8067), (10, 15, 0.7529), (13, 12, 0.6902), (16, 11, 0.6275), (22, 7, 0.5378), (23, 6, 0.4482)]
    assert found.median == 23
    assert (found.watched, found.came_back, found.longest) == (21, 9, 35)
    at_ten = found.by(12)
    assert (1 - at_ten.high, 1 - at_ten.low) == pytest.approx((0.5032, 0.8894), abs=5e-5)
    assert found.by(5).share == 0
    assert found.by(36) is None


@given(st.lists(st.integers(1, 400), min_size=1, max_size=40), st.lists(st.integers(1, 400), max_size=60))
@settings(max_examples=25, deadline=None)
def test_the_curve_is_that_of_lifelines(seen, left):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from lifelines import KaplanMeierFitter

        fitted = KaplanMeierFitter().fit([*seen, *left], [1] * len(seen) + [0] * len(left))
        wanted = [1 - float(fitted.predict(p)) for p in sorted(set(seen))]
    found = curve(seen, left)
    assert [p.share for p in found.steps] == pytest.approx(wanted, abs=1e-9)
    shares = [p.share for p in found.steps]
    assert shares == sorted(shares)


def test_watching_longer_without_a_comeback_never_raises_the_curve():
    short, long = curve([10, 20], [15] * 20), curve([10, 20], [30] * 20)
    assert long.by(20).share < short.by(20).share


def test_nothing_came_back_is_no_curve():
    assert curve([], [3, 4]) is None


def test_the_chart_has_the_limits_of_the_formula():
    """Mean 5 %, 100 in each period: upper limit 0.115383, lower 0 (ISO 7870-2, section on p charts; computed from the formula)."""
    found = p_chart([(f"2026-{m:02}", 5, 100) for m in range(1, 8)])
    assert found.centre == pytest.approx(0.05)
    assert found.points[0].high == pytest.approx(0.115383, abs=5e-7)
    assert found.points[0].low == 0
    assert not any(p.signal for p in found.points)
    assert found.rough == ()


def test_the_chart_is_that_of_montgomerys_cans():
    """Montgomery, Introduction to Statistical Quality Control, p chart example: 347 of 30 samples of 50; limits from memory."""
    counts = [12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6]
    found = p_chart([(str(i), k, 50) for i, k in enumerate(counts, 1)])
    assert sum(counts) == 347
    assert found.centre == pytest.approx(0.2313, abs=5e-5)
    assert (found.points[0].low, found.points[0].high) == pytest.approx((0.0524, 0.4102), abs=1e-4)
    assert [p.period for p in found.points if p.signal] == ["15", "23"]


def test_a_period_beyond_its_limits_and_a_run_are_signals():
    found = p_chart([(str(i), 2, 100) for i in range(12)] + [("bad", 25, 100), ("none", 0, 0)])
    assert [p.period for p in found.points][-1] == "bad"
    assert found.points[-1].signal == "above the upper limit"
    assert found.points[7].signal == "8 periods in a row on one side of the centre"
    assert found.points[6].signal == ""
    assert "0" in found.rough
    assert p_chart([("x", 0, 0)]) is None


def test_without_scipy_it_is_told(monkeypatch):
    monkeypatch.setitem(sys.modules, "scipy.stats", None)
    with pytest.raises(ExtraMissing, match="need scipy") as err:
        share(1, 2)
    assert "[stats]" in err.value.advice
