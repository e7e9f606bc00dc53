"""The loss against three worked examples, to the cent: own figures, worked out by hand with half-up rounding of each line.

The digits of currencies are those of ISO 4217, by the package iso4217 (its list one) and by the values named below.
"""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import iso4217
import pytest
from evidence.claim.loss.carrying import responsible_told
from evidence.claim.loss.money import Rounding, digits_of
from evidence.claim.loss.statement import loss_statement
from evidence.claim.loss.telling import core_told, deductions, rules_told, steps
from evidence.claim.place import PlaceRules
from evidence.errors import MixedCurrency
from evidence.model import quantity
from evidence.model.loss import LossItem
from evidence.model.repair import WorkOrder
from evidence.rules.assess import assess
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from build import coil_case, packs, shown_case, vocabulary

D = Decimal
RESULT, REWORK, DIAGNOSIS, INCIDENTAL = "resulting_damage", "rework", "diagnosis", "incidental"


def line(case, head, nature, amount, **more):
    money = {"rate": f"{amount[1]} USD", "quantity": amount[0]} if isinstance(amount, tuple) else {"amount": f"{amount} USD"}
    return case.record("loss_item", **{"head": head, "nature": nature, "text": f"{head} {len(case.entries)}", "status": "invoiced", "exhibits": ["exhibit-1"], **money, **more})


def stated(case, place=None):
    dossier = case.dossier()
    return loss_statement(dossier, assess(dossier, packs(), vocabulary(), firmness=False), place)


def ground_left_off():
    """A: no wear part, so no betterment; six days of hire, two of them while the owner decided."""
    case = shown_case()
    line(case, "repair_parts", RESULT, "840.00", tax_rate="7.25")
    line(case, "repair_parts", REWORK, "6.40", tax_rate="7.25")
    line(case, "programming", RESULT, "165.00")
    line(case, "diagnosis_fee", DIAGNOSIS, ("2.5", "145.00"), unit="h")
    line(case, "repair_labour", RESULT, ("1.0", "145.00"), unit="h")
    line(case, "rework_cost", REWORK, ("0.2", "145.00"), unit="h")
    line(case, "towing", INCIDENTAL, "95.00")
    line(case, "hire", INCIDENTAL, ("6", "42.00"), unit="d", disputed=True, at_least="168.00 USD")
    line(case, "core_charge", INCIDENTAL, "75.00", temporary=True)
    return case


def doubled_gasket(value="9200.00", **wear):
    """B: a rebuilt engine at 96,000 km of an assumed life of 320,000 km."""
    case = coil_case()
    used = {"share": "30", "method": "96 000 of an assumed 320 000 km", **wear}
    line(case, "repair_parts", RESULT, "4800.00", tax_rate="6", wear=used)
    line(case, "repair_parts", RESULT, "310.00", tax_rate="6")
    line(case, "repair_labour", RESULT, ("18", "130.00"), unit="h")
    line(case, "towing", INCIDENTAL, "140.00")
    line(case, "hire", INCIDENTAL, ("14", "38.00"), unit="d")
    line(case, "value_before", "value", value)
    line(case, "salvage_value", "value", "1100.00")
    return case


def wheel_off(**fault):
    """C: a wheel came off; a recheck told in writing was not made."""
    case = coil_case()
    tyre = {"new": "8.0", "at_loss": "4.5", "worn_out": "1.6", "unit": "mm", "method": "tread measured, wear limit"}
    line(case, "repair_parts", RESULT, "180.00", tax_rate="8", wear=tyre)
    for amount in ("310.00", "145.00", ("5", "9.50"), ("3.5", "42.00")):
        line(case, "repair_parts", RESULT, amount, tax_rate="8")
    for amount in (("7.0", "62.00"), ("3.5", "62.00"), ("1.8", "128.00")):
        line(case, "repair_labour", RESULT, amount, unit="h")
    line(case, "towing", INCIDENTAL, "110.00")
    line(case, "hire", INCIDENTAL, ("3", "40.00"), unit="d")
    case.record("loss_item", head="share_of_fault", nature="deduction", text="recheck not made", status="estimated", **{"percent": "20", "why": "900 km driven without the recheck at 80 km", **fault})
    return case


