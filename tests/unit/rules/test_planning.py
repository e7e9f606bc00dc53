"""The capture plan: one question once, what is lost first, bits per minute, waiting, guards, and when it is enough."""

import dataclasses
import json
import re
from decimal import Decimal
from fractions import Fraction

import pytest
from evidence.model.despite import MISTAKE_CODES
from evidence.rules.assessment_json import plan_as_json
from evidence.rules.capture_plan import STAGES
from evidence.rules.information import expected_information, per_minute
from evidence.rules.mistakes import MISTAKES

from build import COIL, Case, coil_case, packs, shown_case, vocabulary

ORDER = list(STAGES)


def alone(**mechanism):
    """The ignition pack with the coil-ground entry alone, without minutes or instruments of its own."""
    pack = next(p for p in packs() if p.id == "ignition")
    one = next(m for m in pack.mechanisms if m.id == COIL)
    bare = {"minutes": None, "instrument": None}
    findings = tuple(f.model_copy(update=bare) for f in one.findings)
    others = tuple(a.model_copy(update=bare) for a in one.alternatives)
    one = one.model_copy(update={"findings": findings, "alternatives": others, **mechanism})
    return [pack.model_copy(update={"mechanisms": (one,)})]


def entry():
    return alone()[0].mechanisms[0]


def plan(case, own=None):
    return case.assess(own or alone()).plan


def step(found, number, mechanism=COIL):
    return next(s for s in found.steps for a in s.asked_by if a.mechanism == mechanism and number in a.numbers)


def changed(finding, **values):
    """That entry with one finding changed."""
    return alone(findings=tuple(f.model_copy(update=values) if f.id == finding else f for f in entry().findings))


def twin(**grades):
    """The entry twice: the second under another name, with other grades for some findings."""
    findings = tuple(f.model_copy(update=grades[f.id]) if f.id in grades else f for f in entry().findings)
    other = entry().model_copy(update={"id": "another-entry", "title": "Another entry", "findings": findings})
    return [alone()[0].model_copy(update={"mechanisms": (entry(), other)})]


# --- order -------------------------------------------------------------------------------------------------------


def test_a_first_plan_from_a_complaint_and_a_prior_order():
    found = plan(coil_case())
    assert found.matters
    assert [s.place for s in found.steps] == list(range(1, len(found.steps) + 1))
    assert [ORDER.index(s.stage) for s in found.steps] == sorted(ORDER.index(s.stage) for s in found.steps)
    first = found.steps[0]
    assert first.undisturbed
    assert any(line.startswith("stud, eyelet and surrounding dust") for line in first.lines)
    assert {s.stage for s in found.steps} == set(STAGES)
    assert step(found, "F1").stage == step(found, "F2").stage == step(found, "F7").stage == "untouched"
    assert step(found, "F4").stage == "as_found"


def test_a_complaint_alone_gives_a_plan_that_asks_for_the_prior_order_first_of_the_papers():
    case = Case()
    case.record("dossier", title="A car that cranks and does not start", complaint_tags=["crank-no-start"])
    found = plan(case)
    assert COIL in {e.mechanism for e in found.explanations}
    papers = [s for s in found.steps if s.stage == "papers"]
    assert papers[0].what.startswith("Get the prior work order")
    assert papers[0].bits > 0


def test_within_a_stage_what_tells_most_per_minute_comes_first():
    for case in (coil_case(), shown_case()):
        found = plan(case)
        for stage in STAGES:
            for steps in (found.offered(stage), tuple(s for s in found.waiting if s.stage == stage)):
                ranked = [s.per_minute for s in steps if s.bits]
                assert ranked == sorted(ranked, reverse=True), stage
        assert all(s.per_minute == per_minute(s.bits, Fraction(s.minutes)) for s in found.steps)


def test_minutes_of_the_pack_go_before_the_usual_and_change_the_order():
    usual = step(plan(coil_case()), "F2")
    assert (usual.minutes, usual.minutes_stated) == (Decimal(15), False)
    quick = plan(coil_case(), changed("F2", minutes="2", instrument="multimeter"))
    found = step(quick, "F2")
    assert (found.minutes, found.minutes_stated, found.instrument) == (Decimal(2), True, "multimeter")
    assert found.place < step(quick, "F1").place  # as many bits in less time
    assert quick.minutes == sum(s.minutes for s in quick.steps) == quick.steps[-1].running
    assert step(plan(coil_case()), "F2").place > step(plan(coil_case()), "F1").place


