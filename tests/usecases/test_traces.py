"""Traces read at intake, kept beside what a person read, read again, rechecked; and what happens to a wrong file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from evidence.bootstrap import open_desk
from evidence.capture.sources import heap_of, open_handed
from evidence.errors import ChangedMeanwhile, EvidenceError, MistakesFound, NotFound
from evidence.model.dossier import Dossier
from evidence.model.waveform import Waveform
from evidence.ports import Desk
from evidence.rules.holdings import Holdings
from evidence.usecases.intake import Answers, intake_folder
from evidence.usecases.pen import need, read_dossier
from evidence.usecases.recheck import recheck
from evidence.usecases.record import amend_one, amend_reading, open_dossier, record_heap, record_one
from evidence.usecases.traces import differences, read_again, rereadings

from fakes import quiet
from van import van

T = np.arange(0, 1.3, 1e-4)
ASKED = ["pulses_per_cycle", "missing_events", "cycles_read"]


def csv(folder: Path, name: str, *, cylinder_3: bool) -> Path:
    """Four injectors at 800 rpm, the third with or without its pulses; decimal commas, a row of units."""
    phase = (T - 0.01) % 0.15
    columns = [np.where((phase - n * 0.0375) % 0.15 < 0.004, 0.3, 13.8) for n in (1, 2, 3, 4)]
    if not cylinder_3:
        columns[2] = np.full(len(T), 13.8)
    rows = "\n".join(";".join(f"{v:.4f}" for v in row) for row in zip(T * 1000, *columns, strict=True)).replace(".", ",")
    path = folder / name
    path.write_text(f"Time;A;B;C;D\n(ms);(V);(V);(V);(V)\n{rows}\n", "utf-8")
    return path


def fields(**more: object) -> dict[str, object]:
    channels = [
        {"column": c, "quantity": "voltage", "unit": "V", "of": "injector-control", "position": str(n), "per_cycle": 1,
         "active": "low", "find": ASKED}
        for n, c in enumerate("ABCD", 1)
    ]  # fmt: skip
    return {"trace": "exhibit 1", "title": "Idle", "time_column": "Time", "time_unit": "ms", "channels": channels,
            "conditions": ["idle"], **more}  # fmt: skip


@pytest.fixture
def shop(sqlite_workspace: Path, tmp_path: Path) -> Iterator[Desk]:
    with open_desk(sqlite_workspace) as desk:
        open_dossier(desk, {"title": "A car", "name": "car", "zone": "Europe/Lisbon"})
        record_one(desk, "car", "vehicle", {"description": "a car", "counts": {"cylinder": 4}, "firing_order": ["1", "3", "4", "2"]})
        files = [csv(tmp_path, "a.csv", cylinder_3=False), csv(tmp_path, "b.csv", cylinder_3=True)]
        record_heap(desk, "car", heap_of(files)[0], {}, quiet)
        yield desk


def held(desk: Desk, name: str = "car") -> Dossier:
    with desk.ledgers.reading() as view:
        return read_dossier(view, need(view, name))


def test_a_waveform_is_read_when_it_is_recorded(shop: Desk) -> None:
    record_one(shop, "car", "waveform", fields())
    (recorded,) = held(shop).of(Waveform)
    read = recorded.value.read
    assert read is not None
    assert (read.cylinders, read.firing_order) == (4, ("1", "3", "4", "2"))
    assert read.program.startswith("comeback-evidence ")
    assert {f.read_by for f in read.features} == {read.program}
    counts = {f.position: (f.value, f.uncertainty) for f in read.features if f.feature == "pulses_per_cycle"}
    assert counts == {"1": ("1", None), "2": ("1", None), "3": ("0", None), "4": ("1", None)}


def test_judgement_takes_it_like_any_measurement(shop: Desk) -> None:
    """Injector 3: no pulse in eight cycles."""
    record_one(shop, "car", "waveform", fields())
    items = {i.position: i for i in Holdings(held(shop)).features["pulses_per_cycle"]}
    assert items["3"].value is not None
    assert (items["3"].value.value, items["3"].value.expanded) == (Decimal(0), Decimal(0))
    assert items["3"].circumstances["cycles_read"].value == "8"
    assert items["1"].circumstances["missing_events"].value == "0"


def test_what_was_read_is_filled_in_by_the_program_alone(shop: Desk) -> None:
    with pytest.raises(MistakesFound, match="read"):
        amend_one(shop, "car", record_one(shop, "car", "waveform", fields()).label, {"read": {"program": "me"}}, "better")


def test_an_amended_waveform_is_read_anew(shop: Desk) -> None:
    label = record_one(shop, "car", "waveform", fields()).label
    amend_one(shop, "car", label, {"trace": "exhibit 2"}, "wrong file")
    (recorded,) = held(shop).of(Waveform)
    assert recorded.value.read is not None
    assert {f.value for f in recorded.value.read.features if f.feature == "missing_events"} == {"0"}
    amend_one(shop, "car", label, {"channels": [{"column": "A", "quantity": "voltage", "unit": "V"}]}, "nothing asked")
    assert held(shop).of(Waveform)[0].value.read is None


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"time_column": "Tme"}, "did you mean 'Time'"),
        ({"channels": [{"column": "Z", "quantity": "voltage", "unit": "V", "of": "starter", "find": ["pulse_width"]}]}, "no column 'Z'"),
        ({"channels": [{"column": "A", "quantity": "voltage", "unit": "V", "find": ["pulse_width"]}]}, "of"),
        ({"channels": [{"column": "A", "quantity": "voltage", "unit": "V", "of": "starter", "find": ["colour"]}]}, "find"),
    ],
)
def test_what_cannot_be_read_at_all_is_a_mistake_and_nothing_is_recorded(shop: Desk, more: dict[str, object], told: str) -> None:
    with pytest.raises(MistakesFound) as refused:
        record_one(shop, "car", "waveform", fields(**more))
    assert told in str(refused.value)
    assert not held(shop).all_of(Waveform)


def test_recheck_reads_every_trace_again(shop: Desk) -> None:
    record_one(shop, "car", "waveform", fields())
    assert not [f for v in recheck(shop, "car", quiet).ledgers for f in v.faults]
    dossier = held(shop)
    (recorded,) = dossier.of(Waveform)
    read = recorded.value.read
    assert read is not None
    other = [f.model_copy(update={"value": "1"}) if f.value == "0" and f.position == "3" else f for f in read.features]
    for program, verdict in ((read.program, "differs"), ("comeback-evidence 0.0.1", "other_version")):
        forged = read.model_copy(update={"features": tuple(other), "program": program})
        amend_reading(shop, "car", recorded.label, forged, "a test")
        (again,) = rereadings(held(shop), shop.read_trace, shop.originals.path)
        assert again.verdict == verdict
        assert "pulses per cycle injector control 3 1, now 0" in again.words
        found = recheck(shop, "car", quiet).ledgers[0]
        assert [f.check for f in found.faults] == (["F3"] if verdict == "differs" else [])
        assert any("other features" in r for r in found.remarks) == (verdict == "other_version")
    (gone,) = rereadings(held(shop), shop.read_trace, lambda _sha256: None)
    assert gone.verdict == "not_here"


def test_reading_again_shows_both_and_amends_only_with_a_reason(shop: Desk) -> None:
    label = record_one(shop, "car", "waveform", fields()).label
    before, now = read_again(shop, "car", label)
    assert before == now
    assert differences(now, now.model_copy(update={"features": now.features[1:]})) == ["pulses per cycle injector control 1 1, now not read"]
    with pytest.raises(NotFound):
        read_again(shop, "car", "waveform 9")
    plain = record_one(shop, "car", "waveform", fields(channels=[{"column": "A", "quantity": "voltage", "unit": "V"}])).label
    with pytest.raises(EvidenceError, match="does not say what is to be read"):
        read_again(shop, "car", plain)


def test_a_reading_made_anew_does_not_get_into_the_way_of_the_folder(tmp_path: Path) -> None:
    """What an author stated is compared; what the program read is kept beside it."""
    from evidence.bootstrap import demo_dossiers

    with open_desk(van(tmp_path)) as desk:
        _, now = read_again(desk, "van-no-start", "wave-pump")
        amend_reading(desk, "van-no-start", "wave-pump", now, "read by a later version")
        folder = open_handed(demo_dossiers()["van-no-start"])
        assert intake_folder(desk, folder, Answers(), quiet).amended == ()
        amend_one(desk, "van-no-start", "wave-pump", {"title": "Pump"}, "shorter")
        (pump,) = (s for s in folder.data["waveforms"] if s["name"] == "wave-pump")
        pump["title"] = "Current of the pump"
        with pytest.raises(ChangedMeanwhile):
            intake_folder(desk, folder, Answers(reason="x"), quiet)


def test_intake_tells_which_line_names_a_wrong_trace(tmp_path: Path) -> None:
    from evidence.bootstrap import demo_dossiers

    with open_desk(van(tmp_path)) as desk:
        folder = open_handed(demo_dossiers()["van-no-start"])
        (pump,) = (s for s in folder.data["waveforms"] if s["name"] == "wave-pump")
        pump["channels"] = [{**pump["channels"][0], "column": "current"}]
        with pytest.raises(MistakesFound, match="there is no column 'current'") as refused:
            intake_folder(desk, folder, Answers(reason="x"), quiet)
        assert refused.value.mistakes[0].line > 700


def test_the_vans_traces_say_what_its_technician_read(tmp_path: Path) -> None:
    """Every feature that person and program both read agrees within both uncertainties."""
    with open_desk(van(tmp_path)) as desk:
        waveforms = held(desk, "van-no-start").of(Waveform)
    both = 0
    for recorded in waveforms:
        assert recorded.value.read is not None
        for own in recorded.value.features:
            for read in recorded.value.read.features:
                if (own.feature, own.of, own.position, own.unit) == (read.feature, read.of, read.position, read.unit):
                    both += 1
                    margin = Decimal(own.uncertainty or 0) + Decimal(read.uncertainty or 0)
                    assert abs(Decimal(own.value) - Decimal(read.value)) <= margin, (recorded.label, own, read)
    assert both >= 15
    (refused,) = (n for w in waveforms if w.value.read for n in w.value.read.not_read)
    assert refused.feature == "voltage_drop"


def test_replacing_the_reader_is_all_it_takes(shop: Desk) -> None:
    """The port: what a desk's reader gives is what is recorded."""
    empty = shop.read_trace(shop.originals.path(held(shop).by_subject and _file(shop)), Waveform.model_validate(fields(trace="x")), _engine())
    other = replace(shop, read_trace=lambda _path, _waveform, _engine: empty.model_copy(update={"program": "another"}))
    record_one(other, "car", "waveform", fields())
    assert held(shop).of(Waveform)[0].value.read.program == "another"  # type: ignore[union-attr]


def _file(desk: Desk) -> str:
    from evidence.model.exhibit import Exhibit

    file = held(desk).of(Exhibit)[0].value.file
    assert file
    return file.sha256


def _engine() -> object:
    from evidence.model.waveform import Engine

    return Engine(4)
