"""Laws of the whole judgement, on arbitrary dossiers about one mechanism.

Taking away or weakening what only supports never raises a conclusion; what answers nothing changes nothing; support for an
alternative lifts nothing; the order of recording does not matter.
"""

from functools import cache

from evidence.rules.weighing import BANDS
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from build import COIL, coil_case, packs

BAND_LEVEL = {words: n for n, _, words in BANDS}
LAMP = {"conditions": ["key-on"], "circumstances": {"lamp_current": "2.1 A"}}

ACTS = {
    "eyelet off": lambda c: c.observe("coil-ground-eyelet", "ground_seat", "off", position="1"),
    "eyelet seated": lambda c: c.observe("coil-ground-eyelet", "ground_seat", "seated", position="1"),
    "drops high": lambda c: c.drops("4.80")[-1],
    "drop low": lambda c: c.drops("0.02", count=1)[-1],
    "no pulses": lambda c: c.trace(),
    "some pulses": lambda c: c.trace(pulses=("0", "1", "0", "1")),
    "all pulses": lambda c: c.trace(pulses=("1", "1", "1", "1")),
    "bench": lambda c: c.bench(),
    "melted": lambda c: c.observe("signal-reference-wire", "heat_trace", "melted", state="disturbed"),
    "not melted": lambda c: c.observe("signal-reference-wire", "heat_trace", "none", state="disturbed"),
    "supply good": lambda c: [c.measure("voltage_drop", "coil-supply", "0.1", "V", position=n, to="battery-positive", **LAMP) for n in "1234"],
    "supply bad": lambda c: c.measure("voltage_drop", "coil-supply", "3.0", "V", position="1", to="battery-positive", **LAMP),
    "declared": lambda c: c.declare(),
    "own work": lambda c: c.declare(own_work={"topic": "own_work", "answer": "some", "components": ["coil-connector"]}),
    "own work alone": lambda c: c.record("owner_declaration", given_by="party-3", time="2026-05-05 09:00", before_findings_shown=True, signed=True, statements=[{"topic": "own_work", "answer": "some", "components": ["coil-connector"]}]),
    "touched": lambda c: c.touch("coil-ground-eyelet"),
    "map matches": lambda c: c.observe("coil-output-stage", "damage_map", "where-predicted"),
    "map elsewhere": lambda c: c.observe("coil-output-stage", "damage_map", "elsewhere"),
    "fuse whole": lambda c: c.observe("main-fuse", "fuse_state", "whole"),
    "sync": lambda c: c.observe("engine-control-module", "sync_flag", "true", conditions=["cranking"]),
    "after refit": lambda c: c.trace(after="intervention-1", state="after_repair", time="2026-05-06 10:00") if any(k == "intervention" for k, *_ in c.entries) else None,
}  # fmt: skip
acts = st.lists(st.sampled_from(sorted(ACTS)), min_size=1, max_size=9)
quick = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@cache
def ignition():
    return tuple(p for p in packs() if p.id == "ignition")


def made(names):
    case = coil_case()
    for name in names:
        ACTS[name](case)
    return case


def standing(case):
    """How far a conclusion goes: side and band, then the low end of the ratio, which carries it."""
    weight = case.candidate(own=ignition(), firmness=False).weight
    side = {"other": -1, "none": 0, "neither": 0, "mechanism": 1}[weight.side]
    return side * (1 + BAND_LEVEL.get(weight.band, 0)), weight.low


def not_above(less, more):
    return less[0] <= more[0] and less[1] <= more[1]


def only_supports(candidate, label):
    """The record carries something, and nothing that speaks against the mechanism or is undecided."""
    for f in (*candidate.findings, *candidate.common):
        if label in f.records and f.answer != "met":
            return False
    if any(label in c.records for c in candidate.contradictions):
        return False
    return not any(label in a.records and a.status in ("supported", "open") for a in candidate.alternatives)


def examined(case):
    kinds = {"observation": "Observation", "measurement": "Measurement", "waveform": "Waveform"}
    return [(s, f"{kinds[k]} {s.rpartition('-')[2]}") for k, s, _, _ in case.entries if k in kinds]


@quick
@given(acts, st.data())
def test_taking_away_what_only_supports_never_raises(names, data):
    case = made(names)
    candidate = case.candidate(own=ignition(), firmness=False)
    found = [(s, label) for s, label in examined(case) if only_supports(candidate, label)]
    if found:
        subject, _ = data.draw(st.sampled_from(found))
        assert not_above(standing(case.drop(subject)), standing(case))