# --- bits --------------------------------------------------------------------------------------------------------


def test_bits_about_the_explanations_are_those_of_the_grades():
    """One candidate against something not listed, even: certain and unlikely, 0.98 and 0.10, by the production functions."""
    p, q = Fraction(98, 100), Fraction(10, 100)
    which = expected_information([1, 1], [(p, 1 - p), (q, 1 - q)])
    found = step(plan(coil_case()), "F1")
    assert which == Decimal("0.690160")  # by hand: 0.995378 less the mean of 0.141441 and 0.468996
    assert found.bits >= which
    assert found.bits - which < Decimal("0.5")  # the rest is its part in showing the departure at all


def test_two_who_ask_one_question_make_one_step_and_grades_that_differ_separate_them():
    same = plan(coil_case(), twin())
    assert [e.letter for e in same.explanations] == ["A", "B"]
    asked = step(same, "F4")
    assert [a.letter for a in asked.asked_by] == ["A", "B"]
    assert sum(asked.what == s.what for s in same.steps) == 1
    assert asked.if_met.startswith("Points to A and B; ")
    other = plan(coil_case(), twin(F4={"if_true": "excluded"}))
    parted = step(other, "F4")
    assert parted.bits > asked.bits
    points, against = parted.if_met.split("; ")[:2]
    letter = next(e.letter for e in other.explanations if e.mechanism == COIL)
    assert {points, against} == {f"Speaks strongly against {'AB'.replace(letter, '')}", f"points to {letter}"}


def test_what_is_answered_moves_the_shares_and_never_comes_back():
    before, case = plan(coil_case()), coil_case()
    case.drops("4.80", count=1)
    after = plan(case)
    assert after.explanations[0].share > before.explanations[0].share == Decimal("0.5")
    numbers = {n for s in after.steps for a in s.asked_by for n in a.numbers}
    assert {n for s in before.steps for a in s.asked_by for n in a.numbers} - numbers == {"F2"}


def test_an_undecided_reading_stays_and_is_told():
    case = coil_case()
    case.drops("0.05", count=3)
    found = step(plan(case), "F2")
    assert "0.05 V" in found.read_so_far


# --- what a reading means ----------------------------------------------------------------------------------------


def test_every_step_says_what_a_reading_would_mean():
    for found in (plan(coil_case()), plan(shown_case())):
        for s in found.steps:
            assert (s.if_met and s.if_not and s.between) or s.effect, s.what
            assert s.how or s.stage == "papers" or s.lines, s.what
    f3 = step(plan(coil_case()), "F3")
    assert f3.if_met.startswith("Helps to exclude")
    assert f3.if_not.startswith("Supports")
    own = step(plan(coil_case()), "A1")
    assert own.if_met == "Excludes “the module died of age” (A)."


def test_nothing_raw_is_printed():
    text = json.dumps([dataclasses.astuple(s)[3:] for s in plan(coil_case()).steps], default=str, ensure_ascii=False)
    text += json.dumps([dataclasses.astuple(w) for w in plan(coil_case()).warned])
    assert not re.search(r"\b[FA]\d{1,2}\b", text)
    assert "_" not in text.replace("as_found", "")
    assert COIL not in json.dumps([(s.what, s.how, s.if_met, s.if_not, s.lines) for s in plan(coil_case()).steps])


def test_one_scan_may_be_made_once_and_says_who_is_invited():
    scan = step(plan(coil_case()), "F7")
    assert scan.one_shot
    assert scan.invite == ("the owner (Bo Finch)", "the prior repairer (Old Mill Garage)", "the insurer, where one pays")
    assert not step(plan(coil_case()), "F4").invite


def test_parts_to_keep_stand_with_the_tests_that_may_use_them_up():
    found = plan(coil_case())
    assert all(s.keep == () for s in found.steps if not s.alters)
    assert any("engine control module" in k for k in step(found, "F12").keep)
    assert found.keep[0].startswith("A: ")


# --- waiting -----------------------------------------------------------------------------------------------------


def allowed(case):
    case.record(
        "consent", given_by="party-3", given_to="party-1", to="altering_tests", granted=True, channel="in_person",
        time="2026-05-05",
    )  # fmt: skip
    case.record(
        "correspondence", sender="party-1", receiver="party-2", about="notice", sent="2026-05-05",
        channel="registered_letter", text="dates offered",
    )  # fmt: skip
    return case


