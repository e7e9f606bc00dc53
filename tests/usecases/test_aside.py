"""The second ledger: kept, checked, copied with the workspace, and never in what goes out."""

from __future__ import annotations

import shutil
import sqlite3
import zipfile
from contextlib import closing
from io import BytesIO
from pathlib import Path

import pikepdf
import pypdfium2
import pytest
from evidence.bootstrap import demo_dossiers, open_desk
from evidence.capture.sources import open_handed
from evidence.errors import MistakesFound, NotFound
from evidence.handing_over import write_bundle
from evidence.model.aside import Lesson, SettlementTalk, aside_of
from evidence.paperwork import certified, paper_input, papers_of, text_of, write_pdf, write_set, written
from evidence.ports import Desk
from evidence.publishing import ReportOptions, write_page, write_report
from evidence.review.disclosing import Choice
from evidence.usecases.aside import missing_by_stage, note, noted, take_back
from evidence.usecases.heads import seal_head
from evidence.usecases.intake import Answers, intake_folder
from evidence.usecases.mistakes import mistakes_of
from evidence.usecases.recheck import recheck
from evidence.usecases.record import open_dossier

from fakes import quiet

NAME = "wet-footwell"
WORDS = "Zwetschgenkuchen4711"  # stands nowhere else
TALK = {
    "time": "2026-06-20 10:15",
    "by": f"Quellbrink {WORDS}",
    "text": f"half, and {WORDS}",
    "what": "offer",
    "amount": "420.00 EUR",
}
LESSON = {"stage": "intake", "missing": [f"photo {WORDS}"], "text": WORDS}


def everything_in(data: bytes) -> list[bytes]:
    """The bytes, and what is packed inside: members of a zip, streams and attachments of a PDF."""
    found = [data]
    if data[:2] == b"PK":
        with zipfile.ZipFile(BytesIO(data)) as packed:
            for name in packed.namelist():
                found += [name.encode(), *everything_in(packed.read(name))]
    elif data[:5] == b"%PDF-":
        with pikepdf.open(BytesIO(data)) as pdf:
            for thing in pdf.objects:
                if isinstance(thing, pikepdf.Stream):
                    try:
                        found.append(thing.read_bytes())
                    except pikepdf.PdfError:  # a picture's own packing
                        found.append(thing.read_raw_bytes())
                else:
                    found.append(repr(thing).encode())
            found += [text.encode() for text in texts(data)]
    return found


def texts(data: bytes) -> list[str]:
    """What a reader of a PDF sees: glyphs of an embedded font are not the bytes of the text."""
    with pypdfium2.PdfDocument(data) as pdf:
        return [page.get_textpage().get_text_range() for page in pdf]


def listed(desk: Desk) -> tuple[int, int]:
    """Hits of the search for the words: in records, in dossiers."""
    with desk.ledgers.reading() as view:
        return len(view.search(WORDS, None)), len(view.dossiers(WORDS))


def outputs(desk: Desk, folder: Path, out: Path) -> dict[str, bytes]:
    """Everything that goes out of a dossier: report, page, bundle, every paper as text and PDF."""
    out.mkdir()
    write_report(desk, folder, NAME, out / "report.pdf", ReportOptions(sign=False), quiet)
    write_page(desk, NAME, out / "page.html", "", quiet)
    write_bundle(desk, folder, NAME, Choice(), out / "bundle.zip", quiet)
    given = certified(desk, NAME, paper_input(desk, NAME), quiet)  # of the recheck too, which reads both ledgers
    write_set(desk, folder, given, out / "set.pdf", quiet, sign=False)
    for offered in papers_of(given):
        paper = written(given, offered.id)
        (out / f"{offered.id}.txt").write_text(text_of(given, paper), "utf-8")
        write_pdf(given, paper, out / f"{offered.id}.pdf")
    return {path.name: path.read_bytes() for path in sorted(out.iterdir())}


