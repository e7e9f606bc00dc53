"""Who could have made a departure: its window, who covers how much of it, what excludes whom, and what is missing."""

import datetime as dt
import itertools
from fractions import Fraction

import pytest
from evidence.rules.opportunity import SOMEBODY, opportunities, opportunity_json, share_words
from evidence.timeline.stretches import joined, length, within, without
from hypothesis import given, settings
from hypothesis import strategies as st

from build import coil_case, vocabulary

GARAGE, OWNER, SHOP, TOW = "Old Mill Garage", "Bo Finch", "Ann Teal", "Fell Recovery"


def found(case):
    return opportunities(case.dossier(), case.assess(), vocabulary())


def only(case):
    (one,) = found(case)
    return one


def holder(one, name):
    return next(h for h in one.holders if h.name == name)


def standings(one):
    return {h.name: h.standing for h in one.holders}


def handed_over(case, giver, taker, time, **more):
    case.record(
        "custody_transfer", item="vehicle-1", released_by=giver, received_by=taker, time=time, place="yard", purpose="diagnosis",
        **more,
    )  # fmt: skip
    return case


def looked(case, time, seen="seated"):
    """The same thing was looked at, in passing."""
    case.record(
        "observation", of="coil-ground-eyelet", aspect="ground_seat", seen=seen, time=time, position="1", text="inspected"
    )
    return case


def seen_off(case=None):
    """Eyelet found off at 10:00 on 5 May, local time; handed over to the shop at eight, the owner heard at nine."""
    case = handed_over(case or coil_case(opened="2026-04-30 08:00", closed="2026-05-02 17:00"), "party-3", "party-1", "2026-05-05 08:00")
    case.declare()
    case.observe("coil-ground-eyelet", "ground_seat", "off", position="1")
    return case


def closed_case():
    """And an inspection that saw it seated on the day before the prior job."""
    return looked(seen_off(), "2026-04-29 08:00")


def test_nothing_found_nothing_shown():
    assert found(coil_case()) == ()


def test_the_window_runs_from_the_last_good_to_the_first_bad():
    one = only(closed_case())
    assert one.departure.mechanisms[0] == "ign-coil-ground-left-off"
    assert (one.window.good.record, one.window.bad.record) == ("Observation 2", "Observation 1")
    assert one.window.words() == "2026-04-29 07:00 to 2026-05-05 09:01 UTC"


def test_exclusive_is_said_when_the_record_carries_it():
    one = only(closed_case())
    assert one.exclusive == GARAGE
    assert one.missing == ()
    assert "alone had it" in one.statement
    assert "not who did" in one.statement
    assert standings(one) == {GARAGE: "open", OWNER: "excluded", SHOP: "excluded", SOMEBODY: "excluded"}
    assert holder(one, GARAGE).touched == ("Work order 1",)
    assert [p.records for p in holder(one, SHOP).because] == [("Observation 1",)]


def test_shares_are_those_of_the_hours():
    one = only(closed_case())
    whole = 6 * 24 * 60 + 2 * 60 + 1  # minutes: 29 April 07:00 to 5 May 09:01 in UTC
    garage = holder(one, GARAGE)  # from 30 April 08:00, a minute wide, to 2 May 17:00, a minute wide
    assert garage.least == Fraction(57 * 60 - 1, whole)
    assert garage.most == Fraction(57 * 60 + 1, whole)
    assert share_words(garage) == "39 to 40 %"  # 3419 and 3421 of 8761 minutes
    shop = holder(one, SHOP)
    assert (shop.least, shop.most) == (Fraction(120, whole), Fraction(121, whole))
    owner = holder(one, OWNER)
    assert garage.most + owner.least + shop.most == 1
    assert garage.least + owner.most + shop.least == 1


SPOILT = {
    "the owner not heard": (lambda c: c.drop("owner_declaration-1"), {OWNER: "open", SOMEBODY: "open"}),
    "the owner's word not signed": (lambda c: c.change("owner_declaration-1", signed=False), {OWNER: "open", SOMEBODY: "open"}),
    "heard before the hand-over": (lambda c: c.change("owner_declaration-1", time="2026-05-05 07:00"), {OWNER: "open", SOMEBODY: "open"}),
    "heard after findings were shown": (lambda c: c.change("owner_declaration-1", before_findings_shown=False), {OWNER: "open"}),
    "the hand-over not recorded": (lambda c: c.drop("custody_transfer-1"), {OWNER: "open"}),
    "not seen as found": (lambda c: c.change("observation-1", state="disturbed"), None),
}  # fmt: skip


@pytest.mark.parametrize(("spoil", "opened"), SPOILT.values(), ids=SPOILT)
def test_one_missing_record_and_it_is_not_exclusive(spoil, opened):
    case = spoil(closed_case())
    if opened is None:  # then no departure is met at all
        assert found(case) == ()
        return
    one = only(case)
    assert one.exclusive == ""
    assert one.statement.startswith("Not exclusive")
    for name, standing in opened.items():
        assert standings(one)[name] == standing
        assert any(m.startswith(f"{name}: ") for m in one.missing)


