"""Forms and the filing set: filled from the record, exhibits stamped, what cannot be shown told on its page."""

import datetime as dt
import hashlib
import io
import re
import subprocess
from dataclasses import replace

import pypdfium2
import pytest
from evidence.bootstrap import open_desk
from evidence.claim.course import course
from evidence.claim.due import due
from evidence.claim.loss.statement import loss_statement
from evidence.model.exhibit import Exhibit, FileFacts, StoredFile
from evidence.paperwork import paper_input, write_set
from evidence.report.blocks import Table
from evidence.report.papers.forms import FORMS
from evidence.report.papers.paper import PaperInput, Rechecked, as_pdf
from evidence.report.papers.plain import as_text
from evidence.report.papers.printing import write_filing_set
from evidence.report.papers.registry import PAPERS
from evidence.report.sealing import Judge, check_signature
from evidence.rules.assess import assess
from PIL import Image

from build import coil_case, packs, shown_case, vocabulary
from fakes import quiet
from van import NAME, van

TODAY = dt.date(2026, 6, 10)


def given_of(case, language="en"):
    dossier = case.dossier()
    assessment = assess(dossier, packs(), vocabulary())
    return PaperInput(
        dossier=dossier, assessment=assessment, loss=loss_statement(dossier, assessment), course=course(dossier),
        dues=due(dossier), today=TODAY, language=language,
    )  # fmt: skip


def full():
    """A case that is shown, with a loss of each sort."""
    case = shown_case()
    case.record("loss_item", head="repair_parts", nature="resulting_damage", text="module", amount="840.00 EUR", tax_rate="20", status="invoiced", exhibits=["exhibit-1"])
    case.record("loss_item", head="rework_cost", nature="rework", text="refit", amount="29.00 EUR", status="invoiced")
    return case


def said(file):
    return " ".join(subprocess.run(["pdftotext", "-layout", str(file), "-"], capture_output=True, text=True, check=True).stdout.split())


def form_text(case, which, language="en", **more):
    given = replace(given_of(case, language), **more)
    return " ".join(as_text(given, FORMS[which].make(given)).split())


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("which", FORMS)
def test_every_form_becomes_a_pdf_that_other_tools_read(which, language, tmp_path):
    given = given_of(full(), language)
    out = io.BytesIO()
    as_pdf(given, FORMS[which].make(given), out)
    file = tmp_path / "form.pdf"
    file.write_bytes(out.getvalue())
    assert subprocess.run(["qpdf", "--check", str(file)], capture_output=True, check=False).returncode == 0
    assert FORMS[which].make(given).title in said(file)


@pytest.mark.parametrize("which", [w for w in FORMS if w != "exhibits"])
def test_an_empty_record_leaves_blanks(which):
    given = given_of(coil_case().drop("work_order-1"))
    paper = FORMS[which].make(given)
    assert paper.missing
    told = " ".join(as_text(given, paper).split())
    assert all(f"____________ ({what})" in told for what in paper.missing)


def test_a_certification_without_a_recheck_says_so_and_with_one_quotes_it():
    """Fed. R. Evid. 902(13), (14): the certification describes; nothing is asserted that was not done."""
    assert "no recheck was made for this paper" in form_text(full(), "certification")
    told = form_text(full(), "certification", recheck=Rechecked(entries=12, files=3, size=9, head="signed", faults=("file altered: Exhibit 1",)), root_hex="ab" * 32)
    assert "file altered: Exhibit 1" in told
    assert "no recheck was made" not in told
    assert "ab" * 32 in told


def test_a_certification_lists_every_file_with_its_hash(picture):
    given, digest = with_file(given_of(full()), picture)
    told = as_text(given, FORMS["certification"].make(given))
    assert told.count(digest) == len(given.dossier.of(Exhibit)) > 0
    assert "picture.jpg" in told


def test_an_opinion_stands_apart_from_the_facts_and_none_is_invented():
    """Fed. R. Evid. 602 and 702 (as amended 1 December 2023)."""
    told = form_text(shown_case(), "technician")
    assert told.index("2. FACTS THAT I SAW OR MEASURED") < told.index("5. OPINION, APART FROM THE FACTS")
    assert "no opinion is recorded" in told


def test_a_brief_splits_rework_from_resulting_damage():
    given = given_of(full(), "en")
    rows = {row.cells[0]: row.cells[2] for b in _blocks(FORMS["brief"].make(given)) if isinstance(b, Table) for row in b.rows}
    assert rows["Resulting damage"].replace("\xa0", " ") == "1,008.00 EUR"  # 840.00 + 20 %
    assert rows["Rework of the earlier job"].replace("\xa0", " ") == "29.00 EUR"


