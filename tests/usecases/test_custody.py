"""Giving up a part on which a finding rests: refused with the finding in words, until a reason is stated."""

import shutil

import pytest
from evidence.bootstrap import demo_dossiers, open_desk
from evidence.capture.sources import open_handed
from evidence.errors import DutyToKeep, NotFound
from evidence.usecases.custody import custody_of, handover_form, label_cards
from evidence.usecases.intake import Answers, intake_folder
from evidence.usecases.looking import detail, ledger_lines
from evidence.usecases.record import amend_one, record_one

from fakes import quiet
from van import NAME, van, van_to_look_at

GO = {
    "item": "old-module", "released_by": "tamsgate", "received_by": "hollin", "time": "2026-07-01 10:00", "place": "yard",
    "purpose": "sent back for the core deposit", "fate": "returned_as_core",
}  # fmt: skip


@pytest.fixture
def shop(tmp_path):
    with open_desk(van(tmp_path)) as desk:
        yield desk


@pytest.mark.parametrize("fate", ["scrapped", "returned_as_core", "returned_to_owner"])
def test_a_part_that_carries_a_finding_is_not_given_up_without_a_reason(shop, fate):
    before = len(ledger_lines(shop, NAME))
    with pytest.raises(DutyToKeep) as refused:
        record_one(shop, NAME, "custody_transfer", {**GO, "fate": fate})
    told = str(refused.value)
    assert "Exhibit 48 (Engine control module 2P-40771-C taken from the van)" in told
    assert "F12, met: " in told
    assert "Observations 26 to 33" in told
    assert "Exhibit" in told.split("F12, met")[1].splitlines()[0]
    assert "has to be kept until the dispute is settled" in told
    assert "--knowing" in refused.value.advice
    assert len(ledger_lines(shop, NAME)) == before


def test_with_a_reason_it_is_recorded_and_the_warning_stays_visible(shop):
    entered = record_one(shop, NAME, "custody_transfer", {**GO, "knowing": "All sides agreed in writing on 30 June."})
    assert entered.label == "Custody transfer 12"
    assert len(entered.warnings) == 1
    assert "F12, met: " in entered.warnings[0]
    assert entered.warnings[0].endswith("Recorded knowingly: All sides agreed in writing on 30 June.")
    assert ("knowing", "All sides agreed in writing on 30 June.") in detail(shop, NAME, entered.label).rows
    chain = custody_of(shop, NAME, ["old-module"]).chains[0]
    assert chain.links[-1].fate == "returned_as_core"


def test_a_part_on_which_nothing_rests_goes_without_a_word(shop):
    blade = record_one(shop, NAME, "exhibit", {"form": "physical", "description": "Wiper blade", "name": "blade"})
    entered = record_one(shop, NAME, "custody_transfer", {**GO, "item": "blade", "fate": "scrapped"})
    assert blade.label == "Exhibit 51"
    assert entered.warnings == ()


def test_saying_that_a_part_is_not_kept_is_giving_it_up(shop):
    with pytest.raises(DutyToKeep, match=r"Exhibit 49 .* is not to be kept"):
        amend_one(shop, NAME, "old-nut", {"retained": "no"}, "cabinet cleared")
    assert amend_one(shop, NAME, "old-nut", {"serial": "none"}, "looked for one").warnings == ()
    entered = amend_one(shop, NAME, "old-nut", {"retained": "no", "knowing": "lost in a burglary"}, "cabinet cleared")
    assert "Recorded knowingly: lost in a burglary" in entered.warnings[0]
    again = amend_one(shop, NAME, "old-nut", {"caption": "Nut", "knowing": ""}, "said once is enough")
    assert again.warnings == ()


@pytest.mark.parametrize(("side", "repairer", "refused"), [("present_repairer", "tamsgate", True), ("prior_repairer", "orrinfell", False)])
def test_an_old_part_on_our_own_order_counts_and_on_that_of_another_does_not(shop, side, repairer, refused):
    part = {"text": "module", "component": "engine-control-module", "old_part": "scrapped"}
    order = {"side": side, "repairer": repairer, "parts": [part]}
    if refused:
        with pytest.raises(DutyToKeep, match="the old engine control module is to be scrapped"):
            record_one(shop, NAME, "work_order", order)
        assert record_one(shop, NAME, "work_order", {**order, "knowing": "it burnt"}).warnings
    else:
        assert record_one(shop, NAME, "work_order", order).warnings == ()


def test_a_folder_that_gives_up_a_part_is_refused_whole(shop, tmp_path):
    folder = shutil.copytree(demo_dossiers()[NAME], tmp_path / "handed")
    text = (folder / "dossier.yaml").read_text("utf-8")
    gone = (
        "- {name: module-gone, item: old-module, released_by: tamsgate, received_by: hollin, time: 2026-07-01, place: yard, "
        "purpose: core, fate: scrapped@}\n"
    )
    before = len(ledger_lines(shop, NAME))
    (folder / "dossier.yaml").write_text(text.replace("- name: hand-back\n", gone.replace("@", "") + "- name: hand-back\n", 1), "utf-8")
    with pytest.raises(DutyToKeep, match="F12, met"):
        intake_folder(shop, open_handed(folder), Answers(), quiet)
    assert len(ledger_lines(shop, NAME)) == before
    stated = gone.replace("@", ", knowing: agreed by all")
    (folder / "dossier.yaml").write_text(text.replace("- name: hand-back\n", stated + "- name: hand-back\n", 1), "utf-8")
    result = intake_folder(shop, open_handed(folder), Answers(), quiet)
    assert len(ledger_lines(shop, NAME)) == before + 1
    assert result.warnings[0].endswith("Recorded knowingly: agreed by all")


def test_the_van_has_a_chain_without_a_fault_and_the_module_six_links():
    with open_desk(van_to_look_at()) as desk:
        view = custody_of(desk, NAME)
    assert view.faults == ()
    assert view.doubts == ()
    module = next(c for c in view.chains if c.item == "Exhibit 48")
    assert [link.act for link in module.links] == ["taken off", *["hand-over"] * 5]
    assert [link.seal or link.seal_opened for link in module.links[1:]] == [
        "S-26-0139", "S-26-0139", "S-26-0141", "S-26-0141", "S-26-0144",
    ]  # fmt: skip
    assert [h.record for h in module.handled if h.sure] == [f"Observation {n}" for n in range(26, 30)]
    files = [c for c in view.chains if c.kind == "file"]
    assert len(files) == 47
    assert {(link.act, link.taken_by.name) for c in files for link in c.links} == {("taken in", "Ida Ansgar")}


def test_what_has_no_chain_is_said():
    with open_desk(van_to_look_at()) as desk:
        with pytest.raises(NotFound, match="measurement 1: has no chain of custody"):
            custody_of(desk, NAME, ["measurement 1"])
        with pytest.raises(NotFound, match="no such party"):
            handover_form(desk, NAME, ["van"], "", "exhibit 1", filled())
        assert [c.item for c in label_cards(desk, NAME, ["old-nut", "exhibit 3"])] == ["Exhibit 49", "Exhibit 3"]


def filled(**more):
    from evidence.timeline.forms import Filled

    return Filled(**more)
