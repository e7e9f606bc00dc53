"""The command line as a person meets it: words, exit codes, JSON, and a quick answer to --help."""

import json
import os
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

import commands

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def evidence(tmp_path):
    def run(*words, code=0, cwd=None):
        done = commands.evidence(*words, cwd=cwd or tmp_path)
        assert done.returncode == code, f"{done.returncode}\n{done.stdout}\n{done.stderr}"
        return done

    return run


@pytest.fixture
def shop(evidence, tmp_path):
    """A workspace with one dossier opened by command."""
    evidence("workspace", tmp_path / "shop", "--recorder", "Ana Test", "--zone", "Europe/Lisbon")

    def run(*words, code=0):
        return evidence("--workspace", tmp_path / "shop", *words, code=code)

    run("record", "dossier", "--name", "first", "--title", "A first matter", "--zone", "Europe/Lisbon")
    return run


def test_version_and_help_answer(evidence):
    assert evidence("--version").stdout.startswith("evidence ")
    told = evidence("--help").stdout
    for command in ("workspace", "intake", "record", "dossiers", "show", "entries", "recheck", "clocks", "assess", "report", "rules", "schema", "demo"):
        assert f"\n  {command} " in told


@pytest.mark.parametrize("word", ["--help", "--version"])
def test_help_and_version_import_nothing_heavy(word):
    """The promise is about time; what costs the time is what is imported (the benchmark measures it)."""
    heavy = ["sqlalchemy", "pydantic", "PIL", "reportlab", "numpy", "yaml", "alembic", "pint"]
    probe = (
        "import sys; sys.argv = ['evidence', sys.argv[1]]\n"
        "from evidence.cli.main import run\n"
        "try:\n    run()\nexcept SystemExit: pass\n"
        f"found = [m for m in {heavy!r} if m in sys.modules]\n"
        "assert not found, found"
    )
    done = subprocess.run([sys.executable, "-c", probe, word], capture_output=True, text=True, env={**os.environ, "PYTHONPATH": str(ROOT)})
    assert done.returncode == 0, done.stderr


def test_completion_is_offered(evidence):
    shown = subprocess.run(
        [sys.executable, "-c", "import sys; sys.argv = ['evidence']; from evidence.cli.main import run; run()"],
        capture_output=True, text=True, env={"PYTHONPATH": str(ROOT), "_EVIDENCE_COMPLETE": "complete_bash", "COMP_WORDS": "evidence rec", "COMP_CWORD": "1", "PATH": "/usr/bin"},
    )
    assert {"record", "recheck"} <= set(shown.stdout.split())


def test_every_kind_has_a_command_whose_help_names_what_is_needed(evidence):
    from evidence.model.kinds import KINDS

    listed = evidence("record", "--help").stdout
    for kind in KINDS:
        assert kind.replace("_", "-") in listed
    told = evidence("record", "measurement", "--help").stdout
    for field in ("--quantity", "--value", "--unit", "--of"):
        line = next(x for x in told.splitlines() if x.strip().startswith(field))
        assert "needed" in line


def test_a_reading_by_command_is_shown_with_its_unit_as_read(shop):
    said = shop("record", "measurement", "first", "--name", "drop", "--quantity", "voltage_drop", "--value", "0.240", "--unit", "V", "--of", "coil-ground", "--time", "2026-03-04 08:40")
    assert said.stdout.strip() == "Measurement 1: voltage drop, coil ground: 0.240 V"
    assert "2026-03-04 08:40 (Europe/Lisbon)" in shop("show", "first", "measurement 1").stdout


def test_all_mistakes_of_a_command_are_told_at_once_and_nothing_is_recorded(shop):
    before = shop("entries", "first", "--json").stdout
    told = shop(
        "record", "measurement", "first", "--quantity", "voltage_drop", "--value", "0,24", "--unit", "V",
        "--of", "coil-grund", "--conditions", "crankin", "--by", "nobody", code=2,
    ).stderr
    for part in ("0.24", "coil-ground", "cranking", "nobody", "4 mistakes, nothing recorded"):
        assert part in told
    assert shop("entries", "first", "--json").stdout == before


