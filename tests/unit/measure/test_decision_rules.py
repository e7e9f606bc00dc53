"""Verdicts, decision rules and probabilities of conformity against JCGM 106:2012 and ILAC-G8:09/2019."""

import math
from dataclasses import replace
from decimal import Decimal
from statistics import NormalDist

import pytest
from evidence.measure.derived import difference, middle, quotient, scaled
from evidence.measure.uncertainty import Value, of_measurement
from evidence.measure.verdicts import RULES, STRICT, judge, judge_between, judge_limit, not_comparable, rule_for
from evidence.model.examination import Measurement
from evidence.model.instrument import Instrument
from evidence.model.quantity import QUANTITIES, UNITS, Limit
from hypothesis import assume, given
from hypothesis import strategies as st
from pydantic import ValidationError


def v(text, u="0", unit="V", **more):
    return Value(value=Decimal(text), unit=unit, standard=Decimal(u), **more)


def meter(**accuracy):
    return Instrument(description="m", accuracies=[{"quantity": "voltage", "unit": "V", **accuracy}])


# ---------------------------------------------------------------- JCGM 106:2012, clause 7: probability of conformity


def test_upper_limit_of_clause_7():  # TU = -5.40 V, measured -5.47 V, u = 0.05 V: p = Φ(1.40) = 0.92
    held = judge(v("-5.47", "0.05"), "<=", v("-5.40"))
    assert held.probability == Decimal("0.9192")
    assert held.verdict == "undecided"


def test_lower_limit_of_clause_7():  # TL = 490 kPa, measured 509.7, u = 8.6 kPa: p = 0.99
    held = judge(v("509.7", "8.6", "kPa"), ">=", v("490", unit="kPa"))
    assert held.probability == Decimal("0.9890")


def test_both_limits_of_clause_7():  # 12.5 to 16.3 (mm²/s there), measured 13.6, u = 1.8: p = 0.66
    held = judge_between(v("13.6", "1.8", "mm"), v("12.5", unit="mm"), v("16.3", unit="mm"))
    assert held.probability == Decimal("0.6626")


def test_speed_of_clause_8():  # limit 100 km/h, u = 2 % of the speed, 99.9 % sure: from 107 km/h on
    def sure(speed):
        held = judge(v(speed, str(Decimal(speed) * Decimal("0.02")), "km/h"), ">", v("100", unit="km/h"))
        return held.below

    assert sure("106.58") < Decimal("3.0902") <= sure("106.59")  # z = 3.0902 for 99.9 %: 106.59, told as 107 km/h
    assert judge(v("107", "2.14", "km/h"), ">", v("100", unit="km/h")).probability >= Decimal("0.999")


# ---------------------------------------------------------------- ILAC-G8:09/2019, 4.2


@pytest.mark.parametrize(("w", "risk"), [("1", "0.0228"), ("0.83", "0.0485"), ("1.5", "0.0013"), ("0", "0.5000")])
def test_risk_of_false_acceptance_at_the_end_of_a_guard_band(w, risk):  # table 1; w in units of U = 2 u
    held = judge(v(str(10 - Decimal(w) * 2), "1"), "<=", v("10"))
    assert 1 - held.probability == Decimal(risk)


def test_three_times_the_expanded_uncertainty_leaves_one_in_a_thousand_million():
    held = judge(v("4", "1"), "<=", v("10"))  # w = 3 U = 6 u
    assert held.below == 6
    assert 1 - NormalDist().cdf(float(held.below)) == pytest.approx(1e-9, rel=0.02)
    assert held.probability == 1


DROP_ROWS = [  # limit 0.200 V, meter 0.5 % + 2 counts of 1 mV: what 4.2.3 calls pass, conditional pass, conditional fail
    ("0.190", "met", "is below", None, "1.0000"),
    ("0.198", "undecided", "is below", "0.0020", "0.8767"),
    ("0.201", "undecided", "is above", "0.0010", "0.2823"),
]


@pytest.mark.parametrize(("reading", "verdict", "side", "needed", "chance"), DROP_ROWS)
def test_voltage_drop_near_its_limit(reading, verdict, side, needed, chance):
    drop = of_measurement(
        Measurement(quantity="voltage_drop", value=reading, unit="V", of="x"),
        meter(percent="0.5", counts="2", resolution="0.001"),
    )
    held = judge(drop, "<=", v("0.200"))
    assert held.verdict == verdict
    assert side in held.words
    assert held.probability == pytest.approx(Decimal(chance), abs=Decimal("0.0005"))
    assert (f"a reading good to ± {needed} V would decide it" in held.words) == bool(needed)


