"""Each kind of challenge is raised on a dossier built for it, and silent on its twin in which just that is mended."""

from __future__ import annotations

from fractions import Fraction
from typing import get_args

import pytest
from evidence.review.challenge import SAID, Code, Harm, rank
from evidence.review.challenges import KINDS, as_json, challenges
from evidence.review.grounds import Grounds
from evidence.review.harm import hurts

from build import COIL, Case, coil_case, packs, shown_case, vocabulary

PHOTO = {"media": "photo", "type": "image/jpeg", "reader": "test"}
LAMP = {"conditions": ["key-on"], "circumstances": {"lamp_current": "2.1 A"}}


def raised(case, **more):
    return challenges(Grounds.of(case.dossier(), packs(), vocabulary(), **more))


def codes(case, **more):
    return {c.code for c in raised(case, **more)}


def one(case, code, **more):
    return next(c for c in raised(case, **more) if c.code == code)


def fair_case():
    """The worked case with everything that is asked of conduct: consent, notice, offer, bill, standard, second reader."""
    case = shown_case()
    case.record("party", full_name="Kai Rook", roles=["advisor"])
    case.record("consent", given_by="party-3", to="altering_tests", granted=True, channel="signed_paper", time="2026-05-05 09:10", exhibits=["exhibit-1"])
    for about in ("notice", "inspection_opportunity"):
        case.record("correspondence", sender="party-1", receiver="party-2", about=about, sent="2026-05-05 12:00", channel="registered_letter", exhibits=["exhibit-1"])
    case.record("loss_item", head="repair_parts", nature="resulting_damage", text="module", amount="840.00 EUR", status="invoiced", exhibits=["exhibit-1"])
    case.record("maker_figure", figure="coil-ground-drop", value="0.2", unit="V", document="sheet 12", page="3", valid_on="2026-01-01")
    case.record("opinion", by="party-1", time="2026-05-08", text="The ground was left off.", basis=["observation-1"], qualification="technician", interest="none", second_reader="party-4")
    return case


def after(case, *steps):
    """The case with further steps."""
    for step in steps:
        step(case)
    return case


def photo(case, number=0, **more):
    read = {**PHOTO, **more.pop("read", {})}
    return case.record("exhibit", caption="picture", file={"sha256": f"{number:064}", "size": 3, "name": "p.jpg"}, read=read, **more)


def metered(**instrument):
    case = coil_case()
    case.drops(instrument=case.record("instrument", description="second meter", **{"serial": "8", "calibrated": "2026-01-10", **instrument}))
    return case


def two_changes(*, excused):
    case = fair_case()
    case.drops("4.80", count=1)
    case.touch("coil-ground-eyelet", time="2026-05-06 09:00")
    case.touch("battery", "charged", time="2026-05-06 10:00")
    case.drops("0.05", count=1, time="2026-05-06 11:00", state="after_repair")
    if excused:
        case.record("resolution", by="party-1", time="2026-05-07", mechanism=COIL, about="other_intervention_cannot_matter", records=["intervention-2"], text="A charger changes no ground.")
    return case


def disagreeing(*, resolved):
    case = fair_case()
    case.observe("coil-ground-eyelet", "ground_seat", "seated-clean", position="1")
    if resolved:
        case.record("resolution", by="party-1", time="2026-05-07", mechanism=COIL, about="contradiction", finding="F1", records=["observation-1"], text="The second look was at the other bank.")
    return case


def amended(*, known):
    """The observation that counts was another one at first; changed when an opinion was on record, or before it was."""
    case = coil_case()
    case.declare()
    case.observe("coil-ground-eyelet", "ground_seat", "seated-clean", position="1")
    case.trace()
    opinion = {"by": "party-1", "time": "2026-05-08", "text": "So it was.", "basis": ["observation-1"], "qualification": "technician", "interest": "none"}
    if known:
        case.record("opinion", **opinion)
    case = case.change("observation-1", seen="off")
    if not known:
        case.record("opinion", **opinion)
    return case


def kept(old_part):
    case = fair_case()
    case.touch("coil-harness", "replaced", time="2026-05-06 10:00")
    case.record("work_order", side="present_repairer", repairer="party-1", opened="2026-05-05", operations=[{"text": "harness changed"}], parts=[{"text": "harness", "component": "coil-harness", "old_part": old_part}])
    return case