def test_altering_tests_wait_for_the_others_for_consent_and_for_notice():
    found = plan(coil_case())
    assert found.waiting
    assert not found.offered("altering")
    assert {s.stage for s in found.waiting} == {"altering"}
    told = found.waiting[0].waiting
    assert re.fullmatch(r"steps [\d, ]+ and \d+ have neither a result nor a stated reason", told[0])
    assert "no consent of the owner to altering tests is on record" in told
    assert "no notice to the prior repairer is on record" in told
    asked = [s.what for s in found.steps if s.stage == "papers"]
    assert any("for consent" in w for w in asked)
    assert any("notice in writing" in w for w in asked)
    places = {int(n) for n in re.findall(r"\d+", told[0])}
    assert all(not s.alters and s.stage != "altering" for s in found.steps if s.place in places)


def test_consent_and_notice_on_record_are_not_asked_for_again():
    found = plan(allowed(coil_case()))
    assert not any("for consent" in s.what or "notice in writing" in s.what for s in found.steps)
    assert all(len(s.waiting) == 1 for s in found.waiting)


def test_an_altering_test_is_offered_once_every_other_question_of_the_entry_is_read_or_excused():
    case = allowed(shown_case())
    open_now = [n for s in plan(case).steps if not s.alters for a in s.asked_by for n in a.numbers if n.startswith("F")]
    assert open_now
    for n in open_now[:-1]:
        case.record("resolution", by="party-1", time="2026-05-05", mechanism=COIL, about="not_applicable", finding=n, text="no such part")
    assert plan(case).waiting
    case.record("resolution", by="party-1", time="2026-05-05", mechanism=COIL, about="not_applicable", finding=open_now[-1], text="no such part")
    found = plan(case)
    assert not found.waiting
    assert found.offered("altering")


# --- high voltage and restraints ---------------------------------------------------------------------------------


def test_of_high_voltage_only_the_finding_is_requested():
    found = plan(coil_case(), alone(safety=entry().safety.model_copy(update={"codes": ("HV",)})))
    for s in found.steps:
        if s.stage != "papers":
            assert s.request_only
            assert s.instrument == ""
            assert s.how.startswith("To be requested from a person qualified")
            assert "no steps are given here" in s.how
    assert found.steps[0].what == "Ask for what is to be seen or read as found"
    assert "traction voltage" in dict(found.cautions)


# --- lost, idle, enough ------------------------------------------------------------------------------------------


def test_what_is_lost_is_told_with_its_reason_and_not_asked_for():
    case = coil_case()
    case.touch("coil-ground-eyelet")
    found = plan(case)
    assert not any(s.undisturbed for s in found.steps)
    gone = {n: g.why for g in found.lost for a in g.asked_by for n in a.numbers}
    assert gone["F1"] == "Intervention 1 came first; the state as found is gone"
    assert not set(gone) & {n for s in found.steps for a in s.asked_by for n in a.numbers}
    assert not any("Put nothing right" in w.text for w in found.warned)


def test_nothing_called_up_is_no_plan():
    case = Case()
    case.record("dossier", title="Nothing known")
    found = plan(case)
    assert (found.steps, found.matters) == ((), False)
    assert "no question to put" in found.verdict


def test_it_says_when_further_tests_no_longer_matter_and_why():
    """An entry of which everything that weighs is answered or lost, and whose alternatives are all dealt with."""
    own = alone(findings=tuple(f for f in entry().findings if f.id in ("F1", "F4", "F12")), alternatives=())
    case = shown_case()
    case.declare(driven_on="none")
    case.observe("coil-ground-eyelet", "twin_state", "sound")
    case.observe("coil-ground-eyelet", "part_fitness", "right")
    case.observe("coil-ground-eyelet", "deposits", "dry")
    found = plan(case, own)
    assert found.explanations[0].settled.startswith("It stays at “moderate support” whatever is still answered")
    assert not [s for s in found.steps if s.stage != "untouched"]
    assert found.steps == () or not found.matters


def test_a_question_that_separates_nothing_is_told_as_such():
    kept = tuple(
        f.model_copy(update={"alters": False}) if f.id != "F5" else f.model_copy(update={"if_true": "possible", "if_not": "possible"})
        for f in entry().findings
        if f.id in ("F1", "F4", "F5", "F12")
    )
    case = shown_case()
    found = plan(case, alone(findings=kept, alternatives=()))
    idle = {n for g in found.idle for a in g.asked_by for n in a.numbers}
    assert "F5" in idle
    assert all(g.why for g in found.idle)


