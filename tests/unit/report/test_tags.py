"""The report read by structure: with pikepdf, and by poppler's pdfinfo, as a screen reader would find it.

Outside checks: ISO 32000-1 14.6 to 14.8 (marked content, logical structure, tagged PDF), PDF/UA-1 (ISO 14289-1) 7.1 on
what must be marked, 7.3 on figures, 7.4 on headings, 7.5 on tables.
"""

import re
import shutil
import subprocess

import pikepdf
import pytest
from evidence.report.blocks import Timeline
from evidence.report.outline import outline
from evidence.report.pdf import build_report
from PIL import Image

from rich_dossier import candidate, given, rich_book, small_book

PAINTS = {"Tj", "TJ", "'", '"', "Do", "S", "s", "f", "F", "f*", "B", "B*", "b", "b*", "sh", "BI", "INLINE IMAGE"}
HOLDS = {
    "Document": {"Sect", "P", "H1", "H2", "Table", "TOC"}, "Table": {"TR"}, "TR": {"TH", "TD"}, "L": {"LI"},
    "LI": {"Lbl", "LBody"}, "TOC": {"TOCI"}, "Sect": {"Sect", "H2", "H3", "P", "L", "Table", "Figure"},
}  # fmt: skip


@pytest.fixture(scope="module")
def tagged(tmp_path_factory):
    folder = tmp_path_factory.mktemp("tagged")
    picture = folder / "p.jpg"
    Image.new("RGB", (400, 300), (9, 80, 120)).save(picture, "JPEG")
    report = given(rich_book(), candidate(), preview=lambda _: picture)
    build_report(report, folder / "r.pdf")
    with pikepdf.open(folder / "r.pdf") as pdf:
        yield report, pdf, folder / "r.pdf"


@pytest.fixture(scope="module")
def read_by_poppler(tagged):
    """The text in the order of its structure, which takes poppler seconds."""
    if not shutil.which("pdfinfo"):
        pytest.skip("poppler-utils is not installed")
    return subprocess.run(["pdfinfo", "-struct-text", tagged[2]], capture_output=True, text=True, check=True).stdout


def elements(pdf):
    """(element, tag, depth) in reading order."""

    def walk(element, depth):
        yield element, str(element.S)[1:], depth
        for kid in kids(element):
            if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
                yield from walk(kid, depth + 1)

    return list(walk(pdf.Root.StructTreeRoot.K, 0))


def kids(element):
    found = element.get("/K", [])
    return list(found) if isinstance(found, pikepdf.Array) else [found]


def marks(pdf):
    """(page, mark) -> element, as the elements say."""
    found = {}
    for element, _tag, _depth in elements(pdf):
        for kid in kids(element):
            if isinstance(kid, int):
                key = (element.Pg.objgen, kid)
            elif kid.get("/Type") == "/MCR":
                key = (kid.Pg.objgen, int(kid.MCID))
            else:
                continue
            assert key not in found
            found[key] = element.objgen
    return found


def test_the_file_says_that_it_is_tagged_in_which_language_and_shows_its_title(tagged):
    _, pdf, _ = tagged
    assert pdf.Root.MarkInfo.Marked is True
    assert str(pdf.Root.Lang) == "en-GB"
    assert pdf.Root.ViewerPreferences.DisplayDocTitle is True
    assert {str(page.Tabs) for page in pdf.pages} == {"/S"}


def outside_of_marks(page):
    """Operators that paint while nothing is marked; and whether all marks are closed."""
    depth, found = 0, []
    for operands, operator in pikepdf.parse_content_stream(page):
        name = str(operator)
        if name in ("BDC", "BMC"):
            depth += 1
            assert depth == 1, "one mark within another"
        elif name == "EMC":
            depth -= 1
        elif name in PAINTS and not depth:
            found.append((name, operands))
    return found, depth


def test_whatever_is_drawn_is_part_of_the_structure_or_decoration(tagged):
    _, pdf, _ = tagged
    assert [outside_of_marks(page) for page in pdf.pages] == [([], 0)] * len(pdf.pages)


def test_the_check_above_sees_a_line_without_a_mark(tagged):
    _, _pdf, path = tagged
    with pikepdf.open(path) as copy:
        copy.pages[0].contents_add(b"0 0 m 9 9 l S")
        assert len(outside_of_marks(copy.pages[0])[0]) == 1


def test_pages_and_structure_agree_on_every_mark(tagged):
    _, pdf, _ = tagged
    said = marks(pdf)
    tree = pikepdf.NumberTree(pdf.Root.StructTreeRoot.ParentTree)
    on_pages = set()
    for page in pdf.pages:
        for operands, operator in pikepdf.parse_content_stream(page):
            if str(operator) == "BDC" and "/MCID" in operands[1]:
                number = int(operands[1].MCID)
                on_pages.add((page.objgen, number))
                owner = tree[int(page.StructParents)][number]
                assert owner.objgen == said[page.objgen, number]
                assert str(owner.S) == str(operands[0])
    assert on_pages == set(said)
    assert len(on_pages) > 900


def test_links_stand_in_the_structure_and_are_named(tagged):
    _, pdf, _ = tagged
    tree = pikepdf.NumberTree(pdf.Root.StructTreeRoot.ParentTree)
    count = 0
    for page in pdf.pages:
        for annotation in page.get("/Annots", []):
            (kid,) = kids(tree[int(annotation.StructParent)])
            assert kid.Obj.objgen == annotation.objgen
            assert len(str(annotation.Contents)) > 3
            count += 1
    assert count > 60


