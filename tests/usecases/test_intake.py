"""Taking in a folder: all or nothing, and idempotent on what its author stated. On both databases."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from evidence.capture.sources import open_handed
from evidence.errors import Asked, ChangedMeanwhile, EvidenceError, MistakesFound, NotFound
from evidence.ports import Desk
from evidence.usecases.intake import Answers, IntakeResult, intake_folder
from evidence.usecases.looking import detail, overview
from evidence.usecases.recheck import recheck
from evidence.usecases.record import amend_one, record_one, withdraw_one

from fakes import plain_facts, quiet
from samples import RECORDS, TEXT, small_folder


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return small_folder(tmp_path / "folder")


def take(desk: Desk, folder: Path, answers: Answers | None = None) -> IntakeResult:
    return intake_folder(desk, open_handed(folder), answers or Answers(), quiet)


def entries(desk: Desk) -> int:
    with desk.ledgers.reading() as view:
        return sum(1 for ledger in view.ledgers() for _ in view.entries(ledger))


def rewrite(folder: Path, *pairs: tuple[str, str]) -> None:
    text = (folder / "dossier.yaml").read_text()
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new)
    (folder / "dossier.yaml").write_text(text)


def test_everything_is_recorded_with_numbers(desk: Desk, folder: Path) -> None:
    result = take(desk, folder)
    assert (result.dossier, result.amended, result.unchanged, result.gone) == ("van", (), 0, ())
    assert result.recorded == (
        "Party 1: T. Echnician (technician)",
        "Party 2: First Shop (prior repairer)",
        "Vehicle 1: delivery van, four cylinders, plate 00-AA-00, VIN not stated",
        "Exhibit 1: Coil ground eyelet as found",
        "Exhibit 2: photos/rail.jpg",
        "Exhibit 3: invoice.pdf",
        "Work order 1: prior repairer: Cylinder head gasket replaced",
        "Measurement 1: voltage drop, coil ground to battery negative: 3.10 V",
    )
    assert entries(desk) == RECORDS


def test_the_same_folder_again_records_nothing(desk: Desk, folder: Path) -> None:
    take(desk, folder)
    again = take(desk, folder)
    assert (again.recorded, again.amended, again.unchanged, again.gone) == ((), (), RECORDS - 1, ())
    assert entries(desk) == RECORDS


def test_order_comments_and_spelling_of_the_same_statement_change_nothing(desk: Desk, folder: Path) -> None:
    take(desk, folder)
    rewrite(folder, ("    unit: V\n    of: coil-ground\n", "    of: coil ground  # the same component\n    unit: volts\n"))
    assert take(desk, folder).unchanged == RECORDS - 1
    assert entries(desk) == RECORDS


def test_a_change_asks_for_a_reason_and_then_amends(desk: Desk, folder: Path) -> None:
    take(desk, folder)
    rewrite(folder, ("value: 3.10", "value: 3.01"), ("plate: 00-AA-00", "plate: 00-AA-01"))
    with pytest.raises(Asked) as err:
        take(desk, folder)
    assert err.value.message == (
        "changed since it was taken in; an amendment needs a reason"
        "\n  Vehicle 1 (van): plate\n  Measurement 1 (drop): value"
    )
    assert "--reason" in err.value.advice
    assert entries(desk) == RECORDS
    result = take(desk, folder, Answers(reason="misread"))
    assert result.amended == (
        "Vehicle 1: delivery van, four cylinders, plate 00-AA-01, VIN not stated",
        "Measurement 1: voltage drop, coil ground to battery negative: 3.01 V",
    )
    assert (result.recorded, result.unchanged) == ((), RECORDS - 3)
    shown = detail(desk, "van", "drop")
    assert shown.body["value"] == "3.01"
    assert "misread [value: 3.10 → 3.01]" in shown.history[-1]
    assert take(desk, folder).amended == ()


def test_a_changed_opening_is_amended_as_well(desk: Desk, folder: Path) -> None:
    take(desk, folder)
    rewrite(folder, ("title: Van does not start two days after a repair", "title: Van does not start"))
    with pytest.raises(Asked, match="the opening of the dossier"):
        take(desk, folder)
    assert take(desk, folder, Answers(reason="shorter")).amended == ("Dossier 1: Van does not start",)
    assert overview(desk, "van").title == "Van does not start"
    assert take(desk, folder).amended == ()


def test_a_changed_file_amends_its_exhibit_and_the_old_file_stays(desk: Desk, folder: Path) -> None:
    take(desk, folder)
    (folder / "invoice.pdf").write_bytes(b"scanned again")
    with pytest.raises(Asked, match=r"Exhibit 3 \(invoice\): file"):
        take(desk, folder)
    assert take(desk, folder, Answers(reason="scanned again")).amended == ("Exhibit 3: invoice.pdf",)
    assert recheck(desk, None, quiet).sound
    assert recheck(desk, None, quiet).ledgers[0].files == 4


def test_a_renamed_record_is_asked_about(desk: Desk, folder: Path) -> None:
    take(desk, folder)
    rewrite(folder, ("name: drop", "name: ground-drop"))
    with pytest.raises(Asked) as err:
        take(desk, folder)
    assert err.value.message == "renamed?\n  ground-drop: is this Measurement 1, until now called drop?"
    assert entries(desk) == RECORDS
    result = take(desk, folder, Answers(renamed={"ground-drop": "drop"}, reason="clearer name"))
    assert (result.recorded, len(result.amended), result.gone) == ((), 1, ())
    assert detail(desk, "van", "ground-drop").label == "Measurement 1"
    assert take(desk, folder).unchanged == RECORDS - 1


def test_a_new_record_that_looks_like_one_that_is_gone_can_be_another_thing(desk: Desk, folder: Path) -> None:
    take(desk, folder)
    rewrite(folder, ("name: drop", "name: second-reading"))
    result = take(desk, folder, Answers(added=frozenset({"second-reading"})))
    assert result.recorded == ("Measurement 2: voltage drop, coil ground to battery negative: 3.10 V",)
    assert result.gone == ("Measurement 1: voltage drop, coil ground to battery negative: 3.10 V",)


def test_a_removed_record_is_listed_and_never_withdrawn(desk: Desk, folder: Path) -> None:
    take(desk, folder)
    rewrite(folder, (TEXT[TEXT.index("measurements:") :], ""))
    for _time in range(2):
        assert take(desk, folder).gone == ("Measurement 1: voltage drop, coil ground to battery negative: 3.10 V",)
    assert entries(desk) == RECORDS
    assert not detail(desk, "van", "measurement 1").withdrawn


def test_amended_elsewhere_since_is_refused_with_both_shown(desk: Desk, folder: Path) -> None:
    take(desk, folder)
    amend_one(desk, "van", "drop", {"value": "3.20"}, "read again")
    assert take(desk, folder).unchanged == RECORDS - 1  # the folder says what it said: nothing to do
    rewrite(folder, ("value: 3.10", "value: 3.01"))
    before = entries(desk)
    with pytest.raises(ChangedMeanwhile) as err:
        take(desk, folder, Answers(reason="misread"))
    assert "Measurement 1 (drop)" in err.value.message
    assert "in the folder: voltage drop, coil ground to battery negative: 3.01 V" in err.value.message
    assert f"in the record: voltage drop, coil ground to battery negative: 3.20 V (entry {before}, command: read again)" in err.value.message
    assert entries(desk) == before


def test_a_better_reader_of_files_changes_nothing(desk: Desk, folder: Path) -> None:
    take(desk, folder)

    def better(path: object, name: str) -> object:
        return plain_facts(path, name).model_copy(update={"reader": "better 2.0", "width": 4000})  # type: ignore[arg-type]

    result = take(replace(desk, read_facts=better), folder)  # type: ignore[arg-type]
    assert (result.amended, result.unchanged) == ((), RECORDS - 1)
    assert entries(desk) == RECORDS


def test_numbers_never_change(desk: Desk, folder: Path) -> None:
    take(desk, folder)
    withdraw_one(desk, "van", "exhibit 2", "not of this vehicle")
    amend_one(desk, "van", "exhibit 1", {"caption": "Eyelet"}, "shorter")
    with pytest.raises(EvidenceError, match="is withdrawn"):
        amend_one(desk, "van", "exhibit 2", {"caption": "again"}, "no")
    assert record_one(desk, "van", "exhibit", {"form": "physical", "description": "the eyelet"}).label == "Exhibit 4"
    rows = [(r.label, r.state) for r in overview(desk, "van").records if r.kind == "exhibit"]
    assert rows == [("Exhibit 1", "amended"), ("Exhibit 2", "withdrawn"), ("Exhibit 3", ""), ("Exhibit 4", "")]


def test_a_record_withdrawn_since_may_be_stated_anew_and_gets_a_new_number(desk: Desk, folder: Path) -> None:
    take(desk, folder)
    withdraw_one(desk, "van", "drop", "wrong range")
    assert take(desk, folder).recorded == ("Measurement 2: voltage drop, coil ground to battery negative: 3.10 V",)
    assert take(desk, folder).recorded == ()


def test_records_come_after_what_they_refer_to(desk: Desk, folder: Path) -> None:
    rewrite(folder, ("  - name: photo-eyelet\n    file: photos/eyelet.jpg", "  - name: photo-close\n    file: photos/rail.jpg\n    derived_from: photo-rail\n  - name: photo-eyelet\n    file: photos/eyelet.jpg"))
    recorded = take(desk, folder).recorded
    names = [detail(desk, "van", f"exhibit {n}").body["name"] for n in range(1, 5)]
    assert names == ["photo-eyelet", "photo-rail", "photo-close", "invoice"]
    assert len(recorded) == RECORDS


@pytest.mark.parametrize(
    ("old", "new", "circle"),
    [
        ("    state: undisturbed\n  - name: photo-rail", "    derived_from: photo-rail\n  - name: photo-rail", "photo-eyelet -> photo-rail -> photo-eyelet"),
        ("    derived_from: photo-eyelet", "    derived_from: photo-rail", "photo-rail -> photo-rail"),
    ],
)
def test_a_circle_of_references_is_refused(desk: Desk, folder: Path, old: str, new: str, circle: str) -> None:
    rewrite(folder, (old, new))
    with pytest.raises(MistakesFound) as err:
        take(desk, folder)
    (mistake,) = err.value.mistakes
    assert (mistake.file, mistake.message) == ("folder/dossier.yaml", f"records refer to each other in a circle: {circle}")
    assert mistake.line > 0
    assert entries(desk) == 0


@pytest.mark.parametrize("number", [1, 2])
def test_an_amendment_cannot_make_a_circle(desk: Desk, folder: Path, number: int) -> None:
    """derived_from points to what was recorded before, also after it was amended."""
    take(desk, folder)
    with pytest.raises(NotFound, match="derived_from"):
        amend_one(desk, "van", "exhibit 1", {"derived_from": f"exhibit {number}"}, "wrong way round")


def test_a_folder_cannot_amend_into_a_circle(desk: Desk, folder: Path) -> None:
    take(desk, folder)
    rewrite(folder, ("    state: undisturbed\n  - name: photo-rail", "    derived_from: photo-rail\n  - name: photo-rail"), ("    derived_from: photo-eyelet\n", ""))
    with pytest.raises(NotFound, match="derived_from"):
        take(desk, folder, Answers(reason="wrong way round"))
    assert entries(desk) == RECORDS


def test_the_same_bytes_twice_are_stored_once_and_told(desk: Desk, folder: Path) -> None:
    (folder / "photos/rail.jpg").write_bytes((folder / "photos/eyelet.jpg").read_bytes())
    result = take(desk, folder)
    assert "photo-eyelet, photo-rail: the same bytes; stored once, 2 exhibits" in result.notes
    assert recheck(desk, None, quiet).ledgers[0].files == 2


def test_the_same_bytes_in_another_dossier_are_told(desk: Desk, folder: Path) -> None:
    first = take(desk, folder).ledger
    rewrite(folder, ("dossier: van", "dossier: other-van"))
    notes = take(desk, folder).notes
    assert f"invoice: the same bytes are an exhibit of another dossier as well ({first[:8]})" in notes


BAD = """\
format: 1
dossier: van
titel: A van
zone: Europe/Atlantis
recorder: nobody

