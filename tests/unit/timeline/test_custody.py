"""Custody by example: firms and their people, files, parts taken off, seals, and what is said in words."""

import itertools

from evidence.timeline.chains import state_now
from evidence.timeline.custody import chains, doubts_of, faults_of
from evidence.timeline.custody_json import as_json

from build import Case

DAY = "2026-05-04"


def case(*transfers):
    """Ann and Bea of the Teal garage, a carrier, an owner; a car, a nut, and hand-overs of the nut."""
    made = Case()
    made.record("party", full_name="Ann Teal", firm="Teal Garage", roles=["technician"])
    made.record("party", full_name="Bea Moor", firm="Teal Garage", roles=["technician"])
    made.record("party", full_name="Teal Garage", roles=["present_repairer"])
    made.record("party", full_name="Cy Towing", roles=["carrier"])
    made.record("party", full_name="Dov Owner", roles=["owner"])
    made.record("dossier", title="A car")
    made.record("vehicle", description="hatchback")
    made.record("exhibit", form="physical", description="nut", shows=["coil-ground-nut"], location="shelf 3")
    for raw in transfers:
        made.record("custody_transfer", **{"item": "exhibit-1", "place": "here", "purpose": "work", **raw})
    return made


def move(giver, taker, time, **more):
    return {"released_by": f"party-{giver}", "received_by": f"party-{taker}", "time": time, **more}


def of(made, label="Exhibit 1"):
    found = tuple(c for c in chains(made.dossier()) if c.item == label)
    return found[0], faults_of(found), doubts_of(found)


def test_what_a_firm_holds_its_people_hold():
    made = case(move(5, 3, f"{DAY} 09:00"), move(1, 4, f"{DAY} 12:00"))
    made.observe("coil-ground-nut", "ground_seat", "off", item="exhibit-1", by="party-2", time=f"{DAY} 10:00")
    _chain, faults, doubts = of(made)
    assert faults == ()
    assert doubts == ()


def test_from_one_of_a_firm_to_another_without_a_record_cannot_be_told():
    _chain, faults, doubts = of(case(move(5, 1, f"{DAY} 09:00"), move(2, 4, f"{DAY} 12:00")))
    assert faults == ()
    assert [d.code for d in doubts] == ["colleagues"]
    assert doubts[0].sentence == (
        "Exhibit 1 was received by Ann Teal and released by Bea Moor of the same firm: the step between them is not on record."
    )


def test_somebody_who_never_held_it_is_named_with_who_did():
    _chain, faults, _doubts = of(case(move(5, 3, f"{DAY} 09:00"), move(4, 1, f"{DAY} 12:00")))
    assert [(f.code, f.records) for f in faults] == [("not_holder", ("Custody transfer 1", "Custody transfer 2"))]
    assert faults[0].sentence == (
        "Cy Towing released Exhibit 1 (2026-05-04 12:00 (Europe/Lisbon)), but Teal Garage held it since "
        "2026-05-04 09:00 (Europe/Lisbon): how it came from Teal Garage to Cy Towing is not on record."
    )


def test_a_thing_on_a_shelf_that_nobody_is_on_record_as_having_put_there():
    chain, faults, _doubts = of(case())
    assert [(f.code, f.records) for f in faults] == [("gap", ("Exhibit 1",))]
    assert faults[0].sentence.endswith("It is said to lie in: shelf 3.")
    assert state_now(chain) == "holder not on record"


def test_left_in_a_yard_overnight_nobody_held_it():
    made = case(move(5, 4, f"{DAY} 18:00", received="2026-05-05 08:00"))
    made.touch("coil-ground-nut", item="exhibit-1", action="cleaned", time="2026-05-04 22:00")
    _chain, faults, _doubts = of(made)
    assert [f.code for f in faults] == ["gap", "examined_unheld"]
    assert faults[0].sentence == (
        "From 2026-05-04 18:00 (Europe/Lisbon) to 2026-05-05 08:00 (Europe/Lisbon) nobody on record held Exhibit 1: "
        "Dov Owner let go of it before Cy Towing took it."
    )
    assert faults[1].records == ("Intervention 1", "Custody transfer 1")


def test_a_part_taken_off_the_vehicle_begins_with_who_took_it_off():
    made = case(move(4, 5, f"{DAY} 12:00"))
    made.touch("coil-ground-nut", action="removed", item="exhibit-1", time=f"{DAY} 09:00")
    chain, faults, _doubts = of(made)
    assert [link.act for link in chain.links] == ["taken off", "hand-over"]
    assert [(f.code, f.records) for f in faults] == [("not_holder", ("Intervention 1", "Custody transfer 1"))]


def test_the_vehicle_is_not_charged_with_what_was_done_to_a_part_on_the_bench():
    made = case(move(5, 3, f"{DAY} 09:00", item="vehicle-1"), move(3, 5, f"{DAY} 12:00", item="vehicle-1"))
    made.observe("coil", "bench_test", "passes", by="party-1", time=f"{DAY} 15:00", conditions=["on-bench"])
    made.observe("coil-ground-nut", "ground_seat", "off", by="party-1", time=f"{DAY} 15:00", item="exhibit-1")
    _chain, faults, doubts = of(made, "Vehicle 1")
    assert faults == ()
    assert [(d.code, d.records) for d in doubts] == [("examined_elsewhere", ("Observation 1", "Custody transfer 2"))]
    made.observe("coil", "bench_test", "passes", by="party-1", time=f"{DAY} 15:00")
    assert [f.records for f in of(made, "Vehicle 1")[1]] == [("Observation 3", "Custody transfer 2")]