def test_every_element_holds_what_it_may_hold(tagged):
    _, pdf, _ = tagged
    for element, tag, _ in elements(pdf):
        inside = {str(k.S)[1:] for k in kids(element) if isinstance(k, pikepdf.Dictionary) and "/S" in k}
        assert inside <= HOLDS.get(tag, {"Link"}), tag
        assert str(element.Type) == "/StructElem"
        for kid in kids(element):
            assert isinstance(kid, int) or "/P" not in kid or kid.P.objgen == element.objgen


def test_headings_begin_with_the_title_and_name_every_section(tagged, read_by_poppler):
    report, _pdf, _path = tagged
    found = re.findall(r"^ *(H[123]) \(block\)\n *\"(.*)\"", read_by_poppler, re.MULTILINE)
    assert [t for h, t in found if h == "H1"] == [report.dossier.title]
    sections = [s.title for s in outline(report).sections if s.blocks]
    assert [t for h, t in found if h == "H2"] == ["Contents", *sections]
    assert sum(h == "H3" for h, _ in found) > 30


def test_every_figure_is_told_in_words(tagged):
    report, pdf, _ = tagged
    said = [str(e.Alt) for e, tag, _ in elements(pdf) if tag == "Figure"]
    photos = [s for s in said if s.startswith("Photo, ")]
    assert "Photo, Exhibit 3: Ground eyelet clamped on fresh paint, with scale; shows coil ground eyelet; close view; as found, undisturbed" in photos
    timeline = next(s for s in said if s.startswith("Timeline "))
    blocks = [b for s in outline(report).sections for b in s.blocks if isinstance(b, Timeline)]
    assert all(h.key in timeline for b in blocks for h in b.happenings)
    plot = next(s for s in said if s.startswith("Plot of 2 curves over time, 0 to 200 ms: "))
    assert re.search(r"between −\d+\.?\d* and \d+\.?\d* V; .* A\.$", plot), plot
    assert len(said) == len(photos) + 2 + sum("document" in s for s in said)
    assert all(len(e.A.BBox) == 4 for e, tag, _ in elements(pdf) if tag == "Figure")


def cells(table):
    return [[str(cell.S)[1:] for cell in kids(row)] for row in kids(table)]


def test_every_table_has_headers_and_rows_of_equal_length(tagged):
    _, pdf, _ = tagged
    tables = [cells(e) for e, tag, _ in elements(pdf) if tag == "Table"]
    assert len(tables) > 30
    for rows in tables:
        assert len({len(row) for row in rows}) == 1
        assert all(set(rows[0]) == {"TH"} or row[0] == "TH" for row in rows)
    scopes = {str(e.A.Scope) for e, tag, _ in elements(pdf) if tag == "TH"}
    assert scopes == {"/Row", "/Column"}


def test_a_header_that_is_repeated_is_read_once_and_a_paragraph_that_is_broken_is_one(tmp_path):
    book = small_book()
    for number in range(90):
        book.record("measurement", quantity="voltage", value=f"{number}.5", unit="V", of="terminal 30")
    book.record("opinion", by="party-1", time="2026-01-01", text=" ".join(f"sentence{n}" for n in range(1500)), basis=["party-1"], qualification="q", interest="none")
    build_report(given(book), tmp_path / "r.pdf")
    with pikepdf.open(tmp_path / "r.pdf") as pdf:
        long = next(e for e, tag, _ in elements(pdf) if tag == "Table" and len(kids(e)) == 91)
        assert [set(row) for row in cells(long)] == [{"TH"}] + [{"TD"}] * 90
        assert [len(kids(c)) for c in kids(kids(long)[0])] == [1] * len(kids(kids(long)[0]))
        broken = [e for e, tag, _ in elements(pdf) if tag == "P" and len(kids(e)) > 1 and not any("/S" in k for k in kids(e) if not isinstance(k, int))]
        assert broken
        pages = {k.Pg.objgen if not isinstance(k, int) else e.Pg.objgen for e in broken[:1] for k in kids(e)}
        assert len(pages) > 1


def test_poppler_reads_it_in_order_and_no_two_words_run_together(tagged, read_by_poppler):
    text = read_by_poppler
    order = ["Demonstration data", "Delivery van", "Contents", "What happened", "Timeline of cause", "Ground eyelet clamped", "Manifest of hashes", "Signature"]
    cover, _, rest = text.rpartition("TOCI")
    places = [cover.index(part) for part in order[:3]] + [len(cover) + rest.index(part) for part in order[3:]]
    assert places == sorted(places)
    assert "does not start after a head-gasket job" in text
    assert "Page 2 of" not in text
    shown = set(re.findall(r"[a-z]{3,}", " ".join(t for s in outline(tagged[0]).sections for b in s.blocks for t in _texts(b)).lower()))
    read = re.findall(r"^ *\"(.*)\"$", text, re.MULTILINE)
    figures = [line for line in read if "led to, as recorded" in line or "time in ms" in line]
    strange = {w for line in read if line not in figures for w in re.findall(r"[a-z]{12,}", line.lower())} - shown
    assert {w for w in strange if any(w.startswith(a) and w.removeprefix(a) in shown for a in shown)} == set()


def _texts(value):
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for item in value:
            yield from _texts(item)
    elif hasattr(value, "__dataclass_fields__"):
        for name in value.__dataclass_fields__:
            yield from _texts(getattr(value, name))