# --- guards ------------------------------------------------------------------------------------------------------


def test_guards_of_the_trade_stand_where_they_apply():
    texts = " ".join(w.text for w in plan(coil_case()).warned)
    for part in ("Put nothing right", "before any code is cleared", "one thing at a time", "only coded to this vehicle", "go back as a core", "every like part", "owner's declaration"):
        assert part in texts, part
    assert "Enter the instrument" not in texts  # one with serial and calibration is on record
    case = coil_case()
    case.declare()
    case.record(
        "code_scan", before_clearing=True, all_modules=True, time="2026-05-05 09:30",
        modules=[{"module": "engine-control-module", "result": "none_stored", "codes": []}],
    )  # fmt: skip
    later = " ".join(w.text for w in plan(case).warned)
    assert "before any code is cleared" not in later
    assert "owner's declaration" not in later


def with_one(kind, **raw):
    case = coil_case()
    case.record(kind, **raw)
    return case


def declared():
    case = coil_case()
    case.declare()
    return case


def untouchable():
    """What was to be seen untouched is gone, and a picture is on record."""
    case = coil_case()
    case.touch("coil-ground-eyelet")
    case.record("exhibit", caption="after", file={"sha256": "0" * 64, "size": 1, "name": "a.jpg"})
    return case


def only(*numbers, **mechanism):
    return alone(findings=tuple(f for f in entry().findings if f.id in numbers), alternatives=(), **mechanism)


LETTER = {"sender": "party-1", "receiver": "party-2", "sent": "2026-05-05", "channel": "letter"}
SCAN = {"before_clearing": True, "all_modules": True, "time": "2026-05-05 09:30", "modules": [{"module": "engine-control-module", "result": "none_stored", "codes": []}]}
TOLD = {"what": "other", "text": "it ran hot", "time": "2026-05-03", "basis": "told", "by": "party-2"}
LOSS = {"head": "towing", "nature": "incidental", "text": "tow", "amount": "90.00 EUR", "status": "paid"}
DAY = {"what": "limitation", "day": "2028-05-01", "text": "last day", "source": "a lawyer's letter"}
MOVED = {"item": "vehicle-1", "released_by": "party-2", "received_by": "party-1", "time": "2026-05-05", "place": "yard", "purpose": "received"}
CLOCK = {"device": "a camera", "clock_showed": "2026-05-05 10:00", "true_time": "2026-05-05T09:00:00Z", "uncertainty": "1 s", "source": "network_time"}
OPINION = {"by": "party-1", "time": "2026-05-09", "text": "as shown", "basis": ["work_order-1"], "qualification": "technician", "interest": "is paid"}


def prior(**party):
    case = coil_case()
    for r in [r for r in case.dossier().by_subject.values() if r.kind == "party" and "prior_repairer" in r.value.roles]:
        case = case.change(r.subject, **party)
    return case


