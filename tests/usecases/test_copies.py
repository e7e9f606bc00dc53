"""Copies as exhibits: recorded, replayed, refused; and what becomes of them when something is not as recorded."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from evidence.bootstrap import open_desk
from evidence.capture.sources import heap_of
from evidence.errors import EvidenceError, MistakesFound, NotFound
from evidence.model.dossier import Dossier
from evidence.model.exhibit import Exhibit
from evidence.ports import Desk
from evidence.usecases.copies import make_copy, replays
from evidence.usecases.looking import detail
from evidence.usecases.pen import need, read_dossier
from evidence.usecases.recheck import recheck
from evidence.usecases.record import open_dossier, record_heap, withdraw_one
from PIL import Image

from fakes import quiet

AREA = {"do": "black_out", "at": ["10%", "10%", "20%", "20%"]}


@pytest.fixture
def van(sqlite_workspace: Path, tmp_path: Path) -> Iterator[Desk]:
    with open_desk(sqlite_workspace) as desk:
        open_dossier(desk, {"title": "A van", "name": "van", "zone": "Europe/Lisbon"})
        Image.linear_gradient("L").resize((320, 240)).convert("RGB").save(tmp_path / "IMG_0001.jpg", quality=90)
        sources, _, _ = heap_of([tmp_path / "IMG_0001.jpg"])
        record_heap(desk, "van", sources, {"state": "undisturbed"}, quiet)
        yield desk


def held(desk: Desk) -> Dossier:
    with desk.ledgers.reading() as view:
        return read_dossier(view, need(view, "van"))


def test_a_copy_is_an_exhibit_of_its_own_and_the_original_stays(van: Desk) -> None:
    before = detail(van, "van", "exhibit 1").body
    original = Path(van.originals.path(before["file"]["sha256"])).read_bytes()
    entered = make_copy(van, "van", "exhibit 1", [AREA, {"do": "arrow", "at": ["5", "5", "50", "50"]}], None, {"name": "plate-hidden"})
    assert (entered.label, entered.summary) == ("Exhibit 2", "derived from Exhibit 1: 1 area blacked out, 1 arrow")
    copy = detail(van, "van", "plate-hidden").body
    assert copy["operations"][0] == AREA
    assert copy["derived_from"] == detail(van, "van", "exhibit 1").subject
    assert copy["made"]["source"] == before["file"]["sha256"]
    assert (copy["file"]["name"], copy["read"]["type"]) == ("exhibit-0001-copy.jpg", "image/jpeg")
    assert "state" not in copy
    assert detail(van, "van", "exhibit 1").body == before
    assert Path(van.originals.path(before["file"]["sha256"])).read_bytes() == original
    assert ("operations", "area of 20% × 20% at 10%, 10% blacked out\narrow from 5, 5 to 50, 50") in detail(van, "van", "exhibit 2").rows


def test_a_set_for_filing_says_which_original_of_a_blacked_out_copy_is_in_it(van: Desk, sqlite_workspace: Path, tmp_path: Path) -> None:
    from evidence.paperwork import paper_input, write_set

    make_copy(van, "van", "exhibit 1", [{"do": "arrow", "at": ["5", "5", "50", "50"]}], None, {})
    given = paper_input(van, "van")
    assert "areas blacked out" not in " ".join(write_set(van, sqlite_workspace, given, tmp_path / "a.pdf", quiet, sign=False).notes)
    make_copy(van, "van", "exhibit 1", [AREA], None, {})
    given = paper_input(van, "van")
    notes = write_set(van, sqlite_workspace, given, tmp_path / "b.pdf", quiet, sign=False).notes
    assert any("Exhibit 3 has areas blacked out, and its original, Exhibit 1, is in the set as it is" in n for n in notes)


def test_recheck_draws_every_copy_again(van: Desk) -> None:
    make_copy(van, "van", "exhibit 1", [AREA], None, {})
    make_copy(van, "van", "exhibit 1", [AREA], "png", {})
    assert [(r.label, r.verdict) for r in replays(held(van), van.copier, van.originals.path)] == [("Exhibit 2", "same"), ("Exhibit 3", "same")]
    result = recheck(van, "van", quiet)
    assert result.sound
    assert not any("replayed" in r for v in result.ledgers for r in v.remarks)


def changed(dossier: Dossier, label: str, **changes: object) -> Dossier:
    """The same dossier, in which a copy's record says something else."""
    by_subject = {
        s: replace(r, value=r.value.model_copy(update=changes)) if r.label == label else r for s, r in dossier.by_subject.items()
    }  # fmt: skip
    return replace(dossier, by_subject=by_subject)