def test_acceptance_limit_of_that_meter_is_0_19659():  # 0.200 V less U, at a reading of 0.190 V
    drop = of_measurement(
        Measurement(quantity="voltage_drop", value="0.190", unit="V", of="x"),
        meter(percent="0.5", counts="2", resolution="0.001"),
    )
    assert round(Decimal("0.200") - drop.expanded, 5) == Decimal("0.19659")


BINARY = [  # value, rule, verdict of "at most 10" with U = 2
    ("7.9", "simple", "met"), ("9.9", "simple", "met"), ("10", "simple", "met"), ("10.1", "simple", "not met"),
    ("7.9", "guarded", "met"), ("8", "guarded", "met"), ("8.1", "guarded", "not met"), ("12.1", "guarded", "not met"),
    ("8", STRICT, "met"), ("8.1", STRICT, "undecided"), ("11.9", STRICT, "undecided"), ("12", STRICT, "not met"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "rule", "verdict"), BINARY)
def test_binary_and_guarded_rules(text, rule, verdict):  # ILAC-G8 4.2.1, 4.2.2 and 4.2.3
    held = judge(v(text, "1"), "<=", v("10"), rule=rule)
    assert held.verdict == verdict
    assert held.rule == rule
    assert ("acceptance" in held.words) == (rule != STRICT)


def test_the_words_say_by_how_much_it_is_clear():
    assert judge(v("10.1", "1"), "<=", v("10"), rule="guarded").words == (
        "10.1 V ± 2.0 V is above 10 V, but by less than the reading can be off (guarded acceptance): not met"
    )
    assert judge(v("12.5", "1"), "<=", v("10"), rule="guarded").words.endswith(
        "by more than the reading can be off (guarded acceptance): not met"
    )


def test_the_limit_goes_before_the_dossier_and_the_dossier_before_the_strict_rule():
    near = v("0.201", "0.002")
    own = Limit.model_validate({"op": ">", "value": "0.2", "unit": "V", "decision_rule": "simple"})
    bare = Limit.model_validate("> 0.2 V")
    assert judge_limit(near, own, rule="guarded").rule == "simple"
    assert judge_limit(near, bare, rule="guarded").rule == "guarded"
    assert judge_limit(near, bare).rule == STRICT == rule_for(None, None)
    with pytest.raises(ValidationError, match="decision_rule"):
        Limit.model_validate({"op": ">", "value": "0.2", "unit": "V", "decision_rule": "generous"})


def test_every_rule_names_its_standard():
    assert all("JCGM 106:2012" in words and "ILAC-G8:09/2019" in words for words in RULES.values())


def test_an_uncertain_limit_is_combined_and_may_itself_forbid_a_verdict():
    held = judge(v("1.0", "0.3"), ">", v("0", "0.45"))
    assert held.needed == (Decimal(1) - Decimal("0.81")).sqrt()
    assert "the limit itself is not known well enough" in judge(v("0.5", "0.3"), ">", v("0", "0.45")).words


def test_on_the_limit_no_meter_would_decide_it():
    assert "no meter would decide it" in judge(v("0.2", "0.01"), ">", v("0.2")).words


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        ("> 0.2 V", "source not stated"),
        ({"op": ">", "value": "0.2", "unit": "V", "source": "common_practice"}, "common practice, no source"),
        ({"between": ["1", "2"], "unit": "V", "source": "maker", "document": "WM-4", "page": "12"}, "maker, WM-4, page 12"),
        ({"op": ">", "value": "1", "unit": "V", "source": "standard", "document": "EN 3"}, "standard, EN 3"),
        ({"op": ">", "value": "1", "unit": "V", "source": "prior_document", "document": "invoice 7"}, "prior document, invoice 7"),
    ],
)  # fmt: skip
def test_a_limit_is_never_silent_about_its_source(raw, told):
    limit = Limit.model_validate(raw)
    assert limit.source_words() == told
    assert f"({told})" in judge_limit(v("1.5", "0.01"), limit).words


def test_a_limit_for_other_conditions_cannot_be_compared():
    assert not_comparable(("cranking",), ("key-on", "cranking")) == ""
    assert not_comparable(("running",), ("idle",)) == ""  # what idles, runs
    assert not_comparable(("loaded",), ("unloaded",)) == (
        "not comparable: the limit holds for loaded, the reading was read unloaded"
    )
    assert not_comparable(("cranking",), ()).endswith("the reading states no conditions")
    assert Limit.model_validate({"op": ">", "value": "9.6", "unit": "V", "conditions": ["cranking"]}).words() == "> 9.6 V (cranking)"


# ---------------------------------------------------------------- readings worked out from readings


