"""Labels and hand-over forms, read back from the printed page: text, places, and the QR code off its pixels."""

import re

import pdfplumber
import pypdfium2
import pytest
from evidence.bootstrap import open_desk
from evidence.errors import EvidenceError, OutputUnusable
from evidence.report import fonts
from evidence.report.forms.handover import build_handover
from evidence.report.forms.labels import SHEETS, build_labels
from evidence.report.forms.paper import MM, new_canvas, qr_code, save, wrapped
from evidence.timeline.forms import Filled
from evidence.usecases.custody import handover_form, label_cards
from hypothesis import example, given, settings
from hypothesis import strategies as st

import qr_reader
from van import NAME, van_to_look_at

SCALE = 4


def cards(*items):
    with open_desk(van_to_look_at()) as desk:
        return label_cards(desk, NAME, items)


def form(*items, giver="", receiver="", **filled):
    with open_desk(van_to_look_at()) as desk:
        return handover_form(desk, NAME, items, giver, receiver, Filled(**filled))


def text_of(path, page=0):
    with pdfplumber.open(path) as pdf:
        return " ".join((pdf.pages[page].extract_text() or "").split())


def code_on(path):
    picture = pypdfium2.PdfDocument(path)[0].render(scale=SCALE).to_pil().convert("L")
    with pdfplumber.open(path) as pdf:
        return qr_reader.read(qr_reader.modules_on(pdf.pages[0], picture, SCALE))


@pytest.mark.parametrize("item", ["old-module", "exhibit 21", "van", "meter"])
def test_the_code_on_a_label_holds_what_stands_on_it_as_plain_text(tmp_path, item):
    card = cards(item)[0]
    build_labels([card], tmp_path / "l.pdf", "single")
    lines = code_on(tmp_path / "l.pdf").splitlines()
    assert lines[0].startswith("Dossier van-no-start, ledger ")
    assert lines[1] == card.item
    if card.digest:
        assert lines[2:] == [f"SHA-256 {card.digest[:16]}"]
    elif item == "old-module":
        assert lines[2:] == ["Container static-safe bag, tag 1907-1", "Seal S-26-0144"]
    else:
        assert lines[2:] == [{"van": "VIN SX9DEMV42M1004413", "meter": "serial M2-00417"}[item]]


@given(st.text(max_size=40).map("Dossier {}".format))
@settings(max_examples=25)
def test_any_text_comes_back_from_a_code(text):
    """Up to version 9, whatever the characters (UTF-8 in byte mode)."""
    from pathlib import Path
    from tempfile import TemporaryDirectory

    with TemporaryDirectory() as folder:
        out = Path(folder) / "q.pdf"
        canvas = new_canvas((200, 200), "code")
        qr_code(canvas, text, 20, 20, 160)
        save(canvas, out)
        assert code_on(out) == text


def test_a_label_has_what_astm_e1459_asks_for(tmp_path):
    """ASTM E1459-92 (2005), 4.1.4.1 to 4.1.4.5: item number, case number, who collected it, date, short description."""
    build_labels(cards("old-module"), tmp_path / "l.pdf")
    text = text_of(tmp_path / "l.pdf")
    for wanted in (
        "Exhibit 48", "van-no-start", "Ida Ansgar", "2026-05-27 11:40", "Engine control module 2P-40771-C taken", "from the van",
        "serial 088213", "static-safe bag, tag 1907-1", "S-26-0144", "DEMONSTRATION",
    ):  # fmt: skip
        assert wanted in text