def test_without_a_good_record_the_window_is_open_to_the_past():
    one = only(seen_off())
    assert one.window.good is None
    assert one.exclusive == ""
    assert one.missing == ("a record that shows the coil ground eyelet in order at any time before Observation 1",)
    assert "from an unknown time" in one.statement


def test_a_vehicle_that_ran_well_does_not_show_the_part():
    case = seen_off()
    case.record("event", what="last_shown_good", text="ran well", time="2026-04-29", basis="seen")
    one = only(case)
    assert one.window.good is None
    assert "Event 2 shows how the vehicle ran" in one.missing[1]


@pytest.mark.parametrize(("basis", "exclusive"), [("document", GARAGE), ("told", "")])
def test_an_event_that_names_the_part_shows_it_by_more_than_a_word(basis, exclusive):
    case = seen_off()
    case.record(
        "event", what="last_shown_good", text="seat checked", time="2026-04-29", basis=basis, components=["coil-ground-eyelet"]
    )
    one = only(case)
    assert one.window.good.record == "Event 2"
    assert one.exclusive == exclusive
    assert bool(one.missing) != bool(exclusive)


def test_owners_work_on_the_part_keeps_him_open_whatever_he_declares():
    case = closed_case()
    case.record(
        "work_order", side="owner", repairer="party-3", opened="2026-05-03 10:00", closed="2026-05-03 11:00",
        operations=[{"text": "coil changed", "components": ["coil-ground-eyelet"]}],
    )  # fmt: skip
    one = only(case)
    assert standings(one)[OWNER] == "open"
    assert holder(one, OWNER).touched == ("Work order 2",)
    assert one.exclusive == ""


def test_a_carrier_is_open_until_he_speaks_or_a_seal_does():
    def towed(**sealed):
        case = coil_case(opened="2026-04-30 08:00", closed="2026-05-02 17:00")
        case.record("party", full_name=TOW, roles=["carrier"])
        first = {k: v for k, v in sealed.items() if k == "seal"}
        handed_over(case, "party-3", "party-4", "2026-05-04 20:00", **first)
        handed_over(case, "party-4", "party-1", "2026-05-05 08:00", **{k: v for k, v in sealed.items() if k != "seal"})
        case.declare()
        case.observe("coil-ground-eyelet", "ground_seat", "off", position="1")
        return looked(case, "2026-04-29 08:00")

    assert standings(only(towed()))[TOW] == "open"
    assert any("Fell Recovery: its own word" in m for m in only(towed()).missing)
    assert standings(only(towed(seal="S 1", seal_opened="S 2")))[TOW] == "open"
    sealed = only(towed(seal="S 1", seal_opened="s 1"))
    assert holder(sealed, TOW).because[0].records == ("Custody transfer 1", "Custody transfer 2")
    assert sealed.exclusive == GARAGE
    spoken = towed()
    spoken.record(
        "owner_declaration", given_by="party-4", time="2026-05-05 08:30", before_findings_shown=True, signed=True,
        statements=[{"topic": "own_work", "answer": "none"}],
    )  # fmt: skip
    assert only(spoken).exclusive == GARAGE


def test_whoever_had_it_before_the_window_is_outside():
    case = looked(seen_off(), "2026-05-03 09:00")  # seated a day after the job was done
    one = only(case)
    assert standings(one)[GARAGE] == "outside"
    assert one.exclusive == ""
    assert "Everybody is excluded by record" in one.statement


def test_the_network_tightens_the_window():
    """Dates alone leave the inspection and the job on one day; a told order of the two puts it before."""
    case = seen_off(coil_case(opened="2026-04-30", closed="2026-05-02 17:00"))
    looked(case, "2026-04-30 / 2026-05-05")
    assert only(case).window.good is None  # perhaps after it was seen off
    case.record(
        "time_relation", what="observation-2", relation="before", other="work_order-1", text="inspected, then handed in",
        basis="document",
    )  # fmt: skip
    assert only(case).window.good.record == "Observation 2"


def test_the_shop_that_was_at_it_first_is_open():
    case = closed_case()
    case.touch("coil-ground-eyelet", time="2026-05-05 09:30")
    assert [o for o in found(case) if standings(o)[SHOP] == "excluded"] == []


def test_the_shops_own_order_counts_from_its_work_on_the_part():
    case = closed_case()
    case.record(
        "work_order", side="present_repairer", repairer="party-1", opened="2026-05-05 08:00", closed="2026-05-08 17:00",
        operations=[{"text": "eyelet refitted", "components": ["coil-ground-eyelet"]}],
    )  # fmt: skip
    assert standings(only(case))[SHOP] == "open"  # when it was done is not on record
    case.touch("coil-ground-eyelet", time="2026-05-06 09:00", work_order="work_order-2")
    assert only(case).exclusive == GARAGE


