"""Interventions as experiments: one change between two tests is compared, two are told."""

from evidence.rules.experiments import SEVERAL

from build import coil_case


def refitted(**again):
    """High drops and no pulses as found; the eyelet refitted; the drops taken again, and the trace."""
    case = coil_case()
    case.drops("4.80")
    case.trace()
    case.touch("coil-ground-eyelet", time="2026-05-06 09:00")
    after = {"state": "after_repair", "after": "intervention-1", "time": "2026-05-06 10:00"}
    case.drops("0.02", **after)
    for n in "1234":
        case.observe("coil-ground", "test_lamp", "bright", position=n, conditions=["key-on"], **after)
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
    case = refitted(pulses=("1", "1", "1", "1"))
    assert any("whether the effect went with it was not tested" in t for t in told(case))  # one of three ways to ask it
    after = {"state": "after_repair", "after": "intervention-1", "time": "2026-05-06 10:00"}
    cranking = {"conditions": ["cranking"], "circumstances": {"engine_speed": "210 rpm"}, **after}
    for n in "1234":
        case.measure("signal_voltage", "coil-control", "4.6", "V", position=n, **cranking)
        case.trace(pulses=(), features=[peak(n), SPEED], **after)
    assert any("with this one change the effect went" in t for t in told(case))


SPEED = {"feature": "engine_speed", "value": "210", "unit": "rpm", "of": "crankshaft-sensor", "read_by": "Ann"}


def peak(n):
    return {"feature": "peak_voltage", "value": "4.6", "unit": "V", "of": "coil-control", "position": n, "read_by": "Ann"}


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