def test_a_wrong_unit_says_what_would_be_right(shop):
    told = shop("record", "measurement", "first", "--quantity", "voltage_drop", "--value", "1", "--unit", "psi", "--of", "coil-ground", code=2).stderr
    assert "a voltage drop is not measured in psi" in told
    assert "V, mV, kV" in told


def test_amend_and_withdraw_keep_what_was_there(shop):
    shop("record", "event", "first", "--name", "stop", "--what", "stop", "--text", "Engine stopped", "--time", "2026-03-01", "--basis", "told")
    shop("record", "amend", "first", "stop", "--reason", "day misheard", "--set", "time=2026-03-02")
    shop("record", "withdraw", "first", "event 1", "--reason", "told by somebody who was not there")
    shown = shop("show", "first", "event 1").stdout
    assert "day misheard" in shown
    assert "2026-03-01 → 2026-03-02" in shown
    assert "not there" in shown
    assert "(withdrawn)" in shown


def test_dossiers_as_json_is_a_list_with_id_and_title(shop):
    listed = json.loads(shop("dossiers", "--json").stdout)
    assert [d["title"] for d in listed] == ["A first matter"]
    assert len(listed[0]["id"]) == 26
    assert json.loads(shop("dossiers", "nothing-of-the-kind", "--json").stdout) == []


def test_dossiers_are_filtered_by_vehicle_and_date(shop):
    shop("record", "vehicle", "first", "--description", "panel van", "--plate", "7-XY-12")
    assert len(json.loads(shop("dossiers", "--vehicle", "xy-1", "--json").stdout)) == 1
    assert json.loads(shop("dossiers", "--vehicle", "%", "--json").stdout) == []
    assert len(json.loads(shop("dossiers", "--since", "2026-01-01", "--json").stdout)) == 1
    assert json.loads(shop("dossiers", "--since", "2999-01-01", "--json").stdout) == []
    assert "is not a time" in shop("dossiers", "--since", "yesterday", code=2).stderr


def test_words_find_a_dossier(shop):
    shop("record", "event", "first", "--what", "other", "--text", "Übergangswiderstand am Massepunkt", "--time", "2026-03-01", "--basis", "seen")
    assert "first" in shop("dossiers", "ubergangswiderstand").stdout
    assert "Event 1" in shop("show", "first", "--find", "Massepunkt").stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("show", "nothing"), "no such dossier"),
        (("show", "first", "exhibit 9"), "no such record"),
        (("assess", "nothing"), "no such dossier"),
        (("rules", "show", "ign-coil-ground"), "ign-coil-ground-left-off"),
        (("schema", "mesurement"), "measurement"),
        (("intake", "."), "dossier.yaml"),
    ],
)
def test_what_cannot_be_done_is_refused_with_advice(shop, words, said):
    told = shop(*words, code=2).stderr
    assert said in told
    assert "Traceback" not in told


def test_outside_a_workspace_the_way_in_is_told(evidence):
    told = evidence("dossiers", code=2).stderr
    assert "not a workspace" in told
    assert "evidence workspace" in told


def test_a_heap_of_files_is_taken_one_by_one(shop, tmp_path):
    heap = tmp_path / "heap"
    heap.mkdir()
    (heap / "a.txt").write_text("P0351 stored\n")
    (heap / "empty.jpg").write_bytes(b"")
    (heap / "link").symlink_to(heap / "a.txt")
    done = shop("record", "exhibit", "first", heap, code=3)
    assert "Exhibit 1: a.txt" in done.stdout
    assert "Exhibit 2: empty.jpg" in done.stdout
    assert "link" in done.stderr
    assert json.loads(shop("recheck", "--json").stdout)["sound"] is True


def test_damage_is_an_exit_code_of_its_own(shop, tmp_path):
    paper = tmp_path / "paper.txt"
    paper.write_text("as received")
    shop("record", "exhibit", "first", paper, "--caption", "note")
    stored = next(p for p in (tmp_path / "shop" / "originals").rglob("*") if p.is_file())
    stored.chmod(0o644)
    stored.write_text("as rewritten")
    told = shop("recheck", code=1).stdout
    assert "FAULT F1 Exhibit 1: altered" in told


