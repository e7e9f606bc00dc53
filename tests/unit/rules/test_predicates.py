"""The ask language, one question at a time: coverage, reduction, references, papers, codes."""

import pytest
from evidence.model.waveform import Feature as StoredFeature
from evidence.rules.asks import FEATURES, Ask, Computed, Document, question
from evidence.rules.circumstances import Setting
from evidence.rules.computed import Known, compute
from evidence.rules.holdings import Holdings
from evidence.rules.papers import of_document
from evidence.rules.predicates import answer
from pydantic import TypeAdapter, ValidationError

from build import Case, coil_case, vocabulary

ASK = TypeAdapter(Ask)


def reply(case, raw, components=("coil-ground",)):
    ask = ASK.validate_python(raw)
    holdings = Holdings(case.dossier())
    prior = holdings.prior_orders[-1] if holdings.prior_orders else None
    setting = Setting(holdings=holdings, vocabulary=vocabulary(), components=components, prior=prior)

    def outside(asked, here):
        if isinstance(asked, Document):
            return of_document(asked, here)
        assert isinstance(asked, Computed)
        return compute(asked, here, Known(mechanism=None, replies={}, statuses={}))

    return answer(ask, setting, outside=outside, lookup=lambda _: None)


def torques(*values):
    case = coil_case()
    case = case.change("vehicle-1", counts={"wheel-nut": len(values)})
    for n, value in enumerate(values, 1):
        case.measure("breakaway_torque", "wheel-nut", value, "Nm", position=str(n))
    return case


LOOSE = {"op": "<", "value": "30", "unit": "Nm"}


@pytest.mark.parametrize(
    ("take", "values", "expected"),
    [
        ("any", ("20", "90", "90"), "met"), ("any", ("90", "90", "90"), "not met"), ("any", ("30", "90", "90"), "undecided"),
        ("all", ("20", "20", "20"), "met"), ("all", ("20", "90", "20"), "not met"), ("all", ("20", "30", "20"), "undecided"),
        ("none", ("90", "90", "90"), "met"), ("none", ("20", "90", "90"), "not met"),
        ("some", ("20", "90", "90"), "met"), ("some", ("20", "20", "20"), "not met"), ("some", ("90", "90", "90"), "not met"),
        ("2+", ("20", "20", "90"), "met"), ("2+", ("20", "90", "90"), "not met"), ("2+", ("20", "30", "90"), "undecided"),
    ],
)  # fmt: skip
def test_over_every_part(take, values, expected):
    ask = {"measure": "breakaway_torque", "of": "wheel-nut", "over": {"every": "wheel-nut", "take": take}, "is": LOOSE}
    assert reply(torques(*values), ask).answer == expected


def test_coverage_is_part_of_the_answer():
    case = torques("20", "90", "90").drop("measurement-3")
    ask = {"measure": "breakaway_torque", "of": "wheel-nut", "over": {"every": "wheel-nut", "take": "all"}, "is": LOOSE}
    got = reply(case.drop("measurement-2"), ask)
    assert (got.answer, got.coverage) == ("undecided", "1 of 3 wheel nuts")


@pytest.mark.parametrize(
    ("reduce", "criterion", "expected"),
    [
        ("low/high", {"op": ">=", "value": "0.75", "unit": "ratio"}, "not met"),
        ("low/high", {"op": ">=", "value": "60", "unit": "%"}, "met"),
        ("spread", {"op": ">", "value": "20", "unit": "Nm"}, "met"),
    ],
)
def test_reduction_over_every_part(reduce, criterion, expected):  # lowest 64, highest 100: 0.64, 36 Nm apart
    ask = {
        "measure": "breakaway_torque",
        "of": "wheel-nut",
        "over": {"every": "wheel-nut", "reduce": reduce},
        "is": criterion,
    }
    assert reply(torques("64", "100", "90"), ask).answer == expected
    assert reply(torques("64", "100", "90").drop("measurement-3"), ask).answer == "undecided"


def test_like_parts_are_compared_with_the_median_of_the_others():
    ask = {"measure": "breakaway_torque", "of": "wheel-nut", "over": {"every": "wheel-nut", "take": "any"},
           "is": {"op": "<", "times": "0.5", "of": "others"}}  # fmt: skip
    assert reply(torques("20", "90", "95", "100"), ask).answer == "met"
    assert reply(torques("80", "90", "95", "100"), ask).answer == "not met"
    alone = reply(torques("20", "90"), ask)
    assert alone.answer == "not measured"
    assert "fewer than two like parts" in alone.near[0].why


