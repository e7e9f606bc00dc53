"""What the page of measurements says of a verdict and of an instrument."""

from decimal import Decimal

import pytest
from evidence.measure.uncertainty import Value
from evidence.measure.verdicts import STRICT, judge_limit
from evidence.model.instrument import Accuracy
from evidence.model.quantity import Limit
from evidence.report.pages.measurements import accuracy_words, limit_words, verdict_words
from evidence.rules.own_limits import OwnVerdict

LIMIT = Limit.model_validate({"op": ">", "value": "0.2", "unit": "V", "source": "common_practice", "conditions": ["loaded"]})


def told(text, usual=STRICT, rule=None, unit="V", **more):
    value = Value(value=Decimal(text), unit=unit, standard=Decimal("0.002") if unit == "V" else Decimal(2))
    return verdict_words(OwnVerdict(value=value, judgement=judge_limit(value, LIMIT, rule=rule), **more), usual)


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        (told("0.300"), "Met\np above 0.9999"),
        (told("0.203"), "Undecided\np 0.9332\na reading good to ± 0.0030 V would decide it"),
        (told("203", unit="mV"), "Undecided\np 0.9332\na reading good to ± 0.0030 V would decide it"),
        (told("0.203", rule="guarded"), "Not met\n(guarded acceptance)\np 0.9332"),
        (told("0.203", rule="guarded", usual="guarded"), "Not met\np 0.9332"),
        (told("0.300", usual="simple"), "Met\n(guarded on both sides)\np above 0.9999"),
        (told("0.300", unusable="has no time base"), "Met\np above 0.9999\nsupports nothing (below)"),
    ],
)
def test_the_verdict_names_its_rule_its_probability_and_what_would_decide_it(found, expected):
    assert found == expected


def test_a_reading_that_cannot_be_compared_gets_no_verdict():
    found = OwnVerdict(value=Value(value=Decimal(1), unit="V"), judgement=None, incomparable="not comparable: the limit holds for x")
    assert verdict_words(found, STRICT) == "Not comparable: the limit holds for x"


def test_the_limit_stands_with_its_conditions_and_its_source():
    assert limit_words(LIMIT) == "> 0.2 V (loaded)\ncommon practice, no source"
    assert limit_words(Limit.model_validate("> 0.2 V")) == "> 0.2 V\nsource not stated"


def test_the_statement_of_an_instrument_is_told_whole():
    stated = Accuracy.model_validate({
        "quantity": "voltage", "unit": "V", "low": "0", "high": "6", "percent": "0.5", "counts": "2", "resolution": "0.001",
        "temperature": {"low": "18", "high": "28"}, "operating": {"low": "-10", "high": "50"}, "per_degree": "0.1", "valid_months": 12,
    })  # fmt: skip
    assert accuracy_words(stated) == (
        "Voltage from 0 to 6 V: ± (0.5 % of reading + 2 counts), resolution 0.001 V, at 18 to 28 °C, 0.1 of it more for each degree "
        "outside, usable at -10 to 50 °C, for 12 months after calibration"
    )