@quick
@given(acts, st.data())
def test_weakening_a_record_never_raises(names, data):
    case = made(names)
    candidate = case.candidate(own=ignition(), firmness=False)
    found = [(s, label) for s, label in examined(case) if only_supports(candidate, label)]
    if found:
        subject, _ = data.draw(st.sampled_from(found))
        field = data.draw(st.sampled_from(["instrument", "time", "state", "position"]))
        assert not_above(standing(case.change(subject, **{field: None})), standing(case))


@quick
@given(acts, st.data())
def test_losing_instrument_or_time_never_helps_whatever_the_record_says(names, data):
    case = made(names)
    found = examined(case)
    if found:
        subject, _ = data.draw(st.sampled_from(found))
        field = data.draw(st.sampled_from(["instrument", "time"]))
        assert not_above(standing(case.change(subject, **{field: None})), standing(case))


@quick
@given(acts)
def test_losing_the_calibration_never_helps_and_never_removes_an_adverse_weight(names):
    case = made(names)
    less = case.change("instrument-1", calibrated=None)
    assert not_above(standing(less), standing(case))
    before, after = case.candidate(own=ignition(), firmness=False), less.candidate(own=ignition(), firmness=False)
    adverse = {f.id for f in before.findings if f.answer == "not met"}
    assert adverse <= {f.id for f in after.findings if f.answer == "not met"}
    silent = {f.id for f in after.findings if f.answer == "not measured"}  # what answers nothing contradicts nothing
    assert {c.about for c in before.contradictions} <= {c.about for c in after.contradictions} | silent


@quick
@given(acts)
def test_a_clock_that_is_lost_never_helps_and_never_removes_an_adverse_weight(names):
    case = less = made(names)
    for subject, _ in examined(case):
        less = less.change(subject, time=None)
    assert not_above(standing(less), standing(case))
    before, after = case.candidate(own=ignition(), firmness=False), less.candidate(own=ignition(), firmness=False)
    adverse = {f.id for f in before.findings if f.answer == "not met" and not f.id.startswith("F10")}
    assert adverse <= {f.id for f in after.findings if f.answer == "not met"}


@quick
@given(acts, st.sampled_from(["supply bad", "own work alone"]))
def test_support_for_an_alternative_never_lifts_a_ceiling(names, adverse):
    before, after = (made(n).candidate(own=ignition(), firmness=False) for n in (names, [*names, adverse]))
    for code in {c.code for c in before.ceilings} - {"guarded"}:
        assert code in {c.code for c in after.ceilings}
    held = {a.id for a in before.alternatives if a.guarded and a.status != "excluded"}
    assert held <= {a.id for a in after.alternatives if a.guarded and a.status != "excluded"}


@quick
@given(acts)
def test_what_is_told_to_fall_is_what_is_left_without_it(names):
    found = made(names).candidate(own=ignition())
    for fall in found.falls[:2]:
        if " " in fall.what:
            kind, number = fall.what.lower().replace(" ", "_").rsplit("_", 1)
            less = [c for c in made(names).drop(f"{kind}-{number}").assess(ignition()).candidates if c.mechanism == COIL]
            assert (less[0].weight.band if less else "candidate only") == fall.band


@quick
@given(acts)
def test_what_answers_nothing_changes_nothing(names):
    before = standing(made(names))
    case = made(names)
    case.observe("coil-ground-eyelet", "ground_seat", "not-visible", position="1")
    case.measure("tyre_pressure", "wheel", "230", "kPa")
    case.drops("4.80", count=1, conditions=[])
    case.record("event", what="other", text="The yard was swept.", time="2026-05-05", basis="told")
    assert standing(case) == before


@quick
@given(acts)
def test_support_for_an_alternative_lifts_nothing(names):
    assert not_above(standing(made([*names, "supply bad"])), standing(made(names)))


@quick
@given(acts, st.randoms(use_true_random=False))
def test_order_of_recording_does_not_matter(names, random):
    fixed = [n for n in names if n not in ("touched", "after refit")]
    shuffled = list(fixed)
    random.shuffle(shuffled)
    one, other = made(fixed).candidate(own=ignition(), firmness=False), made(shuffled).candidate(own=ignition(), firmness=False)
    assert [f.answer for f in one.findings] == [f.answer for f in other.findings]
    assert (one.weight.low, one.weight.ratio, one.weight.high) == (other.weight.low, other.weight.ratio, other.weight.high)
    assert {a.id: a.status for a in one.alternatives} == {a.id: a.status for a in other.alternatives}


def test_the_laws_reach_every_side():
    sides = {
        made(n).candidate(own=ignition(), firmness=False).weight.side
        for n in (["eyelet off", "no pulses", "bench"], ["eyelet seated"], ["supply bad"], ["sync"])
    }
    assert sides == {"mechanism", "other", "none", "neither"}
    assert made(["sync"]).candidate(own=ignition(), firmness=False).mechanism == COIL