def test_a_ground_left_off():
    s = stated(ground_left_off())
    assert (s.claimed.tax, s.claimed.total) == (D("61.36"), D("2031.26"))
    assert s.by_nature[REWORK] == D("35.86")
    assert s.claimed.total - s.by_nature[REWORK] == D("1995.40")
    assert s.low.total == D("1947.26")
    assert s.low.total - s.temporary == D("1872.26")
    assert s.printed(s.claimed.total) == "2031.26 USD"


def test_b_doubled_gasket_without_and_with_betterment():
    s = stated(doubled_gasket(disputed=True))
    assert (s.claimed.repair, s.claimed.total) == (D("7756.60"), D("8428.60"))
    assert (s.low.wear[0][1], s.low.tax_on_wear, s.low.total) == (D("1440.00"), D("86.40"), D("6902.20"))
    assert (s.claimed.value, s.claimed.by_value) == (D("8100.00"), False)


def test_b_where_the_vehicle_was_worth_less_its_value_rules():
    """Betterment disputed: the repair of 7 756.60 is over 6 400.00; less it, in the lowest reading, it is 6 230.20 and under."""
    s = stated(doubled_gasket("7500.00", disputed=True))
    assert (s.claimed.value, s.claimed.by_value) == (D("6400.00"), True)
    assert s.claimed.total == D("6400.00") + D("140.00") + D("532.00")
    assert (s.claimed.wear, s.claimed.over_value) == ((), D("1356.60"))
    assert (s.low.repair_less, s.low.by_value, s.low.total) == (D("6230.20"), False, D("6902.20"))


def test_a_repair_less_wear_is_what_the_value_is_held_against():
    s = stated(doubled_gasket("7500.00"))
    assert (s.claimed.repair, s.claimed.repair_less, s.claimed.by_value) == (D("7756.60"), D("6230.20"), False)
    assert s.claimed.total == D("6902.20")


def test_c_wheel_off():
    s = stated(wheel_off())
    assert s.claimed.gross == D("2007.26")
    assert (s.claimed.wear[0][1], s.claimed.tax_on_wear, s.claimed.before_fault) == (D("98.44"), D("7.88"), D("1900.94"))
    assert (s.claimed.fault, s.claimed.total) == (D("380.19"), D("1520.75"))


def test_a_disputed_share_of_fault_counts_in_the_low_reading_only():
    s = stated(wheel_off(disputed=True))
    assert (s.claimed.total, s.low.total) == (D("1900.94"), D("1520.75"))


def test_payments_come_off_last_and_a_core_credit_ends_what_was_for_a_time():
    case = ground_left_off()
    line(case, "core_credit", "deduction", "75.00")
    line(case, "payment", "deduction", "500.00", status="paid")
    s = stated(case)
    assert (s.claimed.total, s.temporary) == (D("1456.26"), D(0))


@pytest.mark.parametrize(
    ("codes", "digits"),
    [("USD EUR GBP HUF", 2), ("JPY KRW ISK CLP VND UGX", 0), ("KWD BHD TND JOD OMR", 3), ("CLF UYW", 4)],
)
def test_digits_of_currencies(codes, digits):
    for code in codes.split():
        assert digits_of(code) == iso4217.Currency(code).exponent == digits


def test_every_currency_of_the_standard_has_its_own_digits():
    """ISO 4217, list one, as the package iso4217 carries it; funds and metals without a minor unit left out."""
    listed = {c.code: c.exponent for c in iso4217.Currency if c.exponent is not None}
    assert len(listed) > 150
    assert {code: digits_of(code) for code in listed} == listed


def test_a_lower_line_never_raises_the_total_by_a_cent():
    """Tax on what wear leaves is rounded on the sum: 0.08 and 0.07 at 50 % wear and 19 %."""
    def total(amount):
        case = coil_case()
        line(case, "repair_parts", RESULT, amount, tax_rate="19", wear={"share": "50", "method": "by age"})
        return stated(case).claimed.total

    found = [total(f"0.{cents:02d}") for cents in range(1, 60)]
    assert found == sorted(found)