def _blocks(paper):
    return [b for section in paper.sections for b in section.blocks]


@pytest.fixture
def picture(tmp_path):
    file = tmp_path / "picture.jpg"
    Image.new("RGB", (640, 480), "grey").save(file)
    return file


def with_file(given, file, type_="image/jpeg", pages=None):
    """The dossier with every exhibit's file being this one."""
    digest = hashlib.sha256(file.read_bytes()).hexdigest()
    stored = StoredFile(sha256=digest, size=file.stat().st_size, name=file.name)
    read = FileFacts(media="photo" if type_.startswith("image") else "document", type=type_, reader="test", pages=pages)
    held = given.dossier
    changed = {}
    for subject, r in held.by_subject.items():
        if isinstance(r.value, Exhibit):
            r = replace(r, value=r.value.model_copy(update={"file": stored, "read": read}))
        changed[subject] = r
    return replace(given, dossier=replace(held, by_subject=changed), original=lambda _d: file, preview=lambda _d: file), digest


def test_each_exhibit_is_stamped_and_says_it_is_a_copy(picture, tmp_path):
    before = picture.read_bytes()
    given, digest = with_file(given_of(full()), picture)
    made = write_filing_set(given, tmp_path / "set.pdf")
    told = said(tmp_path / "set.pdf")
    for e in given.dossier.of(Exhibit):
        assert f"EXHIBIT {e.label.split()[-1]}" in told
    assert "COPY for reading." in told
    assert digest in told.replace(" ", "")
    assert picture.read_bytes() == before
    assert made.pages == len(pypdfium2.PdfDocument(tmp_path / "set.pdf"))
    assert subprocess.run(["qpdf", "--check", str(tmp_path / "set.pdf")], capture_output=True, check=False).returncode == 0


def test_the_table_of_exhibits_names_the_page_on_which_each_begins(picture, tmp_path):
    given, _digest = with_file(given_of(full()), picture)
    made = write_filing_set(given, tmp_path / "set.pdf")
    document = pypdfium2.PdfDocument(tmp_path / "set.pdf")
    texts = [document[n].get_textpage().get_text_bounded() for n in range(made.pages)]
    first = given.dossier.of(Exhibit)[0]
    number = first.label.split()[-1]
    begins = next(n for n, t in enumerate(texts, 1) if f"EXHIBIT {number}\r" in t or f"EXHIBIT {number}\n" in t)
    lines = texts[1].replace("\r", "").split("\n")
    start = next(i for i, line in enumerate(lines) if line.strip().startswith(f"Exhibit {number}"))
    assert str(begins) in " ".join(lines[start : start + 6]).split()


def test_a_missing_a_changed_and_a_broken_file_are_told_and_nothing_is_lost(picture, tmp_path):
    given, _digest = with_file(given_of(full()), picture)
    gone = write_filing_set(replace(given, original=lambda _d: tmp_path / "nowhere"), tmp_path / "gone.pdf")
    assert gone.notes
    assert all("MISSING" in n for n in gone.notes)
    assert "MISSING: the file of this exhibit" in said(tmp_path / "gone.pdf")
    other = tmp_path / "other.jpg"
    other.write_bytes(picture.read_bytes() + b"x")
    changed = write_filing_set(replace(given, original=lambda _d: other), tmp_path / "changed.pdf")
    assert all("CHANGED" in n for n in changed.notes)
    as_paper, _digest = with_file(given_of(full()), picture, "application/pdf", 2)
    broken = write_filing_set(replace(as_paper, page=lambda _d, _n: "damaged"), tmp_path / "broken.pdf")
    assert all("BROKEN: page 1 cannot be shown: damaged" in n for n in broken.notes)
    assert broken.notes


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_brief_is_one_page(language):
    given = given_of(full(), language)
    assert as_pdf(given, FORMS["brief"].make(given), io.BytesIO()) == 1


def test_a_long_text_file_ends_above_the_foot_and_says_that_there_is_more(tmp_path):
    file = tmp_path / "readings.csv"
    file.write_text("time,volt\n" + "0.1,12.6\n" * 500)
    given, _digest = with_file(given_of(full()), file, "text/csv")
    made = write_filing_set(replace(given, preview=lambda _d: None), tmp_path / "set.pdf")
    assert all("More stands in the file" in n for n in made.notes)
    assert made.notes


