"""The whole report, read back with independent readers (pdfplumber, pikepdf, pypdfium2, poppler, qpdf)."""

import dataclasses
import functools
import hashlib
import re
import shutil
import subprocess
import sys

import pdfplumber
import pikepdf
import pypdfium2
import pytest
from evidence.model.base import say
from evidence.model.kinds import KINDS
from evidence.report.outline import outline
from evidence.report.pdf import build_report
from evidence.report.story import ITSELF
from evidence.report.styles import FOOT, LEFT, PAGE, RIGHT
from PIL import Image

from rich_dossier import candidate, given, rich_book, small_book

AVOIDED = ("negligent", "botched", "fraud", "guaranteed", "tamper-proof", "original photo", "no fault found", "evidence number")


@functools.cache
def texts_of(path):
    """The text of each page, read once for all who ask: these tests write a file once."""
    with pdfplumber.open(path) as pdf:
        return tuple(page.extract_text() or "" for page in pdf.pages)


@functools.cache
def words_of(path):
    """The words of each page with their places, read once too."""
    with pdfplumber.open(path) as pdf:
        return tuple(page.extract_words() for page in pdf.pages)


def text_of(path):
    return "\n".join(texts_of(path))


def flat(text):
    return re.sub(r"\s+", "", text)


def shots(tmp_path, book):
    """A prepared picture for each photo exhibit; every second one is small and is the exhibit itself."""
    pictures = {}
    for number, step in enumerate(s for s in book.steps if s.kind == "exhibit" and s.body):
        if (step.body.get("read") or {}).get("media") == "photo":
            path = tmp_path / f"p{number}.jpg"
            Image.new("RGB", (400, 300), (number * 9 % 255, 80, 120)).save(path, "JPEG")
            pictures[step.body["file"]["sha256"]] = path
    return pictures


@pytest.fixture(scope="module")
def rich(tmp_path_factory):
    tmp_path = tmp_path_factory.mktemp("rich")
    book = rich_book()
    pictures = shots(tmp_path, book)
    report = given(book, candidate(), preview=pictures.get)
    out = tmp_path / "r.pdf"
    build_report(report, out)
    return report, out, pictures


def test_the_text_lists_every_exhibit_digest(rich):
    report, out, _ = rich
    text = flat(text_of(out))
    digests = [r.value.file.sha256 for r in report.dossier.by_subject.values() if r.kind == "exhibit" and r.value.file]
    assert len(digests) == 7
    assert [d for d in digests if d not in text] == []


def test_every_record_of_every_kind_is_shown_by_its_number(rich):
    report, out, _ = rich
    text = " ".join(text_of(out).split())
    labels = [r.label for r in report.dossier.by_subject.values() if r.kind not in ("dossier", "vehicle")]
    assert {r.kind for r in report.dossier.by_subject.values()} == set(KINDS)
    assert [label for label in labels if label not in text] == []
    assert report.dossier.opening.title in text
    assert "Delivery van, 4 cylinders, petrol" in text


def strings(value):
    """Every text in a tree of values."""
    if isinstance(value, str):
        yield value
    elif dataclasses.is_dataclass(value):
        for f in dataclasses.fields(value):
            yield from strings(getattr(value, f.name))
    elif isinstance(value, (tuple, list)):
        for item in value:
            yield from strings(item)


# What stands in a field need not be printed: machine words of files, tags, derived spans.
UNPRINTED = {"name", "earliest", "latest", "source", "zone", "media", "reader", "orientation", "sha256", "columns", "rows", "preview", "name_hex",
             "width", "height", "kind", "mechanism", "currency", "view"}  # fmt: skip


def test_every_text_a_person_stated_is_printed(rich):
    report, _, _ = rich
    text = flat(" ".join(strings(outline(report)))).lower()
    missing = []

    def walk(value, path):
        if isinstance(value, dict):
            for key, item in value.items():
                if key not in UNPRINTED:
                    walk(item, f"{path}.{key}")
        elif isinstance(value, (list, tuple)):
            for item in value:
                walk(item, path)
        elif isinstance(value, str) and not re.fullmatch(r"[a-z_]+-\d+", value):
            said = {flat(value).lower(), flat(say(value)).lower()}
            if not any(s in text for s in said):
                missing.append((path, value))

    for recorded in report.dossier.by_subject.values():
        walk(recorded.value.body(), recorded.label)
    # These enumeration words are printed in other words.
    other_words = {"some", "coded_replacement", "head"}
    assert [m for m in missing if m[1] not in other_words and not m[0].endswith((".value", ".op", ".state", ".time_unit"))] == []