def test_a_drop_as_the_difference_of_two_readings():  # 12.60 - 12.35 V, 0.5 % + 2 counts of 10 mV: u = 0.0673 V
    held = meter(percent="0.5", counts="2", resolution="0.01")
    ends = [of_measurement(Measurement(quantity="voltage", value=x, unit="V", of="x"), held) for x in ("12.60", "12.35")]
    found = difference(*ends)
    assert found.value == Decimal("0.25")
    assert round(found.standard, 4) == Decimal("0.0673")
    assert judge(found, ">", v("0.2")).verdict == "undecided"  # measured directly it would have been decided
    same_gain = difference(*ends, shared=Decimal(1))  # JCGM 100, 5.2.2: fully correlated errors subtract
    assert same_gain.standard == pytest.approx(ends[0].standard - ends[1].standard, rel=Decimal("1e-12"))


@given(st.decimals(0, 1, places=3))
def test_taking_two_readings_as_independent_is_the_widest_for_a_difference_and_a_ratio(shared):
    one, other = v("12.6", "0.05"), v("12.3", "0.04")
    assert difference(one, other, shared=shared).standard <= difference(one, other).standard
    assert quotient(one, other, shared=shared).standard <= quotient(one, other).standard


def test_ratio_scale_and_median_carry_what_support_must_bear():
    wide = v("10", "0.1", strict=v("10", "0.5"))
    assert difference(wide, v("9", "0.1")).strict.standard > difference(wide, v("9", "0.1")).standard
    assert quotient(v("9", "0.1"), wide).strict.standard > quotient(v("9", "0.1"), wide).standard
    assert scaled(wide, times=Decimal(2), plus=Decimal(1)).strict.standard == 1
    assert middle([wide, v("11", "0.2"), v("12", "0.1")]).strict.standard == Decimal("0.5")
    assert middle([v("1000", "1", "mV"), v("2", "0.1")]).into("V").value == Decimal("1.5")


def test_few_repeats_widen_the_comparison():
    few, many = v("0.25", "0.02", freedom=2), v("0.25", "0.02")
    assert judge(many, ">", v("0.2")).verdict == "met"
    assert judge(few, ">", v("0.2")).verdict == "undecided"  # k = 4.53
    # 4 degrees together: k = 2.87, 0.0812 V for the difference
    assert judge(few, ">", v("0.165", "0.02", freedom=2)).verdict == "met"
    assert judge(few, ">", v("0.171", "0.02", freedom=2)).verdict == "undecided"


# ---------------------------------------------------------------- laws

NUMBERS = st.decimals(-1000, 1000, places=3)
WIDTHS = st.decimals("0.001", 100, places=3)
OPS = st.sampled_from(["<", "<=", ">", ">="])
MIRROR = {"<": ">", "<=": ">=", ">": "<", ">=": "<="}
OTHER = {"<": ">=", "<=": ">", ">": "<=", ">=": "<"}
COVERED = [  # the quantities that a shop measures
    "voltage_drop", "resistance", "current", "pressure", "temperature", "torque", "duration", "distance", "speed", "fuel_trim",
    "duty", "frequency", "count", "fuel_pressure", "engine_speed", "breakaway_torque",
]  # fmt: skip


@given(st.sampled_from(COVERED), NUMBERS, WIDTHS, NUMBERS, OPS, st.sampled_from(sorted(RULES)), st.data())
def test_a_change_of_unit_never_changes_a_verdict(quantity, x, u, limit, op, rule, data):
    units = list(UNITS[QUANTITIES[quantity]])
    unit, other, third = (data.draw(st.sampled_from(units)) for _ in range(3))
    value, bound = v(str(x), str(u), unit), v(str(limit), unit=unit)
    here = judge(value, op, bound, rule=rule)
    there = judge(value.into(other), op, bound.into(third), rule=rule)
    assert there.verdict == here.verdict
    assert there.probability == here.probability
    exact = judge(v(str(x), unit=unit).into(other), op, bound.into(third), rule=rule)
    assert exact.verdict == judge(v(str(x), unit=unit), op, bound, rule=rule).verdict


@given(NUMBERS, WIDTHS, WIDTHS, NUMBERS, OPS)
def test_widening_never_decides_what_was_open_and_never_turns_a_verdict(x, u, more, limit, op):
    narrow, wide = (judge(v(str(x), str(w)), op, v(str(limit))).verdict for w in (u, u + more))
    assert wide in (narrow, "undecided")


