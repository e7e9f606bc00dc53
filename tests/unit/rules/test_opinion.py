"""Which single record or finding carries a band, and what open result would change it: against the record judged again."""

import pytest

from build import COIL, coil_case, packs, shown_case


@pytest.fixture(scope="module")
def shown():
    return shown_case()


def ignition():
    return tuple(p for p in packs() if p.id == "ignition")


def subject(case, label):
    kind, number = label.rsplit(" ", 1)
    return f"{kind.lower().replace(' ', '_')}-{number}"


def test_what_falls_is_what_the_record_without_it_says(shown):
    found = shown.candidate(own=ignition())
    examined = {r for f in (*found.findings, *found.common) for r in f.records} | {r for a in found.alternatives for r in a.records}
    told = {f.what: f.band for f in found.falls if " " in f.what}
    assert told  # the eyelet was seen once
    assert told["Observation 1"] == "no support either way"
    for label in sorted(examined):
        case = shown.drop(subject(shown, label))
        again = [c for c in case.assess(ignition()).candidates if c.mechanism == COIL]
        band = again[0].weight.band if again else "candidate only"
        assert told.get(label, found.weight.band) == band, label


def test_a_finding_that_two_records_carry_falls_as_a_whole():
    case = coil_case()
    case.declare()
    case.drops("4.80", count=2)
    case.trace()
    case.bench()
    found = case.candidate(own=ignition())
    assert {f.what for f in found.falls} >= {"F2"}
    assert not {"Measurement 1", "Measurement 2"} & {f.what for f in found.falls}


def test_what_would_change_the_opinion_does_change_it():
    case = coil_case()
    case.declare()
    case.trace()
    case.bench()
    before = case.candidate(own=ignition())
    change = next(c for c in before.changes if c.what == ("F1",))
    assert change.if_met
    assert change.if_not
    case.observe("coil-ground-eyelet", "ground_seat", "off", position="1")
    assert case.candidate(own=ignition()).weight.band == change.if_met
    gone = case.change("observation-9", seen="seated")
    assert gone.candidate(own=ignition()).weight.band == change.if_not


def test_a_supported_alternative_leaves_no_statement():
    found = shown_case().candidate(own=ignition())
    rival = next(c for c in found.changes if c.of_rival and c.if_not)
    assert rival.if_not == "no statement until resolved"


def test_guarded_alternatives_that_hold_only_together_are_told_together():
    case = coil_case()
    case.observe("coil-ground-eyelet", "ground_seat", "off", position="1")
    case.trace()
    case.bench()
    case.observe("signal-reference-wire", "heat_trace", "melted", state="disturbed", time="2026-05-08 10:00")
    for name, true, other in (("F14", "possible", None), ("F4", None, "unlikely")):
        stated = {"if_true": [true, true]} if true else {"if_not": [other, other]}
        case.record(
            "resolution", by="party-1", time="2026-05-09", mechanism=COIL, about="grade", finding=name, text="as counted",
            source="strip reports kept by the shop", **stated,
        )  # fmt: skip
    found = case.candidate(own=ignition())
    assert found.weight.band == "moderate support"
    assert found.weight.low > 1000
    together = next(c for c in found.changes if len(c.what) > 1)
    assert together.if_met == "strong support"
    assert "all are excluded" in together.outcome


def test_what_can_be_made_no_more_would_change_nothing():
    case = coil_case()
    case.declare()
    case.bench()
    case.trace(state=None)
    case.touch("coil-ground-eyelet", time="2026-05-06 09:00")
    case.observe("signal-reference-wire", "heat_trace", "melted", state="disturbed", time="2026-05-08 10:00")
    found = case.candidate(own=ignition())
    assert not any("F1" in c.what for c in found.changes)