@pytest.fixture(scope="module")
def printed_van(tmp_path_factory):
    """The filing set of the biggest demonstration dossier, printed and signed; its input, its file, what was made."""
    folder = van(tmp_path_factory.mktemp("van"))
    out = tmp_path_factory.mktemp("set") / "set.pdf"
    with open_desk(folder) as desk:
        given = paper_input(desk, NAME, today=TODAY)
        made = write_set(desk, folder, given, out, quiet)
        plain = write_set(desk, folder, given, out.with_name("unsigned.pdf"), quiet, sign=False)
    assert (plain.signed_by, plain.unsigned) == ("", "asked for without")
    return given, out, made


def pages_of(file):
    document = pypdfium2.PdfDocument(file)
    return [" ".join(document[n].get_textpage().get_text_bounded().split()) for n in range(len(document))]


def test_the_filing_set_is_an_archive_and_signed_as_the_report_is(printed_van):
    """PDF/A-3b by pikepdf's own judge; the signature by pyHanko and by our few lines (PAdES, ETSI EN 319 142-1)."""
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.validation import validate_pdf_signature
    from pyhanko_certvalidator import ValidationContext

    _given, out, made = printed_van
    unsigned = out.with_name("unsigned.pdf")  # the judge knows no signatures; this one is the beginning of the signed file
    with Judge() as judge:
        judge.require_archive(unsigned)
    assert out.read_bytes().startswith(unsigned.read_bytes())
    assert check_signature(out).fingerprint == made.signed_by != ""
    with out.open("rb") as stream:
        signature = PdfFileReader(stream).embedded_signatures[0]
        context = ValidationContext(trust_roots=[signature.signer_cert], allow_fetching=False)
        status = validate_pdf_signature(signature, context)
    assert status.bottom_line
    assert hashlib.sha256(out.read_bytes()).hexdigest() == made.sha256
    changed = bytearray(out.read_bytes())
    changed[len(changed) // 3] ^= 1
    out.with_name("changed.pdf").write_bytes(changed)
    with pytest.raises(ValueError, match=r"."):
        check_signature(out.with_name("changed.pdf"))


def test_the_summary_of_the_biggest_demonstration_has_two_pages_at_most(printed_van):
    pages = pages_of(printed_van[1])
    first = next(n for n, text in enumerate(pages) if " Summary " in f" {text} " and "Claimant" in text and n > 0)
    after = next(n for n, text in enumerate(pages) if " Chronology " in f" {text} " and n > 0)
    assert 1 <= after - first <= 2


def test_table_stamps_and_pages_agree_for_every_exhibit(printed_van):
    given, out, made = printed_van
    pages = pages_of(out)
    assert len(pages) == made.pages
    table = " ".join(pages[1:4])
    numbers = [e.number for e in given.dossier.of(Exhibit)]
    assert len(numbers) == 50
    starts = [next(n for n, text in enumerate(pages, 1) if f"EXHIBIT {number} page 1 of" in text) for number in numbers]
    assert starts == sorted(starts)
    for number, start in zip(numbers, starts, strict=True):
        row = re.search(rf"Exhibit {number} (?!\d)(.*?)(?=Exhibit \d+ |$)", table)
        assert row, number
        assert re.search(rf"\b{start}\b", row[1]), (number, start, row[1])


def test_the_chronology_is_in_order_and_names_records_and_exhibits(printed_van):
    pages = pages_of(printed_van[1])
    first = next(n for n, text in enumerate(pages) if " Chronology " in f" {text} " and n > 0)
    last = next(n for n, text in enumerate(pages) if "EXHIBIT 1 page" in text)
    told = " ".join(pages[first:last])
    stamps = [dt.datetime.strptime(day, "%d %B %Y").date() for day in re.findall(r"(?<!– )(?<!\d)(\d{1,2} May 2026)(?=, \d\d:\d\d)", told)]  # noqa: DTZ007
    assert len(stamps) > 15
    wanted = ("Event 4", "Work order 1", "Correspondence 1", "Custody transfer 1", "Intervention 2", "Code scan 1", "Owner declaration 1")
    for label in wanted:
        assert f"[{label}]" in told
    assert told.index("[Work order 1]") < told.index("[Event 4]") < told.index("[Code scan 1]") < told.index("[Intervention 2]")


@pytest.mark.parametrize("which", ["notice", "technician"])
def test_letters_and_forms_are_archives_too(which, tmp_path):
    given = given_of(full(), "es")
    file = tmp_path / "paper.pdf"
    with file.open("wb") as stream:
        as_pdf(given, PAPERS[which].make(given), stream)
    with Judge() as judge:
        judge.require_archive(file)
