"""The report of a review: everything that was marked, asked and answered is printed, and nothing raw."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re
import subprocess

from evidence.model.happening import DossierOpening
from evidence.model.reviewing import Reviewed
from evidence.report import blocks
from evidence.report.given import ReportInput
from evidence.report.outline import outline
from evidence.report.pdf import print_report
from evidence.review.compare import compare
from evidence.review.exchange import Presented, sheet
from evidence.rules.assess import assess

from build import COIL, Case, packs, shown_case, vocabulary
from rich_dossier import integrity

OF = {"ledger": "test-ledger", "title": "A car that cranks and does not start", "entries": 20, "root": "cm9vdA==", "bundle": "exhibit-1", "verified": "intact, signer not confirmed", "signer": "ab" * 32}


def strings(value):
    if isinstance(value, str):
        yield value
    elif dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            yield from strings(getattr(value, field.name))
    elif isinstance(value, (tuple, list, frozenset)):
        for item in value:
            yield from strings(item)


def review_case():
    case = Case()
    case.record("party", full_name="Tilda Marsh", firm="Marsh Claims", roles=["adjuster"], qualification="adjuster, 9 years")
    case.record("exhibit", caption="Bundle as received", form="physical", description="bundle")
    case.record("dossier", title="Review", reviews=OF)
    mark = {"by": "party-1", "time": "2026-06-02", "mechanism": COIL}
    case.record("review_mark", on="finding", name_of="F1", mark="questioned", text="Who saw the eyelet?", **mark)
    case.record("review_mark", on="alternative", name_of="A1", mark="rejected", text="No board report.", **mark)
    case.record("review_mark", on="element", name_of="loss", mark="accepted", **mark)
    case.record("observation", of="coil-ground-stud", aspect="fastener", seen="tight", text="Tight on my visit.", time="2026-06-02")
    return case


def given(answered=True):
    before, case, review = shown_case().dossier(), shown_case(), review_case().dossier()
    if answered:
        case.record("review_answer", by="party-1", time="2026-06-03", review="test-ledger", mark="1", text="I saw it.", records=["observation-1"])
    case = case.change("observation-1", text="off its stud, hanging")
    held = case.dossier()
    judged = assess(held, packs(), vocabulary())
    compared = compare(before, held, (assess(before, packs(), vocabulary()), judged))
    presented = Presented(
        of=Reviewed.model_validate({**OF, "verified": OF["verified"] + "\nShown: every entry\nMissing: a time-stamp"}),
        sheet=sheet(held, judged, review), bundle_name="van.zip", bundle_sha256="cd" * 32, compared=compared,
    )  # fmt: skip
    return ReportInput(
        dossier=review, assessment=judged, integrity=integrity(review), at=dt.datetime(2026, 6, 4, 9, tzinfo=dt.UTC), review=presented,
        preview=lambda _: None, original=lambda _: None, trace=lambda _, __: None,
    )  # fmt: skip


def test_verdict_marks_questions_answers_differences_and_own_records_are_there():
    text = " ".join(strings(outline(given())))
    for said in (
        "Intact, signer not confirmed.", "Every entry.", "A time-stamp.", "ab" * 32, "cd" * 32, "Who saw the eyelet?", "I saw it. (Observation 1)", "No board report.",
        "Accepted (mark 3)", "Tight on my visit.", "ground_seat off → off its stud, hanging", "adjuster, 9 years", "legal advice",
    ):  # fmt: skip
        assert said in text, said


def test_no_id_of_the_storage_gets_onto_the_page():
    text = " ".join(strings(outline(given())))
    assert not re.search(r"\b(party|observation|exhibit|review_mark|review_answer)-\d", text)
    assert "_" not in re.sub(r"ground_seat", "", text)


def test_titles_fit_the_table_of_contents():
    titles = [s.title for s in outline(given()).sections]
    assert len(titles) == len(set(titles))
    assert max(map(len, titles)) <= 50


def test_without_an_answer_both_questions_wait():
    report = outline(given(answered=False))
    waiting = next(s for s in report.sections if s.title.startswith("Questions and rejections without"))
    (table,) = [b for b in waiting.blocks if isinstance(b, blocks.Table)]
    assert [row.cells[0] for row in table.rows] == ["1", "2"]
    assert not [s for s in report.sections if s.title.endswith("with their answers")]


def test_it_prints_and_the_same_input_gives_the_same_bytes(tmp_path):
    pages = []
    for name in ("a.pdf", "b.pdf"):
        with (tmp_path / name).open("wb") as out:
            pages.append(print_report(outline(given()), out))
    assert pages[0] == pages[1] >= 4
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()
    text = subprocess.run(["pdftotext", "-layout", tmp_path / "a.pdf", "-"], capture_output=True, text=True, check=True).stdout
    assert "Who saw the eyelet?" in text
    assert "Review of a technical dossier" in text


def test_the_opening_keeps_what_a_review_is_of():
    assert DossierOpening.stored({"title": "Review", "reviews": OF}).reviews.entries == 20