def test_a_file_begins_with_its_taking_in_and_its_way_before_may_be_on_record():
    made = case()
    file = {"sha256": "a" * 64, "size": 3, "name": "a.jpg"}
    made.record("exhibit", caption="a photo", file=file)
    chain, faults, doubts = of(made, "Exhibit 2")
    assert (chain.kind, chain.digest) == ("file", "a" * 64)
    assert [(link.act, link.taken_by.name) for link in chain.links] == [("taken in", "Ann Teal")]
    assert (faults, doubts) == ((), ())
    made.record("custody_transfer", item="exhibit-2", place="by mail", purpose="memory card", **move(5, 4, "2026-05-05"))
    _chain, faults, doubts = of(made, "Exhibit 2")
    assert faults == ()
    assert [d.code for d in doubts] == ["origin"]
    assert "last handed to Cy Towing and was taken into the record by Ann Teal" in doubts[0].sentence


def test_withdrawn_hand_overs_and_items_are_no_links():
    made = case(move(5, 3, f"{DAY} 09:00"), move(4, 1, f"{DAY} 12:00"))
    assert of(made.drop("custody_transfer-2"))[1] == ()
    assert [c.item for c in chains(made.drop("exhibit-1").dossier())] == ["Vehicle 1"]


def test_the_seal_that_the_exhibit_names_is_held_against_the_last_one():
    made = case(move(5, 3, f"{DAY} 09:00", seal="S-1")).change("exhibit-1", seal="S-2")
    assert [(d.code, d.records) for d in of(made)[2]] == [("seal_differs", ("Exhibit 1", "Custody transfer 1"))]
    assert of(case(move(5, 3, f"{DAY} 09:00", seal="S 1")).change("exhibit-1", seal="s  1"))[2] == ()


def test_a_seal_that_somebody_passes_over_in_silence_is_remembered():
    made = case(move(5, 3, f"{DAY} 09:00", seal="S-1"), move(3, 4, f"{DAY} 12:00"), move(4, 5, f"{DAY} 15:00", seal="S-9"))
    _chain, faults, doubts = of(made)
    assert [(f.code, f.records) for f in faults] == [("seal_changed", ("Custody transfer 1", "Custody transfer 3"))]
    assert [(d.code, d.records) for d in doubts] == [("seal_not_stated", ("Custody transfer 1", "Custody transfer 2"))]


def test_what_is_examined_under_a_seal_is_asked_about_and_after_an_opening_is_not():
    made = case(move(5, 3, f"{DAY} 09:00", seal="S-1", container="bag"), move(3, 1, f"{DAY} 12:00", seal_opened="S-1", container="bag"))
    made.observe("coil-ground-nut", "ground_seat", "off", item="exhibit-1", by="party-1", time=f"{DAY} 10:00")
    made.observe("coil-ground-nut", "ground_seat", "off", item="exhibit-1", by="party-1", time=f"{DAY} 15:00")
    _chain, faults, doubts = of(made)
    assert faults == ()
    assert [(d.code, d.records) for d in doubts] == [("examined_sealed", ("Observation 1", "Custody transfer 1"))]
    assert doubts[0].sentence.startswith("Exhibit 1 was examined (Observation 1) while under seal S-1 (Custody transfer 1):")


def test_an_examination_that_may_lie_on_either_side_of_an_opening_is_not_charged_with_the_seal():
    made = case(move(5, 3, f"{DAY} 09:00", seal="S-1"), move(3, 3, f"{DAY} 12:00", seal_opened="S-1"))
    made.observe("coil-ground-nut", "ground_seat", "off", item="exhibit-1", by="party-1", time=DAY)
    assert "examined_sealed" not in {d.code for d in of(made)[2]}


def test_a_seal_that_nobody_put_on_and_one_that_is_used_again():
    first = move(5, 3, f"{DAY} 09:00", seal_opened="S-9", seal="S-1")
    made = case(first, move(3, 3, f"{DAY} 12:00", seal_opened="S-1", seal="s-1"))
    found = [(d.code, d.records) for d in of(made)[2]]
    assert found == [("seal_unknown", ("Custody transfer 1",)), ("seal_used_again", ("Custody transfer 2",))]


def test_a_hand_over_recorded_before_it_can_have_happened():
    _chain, faults, _doubts = of(case(move(5, 3, "2027-05-04 09:00")))  # the case is recorded in June 2026
    assert [f.code for f in faults] == ["times"]


def test_many_hand_overs_of_one_day_are_no_fault():
    """Nine in one day without a clock: more orders than are tried; what cannot be settled is never called a fault."""
    parties = [5, 3, 4, 5, 3, 4, 5, 3, 4, 5]
    made = case(*(move(a, b, DAY, purpose=f"step {9 - n}") for n, (a, b) in enumerate(itertools.pairwise(parties))))
    _chain, faults, _doubts = of(made)
    assert faults == ()


def test_json_has_every_link_and_fault():
    found = chains(case(move(5, 3, f"{DAY} 09:00"), move(4, 1, f"{DAY} 12:00")).dossier())
    plain = as_json("A car", found, faults_of(found), doubts_of(found))
    nut = next(c for c in plain["chains"] if c["item"] == "Exhibit 1")
    assert [link["received_by"] for link in nut["links"]] == ["Teal Garage", "Ann Teal"]
    assert nut["links"][0]["released"] == {
        "given": "2026-05-04 09:00 (Europe/Lisbon)", "earliest": "2026-05-04T08:00:00Z", "latest": "2026-05-04T08:01:00Z",
    }  # fmt: skip
    assert [f["code"] for f in plain["faults"]] == ["not_holder"]