def test_no_word_stands_outside_the_margins_and_no_line_over_another(rich):
    _, out, _ = rich
    for number, words in enumerate(words_of(out), 1):
        for word in words:
            where = (number, word["text"])
            assert word["x0"] >= LEFT - 1, where
            assert word["x1"] <= PAGE[0] - RIGHT + 1, where
            assert word["top"] >= 12, where
            assert word["bottom"] <= PAGE[1] - 24, where
            assert word["bottom"] <= PAGE[1] - FOOT + 1 or word["top"] >= PAGE[1] - FOOT + 8, where


def overlaps(words):
    found = []
    downwards = sorted(words, key=lambda word: word["top"])
    for i, a in enumerate(downwards):
        for b in downwards[i + 1 :]:
            if b["top"] >= a["bottom"]:
                break  # this one and all that follow stand below
            wide = min(a["x1"], b["x1"]) - max(a["x0"], b["x0"])
            high = min(a["bottom"], b["bottom"]) - max(a["top"], b["top"])
            if wide > 0.8 and high > 0.45 * min(a["bottom"] - a["top"], b["bottom"] - b["top"]):
                found.append((a["text"], b["text"]))
    return found


def test_no_word_is_printed_over_another(rich):
    assert [(number, pair) for number, words in enumerate(words_of(rich[1]), 1) for pair in overlaps(words)] == []


def test_no_word_of_the_storage_format_and_no_avoided_word_gets_out(rich):
    _, out, _ = rich
    text = text_of(out)
    assert re.findall(r"\b[a-z]+_[a-z_]+\b", text) == []
    assert re.findall(r"\b(?:None|True|False|Fraction|Decimal)\b", text) == []
    assert re.findall(r"\b[a-z]+_?[a-z]*-\d+\b(?<!K-2025-118)", text.replace("sha-256", "")) == [] or "party-1" not in text
    assert [w for w in AVOIDED if w in text.lower()] == []
    assert not re.search(r"\bprove[ds]?\b", text.lower())


def test_links_lead_somewhere_and_every_exhibit_number_is_one(rich):
    _, out, _ = rich
    with pikepdf.open(out) as pdf:
        names = {str(n) for n in pdf.Root.Dests} if "/Dests" in pdf.Root else set()
        wanted, placed = [], set()
        for page in pdf.pages:
            for annotation in page.get("/Annots", []):
                destination = annotation.get("/Dest")
                assert destination is not None
                wanted.append(destination)
        for destination in wanted:
            if isinstance(destination, pikepdf.Array):
                assert destination[0].get("/Type") == "/Page"
                placed.add(tuple(str(x) for x in list(destination)[1:]))
            else:
                assert str(destination) in names
        assert len(wanted) > 60
        with pdf.open_outline() as outline:
            titles = [item.title for item in outline.root]
        assert titles[:3] == ["Cover", "Summary", "Timeline of cause and effect"]
        assert titles[-1] == "Declaration of the technician"


def test_pages_are_numbered_to_the_end_and_contents_agree(rich):
    _, out, _ = rich
    pages = texts_of(out)
    for number, text in enumerate(pages, 1):
        assert f"Page {number} of {len(pages)}" in text
    contents = re.findall(r"([A-Z][A-Za-z:, ]+?) (\d+)(?=\s|$)", pages[0])  # two columns on a line
    sections = {title: int(page) for title, page in contents}
    assert sections["Summary"] == 2
    for title in ("Findings", "Loss", "Manifest of hashes", "Custody"):
        assert re.search(rf"^{title}$", pages[sections[title] - 1], re.MULTILINE), title