def test_a_copy_that_is_not_what_its_operations_give_is_damage_and_other_versions_are_not(van: Desk) -> None:
    make_copy(van, "van", "exhibit 1", [AREA], "png", {})
    dossier = held(van)
    copy = dossier.of(Exhibit)[1].value
    assert copy.made

    def verdict(**changes: object) -> tuple[str, str]:
        (found,) = replays(changed(dossier, "Exhibit 2", **changes), van.copier, van.originals.path)
        return found.verdict, found.words

    other_area = (copy.operations[0].model_copy(update={"at": ("10%", "10%", "20%", "21%")}),)
    assert verdict(operations=other_area)[0] == "differs"
    older = copy.made.model_copy(update={"program": "Pillow 1.0"})
    assert verdict(operations=other_area, made=older) == (
        "not_here", f"cannot be replayed here: made with Pillow 1.0, here is {copy.made.program}"
    )  # fmt: skip
    file = copy.file
    assert file
    elsewhere = file.model_copy(update={"sha256": "0" * 64})
    assert verdict(file=elsewhere)[0] == "differs"
    assert verdict(file=elsewhere, made=older)[0] == "same_pixels"
    (gone,) = replays(dossier, van.copier, lambda _sha256: None)
    assert (gone.verdict, gone.words) == ("not_here", "cannot be replayed here: its original is not held")


def test_recheck_tells_a_copy_that_its_operations_do_not_give(van: Desk, tmp_path: Path) -> None:
    """Somebody records a file as if the program had drawn it: the replay shows that it did not."""
    from evidence.capture.sources import heap_of
    from evidence.usecases.record import record_one

    make_copy(van, "van", "exhibit 1", [AREA], "png", {})
    made = held(van).of(Exhibit)[1].value.made
    Image.new("RGB", (320, 240), "white").save(tmp_path / "white.png")
    (source,), _, _ = heap_of([tmp_path / "white.png"])
    record_one(van, "van", "exhibit", {"derived_from": "exhibit 1", "operations": [AREA]}, source, made=made)
    result = recheck(van, "van", quiet)
    assert [str(f) for v in result.ledgers for f in v.faults] == ["F2 Exhibit 3: is not what its recorded operations give, with the same versions"]
    assert not result.sound


def test_what_is_refused_records_nothing(van: Desk) -> None:
    size = held(van).size
    with pytest.raises(NotFound, match="no such exhibit"):
        make_copy(van, "van", "exhibit 9", [AREA], None, {})
    with pytest.raises(MistakesFound) as err:
        make_copy(van, "van", "exhibit 1", [{"do": "arrow", "at": ["1"]}, {"do": "smudge"}, "cropped"], None, {})
    assert [str(m).partition(":")[0] for m in err.value.mistakes] == ["operation 1", "operation 2, do", "operation 3"]
    with pytest.raises(EvidenceError, match="nothing to draw"):
        make_copy(van, "van", "exhibit 1", [], None, {})
    with pytest.raises(EvidenceError, match="lies outside"):
        make_copy(van, "van", "exhibit 1", [{"do": "black_out", "at": ["900", "0", "5", "5"]}], None, {})
    assert held(van).size == size
    make_copy(van, "van", "exhibit 1", [AREA], None, {})
    with pytest.raises(EvidenceError, match="Exhibit 2: is a derived copy itself"):
        make_copy(van, "van", "exhibit 2", [AREA], None, {})
    withdraw_one(van, "van", "exhibit 1", "of another vehicle")
    with pytest.raises(EvidenceError, match="Exhibit 1: is withdrawn"):
        make_copy(van, "van", "exhibit 1", [AREA], None, {})


def test_a_preview_of_the_copy_shows_the_copy(van: Desk) -> None:
    make_copy(van, "van", "exhibit 1", [{"do": "black_out", "at": ["0", "0", "100%", "100%"]}], "png", {})
    file = held(van).of(Exhibit)[1].value.file
    assert file
    shown = van.previews.path(file.sha256)
    assert shown
    assert max(Image.open(io.BytesIO(Path(shown).read_bytes())).convert("L").getextrema()) < 3