def test_offers_and_cores_that_are_unclear_are_told():
    case = coil_case()
    line(case, "repair_parts", RESULT, "900.00", offer_for="module", claimed=True, why="in stock")
    line(case, "repair_parts", RESULT, "700.00", offer_for="module", claimed=True)
    line(case, "core_charge", INCIDENTAL, "75.00")
    line(case, "value_before", "value", "5000.00")
    line(case, "value_before", "value", "4000.00")
    s = stated(case)
    assert (s.claimed.total, s.claimed.value) == (D("775.00"), D("4000.00"))
    for words in ("both claimed for module", "which comes back", "the lowest is compared with"):
        assert sum(words in f for f in s.faults) == 1


@pytest.mark.parametrize(("raw", "even_would_be"), [("2.345", "2.34"), ("2.355", "2.36"), ("0.125", "0.12"), ("1.005", "1.00")])
def test_halves_go_up(raw, even_would_be):
    up = {"2.345": "2.35", "2.355": "2.36", "0.125": "0.13", "1.005": "1.01"}[raw]
    assert Rounding(2)(D(raw)) == D(up) >= D(even_would_be)


def test_tax_is_on_the_sum_not_on_each_line():
    """8.25 % on 19.99, 7.35 and 4.45 is 2.62 on the sum, and would be 2.63 line by line."""
    case = coil_case()
    for amount in ("19.99", "7.35", "4.45"):
        line(case, "repair_parts", RESULT, amount, tax_rate="8.25")
    assert stated(case).claimed.tax == D("2.62")


def test_several_offers_for_one_thing_count_once():
    case = coil_case()
    line(case, "repair_parts", RESULT, "900.00", offer_for="module", status="quoted")
    line(case, "repair_parts", RESULT, "700.00", offer_for="module", status="quoted", claimed=True, why="rebuilt, with warranty")
    line(case, "repair_parts", RESULT, "650.00", offer_for="module", status="quoted")
    s = stated(case)
    assert (s.low.total, s.claimed.total, s.high.total) == (D("650.00"), D("700.00"), D("900.00"))
    assert [x.counted for x in s.lines] == [False, True, False]


def test_what_is_counted_twice_is_left_out_of_every_total_and_told():
    case = coil_case()
    line(case, "prior_work_refund", INCIDENTAL, "69.95")
    line(case, "rework_cost", REWORK, "80.00")
    line(case, "hire", INCIDENTAL, "100.00", begins="2026-05-01", ends="2026-05-05")
    line(case, "loss_of_use", INCIDENTAL, ("3", "20.00"), unit="d", begins="2026-05-04", ends="2026-05-06")
    line(case, "loss_of_use", INCIDENTAL, "40.00", begins="2026-05-07", ends="2026-05-09")
    line(case, "storage", INCIDENTAL, ("12", "5.00"), unit="d", begins="2026-05-01", free_until="2026-05-08", ends="2026-05-12")
    line(case, "towing", INCIDENTAL, "95.00", text="tow")
    line(case, "towing", INCIDENTAL, "95.00", text="tow")
    s = stated(case)
    assert [x.claimed for x in s.lines] == [D(a) for a in ("69.95", "0", "0", "60.00", "40.00", "20.00", "95.00", "0")]
    assert s.low.total == s.claimed.total == s.high.total == D("284.95")
    assert [x.label for x in s.lines if not x.counted] == ["Loss item 2", "Loss item 3", "Loss item 8"]
    told = [t.words for t in s.twice]
    for words in (
        "Loss item 8, 95.00 USD, left out: it says the same as Loss item 7",
        "Loss item 6, 8 days of it, 40.00 USD, left out: storage was free until 2026-05-08",
        "Loss item 2, 80.00 USD, left out beside Loss item 1: the earlier work is paid back and done again. Nobody has said which is claimed; the lower, Loss item 1, stays",
        "Loss item 3, 100.00 USD, left out beside Loss item 4: a vehicle was hired, and its loss of use is counted for the same days. Nobody has said which is claimed; the lower, Loss item 4, stays",
    ):
        assert words in told
    assert len(told) == 4