def cleared(**scan):
    case = fair_case()
    case.touch("engine-control-module", "codes_cleared", time="2026-05-06 08:00")
    base = {"modules": [{"module": "engine-control-module", "result": "none_stored"}], "before_clearing": True, "time": "2026-05-05 09:30"}
    case.record("code_scan", **{**base, **scan})
    return case


def in_a_bag(*, handed_over):
    case = fair_case()
    case.record("exhibit", form="physical", description="module in a bag", retained=True)
    for item, time in (("vehicle-1", "2026-05-05 08:00"), ("exhibit-1", "2026-05-05 08:00"), ("exhibit-2", "2026-05-06")):
        if handed_over or item != "exhibit-2":
            case.record("custody_transfer", item=item, released_by="party-3", received_by="party-1", time=time, place="bench", purpose="to keep", both_signed=True, exhibits=["exhibit-1"])
    return case


def owner_order(closed):
    return after(fair_case(), lambda c: c.record("work_order", side="owner", repairer="party-3", closed=closed, operations=[{"text": "lamp fitted", "components": ["battery"]}]))


def supply(value):
    return after(fair_case(), lambda c: [c.measure("voltage_drop", "coil-supply", value, "V", to="battery-positive", position=n, **LAMP) for n in "1234"])


def onset(time, odometer):
    return fair_case().change("event-1", time=time, odometer=odometer)


def shown_everywhere():
    """The worked case with a picture behind every reading."""
    case = fair_case()
    for kind, subject, _raw, action in list(case.entries):
        if kind in ("observation", "event", "owner_declaration") and action == "record":
            case = case.change(subject, exhibits=["exhibit-1"])
    return case


def board_report():
    """The module opened: damage only where the chain says. That excludes that it died of age."""
    return after(fair_case(), lambda c: c.observe("engine-control-module-case", "damage_map", "where-predicted", state="disturbed", time="2026-05-08 10:00"))


# code -> (a dossier in which it is raised, the same with that mended)
TWINS = {
    "prior_order_missing": (lambda: coil_case(exhibits=[]), coil_case),
    "contradiction": (lambda: disagreeing(resolved=False), lambda: disagreeing(resolved=True)),
    "alternative_supported": (lambda: supply("3.00"), lambda: supply("0.10")),
    "state_disturbed": (lambda: after(coil_case(), lambda c: c.touch("coil-ground-eyelet")), lambda: after(shown_case(), lambda c: c.touch("coil-ground-eyelet"))),
    "owner_work": (lambda: owner_order("2026-05-03"), lambda: owner_order("2026-03-03")),
    "effect_before": (lambda: after(coil_case(complaint_tags=["crank-no-start"]), Case.drops), lambda: after(coil_case(), Case.drops)),
    "outside_window": (lambda: onset("2026-12-04 07:00", "71044 km"), lambda: onset("2026-05-04 07:00", "61044 km")),
    "alternative_untested": (lambda: fair_case().drop("owner_declaration-1"), None),
    "custody": (lambda: in_a_bag(handed_over=False), lambda: in_a_bag(handed_over=True)),
    "two_changes": (lambda: two_changes(excused=False), lambda: two_changes(excused=True)),
    "consent_missing": (lambda: after(shown_case(), lambda c: c.touch("coil-ground-eyelet")), lambda: after(fair_case(), lambda c: c.touch("coil-ground-eyelet"))),
    "part_scrapped": (lambda: kept("scrapped"), lambda: kept("retained")),
    "codes_cleared": (lambda: cleared(before_clearing=False, time="2026-05-06 09:00"), cleared),
    "calibration_out_of_date": (lambda: metered(calibration_due="2026-04-01"), lambda: metered(calibration_due="2027-04-01")),
    "calibration_absent": (lambda: metered(calibrated=None), lambda: metered(calibrated=None, checked_against="a voltage reference")),
    "instrument_unnamed": (lambda: after(coil_case(), lambda c: c.drops(instrument=None)), lambda: after(coil_case(), lambda c: c.drops())),
    "inside_uncertainty": (lambda: after(coil_case(), lambda c: c.drops("0.201")), lambda: after(coil_case(), lambda c: c.drops("0.300"))),
    "single_witness": (fair_case, shown_everywhere),
    "clock_unreferenced": (
        lambda: after(fair_case(), lambda c: photo(c, read={"captured": "2026-05-05 10:00", "device": "W2"})),
        lambda: after(fair_case(), lambda c: photo(c, read={"captured": "2026-05-05 10:00", "device": "W2"}), lambda c: c.record("clock_reference", device="W2", clock_showed="2026-05-05 09:00:00", true_time="2026-05-05 09:01:30+01:00", uncertainty="2 s", source="radio_time")),
    ),
    "capture_time_asserted": (
        lambda: after(fair_case(), lambda c: photo(c, taken="2026-05-05 10:00")),
        lambda: after(fair_case(), lambda c: photo(c, taken="2026-05-05 10:00", read={"captured": "2026-05-05 10:00"})),
    ),
    "amended_late": (lambda: amended(known=True), lambda: amended(known=False)),
    "recorded_late": (
        lambda: after(coil_case(), lambda c: c.observe("battery", "corrosion", "none", time="2026-05-05 10:00")),
        lambda: after(coil_case().drop("event-1"), lambda c: c.observe("battery", "corrosion", "none", time="2026-05-30 10:00")),
    ),
    "withheld": (lambda: Case([(k, s, None if s == "observation-1" else r, a) for k, s, r, a in fair_case().entries]), fair_case),
    "notice_missing": (shown_case, fair_case),
    "inspection_missing": (shown_case, fair_case),
    "opinion_without_basis": (lambda: fair_case().drop("observation-1"), fair_case),
    "opinion_interested": (lambda: fair_case().change("opinion-1", second_reader=None), fair_case),
    "cost_without_document": (lambda: fair_case().change("loss_item-1", exhibits=None), fair_case),
    "standard_not_cited": (shown_case, fair_case),
}  # fmt: skip