parties:
  - name: tech
    full_name: T. Echnician
    roles: [technican]
  - full_name: Without a name
  - name: tech
    full_name: Twice

vehicles:
  - name: van
    description: van
    vin: 1M8GDM9A1KP042788

exhibits:
  - name: gone
    file: photos/eyelit.jpg
  - name: out
    file: ../secret
  - name: bare

work_orders:
  - name: first
    side: prior_repairer
    repairer: techh
    opened: 2026-02-27
    closed: 2026-02-20
    odometer_in: 48000 km
  - name: second
    side: owner
    repairer: tech
    opened: 2026-03-01
    odometer_in: 47000 km
  - name: third
    side: owner
    repairer: tech
    odometer_out: -5 km
  - name: fourth
    side: prior_repairer
    repairer: tech
    opened: 2026-02-27
    closed: 2026-02-20
  - name: fifth
    side: prior_repairer
    repairer: tech
    opened: 2026-02-01
    odometer_in: 30000 mi

measurements:
  - name: drop
    quantity: voltage_drop
    value: 3,10
    unit: V
    of: coil-grund
    time: 2026-13-40
  - name: heat
    quantity: temperature
    value: 20
    unit: V
    of: coil
  - name: light
    quantity: voltage_drop
    value: 1
    unit: V
    of: coil
    exhibit: [gone]