@pytest.mark.parametrize(
    ("refund", "rework", "counted"),
    [
        ({}, {}, ["69.95", "0", "0"]),  # the lower stays
        ({}, {"claimed": True}, ["0", "80.00", "10.00"]),  # a person has chosen
        ({}, {"claimed": False, "why": "done for nothing"}, ["0", "0", "10.00"]),  # 10.00 of rework is the lower now
        ({"claimed": True}, {"claimed": True}, ["69.95", "0", "0"]),  # both said to be claimed: the lower
        ({"exhibits": None}, {}, ["0", "80.00", "10.00"]),  # a paper goes before none
        ({"beside": [{"item": "loss_item-1", "why": "its gasket alone"}, {"item": "loss_item-2", "why": "its gasket alone"}]}, {}, ["69.95", "80.00", "10.00"]),
        ({"beside": ["loss_item-1: another part of the job"]}, {}, ["0", "80.00", "10.00"]),
    ],
)  # fmt: skip
def test_a_person_chooses_which_of_the_two_counts_or_says_why_both_stand(refund, rework, counted):
    case = coil_case()
    line(case, "rework_cost", REWORK, "80.00", **rework)
    line(case, "repair_parts", REWORK, "10.00")
    line(case, "prior_work_refund", INCIDENTAL, "69.95", **{k: v for k, v in refund.items() if v})
    if "exhibits" in refund:
        case = case.change("loss_item-3", exhibits=None)
    s = stated(case)
    by_label = {x.label: x.claimed if x.counted else D(0) for x in s.lines}
    assert [by_label[f"Loss item {n}"] for n in (3, 1, 2)] == [D(a) for a in counted]


def test_days_that_a_hire_covers_come_off_the_loss_of_use_and_no_others():
    case = coil_case()
    line(case, "hire", INCIDENTAL, ("4", "40.00"), unit="d", begins="2026-05-04", ends="2026-05-07", claimed=True)
    line(case, "loss_of_use", INCIDENTAL, ("7", "20.00"), unit="d", begins="2026-05-01", ends="2026-05-07", disputed=True, at_least="100.00 USD")
    s = stated(case)
    assert [(x.low, x.claimed, x.high) for x in s.lines] == [(D("160.00"),) * 3, (D("60.00"),) * 3]
    assert s.twice[0].words.startswith("Loss item 2, 4 days of it, 80.00 USD, left out beside Loss item 1")
    assert s.twice[0].words.endswith("Loss item 1 is the one that is claimed")


def test_a_line_of_tax_gives_way_to_rates():
    case = coil_case()
    line(case, "repair_parts", RESULT, "100.00", tax_rate="20")
    line(case, "sales_tax", RESULT, "20.00")
    s = stated(case)
    assert (s.claimed.total, s.lines[1].counted) == (D("120.00"), False)
    assert s.lines[1].out == "Loss item 2, 20.00 USD, left out: tax is worked out on Loss item 1 already"


def test_what_may_stand_twice_and_cannot_be_told_is_asked_about():
    case = coil_case()
    case.record("exhibit", caption="second receipt", form="physical", description="receipt")
    line(case, "storage", INCIDENTAL, "60.00", begins="2026-05-01", free_until="2026-05-08")
    line(case, "towing", INCIDENTAL, "95.00", text="tow")
    line(case, "towing", INCIDENTAL, "95.00", text="tow", exhibits=["exhibit-2"])
    s = stated(case)
    assert (s.claimed.total, s.twice) == (D("250.00"), ())
    assert [f.split(",")[0] for f in s.faults] == ["Loss item 1 is storage from 2026-05-01", "Loss item 2 and Loss item 3 say the same on different papers; is it one thing?"]


def test_a_line_alone_that_is_not_claimed_says_so():
    case = coil_case()
    line(case, "towing", INCIDENTAL, "95.00", claimed=False, why="paid by the breakdown club")
    line(case, "towing", INCIDENTAL, "15.00")
    line(case, "storage", INCIDENTAL, "25.00", claimed=False)
    s = stated(case)
    assert [x.out for x in s.lines] == ["not claimed", "", "not claimed; why is not on record"]
    assert (s.claimed.total, s.faults) == (D("15.00"), ())