def test_every_kind_is_in_one_list_with_what_the_other_side_says_and_has_twins_here():
    assert list(KINDS) == list(SAID) == list(get_args(Code))
    assert set(TWINS) | {"photo_signs"} == set(KINDS)


@pytest.mark.parametrize("code", TWINS)
def test_it_is_raised(code):
    found = one(TWINS[code][0](), code)
    assert found.sentence.endswith((".", "?"))
    assert found.answer
    assert found.hurts


@pytest.mark.parametrize("code", [c for c in TWINS if TWINS[c][1]])
def test_it_is_silent_once_mended(code):
    assert code not in codes(TWINS[code][1]())


def test_an_alternative_goes_silent_when_its_test_is_met():
    told = [c.sentence[:3] for c in raised(fair_case().drop("owner_declaration-1")) if c.code == "alternative_untested"]
    later = [c.sentence[:3] for c in raised(fair_case()) if c.code == "alternative_untested"]
    assert "G1 " in told
    assert "G1 " not in later


def test_the_cost_is_what_the_assessment_says_without_the_record():
    case = fair_case()
    found = next(c for c in raised(case) if c.code == "single_witness" and "Observation 1 alone" in c.sentence)
    without = case.drop("observation-1").candidate()
    now = case.candidate()
    assert (found.harm.better, found.harm.worse) == (now.weight.band, without.weight.band) == (
        "moderate support", "no support either way",
    )  # fmt: skip
    assert found.harm.factor == now.weight.low / without.weight.low
    assert found.harm.steps == 2
    assert "F1" in found.harm.findings
    assert found.hurts.startswith("If it succeeds: the band would fall from moderate support to no support either way; departure is no longer complete")


def test_what_is_counted_already_is_held_against_the_record_with_it_mended():
    found = one(metered(calibrated=None), "calibration_absent")
    sound = after(coil_case(), lambda c: c.drops()).candidate()
    assert found.harm.counted
    assert (found.harm.worse, found.harm.better) == ("no support either way", sound.weight.band)
    assert found.hurts.startswith("Counted already: it holds the band at no support either way; without it weak support would be reached")


def test_an_amendment_is_held_against_the_version_before_it():
    found = one(amended(known=True), "amended_late")
    assert found.harm.worse.endswith("for some other cause")
    assert found.records == ("Observation 1",)


def test_the_order_is_exact_and_worst_first():
    for case in (fair_case(), shown_case(), metered(calibrated=None), amended(known=True)):
        found = raised(case)
        assert [c.place for c in found] == list(range(1, len(found) + 1))
        ranks = [rank(c.harm, c.code) for c in found]
        assert ranks == sorted(ranks)