def test_the_summary_is_one_page_in_plain_words(rich):
    text = texts_of(rich[1])[1]
    assert "Timeline of cause and effect" in texts_of(rich[1])[2]
    for head in ("What happened", "What was found", "What it supports, and how strongly", "What speaks against it", "What would strengthen or refute it"):
        assert head in text
    assert "not the probability that anybody is to blame" in " ".join(text.split())


def test_metadata_date_and_fonts(rich):
    report, out, _ = rich
    with pikepdf.open(out) as pdf:
        assert pdf.docinfo["/CreationDate"] == "D:20260312093000+00'00'"
        assert str(pdf.docinfo["/Title"]) == report.dossier.title
        assert str(pdf.docinfo["/Author"]) == "Quill Autodiagnose"
        fonts = {f for page in pdf.pages for f in page.Resources.Font.values() if isinstance(f, pikepdf.Dictionary) for f in [str(f.BaseFont)]}
    assert fonts
    assert all(re.match(r"/[A-Z]{6}\+DejaVu", name) for name in fonts), fonts


@pytest.mark.skipif(not shutil.which("qpdf") or not shutil.which("pdffonts"), reason="qpdf or poppler-utils missing")
def test_outside_tools_find_nothing_wrong(rich):
    done = subprocess.run(["qpdf", "--check", rich[1]], capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    lines = subprocess.run(["pdffonts", rich[1]], capture_output=True, text=True, check=True).stdout.splitlines()[2:]
    assert len(lines) >= 3
    assert all(line.split()[-5] == "yes" for line in lines), lines


def test_every_page_can_be_drawn_by_another_library(rich):
    document = pypdfium2.PdfDocument(rich[1])
    try:
        for index in range(len(document)):
            image = document[index].render(scale=0.3).to_pil().convert("L")
            assert image.getextrema()[0] < 200, f"page {index + 1} is empty"
    finally:
        document.close()


def test_printed_pictures_are_the_prepared_files(rich):
    _, out, pictures = rich
    with pikepdf.open(out) as pdf:
        raw = [i.read_raw_bytes() for page in pdf.pages for i in page.get_images().values()]
    assert sorted(raw) == sorted(p.read_bytes() for p in pictures.values())


def small_photo_book(tmp_path, colour=(10, 90, 40), **facts):
    path = tmp_path / "small.jpg"
    Image.new("RGB", (640, 480), colour).save(path, "JPEG")
    book = small_book()
    read = {"media": "photo", "type": "image/jpeg", "reader": "t", "width": 640, "height": 480, **facts}
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    book.exhibit(digest=digest, name="small.jpg", size=path.stat().st_size, caption="Small", read=read)
    return book, path, digest


def test_a_small_photo_is_printed_from_the_file_itself(tmp_path):
    book, path, digest = small_photo_book(tmp_path)
    build_report(given(book, original=lambda d: path), tmp_path / "r.pdf")
    with pikepdf.open(tmp_path / "r.pdf") as pdf:
        raw = [i.read_raw_bytes() for page in pdf.pages for i in page.get_images().values()]
    assert [hashlib.sha256(r).hexdigest() for r in raw] == [digest]
    assert ITSELF in " ".join(text_of(tmp_path / "r.pdf").split())


def test_an_altered_original_is_not_printed_as_the_exhibit(tmp_path):
    book, path, _ = small_photo_book(tmp_path)
    Image.new("RGB", (640, 480), (200, 0, 0)).save(path, "JPEG")
    build_report(given(book, original=lambda d: path), tmp_path / "r.pdf")
    with pikepdf.open(tmp_path / "r.pdf") as pdf:
        assert not [i for page in pdf.pages for i in page.get_images().values()]
    assert "No picture can be printed" in text_of(tmp_path / "r.pdf")


def test_same_input_same_bytes_twice_and_in_another_process(rich, tmp_path):
    report, out, _ = rich
    build_report(report, tmp_path / "again.pdf")
    assert (tmp_path / "again.pdf").read_bytes() == out.read_bytes()
    script = (
        "import sys, pathlib; sys.path[:0] = [sys.argv[1]]\n"
        "from reportlab.platypus import Table; from rich_dossier import *\n"
        "from evidence.report.pdf import build_report\n"
        "build_report(given(small_book(), candidate()), pathlib.Path(sys.argv[2]))\n"
    )
    tests = str(next(p for p in map(str, sys.path) if p.rstrip("/").endswith("tests")))
    made = []
    for seed in ("1", "2"):
        target = tmp_path / f"process{seed}.pdf"
        env = {"PYTHONHASHSEED": seed, "PATH": "/usr/bin", "PYTHONPATH": str(pytest.importorskip("evidence").__path__[0].rsplit("/", 1)[0]), "SOURCE_DATE_EPOCH": seed, "TZ": "Asia/Tokyo", "LC_ALL": "C"}
        subprocess.run([sys.executable, "-c", script, tests, target], check=True, env=env)
        made.append(target.read_bytes())
    build_report(given(small_book(), candidate()), tmp_path / "here.pdf")
    assert made[0] == made[1] == (tmp_path / "here.pdf").read_bytes()


def test_amended_and_withdrawn_records_say_so_with_the_reason(rich):
    text = " ".join(text_of(rich[1]).split())
    assert "withdrawn: Taken of another vehicle" in text
    assert "Conditions were incomplete" in text
    assert "Exhibit 7 withdrawn Taken of another vehicle" in text


def test_an_empty_dossier_says_what_is_not_there(tmp_path):
    build_report(given(small_book()), tmp_path / "r.pdf")
    text = " ".join(text_of(tmp_path / "r.pdf").split())
    for line in ("No vehicle recorded", "No measurement recorded", "No hand-over recorded", "No consent recorded", "No work order of a prior repairer"):
        assert line in text


def test_what_cannot_be_drawn_is_named_and_markup_is_text(tmp_path):
    book = small_book()
    book.record("party", full_name="<b>山田</b> & Söhne <a href='x'>", firm="\u202eevil")
    build_report(given(book), tmp_path / "r.pdf")
    text = flat(text_of(tmp_path / "r.pdf"))
    assert "<b>‹U+5C71›‹U+7530›</b>&Söhne<ahref='x'>" in text
    assert "‹U+202E›evil" in text


def test_long_texts_long_words_and_long_tables_stay_on_the_page(tmp_path):
    book = small_book()
    shop = "party-1"
    book.record("party", full_name="W" * 400, firm="Ελένη " * 60, interest="x" * 300, address="\n".join(["A street"] * 30))
    book.record("event", what="other", text="word " * 3900, time="2026-01-01", basis="told")
    book.record("opinion", by=shop, time="2026-01-01", text="Long. " * 3000, basis=[shop], qualification="q" * 200, interest="none")
    book.record("call_note", caller=shop, time="2026-01-02", words="\n".join(f"line {n}" for n in range(400)))
    for number in range(45):
        book.record("measurement", quantity="voltage", value=f"{number}.50", unit="V", of=f"test point {number} of the harness", time="2026-01-03", note="n" * 120)
        book.record("event", what="stop", text=f"Stop {number} " + "Ωμέγα" * 30, time=f"2026-01-{number % 27 + 1:02}", basis="told")
    build_report(given(book, candidate("T" * 200)), tmp_path / "r.pdf")
    headers = sum("Value and" in text for text in texts_of(tmp_path / "r.pdf"))
    assert headers >= 3, "the header of the table is not repeated"
    for number, words in enumerate(words_of(tmp_path / "r.pdf"), 1):
        assert overlaps(words) == [], number
        for word in words:
            assert word["x0"] >= LEFT - 1, (number, word["text"])
            assert word["x1"] <= PAGE[0] - RIGHT + 1, (number, word["text"])


def test_a_long_text_is_printed_whole_in_a_part_of_its_own(tmp_path):
    book = small_book()
    book.record("opinion", by="party-1", time="2026-01-01", text=" ".join(f"sentence{n}" for n in range(1500)), basis=["party-1"], qualification="q", interest="none")
    build_report(given(book), tmp_path / "r.pdf")
    text = " ".join(text_of(tmp_path / "r.pdf").split())
    assert "Opinion 1, opinion" in text
    assert [n for n in range(1500) if f"sentence{n}" not in text] == []
    assert "(whole text under" in text


def test_no_heading_stands_alone_at_the_foot_of_a_page(rich, tmp_path):
    book = small_book()
    for number in range(60):
        book.record("measurement", quantity="voltage", value=f"{number}.5", unit="V", of="terminal 30")
    outs = [rich[1], tmp_path / "r.pdf"]
    build_report(given(book), outs[1])
    for out in outs:
        with pdfplumber.open(out) as pdf:
            for page in pdf.pages:
                body = [c for c in page.chars if 60 < c["top"] < PAGE[1] - FOOT]
                if body:
                    last = max(body, key=lambda c: (round(c["top"]), c["x0"]))
                    assert last["size"] < 10, (out, page.page_number, last["text"])


def test_three_hundred_exhibits(tmp_path):
    book = small_book()
    for number in range(300):
        book.exhibit(name=f"IMG_{number}.jpg", caption=f"View {number}")
    report = given(book)
    build_report(report, tmp_path / "r.pdf")
    text = flat(text_of(tmp_path / "r.pdf"))
    assert all(r.value.file.sha256 in text for r in report.dossier.by_subject.values() if r.kind == "exhibit")


def test_money_is_summed_exactly(rich):
    text = " ".join(text_of(rich[1]).split()).replace("\u202f", " ")
    # 95.00 + 840.10 + 120.05 + 150.00 + 90.00 + 210.00 − 30.00; the hire of 210.00 is disputed
    assert "Total 1 265.15 EUR 1 475.15 EUR 1 475.15 EUR" in text
    rows = [row.cells for section in outline(rich[0]).sections if section.title == "Loss" for row in section.blocks[0].rows]
    assert [cells[-1] for cells in rows if cells[1].startswith("Damage that followed")] == ["960.15 EUR"]
    assert "960.15 EUR" in text


def test_the_integrity_page_says_who_signed_what(rich):
    report, out, _ = rich
    text = " ".join(text_of(out).split())
    assert "Head signed by not signed" in text
    assert "This PDF signed by not signed" in text
    assert report.integrity.root_hex in flat(text)
    vouched = dataclasses.replace(
        report.integrity, head_signed_by="ab12" * 16, document_signed_by="cd34" * 16, authority="http://stamps.example/",
        time_stamps=("Stamp authority of a town: 2026-03-12 09:31:00 UTC",), witnesses=("owner, key ef56: 2026-03-12 10:00:00 UTC",),
    )
    build_report(dataclasses.replace(report, integrity=vouched), out.with_name("s.pdf"))
    text = " ".join(text_of(out.with_name("s.pdf")).split())
    assert "not signed" not in text.partition("What each of these shows")[0].rpartition("Head line")[2]
    for part in (" ".join(["ab12"] * 3), " ".join(["cd34"] * 3), "asked of http://stamps.example/", "Stamp authority of a town", "owner, key ef56"):
        assert part in text


def test_a_page_says_how_much_is_withheld_and_of_what_kind(rich):
    report, out, _ = rich
    assert "What is withheld" not in text_of(out)
    less = dataclasses.replace(report, withheld={"call note": 2, "opinion": 1}, withheld_files=frozenset({"0" * 64}))
    build_report(less, out.with_name("w.pdf"))
    text = " ".join(text_of(out.with_name("w.pdf")).split())
    for part in ("What is withheld", "3 records and 1 file; see the page", "Call notes 2", "Opinion 1", "Files of exhibits 1"):
        assert part in text


def test_no_number_of_a_finding_stands_where_a_person_reads(rich):
    """But in the first column of the tables of findings and alternatives, where the words stand beside it."""
    leading = rich[0].assessment.candidates[0]
    known = [x.id for x in (*leading.findings, *leading.common, *leading.alternatives)]
    numbers = re.compile(rf"\b(?:{'|'.join(known)})\b")
    found = []
    for section in outline(rich[0]).sections:
        for block in section.blocks:
            rows = getattr(block, "rows", None)
            if rows is None:
                found += [t for t in strings(block) if numbers.search(t)]
            else:
                found += [t for row in rows for t in getattr(row, "cells", row)[1:] if numbers.search(t)]
    assert found == []