# ---- what is taken off ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("credit", "gross", "total", "temporary", "beyond"),
    [("60.00", "840.00", "840.00", "0", "0"), ("45.00", "855.00", "855.00", "15.00", "0"), ("80.00", "840.00", "820.00", "0", "20.00")],
)
def test_a_deposit_stands_in_no_total_with_the_credit_that_brought_it_back(credit, gross, total, temporary, beyond):
    case = coil_case()
    line(case, "repair_parts", RESULT, "840.00")
    line(case, "core_charge", INCIDENTAL, "60.00", temporary=True)
    line(case, "core_credit", "deduction", credit)
    s = stated(case)
    assert (s.claimed.gross, s.claimed.total, s.temporary, s.claimed.core.beyond) == (D(gross), D(total), D(temporary), D(beyond))
    told = [f for f in s.faults if "is more than the deposit" in f]
    assert len(told) == (D(beyond) > 0)
    assert sum(x.adds for x in s.counted if x.item.nature != "deduction") == s.claimed.gross
    assert s.lines[1].out == f"{60 - D(temporary):.2f} of it came back: Loss item 3"
    assert core_told(s) == f"Deposited 60.00 USD, credited {credit} USD, {D(temporary):.2f} USD still to come back."


def test_a_credit_goes_to_the_deposit_that_it_names_with_its_tax():
    case = coil_case()
    line(case, "core_charge", INCIDENTAL, "60.00", tax_rate="20")
    line(case, "core_charge", INCIDENTAL, "50.00")
    line(case, "core_credit", "deduction", "72.00", taken_off=["loss_item-1"])
    s = stated(case)
    assert (s.claimed.gross, s.claimed.total, s.claimed.core.deposits, s.claimed.core.beyond) == (D("50.00"), D("50.00"), D("122.00"), D(0))


def test_salvage_credit_is_its_own_and_never_taken_twice_where_the_value_rules():
    case = doubled_gasket("7500.00", disputed=True)
    line(case, "salvage_credit", "deduction", "200.00")
    s = stated(case)
    assert (s.claimed.by_value, s.claimed.salvage_credit, s.claimed.total) == (True, D(0), D("7072.00"))  # within the 1 100.00
    assert (s.low.by_value, s.low.salvage_credit, s.low.total) == (False, D("200.00"), D("6702.20"))
    case = doubled_gasket(disputed=True)
    line(case, "salvage_credit", "deduction", "200.00")
    s = stated(case)
    assert (s.claimed.by_value, s.claimed.repair_less, s.claimed.total) == (False, D("7556.60"), D("8228.60"))


def test_where_the_value_rules_it_is_shared_out_as_the_repair_is():
    case = coil_case()
    line(case, "repair_parts", RESULT, "3000.00")
    line(case, "rework_cost", REWORK, "1000.00")
    line(case, "towing", INCIDENTAL, "100.00")
    line(case, "value_before", "value", "2500.00")
    line(case, "salvage_value", "value", "100.00")
    line(case, "payment", "deduction", "250.00", taken_off=["loss_item-3"])
    s = stated(case)
    assert s.claimed.left_by_nature == {REWORK: D("562.50"), RESULT: D("1687.50"), INCIDENTAL: D("0.00")}  # the rest of 250 on both
    assert rules_told(s).endswith("The repair comes to more, so the value takes its place; it is shared out by kind as the repair is.")


def test_a_value_by_itself_counts_only_where_it_is_claimed():
    case = coil_case()
    line(case, "value_before", "value", "2500.00")
    line(case, "towing", INCIDENTAL, "100.00")
    s = stated(case)
    assert (s.claimed.total, s.faults) == (D("100.00"), ("Loss item 1 is a value, and no repair stands beside it; it counts by itself only where it is said to be claimed",))
    s = stated(case.change("loss_item-1", claimed=True, disputed=True, at_least="2000.00 USD"))
    assert (s.low.total, s.claimed.total, s.high.total) == (D("2100.00"), D("2600.00"), D("2600.00"))


def test_a_share_of_fault_may_be_the_amount_that_it_added():
    s = stated(wheel_off(percent=None, amount="400.00 USD", taken_off=["loss_item-1", "loss_item-2"]))
    assert (s.claimed.before_fault, s.claimed.fault, s.claimed.total) == (D("1900.94"), D("400.00"), D("1500.94"))


def test_a_share_of_fault_needs_a_reason_and_an_older_entry_without_one_is_still_read():
    raw = {"head": "share_of_fault", "nature": "deduction", "text": "recheck not made", "status": "estimated", "percent": "20"}
    with pytest.raises(ValidationError, match="needs a reason under why"):
        LossItem.handed_in(raw, {})
    older = LossItem.stored(raw)
    assert older.body() == raw
    assert LossItem.handed_in({**raw, "percent": "0", "why": "stopped at once"}, {}).summary() == "recheck not made: 0 % (estimated)"