@pytest.mark.parametrize(("worse", "better"), [
    (Harm(steps=2), Harm(steps=1, elements=("cause", "loss"), findings=("F1",) * 9, factor=Fraction(1000))),
    (Harm(elements=("cause",)), Harm(alternatives=("A1", "A2", "A3"))),
    (Harm(alternatives=("A1", "A2")), Harm(supported=("A1",), findings=("F1", "F2"))),
    (Harm(findings=("F1",)), Harm(factor=Fraction(10**9))),
    (Harm(factor=Fraction(3, 2)), Harm(factor=Fraction(4, 3))),
])  # fmt: skip
def test_a_band_goes_before_elements_before_alternatives_before_findings_before_the_ratio(worse, better):
    assert rank(worse, "standard_not_cited") < rank(better, "prior_order_missing")


def test_equal_costs_stand_in_the_order_of_the_list():
    assert [rank(Harm(), c)[-1] for c in SAID] == list(range(len(SAID)))


def test_what_moves_nothing_says_so():
    assert hurts(Harm(mechanism="x"), named=False) == "No band, element or alternative moves with it; it goes to weight and credibility."


def test_signs_in_a_photo_are_raised_with_what_rests_on_it():
    case = fair_case()
    shot = photo(case, read={"captured": "2026-05-05 10:00"}, taken="2026-05-05 10:00")
    case = case.change("observation-1", exhibits=[shot])
    assert "photo_signs" not in codes(case)
    found = one(case, "photo_signs", signs={shot: ("its metadata names an editing program",)})
    assert found.sentence == "Exhibit 2: its metadata names an editing program."
    assert found.exhibits == ("Exhibit 2",)
    assert "F1" in found.harm.findings


def test_what_a_bundle_says_it_withholds_is_raised():
    found = one(fair_case(), "withheld", withheld=("Call note 2",))
    assert "Call note 2" in found.sentence


def test_the_answer_comes_from_the_capture_plan_where_there_is_a_step():
    found = next(c for c in raised(fair_case()) if c.sentence.startswith("A1 "))
    step = next(s for s in fair_case().candidate().plan if any(x.startswith("A1:") for x in s.separates))
    assert step.what in found.answer
    assert "The case stands if:" in found.answer


def test_no_sentence_ends_twice():
    """What a rule pack says may be a whole sentence already."""
    for case in (fair_case(), coil_case()):
        assert not [c for c in raised(case) if ".." in c.answer.replace("...", "") or ".." in c.sentence]


def test_where_nothing_is_claimed_what_is_untested_is_one_task():
    found = [c for c in raised(coil_case()) if c.code == "alternative_untested"]
    assert len(found) == 1
    assert found[0].answer.count("\n") >= 8


def test_as_json_it_keeps_exact_factors_as_text():
    plain = as_json(raised(fair_case()), "t")
    assert plain["format"] == 1
    assert {"place", "code", "said", "sentence", "hurts", "answer", "records", "exhibits", "mechanism", "harm"} == set(plain["challenges"][0])
    assert any("/" in c["harm"]["factor"] for c in plain["challenges"])


def test_a_custody_challenge_names_the_item_and_what_the_chain_lacks():
    found = one(in_a_bag(handed_over=False), "custody")
    assert found.sentence.startswith("No hand-over of Exhibit 2 is on record")
    assert found.exhibits == ("Exhibit 2",)


def test_a_part_that_left_for_good_takes_what_was_read_on_it_along():
    case = in_a_bag(handed_over=True)
    case = case.change("observation-2", item="exhibit-2")
    case.record("custody_transfer", item="exhibit-2", released_by="party-1", received_by="party-2", time="2026-05-20", place="yard", purpose="scrap", fate="scrapped", knowing="the owner wished it")
    found = one(case, "part_scrapped")
    assert found.sentence == "Exhibit 2 (module in a bag) is scrapped by Custody transfer 4; the reason given: the owner wished it."


def test_facts_of_the_trade_are_marked():
    assert "common practice, no source" in one(TWINS["recorded_late"][0](), "recorded_late").answer
    assert "common practice, no source" in one(TWINS["state_disturbed"][0](), "state_disturbed").answer


def test_an_accuracy_that_had_run_out_is_held_against_the_readings():
    aged = {"quantity": "voltage", "unit": "V", "percent": "0.5", "counts": "2", "valid_months": 1}
    found = [r for r in raised(metered(accuracies=[aged])) if r.code == "calibration_out_of_date"]
    assert len(found) == 1
    assert "1 month after the calibration of 2026-01-10" in found[0].sentence
    assert not [r for r in raised(metered(accuracies=[{**aged, "valid_months": 12}])) if r.code == "calibration_out_of_date"]