@given(NUMBERS, WIDTHS, NUMBERS, OPS)
def test_the_three_way_rule_is_symmetrical(x, u, limit, op):
    turned = {"met": "not met", "not met": "met", "undecided": "undecided"}
    here = judge(v(str(x), str(u)), op, v(str(limit)))
    assert judge(v(str(-x), str(u)), MIRROR[op], v(str(-limit))).verdict == here.verdict
    assert judge(v(str(x), str(u)), OTHER[op], v(str(limit))).verdict == turned[here.verdict]
    assert judge(v(str(x), str(u)), OTHER[op], v(str(limit))).probability + here.probability == 1


@given(NUMBERS, WIDTHS, NUMBERS, OPS)
def test_a_stricter_rule_never_meets_more(x, u, limit, op):
    held = {rule: judge(v(str(x), str(u)), op, v(str(limit)), rule=rule).verdict for rule in RULES}
    assert (held[STRICT] == "met") == (held["guarded"] == "met")
    assert held["guarded"] != "met" or held["simple"] == "met"
    assert held[STRICT] != "not met" or held["simple"] == "not met"


@given(NUMBERS, WIDTHS, NUMBERS, OPS)
def test_what_is_said_to_decide_it_does(x, u, limit, op):
    held = judge(v(str(x), str(u)), op, v(str(limit)))
    assume(held.needed is not None)
    finer = judge(v(str(x), str(held.needed * Decimal("0.4999"))), op, v(str(limit)))
    assert finer.verdict != "undecided"


@given(NUMBERS, WIDTHS, NUMBERS, WIDTHS)
def test_met_within_an_interval_means_met_at_both_ends(x, u, low, width):
    high = low + width
    held = judge_between(v(str(x), str(u)), v(str(low)), v(str(high)))
    ends = [judge(v(str(x), str(u)), op, v(str(end))).verdict for op, end in ((">=", low), ("<=", high))]
    assert (held.verdict == "met") == (ends == ["met", "met"])
    assert held.verdict != "met" or held.probability >= Decimal("0.95")
    assert Decimal(0) <= held.probability <= 1


@given(NUMBERS, WIDTHS, NUMBERS, OPS)
def test_the_sentence_ends_with_the_verdict_and_shows_limit_and_source(x, u, limit, op):
    held = judge(v(str(x), str(u)), op, v(str(limit)), source="WM-4")
    assert f": {held.verdict}" in held.words
    assert "(WM-4)" in held.words


def test_a_value_out_of_range_has_no_probability():
    assert judge(replace(v("60", "1", "MΩ"), beyond="above"), ">", v("1", unit="MΩ")).probability is None
    assert judge(v("2", unit="count"), ">", v("1", unit="count")).probability is None


# ---------------------------------------------------------------- JCGM 106:2012, clause 9: risks over a whole production


def wrongly(prior, low, high, u, *, accepted):
    """Share of a production accepted though out of tolerance, or rejected though within; ``prior`` is a density of doubles.

    A true value y is accepted by simple acceptance with the probability that a reading around it keeps the limits.
    """
    total, step = 0.0, 1 / 400
    for n in range(int(-4 / step), int(4 / step)):
        y = (n + 0.5) * step
        inside = low <= y <= high
        if inside == accepted or not prior(y):
            continue
        keeps = judge_between(v(f"{y:.6f}", str(u)), v(str(low)), v(str(high))).probability
        total += prior(y) * step * float(keeps if accepted else 1 - keeps)
    return total


def test_bearings_of_9_5_4():
    """Radial error by a gamma density (4, 1/4 µm), limit 2 µm, u = 0.25 µm: 0.8 % accepted wrongly."""
    density = lambda y: 4**4 * y**3 * math.exp(-4 * y) / 6 if y > 0 else 0.0  # noqa: E731
    assert sum(density(2 + (n + 0.5) / 400) / 400 for n in range(3000)) == pytest.approx(0.0424, abs=0.0001)
    assert wrongly(density, 0, 2, "0.25", accepted=True) == pytest.approx(0.0080, abs=0.0001)


def test_four_to_one_with_95_percent_in_tolerance():  # the test table of the open risk calculator suncal: 0.8710 %
    spread = NormalDist(0, 1 / 1.959964)
    # the ratio is that of the tolerance to the uncertainty at 95 % there, so u = 1 / (4 x 1.96)
    assert wrongly(spread.pdf, -1, 1, "0.127553", accepted=True) == pytest.approx(0.008710, abs=0.00002)


def test_four_to_one_at_two_standard_deviations():  # Deaver 1993: 0.8 % accepted and 1.5 % rejected wrongly
    spread = NormalDist(0, 0.5)
    assert wrongly(spread.pdf, -1, 1, "0.125", accepted=True) == pytest.approx(0.008, abs=0.0005)
    assert wrongly(spread.pdf, -1, 1, "0.125", accepted=False) == pytest.approx(0.015, abs=0.0007)