@pytest.mark.parametrize("share", [None, "0", "25"])
def test_driven_on_after_a_warning_is_told_whatever_share_is_stated(share):
    case = coil_case()
    line(case, "towing", INCIDENTAL, "100.00")
    case.record("event", what="driven_on", text="four miles with the lamp on", time="2026-05-04 06:50", basis="told")
    if share:
        case.record("loss_item", head="share_of_fault", nature="deduction", text="driven on", status="estimated", percent=share, why="oil lamp")
    s = stated(case)
    assert s.driven_on == ("Event 2: four miles with the lamp on",)
    assert any("state the share" in f for f in s.faults) == (share is None)
    assert s.claimed.fault == D(share or 0)


def test_what_is_said_against_a_deduction_stands_beside_it():
    s = stated(doubled_gasket(disputed=True, objection="Nobody buys an engine at that age; it was forced on the owner."))
    (off,) = deductions(s)
    assert (off.disputed, off.betterment, off.objection[:11]) == (True, True, "Nobody buys")
    assert off.how == "wear takes off 1440.00 USD in the lowest reading, and the tax on it. 30 % used: 96 000 of an assumed 320 000 km"


def test_steps_lead_to_the_total_of_the_worked_example():
    words = {step.words: step.amounts[1] for step in steps(stated(wheel_off()))}
    assert words["Lines with their tax"] == D("2007.26")
    assert (words["less wear, with the tax on it"], words["less share of fault"]) == (D("-106.32"), D("-380.19"))
    assert (words["Total"], words["of it resulting damage"] + words["of it incidental"]) == (D("1520.75"), D("1520.75"))


# ---- what carries it --------------------------------------------------------------------------------------------------


def test_each_line_names_the_findings_and_the_records_that_carry_it():
    s = stated(ground_left_off())
    rework, damage = (next(x.link for x in s.lines if x.item.nature == n) for n in (REWORK, RESULT))
    assert {c.limb for c in rework.carriers} == {"departure"}
    assert rework.records == ("Observation 1",)
    assert {c.limb for c in damage.carriers} == {"link", "effect"}
    assert "Waveform 1" in damage.records
    assert damage.exhibits == ("Exhibit 1",)  # the file of the trace


def test_a_line_may_name_its_finding_and_is_apart_where_that_is_not_met():
    case = ground_left_off().change("loss_item-1", findings=["F4"])
    assert [c.id for c in stated(case).lines[0].link.carriers] == ["F4"]
    for name, words in (("F2", "is not measured"), ("F99", "F99 is no finding of")):
        link = stated(case.change("loss_item-1", findings=[name])).lines[0].link
        assert not link.linked
        assert words in link.words


def test_who_could_be_responsible_is_told_by_head_with_the_reason():
    s = stated(ground_left_off())
    assert [(r.nature, r.head) for r in s.responsible][:2] == [(REWORK, "repair_parts"), (REWORK, "rework_cost")]
    assert sum(r.amount for r in s.responsible) == s.claimed.gross
    assert {h.name: h.why for h in s.responsible[0].hands}["Old Mill Garage"] == "work of Work order 1"
    assert "Ann Teal" not in {h.name for h in s.responsible[0].hands if h.why.startswith("work of")}


# ---- the place --------------------------------------------------------------------------------------------------------

TAX = {"rate": "7.25", "on_labour": False, "source": "Tax table", "on": "2026-01-02"}
HABIT = {"text": "Parts that wear at their share of life.", "source": "Court guide", "on": "2025-01-02"}


def test_the_source_of_a_rate_is_that_of_the_line_or_the_place():
    place = PlaceRules.model_validate({"format": 1, "name": "Vale", "tax": TAX, "betterment": HABIT})
    case = ground_left_off()
    assert [t.source for t in stated(case).taxes] == ["as stated in the lines; no source is on record"]
    assert [(t.rate, t.on, t.tax, t.source) for t in stated(case, place).taxes] == [("7.25", D("846.40"), D("61.36"), "Tax table (looked up 2026-01-02)")]
    line(case, "repair_labour", RESULT, "100.00", tax_rate="19")
    other = stated(case, place)
    assert other.taxes[1].source == "as stated in the lines; Vale has 7.25 %: Tax table (looked up 2026-01-02)"
    assert "Vale puts no tax on labour (Tax table), and a rate is stated on Loss item 10" in other.faults
    own = stated(case.change("loss_item-10", tax_source="Invoice, foot"), place)
    assert own.taxes[1].source == "Invoice, foot"