def test_people_of_one_firm_are_one_holder():
    case = closed_case().change("party-1", firm="Teal Motors")
    case.record("party", full_name="Teal Motors", roles=["present_repairer"])
    case = case.change("custody_transfer-1", received_by="party-4")
    one = only(case)
    assert [h.name for h in one.holders if "Teal" in h.name] == ["Teal Motors"]
    assert one.exclusive == GARAGE


def test_order_of_recording_does_not_matter():
    case, dropped = closed_case(), []
    for name in ("owner_declaration", "custody_transfer"):
        entry = next(e for e in case.entries if e[0] == name)
        case.entries.remove(entry)
        dropped.append(entry)
    case.entries += reversed(dropped)
    one, other = only(closed_case()), only(case)
    assert (one.holders, one.statement) == (other.holders, other.statement)


def test_where_times_contradict_each_other_nothing_is_exclusive():
    case = closed_case()
    fair = case.record("event", what="other", text="the fair", time="2026-05-03", basis="told")
    case.record("time_relation", what=fair, relation="before", other="work_order-1", text="before the job", basis="told")
    one = only(case)
    assert one.exclusive == ""
    assert one.missing == ("times that go together: Event 2, Time relation 1, Work order 1 cannot all be true",)
    for subject in (fair, "time_relation-1"):
        assert only(case.drop(subject)).exclusive == GARAGE


hours = st.integers(-72, 240)


@settings(max_examples=40, deadline=None)
@given(hours, st.integers(0, 100), st.sampled_from(["later_repairer", "owner", "custody"]), st.booleans())
def test_a_further_holder_never_makes_it_exclusive_and_shares_stay_shares(start, length_, how, on_the_part):
    """Whoever else had it in the window takes the exclusive away, unless he is the owner at other parts."""
    case = closed_case()
    case.record("party", full_name=TOW, roles=["storage"])
    opened, closed = (f"{dt.datetime(2026, 4, 29, 8, tzinfo=dt.UTC) + dt.timedelta(hours=h):%Y-%m-%d %H:%M}" for h in (start, start + length_))
    if how == "custody":
        handed_over(case, "party-3", "party-4", opened)
        handed_over(case, "party-4", "party-3", closed)
    else:
        parts = ["coil-ground-eyelet"] if on_the_part else ["wheel"]
        case.record(
            "work_order", side=how, repairer="party-3" if how == "owner" else "party-4", opened=opened, closed=closed,
            operations=[{"text": "work", "components": parts}],
        )  # fmt: skip
    one = only(case)
    inside = start + length_ >= 0 and start <= 146  # all is a minute wide
    if inside and (how != "owner" or on_the_part):
        assert one.exclusive == ""
    elif how != "custody":
        assert one.exclusive == GARAGE
    for h in one.holders:
        assert 0 <= h.least <= h.most <= 1


def test_where_nobody_is_on_record_the_owner_is_taken_to_have_had_it():
    case = coil_case()
    case.observe("coil-ground-eyelet", "ground_seat", "off", position="1")
    one = only(case.drop("work_order-1").drop("party-3").drop("party-2"))
    assert standings(one)["owner or keeper, not named"] == "open"
    assert one.exclusive == ""
    assert one.window.words() == "an unknown time to 2026-05-05 09:01 UTC"


def test_where_records_are_withheld_nothing_is_exclusive():
    case = closed_case()
    (one,) = opportunities(case.dossier(), case.assess(), vocabulary(), withheld=2)
    assert one.exclusive == ""
    assert "withheld here (2)" in one.missing[0]


def test_as_json():
    told = opportunity_json(only(closed_case()))
    assert told["exclusive"] == GARAGE
    assert told["window"]["last_good"]["record"] == "Observation 2"
    assert {h["standing"] for h in told["holders"]} == {"open", "excluded"}
    assert all(h["least"] and h["most"] for h in told["holders"])


numbers = st.integers(0, 60)
stretches = st.lists(st.tuples(numbers, numbers), max_size=6)


@given(stretches, numbers, numbers)
def test_stretches_are_sets_of_instants(drawn, a, b):
    window = (min(a, b), max(a, b))
    inside = {x for s, e in drawn for x in range(s, e)} & set(range(*window))
    cut, rest = within(drawn, window), without(window, drawn)
    assert {x for s, e in cut for x in range(s, e)} == inside
    assert {x for s, e in rest for x in range(s, e)} == set(range(*window)) - inside
    assert length(cut) + length(rest) == window[1] - window[0]
    assert all(one[1] < other[0] for one, other in itertools.pairwise(joined(drawn)))