def test_maker_figure_replaces_and_scales():
    ask = {
        "measure": "breakaway_torque",
        "of": "drain-plug",
        "is": {"op": "<", "times": "0.3", "of": "maker/drain-plug-torque"},
    }
    case = coil_case()
    case.measure("breakaway_torque", "drain-plug", "5.0", "lbf·ft")
    missing = reply(case, ask)
    assert missing.answer == "not measured"
    assert "drain-plug-torque" in missing.near[0].why
    case.record("maker_figure", figure="drain-plug-torque", value="30", unit="Nm", document="WM 1")
    assert reply(case, ask).answer == "met"  # 5 lbf·ft = 6.8 Nm (NIST SP 811), below 9 Nm
    default = {
        "measure": "breakaway_torque",
        "of": "drain-plug",
        "is": {"op": "<", "value": "5", "unit": "Nm", "figure": "loose"},
    }
    assert reply(case, default).answer == "not met"
    case.record("maker_figure", figure="loose", value="8", unit="Nm", document="WM 1")
    assert reply(case, default).answer == "met"


def test_within_a_reference():
    ask = {"measure": "gap", "of": "spark-plug", "is": {"within": "0.1", "unit": "mm", "of": "maker/plug-gap"}}
    case = coil_case()
    case.record("maker_figure", figure="plug-gap", value="0.9", unit="mm", document="WM 1")
    case.measure("gap", "spark-plug", "0.95", "mm")
    assert reply(case, ask).answer == "met"
    assert reply(case.change("measurement-1", value="1.20"), ask).answer == "not met"
    assert reply(case.change("measurement-1", value="1.0"), ask).answer == "undecided"


def scan(case, codes=(), silent=False, **more):
    modules = [
        {
            "module": "engine-control-module",
            "result": "codes" if codes else "none_stored",
            "codes": [{"code": c} for c in codes],
        },
        {"module": "immobiliser", "result": "no_communication" if silent else "none_stored"},
    ]
    base = {"before_clearing": True, "all_modules": True, "time": "2026-05-05 10:00"}
    return case.record("code_scan", modules=modules, **{**base, **more})


NONE = {"op": "==", "value": "0"}


def test_codes_are_counted_by_pattern():
    ask = {
        "read": "codes",
        "of": "module",
        "codes": ["P034*", "U*"],
        "when": ["before-reset"],
        "every_module": True,
        "is": NONE,
    }
    case = coil_case()
    scan(case, ["P0351"])
    assert reply(case, ask).answer == "met"
    other = coil_case()
    scan(other, ["P0340"])
    assert reply(other, ask).answer == "not met"


@pytest.mark.parametrize("more", [{"all_modules": False}, {"silent": True}, {"before_clearing": False}])
def test_a_scan_that_is_not_whole_answers_nothing(more):
    ask = {"read": "codes", "of": "module", "when": ["before-reset"], "every_module": True, "is": NONE}
    case = coil_case()
    scan(case, **more)
    assert reply(case, ask).answer == "not measured"


def test_silence_is_read_as_communication():
    case = coil_case()
    scan(case, silent=True)
    assert reply(case, {"read": "communication", "of": "immobiliser", "is": ["silent"]}).answer == "met"
    assert reply(case, {"read": "communication", "of": "immobiliser", "is": ["answers"]}).answer == "not met"


def test_identity_and_actuator():
    case = coil_case()
    case.record("module_identity", module="engine-control-module", coding="not_coded", time="2026-05-05")
    case.record("actuator_test", of="fuel-pump", commanded="on", response="no_response", time="2026-05-05 10:00")
    assert reply(case, {"read": "coding", "of": "engine-control-module", "is": ["coded"]}).answer == "not met"
    assert reply(case, {"read": "response", "of": "fuel-pump", "is": ["no_response", "partial"]}).answer == "met"


def test_papers_say_and_carry_only_when_in_hand():
    says = {"document": "prior_work_order", "says": ["crank-no-start"], "is": ["not_stated"]}
    carries = {"document": "prior_work_order", "carries": ["valve-cover"]}
    assert reply(coil_case(), says).answer == "met"
    assert reply(coil_case(), carries).answer == "met"
    assert reply(coil_case(complaint_tags=["crank-no-start"]), says).answer == "not met"
    empty = Case()
    empty.record("party", full_name="Ann")
    empty.record("dossier", title="x")
    assert reply(empty, says).answer == "not measured"
    assert reply(empty, carries).answer == "not measured"


def test_days_and_distance_between_milestones():
    days = {
        "computed": "days",
        "from": "prior_work_closed",
        "to": "onset",
        "is": {"op": "<=", "value": "5", "unit": "d"},
    }
    km = {
        "computed": "distance",
        "from": "prior_work_closed",
        "to": "onset",
        "is": {"op": "<", "value": "20", "unit": "mi"},
    }
    assert reply(coil_case(), days).answer == "met"
    assert reply(coil_case(), km).answer == "not met"  # 40 km is 24.9 miles
    assert reply(coil_case().drop("event-1"), days).answer == "not measured"


