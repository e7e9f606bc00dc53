"""The strict verdict rule: JCGM 106 and ILAC-G8:09/2019 4.2.2 with w = U, on either side of the limit."""

from decimal import Decimal

import pytest
from evidence.measure.uncertainty import Value, of_measurement
from evidence.measure.verdicts import judge, judge_between, judge_limit
from evidence.model.examination import Measurement
from evidence.model.instrument import Instrument
from evidence.model.quantity import Limit


def exact(value, unit="V"):
    return Value(value=Decimal(value), unit=unit)


def value(text, u="0", unit="V", **more):
    return Value(value=Decimal(text), unit=unit, standard=Decimal(u), **more)


def test_voltage_drop_of_0_240_against_0_200():
    # half-width 0.0032 V, half a digit 0.0005 V, u 0.00187 V, U 0.0037 V; 0.236 >= 0.200 (worked by the rule of JCGM 100 and 106)
    meter = Instrument(
        description="m", accuracies=[{"quantity": "voltage", "unit": "V", "percent": "0.5", "fixed": "0.002"}]
    )
    drop = of_measurement(Measurement(quantity="voltage_drop", value="0.240", unit="V", of="x"), meter)
    assert drop.half_width == Decimal("0.0032")
    assert round(drop.standard, 4) == Decimal("0.0019")  # 0.00185 of the statement, 0.00029 of the last digit
    assert round(drop.expanded, 4) == Decimal("0.0037")
    assert judge(drop, ">", exact("0.200")).verdict == "met"
    told = judge(drop, ">", exact("0.200"), source="common practice, no source").words
    assert told == (
        "0.240 V ± 0.0037 V is above 0.200 V (common practice, no source) by more than the reading can be off: met"
    )


def test_breakaway_torque_that_straddles_its_limit():
    # 21.0 Nm against 0.3 x 70 Nm with a 4 % wrench: a 0.84, u 0.485, U 0.97
    wrench = Instrument(description="w", accuracies=[{"quantity": "torque", "unit": "Nm", "percent": "4"}])
    torque = of_measurement(Measurement(quantity="breakaway_torque", value="21.0", unit="Nm", of="x"), wrench)
    assert round(torque.standard, 3) == Decimal("0.486")  # 0.485 of the statement, and half of the last digit read
    assert round(torque.expanded, 2) == Decimal("0.97")
    assert judge(torque, "<", exact("21.0", "Nm")).verdict == "undecided"


@pytest.mark.parametrize(  # drop limit 0.200 V, meter 0.5 % + 2 counts at 1 mV: acceptance limit 0.19659 V
    ("reading", "expected"), [("0.190", "met"), ("0.196", "met"), ("0.198", "undecided"), ("0.201", "undecided")]
)
def test_guard_band_of_ilac_g8(reading, expected):
    meter = Instrument(
        description="m",
        accuracies=[{"quantity": "voltage", "unit": "V", "percent": "0.5", "counts": "2", "resolution": "0.001"}],
    )
    drop = of_measurement(Measurement(quantity="voltage_drop", value=reading, unit="V", of="x"), meter)
    assert judge(drop, "<=", exact("0.200")).verdict == expected


@pytest.mark.parametrize(
    ("text", "op", "limit", "expected"),
    [
        ("0", "==", "0", "met"), ("1", "==", "0", "not met"), ("2", ">", "2", "not met"), ("2", ">=", "2", "met"),
        ("2", "<", "2", "not met"), ("2", "<=", "2", "met"), ("3", "<", "2", "not met"), ("1", ">", "2", "not met"),
    ],
)  # fmt: skip
def test_exact_counts_decide_at_the_limit(text, op, limit, expected):
    assert judge(exact(text, "count"), op, exact(limit, "count")).verdict == expected


def test_both_sides_count():
    assert judge(value("1.0", "0.3"), ">", value("0", "0.3")).verdict == "met"  # margin 0.849
    assert judge(value("1.0", "0.3"), ">", value("0", "0.45")).verdict == "undecided"  # margin 1.08
    assert judge(value("-1.1", "0.3"), ">", value("0", "0.45")).verdict == "not met"


def test_units_are_brought_together():
    assert judge(value("240", "1", "mV"), ">", exact("0.2")).verdict == "met"
    assert judge(value("20", "0.1", "psi"), "<", exact("150", "kPa")).verdict == "met"


def test_interval_has_both_ends():
    low, high = exact("4", "A"), exact("9", "A")
    assert judge_between(value("5", "0.1", "A"), low, high).verdict == "met"
    assert judge_between(value("9", "0.1", "A"), low, high).verdict == "undecided"
    assert judge_between(value("9.3", "0.1", "A"), low, high).verdict == "not met"
    assert judge_limit(value("3.5", "0.1", "A"), Limit.model_validate("4 .. 9 A")).verdict == "not met"
    assert judge_limit(value("0.3", "0.01"), Limit.model_validate("> 0.2 V")).verdict == "met"


def test_out_of_range_shows_one_side_only():
    open_line = Value(value=Decimal(60), unit="MΩ", beyond="above")
    assert judge(open_line, ">", exact("1", "MΩ")).verdict == "met"
    assert judge(open_line, "<", exact("1", "MΩ")).verdict == "not met"
    assert judge(open_line, ">", exact("100", "MΩ")).verdict == "undecided"
    assert judge(open_line, "==", exact("1", "MΩ")).verdict == "not met"
    assert judge(open_line, "==", exact("100", "MΩ")).verdict == "undecided"