def test_the_schema_accepts_what_the_models_accept(evidence):
    whole = json.loads(evidence("schema").stdout)
    assert whole["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert set(whole["required"]) == {"dossier", "title"}
    one = json.loads(evidence("schema", "measurement").stdout)
    assert {"quantity", "value", "unit", "of"} <= set(one["required"])


def test_words_are_looked_up(evidence):
    found = json.loads(evidence("rules", "words", "ground", "--json").stdout)
    assert {"coil-ground", "battery-negative"} & {w["word"] for w in found}
    assert {w["family"] for w in json.loads(evidence("rules", "words", "--json").stdout)} == {
        "component", "operation", "aspect", "complaint", "count", "quantity", "condition"
    }
    assert "no such list" in evidence("rules", "words", "--family", "colour", code=2).stderr


def test_an_observation_speaks_in_words_of_its_aspect(shop):
    told = shop("record", "observation", "first", "--of", "coil-ground-eyelet", "--aspect", "ground_seet", "--seen", "lose", "--text", "loose", code=2).stderr
    assert "ground_seat" in told
    told = shop("record", "observation", "first", "--of", "coil-ground-eyelet", "--aspect", "ground-seat", "--seen", "lose", "--text", "loose", code=2).stderr
    assert "on-insulated-seat" in told
    said = shop("record", "observation", "first", "--of", "coil ground eyelet", "--aspect", "ground-seat", "--seen", "on-insulated-seat", "--text", "on paint").stdout
    assert said.startswith("Observation 1: coil ground eyelet")


def test_what_is_not_counted_on_a_vehicle_is_refused(shop):
    assert "did you mean 'coil'" in shop("record", "vehicle", "first", "--description", "van", "--counts", "coils=4", code=2).stderr


def test_custody_labels_and_forms_by_command(shop, tmp_path):
    shop("record", "party", "first", "--name", "bo", "--full-name", "Bo Finch", "--roles", "owner")
    shop("record", "exhibit", "first", "--name", "nut", "--form", "physical", "--description", "Nut of the stud")
    told = shop("custody", "first").stdout
    assert "Exhibit 1  Nut of the stud: holder not on record" in told
    assert "No hand-over of Exhibit 1 is on record" in told
    made = shop("custody", "handover", "first", "nut", "-o", tmp_path / "form.pdf", "--released-by", "bo").stdout
    scan, transfer = [line.strip() for line in made.splitlines()[1:]]
    (tmp_path / "scan.pdf").write_bytes((tmp_path / "form.pdf").read_bytes())
    words = shlex.split(scan.replace("SCAN.pdf", str(tmp_path / "scan.pdf")))
    assert shop(*words[1:]).stdout.startswith("Exhibit 2: ")
    filled = transfer.replace("RECEIVED-BY", "'party 1'").replace("DATE TIME", "2026-03-02 09:00").replace("PLACE", "here").replace("PURPOSE", "keeping").replace("CONDITION", "'dry, one scratch'")
    shop(*shlex.split(filled)[1:], "--seal", "S-7")
    assert "condition: dry, one scratch" in shop("custody", "first").stdout
    assert "is not a date and time that exists" in shop("custody", "handover", "first", "nut", "-o", tmp_path / "x.pdf", "--when", "2026-13-01", code=2).stderr
    plain = json.loads(shop("custody", "first", "nut", "--json").stdout)
    assert plain["faults"] == []
    link = plain["chains"][0]["links"][0]
    assert (link["released_by"], link["received_by"], link["seal"], link["exhibits"]) == ("Bo Finch", "Ana Test", "S-7", ["Exhibit 2"])
    assert shop("custody", "label", "first", "nut", "-o", tmp_path / "label.pdf", "--sheet", "single").stdout.endswith("1 label, 1 page; print at full size\n")
    assert "no such label sheet" in shop("custody", "label", "first", "nut", "-o", tmp_path / "x.pdf", "--sheet", "a5", code=2).stderr
    assert not (tmp_path / "x.pdf").exists()
    assert "no such record" in shop("custody", "first", "bolt", code=2).stderr


def test_the_page_on_practice_is_printed_whole(evidence):
    told = evidence("custody", "practice").stdout
    for word in ("ISO/IEC 27037:2012", "E860", "E1188", "E1459", "E1492", "SWGDE", "not met:", "from memory"):
        assert word in told
    assert "|" not in told