def test_after_reaches_to_the_next_hand_of_any_kind():
    ask = {"measure": "voltage", "of": "battery", "after": "battery", "is": {"op": ">", "value": "12", "unit": "V"}}
    case = coil_case()
    case.touch("battery", action="charged", time="2026-05-05 08:00")
    case.measure("voltage", "battery", "12.60", "V", time="2026-05-05 09:00", state=None)
    assert reply(case, ask).answer == "met"
    case.touch("fuel-pump", time="2026-05-05 08:30")
    late = reply(case, ask)
    assert late.answer == "not measured"
    assert "met a later state, after Intervention 2" in late.near[0].why


def test_groups_mirror_each_other():
    good = {"measure": "voltage", "of": "battery", "is": {"op": ">", "value": "12", "unit": "V"}}
    bad = {"measure": "voltage", "of": "battery", "is": {"op": "<", "value": "12", "unit": "V"}}
    unread = {"measure": "current", "of": "battery", "is": {"op": "<", "value": "1", "unit": "A"}}
    case = coil_case()
    case.measure("voltage", "battery", "12.60", "V")
    expected = {
        ("any", "good bad"): "met", ("any", "bad unread"): "undecided", ("any", "bad bad"): "not met", ("any", "unread"): "not measured",
        ("all", "good good"): "met", ("all", "good bad"): "not met", ("all", "good unread"): "undecided", ("all", "unread"): "not measured",
    }  # fmt: skip
    parts = {"good": good, "bad": bad, "unread": unread}
    for (group, names), wanted in expected.items():
        assert reply(case, {group: [parts[n] for n in names.split()]}).answer == wanted, (group, names)


def test_over_range_display_is_one_sided():
    ask = {"measure": "resistance", "of": "coil-ground", "is": {"op": ">", "value": "1", "unit": "MΩ"}}
    case = coil_case()
    case.measure("resistance", "coil-ground", "60", "MΩ", beyond_range="above")
    assert reply(case, ask).answer == "met"


# --- the language itself -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("raw", "message"),
    [
        ({"measure": "voltage_drop", "of": "x", "is": {"op": ">", "value": "1", "unit": "psi"}}, "not measured in psi"),
        (
            {"measure": "voltage", "of": "x", "is": {"op": ">", "value": "1", "unit": "V"}, "wehn": ["idle"]},
            "Extra inputs",
        ),
        ({"measure": "voltage", "observe": "x", "of": "x"}, "exactly one of measure"),
        ({"observe": "pulses", "of": [], "is": ["present"]}, "empty list"),
        ({"measure": "voltage", "of": "x", "is": {"op": ">", "times": "2", "of": "elsewhere"}}, "is no reference"),
        ({"measure": "voltage", "of": "x", "is": {"between": ["9", "4"], "unit": "V"}}, "lower end stands above"),
        ({"read": "coding", "of": "x", "is": {"op": ">", "value": "1"}}, "held against words"),
        ({"computed": "days"}, "'is' goes with"),
        ({"computed": "days", "is": {"op": "<", "value": "1", "unit": "km"}}, "not measured in km"),
        ({"document": "owner_declaration", "carries": ["oil-change"]}, "carries no lines"),
        ({"observe": "pulses", "of": "x", "over": {"every": "coil"}, "is": ["present"]}, "either 'take' or 'reduce'"),
        ({"change": "f4", "across": "x", "before": "met", "after": "met"}, "not the id of a finding"),
    ],
)
def test_what_the_language_refuses(raw, message):
    with pytest.raises(ValidationError, match=message):
        ASK.validate_python(raw)


def test_equal_questions_are_one_whatever_their_test_is_called():
    one = ASK.validate_python({"any": [{"observe": "pulses", "of": "a", "is": ["absent"], "test": "t"}]})
    other = ASK.validate_python({"any": [{"is": "absent", "of": ["a"], "observe": "pulses"}]})
    assert question(one) == question(other)
    assert hash(other) is not None


def test_features_are_those_a_waveform_can_carry():
    literal = StoredFeature.model_fields["feature"].annotation
    assert set(FEATURES) == set(literal.__args__)


def test_an_answer_that_rests_on_several_is_as_sure_as_they_leave_it():
    """Boole and Fréchet: at least 1 - sum of the doubts for all of them, at least the best for any of them."""
    from fractions import Fraction

    from evidence.rules.replies import together

    sures = [Fraction(98, 100), Fraction(95, 100), Fraction(9, 10)]
    assert together(sures, every=True) == Fraction(83, 100)
    assert together(sures, every=False) == Fraction(98, 100)
    assert together([Fraction(1, 2)] * 3, every=True) == 0
    assert together([], every=True) == together([], every=False) == 1