def test_habit_and_ceiling_of_the_place_show_their_age():
    ceiling = {"amount": "2000.00 USD", "source": "Act, section 4", "on": "2025-03-02"}
    place = PlaceRules.model_validate({"format": 1, "name": "Vale", "betterment": HABIT, "small_claims_ceiling": ceiling})
    dossier = ground_left_off().dossier()
    s = loss_statement(dossier, assess(dossier, packs(), vocabulary(), firmness=False), place, dt.date(2026, 6, 10))
    old = "15 months ago); look it up again before relying on it"
    assert s.ceiling == f"2000.00 USD is the most that a small-claims court of Vale hears: Act, section 4 (looked up 2025-03-02, {old}. The sum claimed is above it by 31.26 USD"
    assert s.habit == "Parts that wear at their share of life. Court guide (looked up 2025-01-02, 17 months ago); look it up again before relying on it"


def test_lines_without_a_causal_link_are_apart_and_nobody_gets_a_percentage():
    bare = stated(doubled_gasket())
    assert bare.unlinked == bare.counted
    s = stated(ground_left_off())
    assert s.unlinked == ()
    assert s.lines[0].link.could_be
    case = ground_left_off()
    line(case, "other", INCIDENTAL, "20.00", unlinked="a new air freshener")
    s = stated(case)
    assert [x.link.words for x in s.unlinked] == ["a new air freshener"]
    assert s.apart == D("20.00")
    assert responsible_told(s)[-1][:2] == ("other (incidental)", "Loss item 10\nno link on record")


def test_where_two_explanations_stand_both_repairers_could_be_responsible():
    case = ground_left_off()
    dossier = case.dossier()
    assessment = assess(dossier, packs(), vocabulary(), firmness=False)
    first = next(c for c in assessment.candidates if c.weight.side == "mechanism")
    case.record("party", full_name="Vell Motors", roles=["prior_repairer"])
    subject = f"party-{sum(k == 'party' for k, *_ in case.entries)}"
    case.record("work_order", side="prior_repairer", repairer=subject, closed="2026-04-01", operations=[{"text": "other work"}])
    dossier = case.dossier()
    order = dossier.of(WorkOrder)[-1].label
    second = replace(first, mechanism="other", title="Other work", why=(replace(first.why[0], records=(order,)),), alternatives=())
    both = replace(assessment, candidates=(first, second))
    link = loss_statement(dossier, both).lines[0].link
    assert "Vell Motors" in link.could_be
    assert len(link.could_be) > 1
    assert link.words.endswith(f"“Other work”: {first.weight.band}")
    assert loss_statement(dossier, replace(assessment, candidates=(first,))).lines[0].link.could_be == link.could_be[:-1]


def test_over_the_ceiling_says_so():
    ceiling = {"amount": "2000.00 USD", "source": "Act, section 4", "on": "2026-01-02"}
    place = PlaceRules.model_validate({"format": 1, "name": "Vale", "small_claims_ceiling": ceiling})
    assert stated(ground_left_off(), place).over_ceiling.startswith("2000.00 USD is the most that a small-claims court of Vale hears")
    high = PlaceRules.model_validate({"format": 1, "name": "Vale", "small_claims_ceiling": {**ceiling, "amount": "2031.26 USD"}})
    within = stated(ground_left_off(), high)
    assert within.over_ceiling == ""
    assert within.ceiling.endswith("The sum claimed is within it, with 0.00 USD to spare")


def test_an_unknown_currency_and_a_ceiling_in_another_are_told(monkeypatch):
    monkeypatch.setattr(quantity, "CURRENCIES", {"ABC", "EUR", "USD"})  # as if an older version had recorded it
    case = coil_case()
    case.record("loss_item", head="towing", nature=INCIDENTAL, text="tow", amount="95.00 ABC", status="paid", exhibits=["exhibit-1"])
    ceiling = {"amount": "2000.00 USD", "source": "Act, section 4", "on": "2026-01-02"}
    place = PlaceRules.model_validate({"format": 1, "name": "Vale", "small_claims_ceiling": ceiling})
    told = stated(case, place).faults
    assert [t.split()[0] for t in told] == ["ABC", "the"]
    assert stated(ground_left_off(), place).faults == ()


