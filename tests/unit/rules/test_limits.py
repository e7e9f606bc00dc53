"""Limits with their source and conditions, the decision rule of the dossier, and what an instrument leaves open."""

import pytest
from evidence.rules.asks import Ask
from evidence.rules.circumstances import Setting
from evidence.rules.holdings import Holdings
from evidence.rules.own_limits import own_verdict
from evidence.rules.predicates import answer
from pydantic import TypeAdapter, ValidationError

from build import coil_case, vocabulary

ASK = TypeAdapter(Ask)
DROP = {"measure": "voltage_drop", "of": "coil-ground", "is": {"op": ">", "value": "0.2", "unit": "V"}}
FIGURE = {**DROP, "is": {**DROP["is"], "figure": "ground-drop"}}
VOLTS = {"quantity": "voltage", "unit": "V", "percent": "0.5", "counts": "2", "resolution": "0.001"}


def reply(case, ask=DROP, source=""):
    setting = Setting(
        holdings=Holdings(case.dossier()), vocabulary=vocabulary(), components=("coil-ground",), limit_source=source
    )
    return answer(ASK.validate_python(ask), setting, outside=lambda *_: None, lookup=lambda _: None)


def measured(value="0.240", accuracy=None, instrument=(), **more):
    case = coil_case().change("instrument-1", accuracies=[accuracy or VOLTS], **dict(instrument))
    case.measure("voltage_drop", "coil-ground", value, "V", **more)
    return case


def test_a_figure_for_other_conditions_gives_no_verdict():
    case = measured("0.240", conditions=["key-on"])
    case.record("maker_figure", figure="ground-drop", value="0.1", unit="V", document="WM 1", page="7", conditions=["cranking"])
    found = reply(case, FIGURE)
    assert found.answer == "not measured"
    assert found.near[0].why == "not comparable: the limit holds for cranking, the reading was read key on"
    found = reply(case.change("measurement-1", conditions=["cranking"]), FIGURE)
    assert found.answer == "met"
    assert "is above 0.1 V (maker's figure, WM 1, page 7)" in found.reasons[0]


def test_of_several_figures_the_one_for_the_conditions_is_taken():
    case = measured("0.240", conditions=["idle"])
    case.record("maker_figure", figure="ground-drop", value="0.5", unit="V", document="WM 1", page="p. 8", conditions=["cranking"])
    case.record("maker_figure", figure="ground-drop", value="0.1", unit="V", document="WM 1", page="p. 7", conditions=["running"])
    assert "0.1 V (maker's figure, WM 1, p. 7)" in reply(case, FIGURE).reasons[0]  # what idles, runs
    assert reply(case.change("measurement-1", conditions=["cranking"]), FIGURE).answer == "not met"


@pytest.mark.parametrize(("rule", "expected"), [(None, "undecided"), ("guarded", "not met"), ("simple", "met")])
def test_the_dossier_may_state_a_decision_rule(rule, expected):
    case = measured("0.202").change("dossier-1", decision_rule=rule)
    assert reply(case).answer == expected


def test_a_figure_may_state_a_rule_of_its_own():
    case = measured("0.202").change("dossier-1", decision_rule="guarded")
    case.record("maker_figure", figure="ground-drop", value="0.2", unit="V", document="WM 1", decision_rule="simple")
    assert reply(case, FIGURE).answer == "met"
    assert "(simple acceptance)" in reply(case, FIGURE).reasons[0]


def test_a_rule_that_is_none_is_refused():
    with pytest.raises(ValidationError, match="guarded_both_sides"):
        coil_case().change("dossier-1", decision_rule="kind").dossier()


def test_an_open_verdict_says_what_would_decide_it():
    found = reply(measured("0.202"), source="common practice, no source")
    assert found.answer == "undecided"
    # u = (0.00101 + 0.002) / √3 = 0.001738 V; Φ(0.002 / 0.001738) = 0.8751
    told = (
        "Measurement 1: voltage drop 0.202 V ± 0.0035 V is above 0.2 V (common practice, no source), but by less than the "
        "reading can be off: undecided (a reading good to ± 0.0020 V would decide it; probability 0.8751)"
    )
    assert found.reasons == (told,)