# code -> (where it can still be made, where the record or the plan has settled it), each (case, own packs)
BEFOREHAND = {
    "put_right_unseen": ((coil_case, alone), (untouchable, alone)),
    "codes_cleared": ((coil_case, alone), (lambda: with_one("code_scan", **SCAN), alone)),
    "no_notice": ((coil_case, alone), (lambda: with_one("correspondence", **LETTER, about="notice"), alone)),
    "several_changes": ((coil_case, alone), (coil_case, lambda: only("F1"))),
    "uncoded_module": ((coil_case, alone), (coil_case, lambda: only("F1", retain=("eyelet and nut",)))),
    "part_let_go": ((coil_case, alone), (coil_case, lambda: alone(retain=()))),
    "one_part_only": ((coil_case, alone), (coil_case, lambda: only("F8"))),
    "instrument_unproven": ((lambda: coil_case().change("instrument-1", serial=None), alone), (coil_case, alone)),
    "reading_unrepeatable": ((coil_case, alone), (coil_case, lambda: only("F1"))),
    "owner_unheard": ((coil_case, alone), (declared, alone)),
    "driven_on": ((coil_case, alone), (declared, alone)),
    "no_time_base": ((coil_case, alone), (lambda: with_one("clock_reference", **CLOCK), alone)),
    "no_odometer": ((coil_case, alone), (lambda: with_one("odometer_reading", reading="61044 km", time="2026-05-05", basis="seen"), alone)),
    "picture_stripped": ((coil_case, alone), (untouchable, alone)),
    "picture_altered": ((coil_case, alone), (untouchable, alone)),
    "custody_gap": ((coil_case, alone), (lambda: with_one("custody_transfer", **MOVED), alone)),
    "hearsay": ((lambda: with_one("event", **TOLD), alone), (lambda: with_one("event", **TOLD, exhibits=["exhibit-1"]).drop("event-1"), alone)),
    "rivals_untested": ((coil_case, alone), (shown_case, alone)),
    "harsh_words": ((coil_case, alone), (lambda: with_one("correspondence", **LETTER, about="demand_letter"), alone)),
    "talk_among_evidence": ((coil_case, alone), (lambda: with_one("correspondence", **LETTER, about="demand_letter"), alone)),
    "wrong_respondent": ((lambda: prior(legal_name=None), alone), (lambda: prior(legal_name="Old Mill Ltd", address="1 Mill"), alone)),
    "cost_unexplained": ((coil_case, alone), (lambda: with_one("loss_item", **LOSS), alone)),
    "one_lump_sum": ((coil_case, alone), (lambda: with_one("loss_item", **LOSS), alone)),
    "interest_unstated": ((coil_case, alone), (lambda: with_one("opinion", **OPINION), alone)),
    "day_missed": ((coil_case, alone), (lambda: with_one("due_date", **DAY), alone)),
    "private_data": ((lambda: with_one("party", full_name="Cy Rook", roles=["witness"]), alone), (coil_case, alone)),
}  # fmt: skip


@pytest.mark.parametrize("code", MISTAKE_CODES)
def test_each_mistake_is_told_beforehand_and_no_more_once_it_is_settled(code):
    told, settled = ({w.text.partition(" (")[0].rstrip(".") for w in plan(case(), own()).warned} for case, own in BEFOREHAND[code])
    guard = MISTAKES[code].guard.partition(" (")[0].rstrip(".")
    assert guard in told
    assert guard not in settled


def test_the_json_holds_the_whole_plan():
    found = plan(coil_case())
    plain = plan_as_json("A car", 12, found)
    assert plain["format"] == 1
    assert len(plain["steps"]) == len(found.steps)
    assert json.loads(json.dumps(plain)) == plain
    assert plain["steps"][1]["bits"] == str(found.steps[1].bits)
    assert vocabulary().cautions["SPARK"] in str(plain["cautions"])


@pytest.mark.parametrize("pack", packs(), ids=lambda p: p.id)
def test_every_entry_of_the_packs_gives_a_first_plan_that_can_be_read(pack):
    """From its own complaint and one of its own operations: every open question once, told whole, nothing raw."""
    for one in pack.mechanisms:
        case = Case()
        case.record("party", full_name="Old Mill Garage", roles=["prior_repairer"])
        case.record("dossier", title="A first call", complaint_tags=list(one.complaints))
        case.record("vehicle", description="hatchback")
        operations = [{"operation": o, "text": "work"} for o in one.prior_operations[:1] if o != "any-operation"]
        case.record("work_order", side="prior_repairer", repairer="party-1", closed="2026-05-02", operations=operations or [{"text": "work", "components": [one.components[0]]}])
        judged = case.assess([pack.model_copy(update={"mechanisms": (one,)})])
        found, candidate = judged.plan, judged.candidates[0]
        spoken = [n for x in (*found.steps, *found.lost, *found.idle) for a in x.asked_by for n in a.numbers]
        assert {f.id for f in candidate.findings if f.answer in ("not measured", "undecided")} <= set(spoken), one.id
        text = " ".join(
            t for s in found.steps for t in (s.what, s.how, s.if_met, s.if_not, s.between, s.effect, s.instrument, *s.lines, *s.waiting)
        )  # fmt: skip
        numbers = {f.id for f in one.findings} | {a.id for a in one.alternatives}
        assert not numbers & set(re.findall(r"\b[A-Z]\d{1,2}\b", text)), one.id
        assert not re.search(r"\b[a-z]+_[a-z]", text), re.search(r"\S*[a-z]_[a-z]\S*", text)
        risky = {"HV", "SRS"} & set(one.safety.codes)
        assert all(s.request_only == bool(risky) for s in found.steps if s.stage != "papers"), one.id
