"""A review goes from the adjuster to the shop and its answers back; each side writes into its own ledger alone."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from evidence.capture.sources import heap_of, open_handed
from evidence.errors import EvidenceError, MistakesFound, NotFound, StoreDamaged
from evidence.model.people import Correspondence, Party
from evidence.model.reviewing import ReviewAnswer, ReviewMark
from evidence.ports import Desk, Recorder, Source
from evidence.usecases.assess import assess_held
from evidence.usecases.intake import Answers, intake_folder
from evidence.usecases.looking import ledger_lines
from evidence.usecases.record import amend_one, record_one
from evidence.usecases.reply import accept_review, answer, reviews_in, shop_sheet
from evidence.usecases.review import (
    MarkWords,
    Received,
    Version,
    compare_versions,
    find_review,
    mark,
    open_review,
    own_version,
    review_sheet,
)

from build import packs, vocabulary
from conftest import still_desk
from fakes import quiet
from samples import TEXT, small_folder

COIL = "ign-coil-ground-left-off"
MATTER = TEXT.replace("zone: Europe/Lisbon", "zone: Europe/Lisbon\ncomplaint_tags: [crank-no-start]", 1).replace(
    "- text: Cylinder head gasket replaced", "- {operation: cylinder-head, text: Cylinder head gasket replaced}"
)


@dataclass
class Sides:
    """Two workspaces, and bundles as plain files: what is in them is handed over as values."""

    shop: Desk
    adjuster: Desk
    folder: Path
    sent: int = 0

    def sends(self, desk: Desk, dossier: str) -> tuple[Received, Source]:
        with desk.ledgers.reading() as view:
            ledger = view.find(dossier)
        return self.bundle(desk, own_version(desk, ledger))

    def bundle(self, desk: Desk, version: Version, **more) -> tuple[Received, Source]:
        self.sent += 1
        file = self.folder / f"bundle-{self.sent}.zip"
        file.write_bytes(b"bundle %d" % self.sent)
        (source,), _, _ = heap_of([file])
        base = {"verified": "intact", "signer": "ab" * 32, "packs": packs(), "vocabulary": vocabulary()}
        return Received(version=version, assessment=assess_held(desk, version.dossier), **{**base, **more}), source


@pytest.fixture
def sides(sqlite_template: Path, quick_path: Path) -> Iterator[Sides]:
    folders = [shutil.copytree(sqlite_template, quick_path / who) for who in ("shop", "adjuster")]
    with still_desk(folders[0]) as shop, still_desk(folders[1], 1000) as adjuster:
        real = {"packs": packs, "vocabulary": vocabulary}
        shop = replace(shop, **real)
        adjuster = replace(adjuster, recorder=Recorder(full_name="A. Djuster", firm="Mutual"), **real)
        intake_folder(shop, open_handed(small_folder(quick_path / "van", MATTER)), Answers(), quiet)
        yield Sides(shop, adjuster, quick_path)


def under_review(sides: Sides) -> Received:
    received, source = sides.sends(sides.shop, "van")
    open_review(sides.adjuster, received, source)
    return received


def put(sides: Sides, received: Received, on: str, name: str, verdict: str, text: str = "", **more):
    words = MarkWords(on=on, name=name, mark=verdict, text=text, mechanism="" if on == "record" else COIL, **more)
    return mark(sides.adjuster, find_review(sides.adjuster), received, words)


def test_the_opening_names_the_reviewed_ledger_its_size_and_root_and_keeps_the_file(sides: Sides) -> None:
    received = under_review(sides)
    review = find_review(sides.adjuster)
    assert (review.name, review.of.ledger, review.of.entries) == ("review-van", received.dossier.ledger, received.dossier.size)
    assert review.of.signer == "ab" * 32
    assert Path(sides.adjuster.originals.path(review.bundle)).read_bytes() == b"bundle 1"
    (reviewer,) = review.dossier.of(Party)
    assert reviewer.value.summary() == "A. Djuster, Mutual (adjuster)"


def test_marks_stand_beside_what_they_are_on_and_the_newest_counts(sides: Sides) -> None:
    received = under_review(sides)
    put(sides, received, "finding", "f1", "questioned", "Who saw the eyelet?")
    put(sides, received, "alternative", "A1", "rejected", "No board report.")
    put(sides, received, "element", "loss", "accepted")
    put(sides, received, "record", "measurement 1", "questioned", "Under which load?")
    put(sides, received, "conclusion", "", "accepted")
    put(sides, received, "finding", "F1", "accepted")
    sheet = review_sheet(find_review(sides.adjuster), received)
    marks = {(line.key[0], line.name): [m.mark for m in line.marks] for line in sheet.lines() if line.marks}
    assert marks == {
        ("conclusion", "conclusion"): ["accepted"], ("finding", "F1"): ["accepted", "questioned"], ("alternative", "A1"): ["rejected"],
        ("element", "loss"): ["accepted"], ("record", "Measurement 1"): ["questioned"],
    }  # fmt: skip
    assert [(line.name, m.number) for line, m in sheet.waiting()] == [("A1", 2), ("Measurement 1", 4)]
    assert sheet.count("accepted") == 3
    assert all(m.entries == received.dossier.size for line in sheet.lines() for m in line.marks)


@pytest.mark.parametrize(("on", "name", "said"), [
    ("finding", "F99", "no such finding"), ("record", "exhibit 99", "no such record"), ("element", "los", "did you mean 'loss'"),
])  # fmt: skip
def test_a_mark_on_what_is_not_there_is_refused(sides: Sides, on: str, name: str, said: str) -> None:
    received = under_review(sides)
    with pytest.raises(NotFound, match=said):
        put(sides, received, on, name, "accepted")
    assert not find_review(sides.adjuster).dossier.of(ReviewMark)


@pytest.mark.parametrize(("verdict", "said"), [("questioned", "a question is asked in words"), ("rejected", "needs its reason")])
def test_a_question_and_a_rejection_need_words(sides: Sides, verdict: str, said: str) -> None:
    received = under_review(sides)
    with pytest.raises(MistakesFound, match=said):
        put(sides, received, "finding", "F1", verdict)


def test_the_whole_way_and_back(sides: Sides) -> None:
    received = under_review(sides)
    record_one(sides.adjuster, "review-van", "observation", {"of": "coil-ground-stud", "aspect": "fastener", "seen": "turns-by-hand", "text": "still loose on my visit", "time": "2026-03-02", "by": "party 1"})
    put(sides, received, "finding", "F1", "questioned", "Who saw the eyelet?", records=("observation 1",))
    back, file = sides.sends(sides.adjuster, "review-van")
    taken = accept_review(sides.shop, back, file)
    assert (taken.exhibit, taken.correspondence, taken.new) == ("Exhibit 4", "Correspondence 1", True)
    assert [m.text for _, m in taken.sheet.waiting()] == ["Who saw the eyelet?"]
    again = accept_review(sides.shop, back, file)
    assert (again.exhibit, again.new) == ("Exhibit 4", False)
    ledger, (held,) = reviews_in(sides.shop, "van")
    assert (held.ledger, held.letter) == (back.dossier.ledger, "Correspondence 1")
    answer(sides.shop, ledger, back, 1, "T. Echnician; see the picture.", exhibits=("exhibit 1",))
    assert not shop_sheet(sides.shop, ledger, back).waiting()

    later, file = sides.sends(sides.shop, "van")
    opened = open_review(sides.adjuster, later, file)
    assert (opened.new, opened.before, opened.entries) == (False, received.dossier.size, later.dossier.size)
    sheet = review_sheet(find_review(sides.adjuster), later)
    (line,) = [x for x in sheet.lines() if x.marks]
    assert [(a.label, a.text, a.records) for a in line.marks[0].answers] == [
        ("Review answer 1", "T. Echnician; see the picture.", ("Exhibit 1",))
    ]
    assert not sheet.waiting()
    found, continues = compare_versions(received.version, later.version, packs(), vocabulary())
    assert continues
    assert [c.label for c in found.added] == ["Party 3", "Party 4", "Exhibit 4", "Correspondence 1", "Review answer 1"]


def test_what_the_shop_takes_in_names_reviewer_and_counts(sides: Sides) -> None:
    received = under_review(sides)
    put(sides, received, "finding", "F1", "questioned", "Who?")
    put(sides, received, "element", "loss", "accepted")
    accept_review(sides.shop, *sides.sends(sides.adjuster, "review-van"))
    held = sides.sends(sides.shop, "van")[0].dossier
    (letter,) = held.of(Correspondence)
    assert held.party(letter.value.sender) == "A. Djuster"
    assert letter.value.text == "Review with 1 accepted, 1 questioned."
    assert not held.of(ReviewAnswer)


def test_an_earlier_bundle_and_another_history_are_refused(sides: Sides) -> None:
    received = under_review(sides)
    version = received.version
    shorter, source = sides.bundle(sides.shop, replace(version, leaves=version.leaves[:-1]))
    with pytest.raises(EvidenceError, match="holds 8 entries; the bundle under review holds 9 already"):
        open_review(sides.adjuster, shorter, source)
    other = replace(version, leaves=(b"\1" * 32, *version.leaves[1:]))
    with pytest.raises(StoreDamaged, match="does not continue the bundle under review"):
        open_review(sides.adjuster, *sides.bundle(sides.shop, other))


def test_the_shop_accepts_only_a_review_of_a_head_of_its_own(sides: Sides) -> None:
    received, source = sides.sends(sides.shop, "van")
    with pytest.raises(EvidenceError, match="holds a dossier, not a review"):
        accept_review(sides.shop, received, source)
    forged = replace(received.version, leaves=(*received.version.leaves[:-1], b"\2" * 32))
    open_review(sides.adjuster, *sides.bundle(sides.shop, forged))
    with pytest.raises(StoreDamaged, match="speaks of another history"):
        accept_review(sides.shop, *sides.sends(sides.adjuster, "review-van"))
    assert len(ledger_lines(sides.shop, "van")) == received.dossier.size


def test_a_review_of_a_dossier_that_is_not_here_is_refused(sides: Sides, sqlite_template: Path) -> None:
    under_review(sides)
    with still_desk(shutil.copytree(sqlite_template, sides.folder / "third"), 5000) as third, pytest.raises(NotFound, match="not in this workspace"):
        accept_review(replace(third, packs=packs), *sides.sends(sides.adjuster, "review-van"))


def test_an_answer_to_a_mark_that_is_not_there_is_refused(sides: Sides) -> None:
    received = under_review(sides)
    put(sides, received, "finding", "F1", "questioned", "Who?")
    back, file = sides.sends(sides.adjuster, "review-van")
    accepted = accept_review(sides.shop, back, file)
    with pytest.raises(NotFound, match="no mark 7; its marks are: 1"):
        answer(sides.shop, accepted.ledger, back, 7, "x")


def test_no_folder_and_no_command_can_make_a_dossier_a_review(sides: Sides) -> None:
    text = MATTER.replace("title:", "reviews: {ledger: x}\ntitle:", 1)
    with pytest.raises(MistakesFound, match="reviews: is not a part of a dossier file"):
        intake_folder(sides.shop, open_handed(small_folder(sides.folder / "forged", text)), Answers(), quiet)
    under_review(sides)
    with pytest.raises(MistakesFound, match="filled in by the program"):
        amend_one(sides.adjuster, "review-van", "dossier 1", {"reviews": "{}"}, "no reason")