def test_the_limits_of_a_pack_name_its_sources_and_common_practice():
    case = coil_case()
    case.drops("4.80")
    reasons = next(f.reasons for f in case.candidate().findings if f.id == "F2")
    assert "is above 0.2 V (sources S1, S2, S3, S4 and common practice) by more than the reading can be off: met" in reasons[0]


LEFT_OPEN = [  # how the statement stands, and what becomes of 0.210 V (support) and 0.190 V (against)
    ({}, {}),
    ({"valid_months": 1}, {}),  # calibrated in January, read in May
    ({"valid_months": 12}, {"calibrated": None, "checked_against": "a reference"}),
    ({"temperature": {"low": "18", "high": "28"}, "per_degree": "0.1"}, {}),
]


@pytest.mark.parametrize(("more", "instrument"), LEFT_OPEN[1:])
def test_what_the_record_leaves_open_takes_support_and_never_what_speaks_against(more, instrument):
    sound, doubtful = VOLTS, {**VOLTS, **more}
    assert reply(measured("0.210", sound)).answer == "met"
    assert reply(measured("0.210", doubtful, instrument)).answer in ("undecided", "not measured")
    assert reply(measured("0.190", sound)).answer == "not met"
    assert reply(measured("0.190", doubtful, instrument)).answer == "not met"


def test_an_instrument_without_an_accuracy_supports_only_far_from_the_limit():
    other = {"quantity": "current", "unit": "A", "percent": "1"}
    assert reply(measured("0.210", other)).answer == "undecided"
    assert reply(measured("0.190", other)).answer == "not met"
    assert reply(measured("0.612", other)).answer == "met"


def test_a_stated_temperature_inside_the_band_restores_support():
    band = {**VOLTS, "temperature": {"low": "18", "high": "28"}, "per_degree": "0.1"}
    assert reply(measured("0.210", band, circumstances={"ambient_temperature": "21 °C"})).answer == "met"
    assert reply(measured("0.210", band, circumstances={"ambient_temperature": "-5 °C"})).answer == "undecided"


def test_spread_over_parts_read_in_different_units():
    ask = {
        "measure": "cranking_compression", "of": "cylinder", "over": {"every": "cylinder", "reduce": "low/high"},
        "is": {"op": "<", "value": "0.75", "unit": "ratio"},
    }  # fmt: skip
    case = coil_case()
    for n, (value, unit) in enumerate((("10.0", "bar"), ("145", "psi"), ("1000", "kPa"), ("6.0", "bar")), 1):
        case.measure("cranking_compression", "cylinder", value, unit, position=str(n))
    found = reply(case, ask)
    assert found.answer == "met"
    assert found.reasons[0].startswith("lowest over highest 0.6")


def own(limit, **more):
    case = measured("0.240", limit=limit, **more)
    holdings = Holdings(case.dossier())
    return own_verdict(holdings, next(r for r in holdings.dossier.by_subject.values() if r.kind == "measurement"))


def test_the_limit_beside_a_reading():
    found = own({"op": ">", "value": "0.2", "unit": "V", "source": "maker", "document": "WM-4", "page": "12"})
    assert found.words() == "0.240 V ± 0.0037 V is above 0.2 V (maker, WM-4, page 12) by more than the reading can be off: met"
    assert "ILAC-G8:09/2019" in found.rule_words
    other = own({"op": ">", "value": "0.2", "unit": "V", "conditions": ["loaded"]}, conditions=["key-on"])
    assert other.judgement is None
    assert other.words() == "not comparable: the limit holds for loaded, the reading was read key on"
    assert own(None).words() == ""
    assert own("> 0.2 V", time=None).unusable == "has no time base"