events: none
"""


def test_every_mistake_is_told_in_one_run_with_its_place(desk: Desk, folder: Path) -> None:
    (folder / "dossier.yaml").write_text(BAD)
    with pytest.raises(MistakesFound) as err:
        take(desk, folder)
    told = [str(m).removeprefix("folder/dossier.yaml:") for m in err.value.mistakes]
    assert entries(desk) == 0
    wanted = [
        "1:1: dossier, title: 'title' is missing",
        "3:8: titel: is not a part of a dossier file (did you mean 'title'?)",
        "4:7: dossier, zone: 'Europe/Atlantis' is not a time zone of the IANA database",
        "5:11: recorder: no party here is called 'nobody'",
        "10:13: tech, roles.1: 'technican' is not one of the words for this (did you mean 'technician'?)",
        "11:5: Party 2: has no short name",
        "12:11: tech: this short name is used twice",
        "18:10: van, vin: '1M8GDM9A1KP042788': the check digit (9th character '1') does not fit the rest",
        "22:11: gone: there is no file 'photos/eyelit.jpg' in this folder (did you mean 'photos/eyelet.jpg'?)",
        "24:11: out: '../secret' leaves this folder",
        "25:5: bare: has no file",
        "30:15: first, repairer: no record here is called 'techh' (did you mean 'tech'?)",
        "38:18: second, odometer_in: the odometer runs backwards: 47000 km on 2026-03-01, but fifth has 30000 mi on 2026-02-01",
        "42:19: third, odometer_out.value: an odometer cannot read -5",
        "43:5: fourth: closed 2026-02-20, which is before it was opened (2026-02-27)",
        "57:12: drop, value: '3,10' is not a plain decimal number such as 12.60 or -0.5 (write 3.10)",
        "59:9: drop, of: 'coil-grund' is not a component known here (did you mean 'coil-ground'?)",
        "60:11: drop, time: '2026-13-40' is not a date and time that exists (month must be in 1..12)",
        "61:5: heat: a temperature is not measured in V (right would be °C, °F, K)",
        "71:14: light, exhibit: 'exhibit' is not a field here (did you mean 'exhibits'?)",
        "72:9: events: is not a list",
    ]
    assert len(told) == len(wanted)
    for line, start in zip(told, wanted, strict=True):
        assert line.startswith(start)
    assert [m.line for m in err.value.mistakes] == sorted(m.line for m in err.value.mistakes)