@pytest.mark.parametrize("sheet", SHEETS)
def test_each_label_keeps_to_its_own_place(tmp_path, sheet):
    laid = SHEETS[sheet]
    places = laid.columns * laid.rows
    made = cards("old-module", "old-nut", "exhibit 21", "van") * 4
    assert build_labels(made, tmp_path / "l.pdf", sheet, start=places) == -(-(len(made) + places - 1) // places)
    with pdfplumber.open(tmp_path / "l.pdf") as pdf:
        first = pdf.pages[0]
        assert (float(first.width), float(first.height)) == pytest.approx(laid.page, abs=0.01)
        for page in pdf.pages:
            for word in page.extract_words():
                column = [
                    c for c in range(laid.columns)
                    if (laid.left + c * (laid.width + laid.gap)) * MM <= word["x0"]
                    and word["x1"] <= (laid.left + c * (laid.width + laid.gap) + laid.width) * MM
                ]  # fmt: skip
                row = [
                    r for r in range(laid.rows)
                    if (laid.top + r * laid.height) * MM <= word["top"] and word["bottom"] <= (laid.top + (r + 1) * laid.height) * MM
                ]  # fmt: skip
                assert column and row, word["text"]  # noqa: PT018
        heads = [w for w in first.extract_words(keep_blank_chars=True) if re.fullmatch(r"(Exhibit|Vehicle) \d+", w["text"])]
        assert len(heads) == 1, "one label on the sheet that was used before: at its last place"
        assert heads[0]["x0"] > (laid.left + (laid.columns - 1) * (laid.width + laid.gap)) * MM


def test_a_wrong_sheet_or_place_is_said(tmp_path):
    card = cards("old-nut")
    with pytest.raises(EvidenceError, match="no such label sheet"):
        build_labels(card, tmp_path / "l.pdf", "a4-9")
    with pytest.raises(EvidenceError, match="places 1 to 8"):
        build_labels(card, tmp_path / "l.pdf", "a4-8", 9)
    with pytest.raises(OutputUnusable, match="folder does not exist"):
        build_labels(card, tmp_path / "none" / "l.pdf")
    assert list(tmp_path.iterdir()) == []


def test_a_form_has_what_is_known_and_leaves_blanks(tmp_path):
    """ASTM E1492-05, 4.1.1.3: case number, item number, description, from, to, date."""
    made = form("old-module", "old-nut", receiver="orrinfell", purpose="inspection")
    build_handover(made, tmp_path / "h.pdf")
    with pdfplumber.open(tmp_path / "h.pdf") as pdf:
        assert len(pdf.pages) == 1
    text = text_of(tmp_path / "h.pdf")
    for wanted in (
        "Hand-over of evidence", made.reference, "Dossier van-no-start", "Exhibit 48", "Exhibit 49", "seal: S-26-0144",
        "Tamsgate Vehicle Diagnostics", "31 Tamsgate Lane, Vellbridge", "Orrinfell Motor Works", "Unit 6, Tannery Yard, Vellbridge",
        "inspection", "Date and time (Europe/Dublin)", "Condition as seen by both", "Released by: signature", "Received by: signature",
    ):  # fmt: skip
        assert wanted in text, wanted
    assert code_on(tmp_path / "h.pdf").splitlines()[0] == f"Hand-over {made.reference}"
    squeezed = text.replace(" ", "")
    for command in made.commands[:2]:
        assert command.replace(" ", "") in squeezed


def test_a_form_asks_for_the_odometer_of_a_vehicle_alone():
    assert form("van").vehicle
    assert not form("old-nut").vehicle


def test_the_reference_belongs_to_record_and_items():
    assert form("old-nut").reference == form("old-nut").reference
    assert form("old-nut").reference != form("old-module").reference
    assert re.fullmatch(r"H-[A-Z2-7]{6}", form("old-nut").reference)


def test_more_than_a_page_holds_is_refused_with_advice():
    with pytest.raises(EvidenceError, match="room for 6 items, not 7"):
        form(*(f"exhibit {n}" for n in range(1, 8)))


@pytest.mark.parametrize("items", [["old-nut"], [f"exhibit {n}" for n in range(1, 7)]])
def test_nothing_on_a_form_lies_over_another_line_or_outside_the_page(tmp_path, items):
    build_handover(form(*items, receiver="marwick", place="x" * 200, purpose="y " * 200, when="2026-07-01 10:00"), tmp_path / "h.pdf")
    with pdfplumber.open(tmp_path / "h.pdf") as pdf:
        words = pdf.pages[0].extract_words(keep_blank_chars=True, x_tolerance=2)
    for word in words:
        assert word["x0"] >= 40
        assert word["x1"] <= 556, word["text"]
        assert word["bottom"] <= 830
    for n, one in enumerate(words):
        for other in words[n + 1 :]:
            apart = one["x1"] <= other["x0"] + 0.5 or other["x1"] <= one["x0"] + 0.5
            assert apart or one["bottom"] <= other["top"] + 2.4 or other["bottom"] <= one["top"] + 2.4, (one["text"], other["text"])


def test_same_record_same_bytes(tmp_path):
    for name in ("a", "b"):
        build_labels(cards("old-module", "exhibit 21"), tmp_path / f"{name}-l.pdf")
        build_handover(form("old-module"), tmp_path / f"{name}-h.pdf")
    for kind in ("l", "h"):
        assert (tmp_path / f"a-{kind}.pdf").read_bytes() == (tmp_path / f"b-{kind}.pdf").read_bytes()


@given(st.text(max_size=400), st.integers(20, 400), st.integers(1, 4))
@example("x" * 300, 30, 2)
@example("", 50, 1)
def test_fitted_text_fits(text, width, lines):
    made = wrapped(text, width, 8, lines)
    assert len(made) <= lines
    widest = max(fonts.width_of(ch, fonts.SANS, 8) for ch in fonts.drawable("W‹…" + text))
    assert all(fonts.width_of(line, fonts.SANS, 8) <= max(width, widest * 2) for line in made)
    plain = fonts.drawable(" ".join(text.split()))
    joined = "".join(made).replace(" ", "")
    assert joined == plain.replace(" ", "") or made[-1].endswith("…")
