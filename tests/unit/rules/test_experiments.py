"""Interventions as experiments: one change between two tests is compared, two are told."""

from evidence.rules.experiments import SEVERAL

from build import COIL, coil_case


def refitted(**again):
    """High drops and no pulses as found; the eyelet refitted; the drops taken again, and the trace."""
    case = coil_case()
    case.drops("4.80")
    case.trace()
    case.touch("coil-ground-eyelet", time="2026-05-06 09:00")
    after = {"state": "after_repair", "after": "intervention-1", "time": "2026-05-06 10:00"}
    case.drops("0.02", **after)
    case.trace(**{**after, **again})
    return case


def told(case):
    return [p.text for e in case.assess().experiments for p in e.told]


def test_one_connection_restored_its_test_passes_and_the_function_does_not_return():
    experiment = refitted().assess().experiments[0]
    assert experiment.interventions == ("Intervention 1",)
    drop = next(p for p in experiment.pairs if p.what.startswith("voltage drop, coil ground 1"))
    assert (drop.told, "4.80 V" in drop.before, "Measurement 5" in drop.after) == ("changed", True, True)
    trace = next(p for p in experiment.pairs if p.what.startswith("pulses per cycle, coil control 1"))
    assert trace.told.startswith("the same")
    text = next(p for p in experiment.told if "coil ground" in p.text.lower())
    assert "put right what was wrong" in text.text
    assert "does not alone explain the effect" in text.text
    assert {"Measurement 1", "Measurement 5", "Waveform 1", "Waveform 2"} <= set(text.records)


def test_the_function_returns_with_the_one_change():
    assert any("with this one change the effect went" in t for t in told(refitted(pulses=("1", "1", "1", "1"))))
    assert not any("does not alone explain" in t for t in told(refitted(pulses=("1", "1", "1", "1"))))


def test_a_function_that_was_not_tested_again_is_told_so():
    case = refitted().drop("waveform-2")
    assert any("whether the effect went with it was not tested" in t for t in told(case))


def test_a_change_that_a_person_says_cannot_matter_does_not_spoil_the_comparison():
    case = coil_case()
    case.drops("4.80")
    case.touch("spark-plug", action="removed", time="2026-05-06 08:00")
    case.touch("coil-ground-eyelet", time="2026-05-06 09:00")
    case.drops("0.02", state="after_repair", after="intervention-2", time="2026-05-06 10:00")
    assert any(len(e.interventions) == 2 for e in case.assess().experiments)
    case.record(
        "resolution", by="party-1", time="2026-05-09", mechanism=COIL, about="other_intervention_cannot_matter",
        records=["intervention-1"], text="The plugs are not in the ground path.",
    )  # fmt: skip
    found = case.assess().experiments
    assert [e.interventions for e in found if e.pairs] == [("Intervention 2",)]


def test_what_did_not_put_it_right_says_nothing():
    case = coil_case()
    case.drops("4.80")
    case.trace()
    case.touch("coil-ground-eyelet", time="2026-05-06 09:00")
    after = {"state": "after_repair", "after": "intervention-1", "time": "2026-05-06 10:00"}
    case.drops("4.70", **after)
    case.trace(**after)
    assert any("did not put right" in t for t in told(case))


def test_two_changes_between_two_tests_are_told():
    case = coil_case()
    case.drops("4.80", count=1)
    case.touch("coil-ground-eyelet", time="2026-05-06 09:00")
    case.touch("coil-connector", action="replaced", time="2026-05-06 09:30")
    case.drops("0.02", count=1, state="after_repair", after="intervention-2", time="2026-05-06 10:00")
    found = case.assess().experiments
    both = next(e for e in found if len(e.interventions) == 2)
    assert both.interventions == ("Intervention 1", "Intervention 2")
    assert [p.text for p in both.told] == [SEVERAL]
    assert both.pairs[0].told == "changed"


def test_a_test_under_other_conditions_or_at_another_place_is_not_the_same():
    case = coil_case()
    case.drops("4.80", count=1)
    case.touch("coil-ground-eyelet", time="2026-05-06 09:00")
    later = {"state": "after_repair", "after": "intervention-1", "time": "2026-05-06 10:00"}
    case.measure("voltage_drop", "coil-ground", "0.02", "V", position="2", to="battery-negative", conditions=["key-on"], **later)
    case.measure("voltage_drop", "coil-ground", "0.02", "V", position="1", to="battery-negative", conditions=["running"], **later)
    case.measure("voltage_drop", "coil-ground", "0.02", "V", position="1", to="engine-block", conditions=["key-on"], **later)
    assert not any(e.pairs for e in case.assess().experiments)


def test_a_test_whose_time_does_not_say_which_state_it_met_is_left_out():
    case = coil_case()
    case.drops("4.80", count=1)
    case.touch("coil-ground-eyelet", time="2026-05-06 09:00")
    case.drops("0.02", count=1, state=None, time="2026-05-06")
    assert not any(e.pairs for e in case.assess().experiments)
