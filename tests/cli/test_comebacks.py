"""``evidence comebacks`` as a person uses it: what goes in, what it tells, and that names stay in unless they are asked for."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

import pytest
from evidence.bootstrap import make_workspace
from evidence.cli.main import app
from evidence.errors import Asked, EvidenceError, ExtraMissing, MistakesFound
from typer.testing import CliRunner

MAPPING = """format: 1
currency: EUR
columns: {number: Job, closed: Done, vehicle: Plate, operations: Work, technician: By, firm: Firm, comeback_of: Redoes, mechanism: Why, cost: Cost}
"""
ROWS = ["Job,Done,Plate,Work,By,Firm,Redoes,Why,Cost"]
ROWS += [f"{n},2025-0{1 + n % 6}-1{n % 10},AB{n},valve-cover,Kim Fern,{'Harrow Garage' if n % 5 == 0 else ''},," "," for n in range(1, 41)]
ROWS += ["41,2025-08-20,AB1,valve-cover,Lee Moss,,1,ign-coil-ground-left-off,120.00", "42,2025-08-21,AB5,valve-cover,Lee Moss,Harrow Garage,5,,80.00"]
NAMES = ("Kim Fern", "Lee Moss", "Harrow Garage", "Vell Motors", "AB1", "AB5", "XY 7", "XY7")


@pytest.fixture
def run(tmp_path: Path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "160")
    make_workspace(tmp_path / "w", recorder="Ann Rook", firm="Rook Motors")
    (tmp_path / "m.yaml").write_text(MAPPING)
    (tmp_path / "o.csv").write_text("\n".join(ROWS) + "\n")

    def call(*words: str) -> str:
        done = CliRunner().invoke(app, ["-w", str(tmp_path / "w"), "comebacks", *words])
        if done.exception and not isinstance(done.exception, SystemExit):
            raise done.exception
        assert done.exit_code == 0, done.output
        return done.output

    return call


@pytest.fixture
def filled(run):
    assert "import 1: 42 orders, 2 of them comebacks" in run("import", "o.csv", "--mapping", "m.yaml")
    add = ["add", "--back", "2026-05-03", "--firm", "Vell Motors", "--vehicle", "XY 7", "--operation", "timing belt", "--cost", "900.00 EUR", "--recovered", "400.00 EUR", "--ended", "part_paid"]
    assert "register entry 2" in run(*add)
    return run


def test_what_it_tells_of_an_empty_register(run):
    assert "no rate by operation can be told" in run()
    assert "No comeback is known yet" in run("list")
    assert "Nothing was handed in" in run("book")
    assert "there is no card to print" in run("cards")


def test_the_views(filled):
    overview = filled()
    assert re.search(r"valve cover +42 +2 +4\.8 % \(1\.3 to 15\.8\) +small number: under 5 comebacks", overview)
    assert re.search(r"timing belt +not known +1 known +no rate: its orders are not known", overview)
    assert "44 % of the money" in overview
    assert "1 comeback from orders that are not known here" in overview
    assert re.search(r"this shop +33 +1 ", filled("firm"))
    assert re.search(r"technician 1 +40 +2 ", filled("technician"))
    assert "no rate by origin of the part can be told" in filled("origin")
    assert re.search(r"Coil ground eyelet left off .* +1 +120\.00 EUR +91 %|not stated +2 +980\.00 EUR", filled("cost"))
    assert "p chart" in filled("trend")
    assert "come back within" not in filled("lasting", "--operation", "valve-cover")
    with pytest.raises(EvidenceError, match="is no view; did you mean 'cost'"):
        filled("costs")
    with pytest.raises(EvidenceError, match="is not a day"):
        filled("--on", "soon")


@pytest.mark.parametrize("view", ["overview", "list", "technician", "firm", "lasting", "cost", "claims", "--json"])
def test_no_name_is_shown_unless_asked_for(filled, view):
    shown = filled(view)
    assert [n for n in NAMES if n in shown] == []
    if view in ("list", "firm"):
        assert "Vell Motors" in filled(view, "--names")


def test_exports_hold_no_name_unless_asked_for(filled, tmp_path):
    import polars as pl

    filled("export", "x.csv")
    text = (tmp_path / "x.csv").read_text()
    assert [n for n in NAMES if n in text] == []
    plain = pl.read_csv(tmp_path / "x.csv")
    assert "vehicle" not in plain.columns
    assert "order" not in plain.columns
    assert plain["back_day"].to_list() == ["2026-05-03", "2025-08-21", "2025-08-20"]
    filled("export", "x.parquet", "--names")
    named = pl.read_parquet(tmp_path / "x.parquet")
    assert named["firm"].to_list() == ["Vell Motors", "Harrow Garage", "this shop"]
    assert named["vehicle"].to_list() == ["XY7", "AB5", "AB1"]
    assert named["cost"].to_list() == ["900.00", "80.00", "120.00"]
    with pytest.raises(EvidenceError, match=r"\.csv or \.parquet"):
        filled("export", "x.xlsx")


def test_a_cell_that_a_spreadsheet_would_run_is_guarded(run, tmp_path):
    run("add", "--back", "2026-05-03", "--operation", "=1+2")
    run("export", "x.csv")
    assert "'=1+2" in (tmp_path / "x.csv").read_text()


def test_one_firm_has_one_number_everywhere(filled):
    told = json.loads(filled("firm", "--json"))
    rows = {r["operations"]: r["firm"] for r in told["comebacks"]}
    assert rows["timing belt"] == "firm 2"
    assert ["firm 2", "not known", "1 known"] in [r[:3] for t in told["tables"] for r in t["rows"]]


def test_what_is_wrong_with_an_entry_is_told_all_at_once(run):
    with pytest.raises(MistakesFound) as err:
        run("add", "--back", "2026-13-03", "--cost", "900", "--recovered", "-4.00 EUR", "--mechanism", "ign-coil-ground", "--odometer", "12", "--ended", "payed", "--part-origin", "new")
    told = str(err.value)
    for part in ("--back: '2026-13-03' is not a day", "--cost: '900' is not an amount", "--recovered: -4.00 EUR is negative", "did you mean 'ign-coil-ground-left-off'", "--odometer", "did you mean 'paid'", "--part-origin: 'new'"):
        assert part in told
    assert "Nothing was handed in" in run("book")


def test_the_book_withdrawals_and_the_same_file_again(filled):
    with pytest.raises(Asked, match="imported already, as number 1"):
        filled("import", "o.csv", "--mapping", "m.yaml")
    filled("withdraw", "1", "--reason", "wrong year")
    book = filled("book")
    assert "withdrawn by 3" in book
    assert "withdraws 1: wrong year" in book
    assert "0 orders, 1 comeback," in filled()


def test_sound_rows_can_be_taken_alone(run, tmp_path):
    (tmp_path / "b.csv").write_text("\n".join([*ROWS[:3], "x"]) + "\n")
    with pytest.raises(MistakesFound, match=r"b\.csv:4:1: 1 columns where the heading has 9"):
        run("import", "b.csv", "--mapping", "m.yaml")
    told = run("import", "b.csv", "--mapping", "m.yaml", "--leave-out-broken")
    assert "import 1: 2 orders, 0 of them comebacks; 1 rows left out" in told
    assert "left out: b.csv:4:1" in told


def test_the_empty_mapping_can_be_read(run, tmp_path):
    from evidence.capture.order_table import read_mapping

    text = run("mapping")
    assert read_mapping(text.encode(), "m.yaml").columns.number == "Order no."
    whole = re.sub(r"(?m)^# (?=[a-z])", "", re.sub(r"(?m)^#  (?=[a-z])", "  ", text.split("\n", 1)[1]))
    assert read_mapping(whole.encode(), "m.yaml").words.operations == {"valve cover gasket": "valve-cover"}


def test_cards_say_what_would_have_caught_it(filled, tmp_path):
    text = filled("cards")
    assert max(map(len, text.splitlines())) <= 72
    flat = " ".join(text.split())
    assert "Came back to us: once, at a cost of 120.00 EUR" in flat
    assert "[ ] Eyelet seen off its stud" in flat
    assert "[ ] Drop after refit with same meter and lamp" in flat
    assert "Caution:" in flat
    assert "The maker's procedure goes before this card" in flat
    filled("cards", "-o", "c.txt")
    assert (tmp_path / "c.txt").read_text() == text.partition("Coil")[1] + text.partition("Coil")[2]


def test_the_papers_show_every_table_and_no_name(filled, tmp_path):
    import pdfplumber

    told = filled("report", "-o", "r.pdf")
    assert "signed; SHA-256 of the certificate: " in told
    with pdfplumber.open(tmp_path / "r.pdf") as pdf:
        text = "\n".join(p.extract_text() for p in pdf.pages)
    for title in ("What was counted", "Comeback rate by operation", "Time to comeback", "Cost by mechanism", "Trend by month", "Comebacks"):
        assert title in text
    assert "4.8 % (1.3 to 15.8)" in text
    assert "No legal advice" in text
    assert [n for n in NAMES if n in text] == []
    filled("cards", "-o", "c.pdf")
    with pdfplumber.open(tmp_path / "c.pdf") as pdf:
        assert len(pdf.pages) == 2
        text = pdf.pages[1].extract_text()
        assert "☐" in text
        assert "Eyelet seen off its stud" in text


def test_without_scipy_lists_and_exports_work(filled, monkeypatch):
    monkeypatch.setitem(sys.modules, "scipy.stats", None)
    assert "timing belt" in filled("list")
    filled("export", "x.csv")
    with pytest.raises(ExtraMissing):
        filled("operation")


def test_the_report_is_signed_and_says_so_or_why_not(filled, tmp_path):
    """PAdES (ETSI EN 319 142-1), validated by pyHanko; changed by one byte it is not right any more."""
    import io

    from evidence.edges.pdf_signature import check_pdf

    filled("report", "-o", "r.pdf")
    data = (tmp_path / "r.pdf").read_bytes()
    assert (found := check_pdf(io.BytesIO(data))).right
    assert len(found.fingerprint) == 64
    at = data.index(b"stream") + 40
    assert not check_pdf(io.BytesIO(data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :])).right
    assert "inside the file (PAdES)" in _first_page(tmp_path / "r.pdf")
    assert "NOT SIGNED: asked for without" in filled("report", "-o", "u.pdf", "--no-sign")
    assert "none: asked for without" in _first_page(tmp_path / "u.pdf")
    assert not check_pdf(io.BytesIO((tmp_path / "u.pdf").read_bytes())).signed


def _first_page(file: Path) -> str:
    import pdfplumber

    with pdfplumber.open(file) as pdf:
        return " ".join(pdf.pages[0].extract_text().split())


OWN_ORDERS = Path(__file__).resolve().parents[2] / "demo_dossiers" / "own-orders"


def test_the_demonstration_table_is_taken_in_and_says_something(run):
    told = run("import", str(OWN_ORDERS / "orders.csv"), "--mapping", str(OWN_ORDERS / "mapping.yaml"))
    assert told.startswith("import 1: 349 orders, 19 of them comebacks; SHA-256 ")
    overview = run("--on", "2026-06-20")
    assert re.search(r"valve cover +48 +10 +20\.8 % \(11\.7 to 34\.3\) *\n", overview)  # scipy, statsmodels: 0.1173, 0.3426
    assert re.search(r"starter +24 +0 .* small number: under 30 orders", overview)
    assert "these shares lie above the true ones" in overview
    assert re.search(r"Coil ground eyelet left off .* +8 +1 441\.29 EUR +60 %", run("cost", "--on", "2026-06-20"))
    assert "Came back to us: 8 times, at a cost of 1 441.29 EUR" in " ".join(run("cards", "--on", "2026-06-20").split())
    assert "Ansel Brook" not in run("technician", "--on", "2026-06-20")


def test_a_mechanism_that_no_pack_knows_is_refused_with_the_nearest(run, tmp_path):
    (tmp_path / "m.yaml").write_text(MAPPING + "words: {mechanism: {coil ground: ign-coil-ground-left-of}}\n")
    with pytest.raises(MistakesFound, match=r"m\.yaml.* coil ground: 'ign-coil-ground-left-of' is not known; did you mean 'ign-coil-ground-left-off'"):
        run("import", "o.csv", "--mapping", "m.yaml")


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        (b"", r"b\.csv:1:1: is empty"),
        (b"Job,Done\n", r"the column 'Plate' \(vehicle\) is not there"),
        ("Job,Done,Plate,Work,By,Firm,Redoes,Why,Cost\n1,2025-01-01,Ö,,,,,,\n".encode("latin-1"), r"b\.csv:2:1: byte 0xD6 is not utf-8"),
        (b"Job,Done,Plate,Work,By,Firm,Redoes,Why,Cost,Job\n", r"the column 'Job' \(number\) is there twice"),
        (b"Job,Done,Plate,Work,By,Firm,Redoes,Why,Cost\n", r"b\.csv: holds no order that can be read; nothing was recorded"),
    ],
)
def test_a_bad_table_is_told_and_nothing_is_lost(filled, tmp_path, raw, told):
    before = filled("book"), filled()
    (tmp_path / "b.csv").write_bytes(raw)
    with pytest.raises(EvidenceError, match=told):
        filled("import", "b.csv", "--mapping", "m.yaml")
    assert (filled("book"), filled()) == before


def test_a_file_of_a_gigabyte_is_refused_before_it_is_read(filled, tmp_path):
    with (tmp_path / "b.csv").open("wb") as out:
        out.write(b"Job,Done\n")
        out.truncate(2**30)  # one line; takes no room on the disk
    before = filled("book")
    with pytest.raises(EvidenceError, match=r"b\.csv: is larger than the 268,435,456 bytes that are read"):
        filled("import", "b.csv", "--mapping", "m.yaml")
    assert filled("book") == before