def test_mixed_currencies_have_no_total():
    case = ground_left_off()
    case.record("loss_item", head="towing", nature=INCIDENTAL, text="tow", amount="95.00 EUR", status="paid")
    with pytest.raises(MixedCurrency, match="EUR: Loss item 10"):
        stated(case)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"amount": "-5.00 USD"}, "negative"),
        ({"amount": "5.00 USD", "tax_rate": "101"}, "not between 0 and 100"),
        ({"amount": "5.00 USD", "tax_rate": "-1"}, "not between 0 and 100"),
        ({}, "no amount"),
        ({"amount": "5.00 USD", "rate": "5.00 USD", "quantity": "1"}, "a rate"),
        ({"amount": "5.00 USD", "begins": "2026-05-04", "ends": "2026-05-01"}, "before it begins"),
        ({"amount": "5.00 USD", "disputed": True, "at_least": "2.00 EUR"}, "the line itself in USD"),
        ({"amount": "5.00 USD", "nature": "deduction"}, "does not go with"),
        ({"amount": "5.00 USD", "wear": {"new": "8", "at_loss": "9", "worn_out": "1", "method": "m"}}, "not between 0 and 1"),
        ({"amount": "5.00 USD", "wear": {"method": "m"}}, "either"),
        ({"amount": "5.00 USD", "taken_off": ["loss_item-1"]}, "is no deduction"),
        ({"amount": "5.00 USD", "head": "diminished_value", "nature": RESULT}, "basis in the market"),
        ({"amount": "5.00 USD", "beside": ["loss_item-1"]}, "gives no reason"),
        ({"head": "share_of_fault", "nature": "deduction", "why": "w"}, "in per cent, or as the amount"),
        ({"head": "share_of_fault", "nature": "deduction", "why": "w", "percent": "5", "taken_off": ["loss_item-1"]}, "taken off the whole"),
        ({"head": "share_of_fault", "nature": "deduction", "why": "w", "percent": "5", "amount": "5.00 USD"}, "one of them is enough"),
    ],
)  # fmt: skip
def test_bad_lines_are_refused_in_words(wrong, words):
    case = coil_case()
    case.record("loss_item", **{"head": "towing", "nature": INCIDENTAL, "text": "tow", "status": "paid", **wrong})
    with pytest.raises(ValidationError, match=words):
        case.dossier()


amounts = st.decimals("0.01", "9999.99", places=2).map(str)
some_lines = st.lists(
    st.tuples(
        st.sampled_from([("repair_parts", RESULT), ("rework_cost", REWORK), ("diagnosis_fee", DIAGNOSIS), ("towing", INCIDENTAL)]),
        amounts, st.sampled_from([None, "7.25", "19"]), st.booleans(), st.none() | st.sampled_from(["10", "33.3"]),
    ),
    min_size=1, max_size=8,
)  # fmt: skip


def written(lines):
    case = coil_case()
    for (head, nature), amount, tax, disputed, share in lines:
        more = {"tax_rate": tax} if tax else {}
        more |= {"disputed": True} if disputed else {}
        more |= {"wear": {"share": share, "method": "by age", "disputed": disputed}} if share else {}
        line(case, head, nature, amount, **more)
    return case


def laws(lines):
    dossier = written(lines).dossier()
    return loss_statement(dossier, NOTHING)


NOTHING = assess(coil_case().dossier(), (), vocabulary())


@given(some_lines)
def test_natures_add_up_and_readings_are_in_order(lines):
    s = laws(lines)
    assert sum(s.by_nature.values()) == s.claimed.gross == s.documented + s.undocumented
    assert s.low.total <= s.claimed.total <= s.high.total
    assert sum(x.net for x in s.counted) + s.claimed.tax == s.claimed.gross


@given(some_lines, st.randoms(use_true_random=False))
def test_order_changes_nothing(lines, random):
    shuffled = list(lines)
    random.shuffle(shuffled)
    one, other = laws(lines), laws(shuffled)
    assert (one.low.total, one.claimed.total, one.high.total, one.by_nature) == (other.low.total, other.claimed.total, other.high.total, other.by_nature)
