"""A review as two people run it at the command line: the shop hands over, the adjuster marks, the shop answers."""

from __future__ import annotations

import json
import subprocess
import zipfile
from pathlib import Path
from shutil import copyfile

import pytest
from evidence.bootstrap import demo_dossiers
from evidence.cli.main import app
from evidence.errors import EvidenceError
from typer.testing import CliRunner

from made_once import copy_of, made_once


class Person:
    """Runs commands in a workspace of his own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __call__(self, *words: object, code: int = 0) -> str:
        done = CliRunner().invoke(app, ["--workspace", str(self.folder), *map(str, words)], env={"COLUMNS": "160"})
        if isinstance(done.exception, EvidenceError):
            assert code == int(done.exception.exit_code), done.exception
            return f"{done.exception}\n{done.exception.advice}"
        assert done.exit_code == code, done.output
        return done.output


def _handed_over(home: Path) -> None:
    """A shop that handed over one.zip, and an adjuster who began a review of it."""
    shop, adjuster = Person(home / "shop"), Person(home / "adjuster")
    shop("workspace", "--recorder", "Marta Quill", "--firm", "Quill Autodiagnose", "--zone", "Europe/Berlin")
    shop("intake", demo_dossiers()["wet-footwell"])
    shop("disclose", "wet-footwell", "-o", home / "one.zip")
    told = adjuster("review", home / "one.zip", "--in", adjuster.folder, "--recorder", "Tilda Marsh", "--firm", "Marsh Claims")
    assert "review review-wet-footwell: begun on 11 entries" in told


@pytest.fixture
def shop(tmp_path: Path) -> Person:
    made = made_once("reviewing", _handed_over)
    copyfile(made / "one.zip", tmp_path / "one.zip")
    return Person(copy_of(made / "shop", tmp_path / "shop"))


@pytest.fixture
def adjuster(tmp_path: Path, shop: Person) -> Person:
    return Person(copy_of(made_once("reviewing", _handed_over) / "adjuster", tmp_path / "adjuster"))


def test_a_review_goes_there_and_back(shop: Person, adjuster: Person, tmp_path: Path) -> None:
    assert adjuster("review", "mark", "finding", "F1", "--question", "Was the bead seen?").startswith("Review mark 1: questioned: F1")
    adjuster("review", "mark", "element", "loss", "--reject", "Nothing is claimed yet.")
    adjuster("review", "mark", "record", "exhibit 3", "--accept")
    adjuster("review", "mark", "conclusion", "--accept")
    shown = adjuster("review", "show")
    assert "11 entries: 2 accepted, 1 questioned, 1 rejected, 2 waiting for an answer" in shown
    assert "mark 1, questioned: Was the bead seen?" in shown
    told = adjuster("review", "send", "-o", tmp_path / "back.zip")
    assert "review review-wet-footwell, 7 entries" in told
    key, head = (next(line.split(None, 1)[1] for line in told.splitlines() if line.startswith(f"  {what} ")) for what in ("key", "head"))
    wrong = shop("review", "accept", tmp_path / "back.zip", "--key", "ab" * 32, code=1)
    assert "NOT INTACT: 1 fault found: the signer is signed by a key that you did not name" in wrong
    assert "is no fingerprint" in shop("review", "accept", tmp_path / "back.zip", "--key", "12", code=2)

    told = shop("review", "accept", tmp_path / "back.zip", "--key", key, "--head", head)
    assert told.splitlines()[0].endswith(": intact")
    assert "taken in as Exhibit 4 with Correspondence 1" in told
    assert "  1. questioned, F1: Was the bead seen?" in told
    assert "was taken in before" in shop("review", "accept", tmp_path / "back.zip")
    shop("review", "answer", "wet-footwell", 1, "Not yet; the car comes tomorrow.", "--exhibit", "exhibit 3")
    assert "1 waiting for an answer" in shop("review", "show", "wet-footwell")
    shop("disclose", "wet-footwell", "-o", tmp_path / "two.zip", "--withhold", "call note 1")

    assert "brought from 11 to 16 entries" in adjuster("review", tmp_path / "two.zip")
    shown = adjuster("review", "show")
    assert "Review answer 1, Marta Quill: Not yet; the car comes tomorrow. (Exhibit 3)" in shown
    (plain,) = json.loads(adjuster("review", "show", "--json"))
    assert (plain["format"], plain["waiting"]) == (1, [2])

    told = adjuster("review", "compare", tmp_path / "one.zip", tmp_path / "two.zip")
    assert "from 11 to 16 entries; the later one continues the earlier" in told
    assert "Shown before, withheld now:\n  Call note 1:" in told
    assert "Review answer 1: to review mark 1" in told
    assert json.loads(adjuster("review", "compare", tmp_path / "one.zip", tmp_path / "two.zip", "--json"))["continues"] is True
    told = adjuster("review", "report", "-o", tmp_path / "review.pdf")
    assert "signed; SHA-256 of the certificate" in told
    text = subprocess.run(["pdftotext", "-layout", tmp_path / "review.pdf", "-"], capture_output=True, text=True, check=True).stdout
    for line in ("Review of a technical dossier", "Asserted only.", "Tilda Marsh, Marsh Claims", "Was the bead seen?", "Not yet; the car comes", "What changed between 11 and 16 entries", "Shown before, withheld now"):
        assert line in text
    assert adjuster("recheck").count("fault") == 0


def test_a_bundle_can_be_challenged_and_says_what_it_withholds(shop: Person, tmp_path: Path) -> None:
    whole = shop("challenge", "wet-footwell", "--brief")
    assert "You never told us. No notice to the prior repairer is on record." in whole
    assert "left something out" not in whole
    shop("disclose", "wet-footwell", "-o", tmp_path / "part.zip", "--withhold", "call note 1", "--withhold-file", "exhibit 3")
    told = " ".join(shop("challenge", tmp_path / "part.zip", "--brief").split())
    assert "Not shown here: Call note 1, file of Exhibit 3. What they hold is not known to the reader." in told
    shop("disclose", "wet-footwell", "-o", tmp_path / "all.zip")
    mine, theirs = (json.loads(shop("challenge", what, "--json"))["challenges"] for what in ("wet-footwell", tmp_path / "all.zip"))
    assert [c for c in mine if c["code"] == "photo_signs"] == [c for c in theirs if c["code"] == "photo_signs"]
    plain = json.loads(shop("challenge", "wet-footwell", "--json"))
    assert [c["place"] for c in plain["challenges"]] == list(range(1, len(plain["challenges"]) + 1))


def test_custody_clocks_and_photos_of_a_bundle_are_those_of_the_dossier(
    shop: Person, adjuster: Person, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop("record", "exhibit", "wet-footwell", "--name", "clip", "--form", "physical", "--description", "Trim clip")
    shop("disclose", "wet-footwell", "-o", tmp_path / "all.zip")
    for command in ("custody", "clocks", "photos"):
        mine, theirs = (json.loads(who(command, what, "--json")) for who, what in ((shop, "wet-footwell"), (adjuster, tmp_path / "all.zip")))
        assert theirs == mine, command
    assert "No hand-over of Exhibit 4 is on record" in adjuster("custody", tmp_path / "all.zip", "exhibit 4")
    assert "no such record" in adjuster("custody", tmp_path / "all.zip", "exhibit 99", code=2)
    (tmp_path / "wet-footwell").mkdir()  # the folder that was handed in lies where the commands are given
    monkeypatch.chdir(tmp_path)
    for command in ("custody", "clocks", "photos", "challenge"):
        assert shop(command, "wet-footwell", "--json").startswith(("{", "["))
    assert "no such exhibit" in adjuster("photos", tmp_path / "all.zip", "exhibit 99", code=2)
    assert adjuster("photos", tmp_path / "all.zip", "exhibit 3")


@pytest.mark.parametrize(("words", "said"), [
    (("review", "mark", "finding", "F1"), "say one of --accept, --question TEXT and --reject TEXT"),
    (("review", "mark", "finding", "F1", "--accept", "--reject", "x"), "say one of --accept"),
    (("review", "mark", "wheel", "F1", "--accept"), "is nothing that can be marked"),
    (("review", "mark", "finding", "F77", "--accept"), "no such finding of bod-glass-bond-leak"),
    (("review", "show", "--", "nothing"), "no such dossier"),
    (("review", "answer", "review-wet-footwell", "1", "x"), "no review of this dossier was taken in"),
    (("review", "accept", "one.zip"), "one.zip: there is no such file"),
])  # fmt: skip
def test_what_is_wrong_is_said_and_nothing_is_recorded(adjuster: Person, words: tuple[str, ...], said: str) -> None:
    before = adjuster("entries", "review-wet-footwell")
    assert said in adjuster(*words, code=2)
    assert adjuster("entries", "review-wet-footwell") == before


def test_a_bundle_that_is_not_intact_is_not_taken_under_review(shop: Person, tmp_path: Path) -> None:
    data = bytearray((tmp_path / "one.zip").read_bytes())
    data[data.index(b"%PDF") + 20] ^= 1
    (tmp_path / "bad.zip").write_bytes(data)
    person = Person(tmp_path / "adjuster")
    assert "NOT INTACT" in person("review", tmp_path / "bad.zip", "--in", person.folder, "--recorder", "T", code=1)
    assert not person.folder.exists()  # no workspace is made for what is not taken
    with zipfile.ZipFile(tmp_path / "one.zip") as bundle:
        bundle.extractall(tmp_path / "open")
    folder = tmp_path / "open" / "disclosure"
    assert "Ask the sender for the zip" in person("review", folder, "--in", person.folder, "--recorder", "T", code=2)
    assert not person.folder.exists()
    (folder / "data" / "originals" / "exhibit-0001.pdf").write_bytes(b"another paper")
    assert "NOT INTACT: 3 faults found: exhibit 1 (data/originals/exhibit-0001.pdf) is short: 13 bytes of" in shop("challenge", folder, code=1)


def test_a_review_is_not_taken_under_review(adjuster: Person, tmp_path: Path) -> None:
    adjuster("review", "send", "-o", tmp_path / "back.zip")
    assert "holds a review of" in adjuster("review", tmp_path / "back.zip", code=2)


def test_what_is_no_bundle_at_all_is_refused(shop: Person, tmp_path: Path) -> None:
    nowhere = Person(tmp_path / "nowhere")
    assert "is no bundle that is there" in nowhere("review", "compare", tmp_path / "one.zip", "two", code=2)
    (tmp_path / "x.zip").write_bytes(b"nothing")
    assert "is no zip" in shop("challenge", tmp_path / "x.zip", code=2)
    assert "x.zip" in shop("review", "compare", tmp_path / "x.zip", tmp_path / "one.zip", code=2)


def test_two_histories_of_one_dossier_end_with_exit_code_1(shop: Person, tmp_path: Path) -> None:
    """The shop goes back to an older copy of its workspace and records something else."""
    import shutil

    shutil.copytree(shop.folder, tmp_path / "older")
    shop("record", "event", "wet-footwell", "--what", "other", "--text", "first", "--time", "2026-10-01", "--basis", "told")
    shop("disclose", "wet-footwell", "-o", tmp_path / "first.zip")
    other = Person(tmp_path / "older")
    for text in ("second", "third"):
        other("record", "event", "wet-footwell", "--what", "other", "--text", text, "--time", "2026-10-01", "--basis", "told")
    other("disclose", "wet-footwell", "-o", tmp_path / "other.zip")
    assert "TWO HISTORIES" in shop("review", "compare", tmp_path / "first.zip", tmp_path / "other.zip", code=1)
    adjuster = Person(tmp_path / "adjuster")
    adjuster("review", tmp_path / "first.zip", "--in", adjuster.folder, "--recorder", "T")
    assert "does not continue the bundle under review" in adjuster("review", tmp_path / "other.zip", code=1)
