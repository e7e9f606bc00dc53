"""A shop's own table of work orders: what is read, and what is told of every way in which it can be wrong."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from evidence.capture.order_table import MOST_LISTED, listed, read_bytes, read_mapping, read_orders
from evidence.errors import MistakesFound, SourceUnusable

FULL = b"""format: 1
currency: EUR
decimal_sign: ","
day: DD.MM.YYYY
distance: mi
separator: "+"
columns:
  number: Job
  closed: Done
  vehicle: Plate
  operations: Work
  technician: By
  part_origin: Part
  odometer: Miles
  comeback_of: Redoes
  mechanism: Why
  cost: Cost
  recovered: Got
  ended: End
words:
  operations: {Deckel: valve-cover-reseal}
  part_origin: {alt: used}
  ended: {bezahlt: paid}
"""
HEAD = "Job;Done;Plate;Work;By;Part;Miles;Redoes;Why;Cost;Got;End\n"
SMALL = b"format: 1\ncolumns: {number: Job, closed: Done, operations: Work}\n"


def orders(text: str | bytes, mapping: bytes = FULL):
    raw = text if isinstance(text, bytes) else text.encode()
    return read_orders(raw, "orders.csv", read_mapping(mapping, "m.yaml"), "import 1")


def refused(text: str | bytes, mapping: bytes = FULL) -> str:
    with pytest.raises(MistakesFound) as err:
        orders(text, mapping)
    return str(err.value)


def test_a_row_is_read_by_the_words_of_the_mapping():
    row = "7;03.02.2026;ab-1 2;Deckel + Öl;Kim;alt;1.000;4;leak;1.234,50;10;bezahlt\n"
    (found,) = orders(HEAD + row).rows
    assert found.order.operations == ("valve-cover-reseal", "Öl")
    assert (found.order.vehicle, found.order.origins, found.order.km) == ("AB12", ("used",), 1609)
    assert found.order.day == dt.date(2026, 2, 3).toordinal()
    back = found.comeback
    assert (back.number, back.cost, back.currency, back.recovered, back.ended) == ("4", Decimal("1234.50"), "EUR", 10, "paid")
    assert back.source == "import 1, line 2"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_what_says_its_own_encoding_needs_no_word_of_it(encoding):
    assert orders("Job,Done,Work\n1,2026-01-02,Öl\n".encode(encoding), SMALL).rows[0].order.operations == ("Öl",)


def test_another_encoding_is_told_and_can_be_named():
    raw = "Job,Done,Work\n1,2026-01-02,Öl\n".encode("windows-1252")
    assert "orders.csv:2:1: byte 0xD6 is not utf-8" in refused(raw, SMALL)
    assert orders(raw, SMALL + b"encoding: windows-1252\n").rows[0].order.operations == ("Öl",)
    wide = "Job,Done,Work\n1,2026-01-02,Oil\n".encode("utf-16-le")
    assert "U+0000" in refused(wide, SMALL)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("Jop,Done,Work\n", r"the column 'Job' (number) is not there; did you mean 'Jop'? (the heading, split at ',', has 'Jop', 'Done', 'Work')"),
        ("Job,Done,Job,Work\n", "the column 'Job' (number) is there twice"),
        ("", "orders.csv:1:1: is empty: there is not even a heading"),
        ("\ufeff \n\n", "orders.csv:1:1: is empty"),
        ("PK\x03\x04\0\0", "orders.csv:1:1: is a packed file, such as a spreadsheet, not a table written as text"),
        ("%PDF-1.7", "is a PDF, not a table"),
        ("Job,Done,Work\n1,2026-01-02,x\n2,2026-01-02," + "y" * 131_073, "orders.csv:3:1: a cell of the row that starts here is longer than 131,072 characters"),
        ('Job,Done,Work\n1,2026-01-02,x\n2,2026-01-02,"y\n', "orders.csv:3:1: the row that starts here is broken: unexpected end of data"),
    ],
)
def test_a_table_that_cannot_be_read_is_refused(text, told):
    assert told in refused(text, SMALL)


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("7;2026-02-03;;;;;;;;;;", "'Done': '2026-02-03' is not a day written as DD.MM.YYYY"),
        ("7;31.02.2026;;;;;;;;;;", "'Done': '31.02.2026' is not a day"),
        (";03.02.2026;;;;;;;;;;", "'Job' is empty"),
        ("7;03.02.2026;;;;;-5;;;;;", "'Miles': -5 is negative"),
        ("7;03.02.2026;;;;;9.999.999;;;;;", "farther than any vehicle has run"),
        ("7;03.02.2026;;;;;12 V;;;;;", "'Miles': '12 V' is not a number with the decimal sign ','"),
        ("7;03.02.2026;;;;new;;;;;;", "'Part': 'new' is not known; say under 'words: part_origin:'"),
        ("7;03.02.2026;;;;;;7;;;;", "'Redoes' names the order itself (7)"),
        ("7;03.02.2026;;;;;;4;;12.5;;", "'Cost': '12.5' is not a number"),
        ("7;03.02.2026", "2 columns where the heading has 12"),
        ("7;03.02.2026;;\x07;;;;;;;;", "'Work' holds a character that cannot be printed"),
        ("7;03.02.2026;" + "x" * 201 + ";;;;;;;;;", "'Plate' holds 201 characters; 200 are the most"),
    ],
)
def test_a_broken_row_is_told_with_its_line_and_the_others_are_kept(row, told):
    sound = "1;03.02.2026;;;;;;;;;;\n"
    found = orders(HEAD + sound + row + "\n" + sound.replace("1;", "2;", 1))
    assert [r.order.number for r in found.rows] == ["1", "2"]
    (mistake,) = found.mistakes
    assert mistake.line == 3
    assert told in mistake.message


def test_lines_are_those_of_the_file_where_a_cell_holds_line_ends():
    found = orders('Job,Done,Work\n1,2026-01-02,"a\nb"\n2,02.01.2026,x\n', SMALL)
    assert [m.line for m in found.mistakes] == [4]
    assert found.rows[0].order.operations == ("a b",)


def test_an_order_that_is_there_twice_is_a_mistake_unless_rows_are_operations():
    text = "Job,Done,Work\n1,2026-01-02,a\n1,2026-01-02,b\n1,2026-01-03,c\n"
    assert [m.line for m in orders(text, SMALL).mistakes] == [3, 4]
    found = orders(text, SMALL + b"rows: operation\n")
    assert found.rows[0].order.operations == ("a", "b")
    assert [m.line for m in found.mistakes] == [4]


def test_a_comeback_before_its_order_is_a_mistake():
    found = orders(HEAD + "4;05.02.2026;;;;;;;;;;\n7;03.02.2026;;;;;;4;;;;\n")
    assert [(m.line, m.message) for m in found.mistakes] == [(3, "is a comeback of order 4, which was closed later (line 2)")]


@pytest.mark.parametrize(
    ("mapping", "told"),
    [
        (b"format: 1\ncolumns: {number: A}\n", "columns.closed: 'closed' is missing"),
        (b"format: 1\ncolums: {}\n", "did you mean 'columns'?"),
        (b"format: 1\ncolumns: {number: A, closed: B, comeback_of: D, cost: C}\n", "names a column of money and no currency"),
        (b"format: 1\ncurrency: EUR\ncolumns: {number: A, closed: B, cost: C}\n", "name the column comeback_of as well"),
        (b"format: 1\nday: d.m.y\ncolumns: {number: A, closed: B}\n", "m.yaml:2:6: mapping, day: 'd.m.y' is not a way to write days"),
        (b"format: 2\ncolumns: {number: A, closed: B}\n", "format"),
        (b"\xff", "is not UTF-8"),
    ],
)
def test_a_mapping_that_does_not_fit_is_told_with_its_place(mapping, told):
    with pytest.raises(MistakesFound) as err:
        read_mapping(mapping, "m.yaml")
    assert told in str(err.value)


def test_many_mistakes_are_listed_in_part_and_counted():
    found = orders(HEAD + "7;x;;;;;;;;;;\n" * 90)
    shown = listed(found.mistakes)
    assert len(found.mistakes) == 90
    assert len(shown) == MOST_LISTED + 1
    assert str(shown[-1]).endswith("and 50 more, the last in line 91")


def test_a_folder_is_no_table(tmp_path):
    with pytest.raises(SourceUnusable, match="is not a file"):
        read_bytes(tmp_path)
    (tmp_path / "x").write_bytes(b"123")
    with pytest.raises(SourceUnusable, match="larger than the 2 bytes"):
        read_bytes(tmp_path / "x", 2)
