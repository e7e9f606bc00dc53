"""A report is made once and kept: the same again is the same file; what is not the same is another one."""

import dataclasses
import json
from types import SimpleNamespace

import pikepdf
import pytest
from evidence.edges.passphrase import VARIABLE, remembered
from evidence.model.dossier import fold
from evidence.publishing import PUBLISHED, ReportOptions, print_publication, write_report
from evidence.record.entry import Entry, Header, step_of
from evidence.report import sealing
from evidence.report.sealing import check_signature
from evidence.usecases.assess import assess_held
from evidence.usecases.publish import publication
from evidence.usecases.record import open_dossier, record_one

from conftest import still_desk
from fakes import quiet

PLAIN = ReportOptions(at="2026-03-12T09:30:00Z")
pytestmark = pytest.mark.usefixtures("signing_here")


@pytest.fixture
def shop(sqlite_workspace):
    """A workspace with a dossier of two records, its folder, and a way to make a report."""
    with still_desk(sqlite_workspace) as desk:
        open_dossier(desk, {"title": "A van", "name": "van"})
        record_one(desk, "van", "event", {"what": "stop", "text": "Engine stopped", "time": "2026-03-01", "basis": "told"})

        def report(name, options=PLAIN):
            out = sqlite_workspace.parent / name
            return write_report(desk, sqlite_workspace, "van", out, options, quiet), out

        yield desk, sqlite_workspace, report


def test_the_same_report_again_is_the_same_file_with_its_signature(shop):
    _, _, report = shop
    (first, one), (again, two) = report("1.pdf"), report("2.pdf")
    assert one.read_bytes() == two.read_bytes()
    assert (first.kept, again.kept) == (False, True)
    assert dataclasses.replace(again, kept=False) == first
    assert check_signature(one).fingerprint == first.signed_by


@pytest.mark.parametrize("change", ["entry", "date", "unsigned", "head", "who", "withheld"])
def test_another_report_is_another_file(shop, change, monkeypatch):
    desk, folder, report = shop
    first, one = report("1.pdf")
    if change == "entry":
        record_one(desk, "van", "event", {"what": "other", "text": "Later", "time": "2026-03-02", "basis": "told"})
    elif change == "who":
        (folder / "keys" / "document.pem").unlink()
    elif change == "head":
        for file in (folder / "checkpoints").rglob("*.note"):
            file.unlink()
        monkeypatch.setattr("evidence.publishing.seal_head", lambda *_: SimpleNamespace(problem="not asked here"))
    options = {"date": ReportOptions(at="2026-03-13T09:30:00Z"), "unsigned": ReportOptions(at=PLAIN.at, sign=False)}.get(change, PLAIN)
    if change == "withheld":
        found = dataclasses.replace(publication(desk, "van", PLAIN.at), withheld={"event": 1})
        again, two = print_publication(desk, folder, found, folder.parent / "2.pdf", PLAIN, quiet), folder.parent / "2.pdf"
    else:
        again, two = report("2.pdf", options)
    assert not again.kept
    assert one.read_bytes() != two.read_bytes()
    assert len(list((folder / PUBLISHED).iterdir())) == 2
    assert first.sha256 != again.sha256


def test_unsigned_files_are_equal_whenever_they_are_made(shop):
    _desk, folder, report = shop
    unsigned = ReportOptions(at=PLAIN.at, sign=False)
    made, one = report("1.pdf", unsigned)
    for file in (folder / PUBLISHED).rglob("*.*"):
        file.unlink()
    again, two = report("2.pdf", unsigned)
    assert (made.signed_by, again.kept) == ("", False)
    assert one.read_bytes() == two.read_bytes()


def test_a_signed_file_begins_with_what_can_be_made_again(shop):
    """What is printed about the signer is part of it, so it is made by the same key."""
    _desk, folder, report = shop
    made, one = report("1.pdf")
    (about,) = (folder / PUBLISHED).rglob("about.json")
    unsigned = json.loads(about.read_bytes())["unsigned"]
    (place,) = (folder / PUBLISHED).iterdir()
    (place / "report.pdf").unlink()
    again, two = report("2.pdf")
    assert again.signed_by == made.signed_by
    assert json.loads(about.read_bytes())["unsigned"] == unsigned
    assert one.read_bytes() != two.read_bytes()  # a new signature, and its maker is told
    assert "made again" in again.notes[0]


@pytest.mark.parametrize("damage", ["flipped", "cut", "about"])
def test_a_damaged_kept_file_is_made_again_and_told(shop, damage):
    _, folder, report = shop
    report("1.pdf")
    (place,) = (folder / PUBLISHED).iterdir()
    kept = place / "report.pdf"
    data = bytearray(kept.read_bytes())
    if damage == "about":
        (place / "about.json").chmod(0o644)
        (place / "about.json").write_bytes(b"[")
    else:
        data[len(data) // 2] ^= 1
        kept.write_bytes(data if damage == "flipped" else data[:-10])
    made, two = report("2.pdf")
    assert not made.kept
    assert bool(made.notes) == (damage != "about")
    check_signature(two)
    assert two.read_bytes() == kept.read_bytes()


def test_without_the_extra_the_report_is_made_and_says_that_it_is_not_signed(shop, monkeypatch):
    _, _, report = shop
    monkeypatch.setattr(sealing, "available", lambda: False)
    made, out = report("1.pdf")
    assert (made.signed_by, made.unsigned) == ("", "the extra 'seal' is not installed")
    with pikepdf.open(out) as pdf:
        assert "/AcroForm" not in pdf.Root


def test_a_locked_key_leaves_it_unsigned_and_says_so(shop, monkeypatch):
    _, _, report = shop
    monkeypatch.setenv(VARIABLE, "four words that do not belong")
    remembered.cache_clear()
    assert report("1.pdf")[0].signed_by
    monkeypatch.delenv(VARIABLE)
    remembered.cache_clear()
    made, _ = report("2.pdf")
    assert made.signed_by == ""
    assert "nobody to ask" in made.unsigned
    remembered.cache_clear()


def test_what_is_shown_is_printed_without_reading_the_entries_again(shop, monkeypatch):
    """As a disclosure does: the dossier folded from what is shown, headers whole, a content left out."""
    desk, folder, _ = shop
    found = publication(desk, "van", PLAIN.at)
    entries = [Entry(e.header, None) if Header.read(e.header).kind == "event" else e for e in found.entries()]
    steps = [step_of(e) if e.content else None for e in entries]
    shown = fold(found.dossier.ledger, [s for s in steps if s])
    less = dataclasses.replace(found, dossier=shown, assessment=assess_held(desk, shown), entries=lambda: entries, withheld={"event": 1})
    deaf = dataclasses.replace(desk, ledgers=None)
    monkeypatch.setattr("evidence.publishing.signs_of", lambda *_, **__: ())  # asks the index of photos alone
    print_publication(deaf, folder, less, folder.parent / "less.pdf", PLAIN, quiet)
    with pikepdf.open(folder.parent / "less.pdf") as pdf:
        lines = pdf.attachments["contents.jsonl"].get_file().read_bytes().split(b"\n")
        headers = pdf.attachments["headers.jsonl"].get_file().read_bytes().split(b"\n")
        titles = [item.title for item in pdf.open_outline().root]
    assert [bool(x) for x in lines[:-1]] == [bool(e.content) for e in entries]
    assert headers[:-1] == [e.header for e in found.entries()]
    assert "What is withheld" in titles
