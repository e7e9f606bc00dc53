"""One thing at a time: heaps of files, records by hand, amendments and withdrawals."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from evidence.capture.sources import heap_of
from evidence.errors import ChangedMeanwhile, EvidenceError, MistakesFound, NotFound
from evidence.ports import Desk
from evidence.usecases.looking import detail, ledger_lines, overview
from evidence.usecases.record import amend_one, open_dossier, record_heap, record_one, withdraw_one

from conftest import still_desk
from fakes import quiet

EVENT = {"what": "tow", "text": "towed", "time": "2026-03-01", "basis": "told"}


@pytest.fixture
def van(workspace: Path) -> Iterator[Desk]:
    with still_desk(workspace) as desk:
        open_dossier(desk, {"title": "A van", "name": "van", "zone": "Europe/Lisbon"})
        yield desk


def test_a_heap_is_taken_one_by_one_and_a_bad_file_is_told(van: Desk, tmp_path: Path) -> None:
    heap = tmp_path / "heap"
    (heap / "inner").mkdir(parents=True)
    (heap / "a.txt").write_bytes(b"a")
    (heap / "b.txt").symlink_to(heap / "a.txt")
    os.mkfifo(heap / "c.pipe")
    (heap / "inner" / "a.txt").write_bytes(b"other")
    (heap / "z.txt").write_bytes(b"a")
    sources, skipped, _notes = heap_of([heap, tmp_path / "not there"])
    (heap / "inner" / "a.txt").unlink()  # gone between looking and taking
    found = record_heap(van, "van", sources, {"state": "undisturbed"}, quiet)
    assert [(e.label, e.summary) for e in found.entered] == [("Exhibit 1", "a.txt"), ("Exhibit 2", "z.txt")]
    assert found.refused == (("a.txt", "does not exist"),)
    assert found.head is not None
    assert found.head.signed
    with van.ledgers.reading() as view:
        assert found.head.head.size == sum(1 for _ in view.entries(found.head.head.ledger))
    assert [(Path(name).name, why) for name, why in skipped] == [
        ("b.txt", "a symbolic link, which is never followed"),
        ("c.pipe", "a named pipe, which is never opened"),
        ("not there", "does not exist"),
    ]
    assert detail(van, "van", "exhibit 2").body["state"] == "undisturbed"
    again = record_heap(van, "van", [s for s in sources if s.name != "a.txt" or "inner" not in str(s.path)], {}, quiet)
    assert (again.entered, again.head) == ((), None)
    assert {why for _name, why in again.refused} == {"is an exhibit of this dossier already: same name, same bytes"}


def test_a_record_by_hand_is_validated_as_in_a_folder(van: Desk) -> None:
    with pytest.raises(MistakesFound) as err:
        record_one(van, "van", "measurement", {"quantity": "voltage_drop", "value": "3,1", "unit": "V", "of": "coil-grund"})
    assert [str(m) for m in err.value.mistakes] == [
        "Measurement, value: '3,1' is not a plain decimal number such as 12.60 or -0.5 (write 3.1)",
        "Measurement, of: 'coil-grund' is not a component known here (did you mean 'coil-ground'?)",
    ]
    with pytest.raises(MistakesFound, match="no record of this dossier is called 'nobody'"):
        record_one(van, "van", "event", {**EVENT, "by": "nobody"})
    record_one(van, "van", "event", EVENT)
    with pytest.raises(MistakesFound, match=r"'event 1' is an event \(this field names a party\)"):
        record_one(van, "van", "event", {**EVENT, "by": "event 1"})
    with pytest.raises(NotFound, match="other: no such dossier"):
        record_one(van, "other", "event", EVENT)


def test_a_time_by_hand_is_read_in_the_zone_of_the_dossier(van: Desk) -> None:
    record_one(van, "van", "event", {**EVENT, "time": "2026-07-01 12:00"})
    assert detail(van, "van", "event 1").body["time"] == {
        "given": "2026-07-01 12:00", "earliest": "2026-07-01T11:00:00Z", "latest": "2026-07-01T11:01:00Z", "zone": "Europe/Lisbon",
    }  # fmt: skip


def test_an_odometer_that_runs_backwards_is_refused_unless_it_is_explained(van: Desk) -> None:
    reading = {"basis": "seen", "time": "2026-03-01"}
    record_one(van, "van", "odometer_reading", {**reading, "reading": "48000 km"})
    later = {**reading, "reading": "29000 mi", "time": "2026-03-05"}
    with pytest.raises(MistakesFound, match=r"the odometer runs backwards: 29000 mi on 2026-03-05 \(this record\), but 48000 km on 2026-03-01 \(Odometer reading 1\)"):
        record_one(van, "van", "odometer_reading", later)
    assert record_one(van, "van", "odometer_reading", {**later, "note": "instrument replaced"}).label == "Odometer reading 2"


def test_a_name_stands_for_one_record(van: Desk) -> None:
    record_one(van, "van", "event", {**EVENT, "name": "tow"})
    with pytest.raises(EvidenceError, match="tow: this short name is in use in the dossier"):
        record_one(van, "van", "vehicle", {"description": "a van", "name": "tow"})
    with pytest.raises(EvidenceError, match="van: a dossier of this short name is open already"):
        open_dossier(van, {"title": "Another", "name": "van"})
    record_one(van, "van", "vehicle", {"description": "a van", "name": "van-1"})
    with pytest.raises(EvidenceError, match="tow: this short name is in use in the dossier"):
        amend_one(van, "van", "van-1", {"name": "tow"}, "wrong name")


def test_an_amendment_changes_what_it_names_and_nothing_else(van: Desk) -> None:
    record_one(van, "van", "party", {"full_name": "Somebody", "name": "somebody"})
    record_one(van, "van", "event", {**EVENT, "by": "somebody", "name": "tow"})
    amend_one(van, "van", "event 1", {"text": "pushed", "name": ""}, "misheard")
    shown = detail(van, "van", "event 1")
    assert (shown.body["text"], shown.body["what"], "name" in shown.body) == ("pushed", "tow", False)
    assert shown.body["by"] == detail(van, "van", "somebody").subject
    amend_one(van, "van", "event 1", {"by": "party 1"}, "somebody else")
    assert detail(van, "van", "event 1").body["by"] == detail(van, "van", "party 1").subject
    with pytest.raises(EvidenceError, match="a change needs a reason"):
        amend_one(van, "van", "event 1", {"text": "x"}, "  ")
    with pytest.raises(MistakesFound, match="'texts' is not a field here"):
        amend_one(van, "van", "event 1", {"texts": "x"}, "typo")
    with pytest.raises(NotFound, match="event 9: no such record in this dossier"):
        amend_one(van, "van", "event 9", {"text": "x"}, "typo")


def test_a_withdrawal_ends_a_record_once(van: Desk) -> None:
    record_one(van, "van", "event", {**EVENT, "name": "tow"})
    withdraw_one(van, "van", "tow", "not this vehicle")
    for change in (lambda: withdraw_one(van, "van", "event 1", "again"), lambda: amend_one(van, "van", "event 1", {"text": "x"}, "again")):
        with pytest.raises(ChangedMeanwhile, match="towed: is withdrawn"):
            change()
    with pytest.raises(EvidenceError, match="the opening of a dossier cannot be withdrawn"):
        withdraw_one(van, "van", "dossier 1", "no")
    with pytest.raises(EvidenceError, match=r"no record of this dossier is called 'tow'|points to a withdrawn record"):
        record_one(van, "van", "event", {**EVENT, "text": "rests on it", "caused_by": ["tow"]})
    with pytest.raises(NotFound, match=r"caused_by.0 points to a withdrawn record"):
        record_one(van, "van", "event", {**EVENT, "text": "rests on it", "caused_by": ["event 1"]})
    assert [(r.label, r.state) for r in overview(van, "van").records if r.kind == "event"] == [("Event 1", "withdrawn")]
    assert [x.what for x in ledger_lines(van, "van")][-1] == "Event 1 withdrawn"