@pytest.mark.usefixtures("signing_here")
def test_nothing_that_goes_out_carries_it_to_the_byte(workspace: Path, tmp_path: Path) -> None:
    with open_desk(workspace) as real:
        intake_folder(real, open_handed(demo_dossiers()[NAME]), Answers(), quiet)
        before = outputs(real, workspace, tmp_path / "before")
        shutil.rmtree(workspace / "published", ignore_errors=True)  # made anew, not taken from what was kept
        with real.ledgers.reading() as view:
            ledger = view.find(NAME)
            assert ledger
            size = len(list(view.entries(ledger)))
        note(real, NAME, SettlementTalk, TALK)
        note(real, NAME, Lesson, LESSON)
        assert seal_head(real, aside_of(ledger)).signed  # its own signed head goes nowhere either
        after = outputs(real, workspace, tmp_path / "after")
        assert set(before) == set(after)
        assert len(after) > 10
        for name in after:
            if name != "bundle.zip":  # the signature in its PDF is made at its own moment
                assert after[name] == before[name], name
            assert not any(WORDS.encode() in part for part in everything_in(after[name])), name
        with real.ledgers.reading() as view:
            assert len(list(view.entries(ledger))) == size
            kept = b"".join(e.content or b"" for e in view.entries(aside_of(ledger)))
        assert WORDS.encode() in kept  # the search above looks for what is really there
        assert WORDS not in repr(mistakes_of(real, NAME))
        assert listed(real) == (0, 0)


def test_the_search_of_the_test_would_find_it(tmp_path: Path) -> None:
    packed = tmp_path / "x.zip"
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as to:
        to.writestr("inner.txt", WORDS)
    assert any(WORDS.encode() in part for part in everything_in(packed.read_bytes()))


def test_recheck_covers_it_and_finds_what_was_changed(sqlite_workspace: Path) -> None:
    with open_desk(sqlite_workspace) as desk:
        ledger, _ = open_dossier(desk, {"title": "A van", "name": "van"})
        assert note(desk, "van", SettlementTalk, TALK) == "Settlement talk 1"
        assert note(desk, "van", SettlementTalk, {**TALK, "what": "refusal"}) == "Settlement talk 2"
        for named in ("van", None):
            found = recheck(desk, named, quiet)
            assert [v.entries for v in found.ledgers] == [2, 3]
            assert found.sound
            assert found.ledgers[1].title.startswith("second ledger of ")
    with closing(sqlite3.connect(sqlite_workspace / "record.sqlite")) as db, db:
        db.execute("DROP TRIGGER entries_refuse_update")
        db.execute("UPDATE entries SET content = x'7b7d' WHERE seq = 3 AND ledger = ?", (aside_of(ledger),))
    with open_desk(sqlite_workspace) as desk:
        assert not recheck(desk, "van", quiet).sound


def test_a_copy_of_the_workspace_has_it(sqlite_workspace: Path, tmp_path: Path) -> None:
    with open_desk(sqlite_workspace) as desk:
        open_dossier(desk, {"title": "A van", "name": "van"})
        note(desk, "van", SettlementTalk, TALK)
    copy = shutil.copytree(sqlite_workspace, tmp_path / "copy")
    with open_desk(copy) as desk:
        assert [n.record.value.text for n in noted(desk, "van", SettlementTalk)] == [TALK["text"]]  # type: ignore[union-attr]
        assert recheck(desk, None, quiet).sound
        desk.ledgers.rebuild()
        assert recheck(desk, None, quiet).sound


def test_lessons_are_counted_by_stage_over_all_dossiers(desk: Desk) -> None:
    for name in ("one", "two", "three"):
        open_dossier(desk, {"title": name, "name": name})
    note(desk, "one", Lesson, {"stage": "notice", "missing": ["proof of delivery"]})
    note(desk, "one", Lesson, {"stage": "intake", "missing": ["odometer photo", "consent"]})
    note(desk, "two", Lesson, {"stage": "intake", "missing": ["Odometer  photo"]})
    note(desk, "three", Lesson, {"stage": "intake", "missing": ["consent"]})
    take_back(desk, "three", Lesson, 1, "it was there")
    assert missing_by_stage(noted(desk, "", Lesson)) == (
        ("intake", "odometer photo", 2), ("intake", "consent", 1), ("notice", "proof of delivery", 1),
    )  # fmt: skip
    assert [n.record.withdrawn for n in noted(desk, "three", Lesson)] == [True]
    assert noted(desk, "three", SettlementTalk) == ()


def test_what_is_wrong_is_told_and_nothing_recorded(desk: Desk) -> None:
    open_dossier(desk, {"title": "A van", "name": "van"})
    with pytest.raises(MistakesFound, match="not one of the words"):
        note(desk, "van", SettlementTalk, {**TALK, "what": "bribe"})
    with pytest.raises(NotFound, match="no such line"):
        take_back(desk, "van", SettlementTalk, 1, "never was")
    with pytest.raises(NotFound):
        note(desk, "car", SettlementTalk, TALK)
    with desk.ledgers.reading() as view:
        assert len(view.ledgers()) == 1
