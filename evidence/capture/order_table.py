"""A shop's own table of work orders (CSV) and the mapping file beside it: foreign bytes to rows, every mistake with its line."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from pydantic import ValidationError

from evidence.capture.marked_yaml import decoded, load_marked
from evidence.errors import Mistake, MistakesFound, SourceUnusable
from evidence.model.base import nearest
from evidence.model.mistakes import mistakes_of
from evidence.register.mapping import OrderMapping, TableRow, read_row

LARGEST: Final = 256 * 2**20
MOST_LISTED: Final = 40
_NO_TABLES: Final = {
    b"PK\x03\x04": "a packed file, such as a spreadsheet", b"\xd0\xcf\x11\xe0": "an office file", b"%PDF-": "a PDF",
    b"\x1f\x8b": "a packed file",
}  # fmt: skip
_BOMS: Final = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))


# What 'evidence comebacks mapping' prints.
EMPTY_MAPPING: Final = """\
# Which column of a shop's own table of work orders is what. Take out the '#' of what the table has; headings as they stand there.
format: 1
# encoding: windows-1252      # where the file is not UTF-8
# delimiter: ";"              # or "," "|" tab; left out: found from the heading
# decimal_sign: ","
# day: DD.MM.YYYY             # how days are written; left out: YYYY-MM-DD
# distance: mi                # left out: km
# currency: EUR               # of cost and recovered
# rows: operation             # where a row is one operation of an order; left out: a row is an order
# separator: "+"              # between several operations in one cell
columns:
  number: Order no.
  closed: Date out
#  vehicle: Plate
#  operations: Work
#  technician: Technician
#  firm: Firm                 # left empty in a row: this shop
#  part_origin: Part
#  odometer: Odometer out
#  comeback_of: Comeback of   # number of the earlier order that this one puts right
#  mechanism: Reason
#  cost: Cost
#  recovered: Recovered
#  ended: Ended
# words:                      # the table's own words -> those of the program
#  operations: {valve cover gasket: valve-cover}
#  part_origin: {OE: maker_new, aftermarket: other_new}   # also used, rebuilt, supplied_by_owner, refitted
#  ended: {settled: paid}
#  mechanism: {coil ground loose: ign-coil-ground-left-off}   # the ids that 'evidence rules' lists
"""


@dataclass(frozen=True, slots=True)
class OrderTable:
    """What was read: rows that are sound, and what is wrong with the others (``Mistake.line`` is the line in the file)."""

    rows: tuple[TableRow, ...]
    mistakes: tuple[Mistake, ...]


def read_bytes(file: Path, largest: int = LARGEST) -> bytes:
    """The bytes of a file handed in. Raises :class:`SourceUnusable`."""
    try:
        if not file.is_file():
            raise SourceUnusable("is not a file that can be read", item=str(file))
        if file.stat().st_size > largest:
            raise SourceUnusable(
                f"is larger than the {largest:,} bytes that are read", item=str(file), advice="Split it."
            )
        return file.read_bytes()
    except OSError as err:
        raise SourceUnusable(f"cannot be read: {err.strerror}", item=str(file)) from err


def read_mapping(raw: bytes, file: str) -> OrderMapping:
    """The mapping file. Raises :class:`MistakesFound` with line and column of everything wrong."""
    marked = load_marked(decoded(raw, file), file)
    try:
        return OrderMapping.model_validate(marked.data)
    except ValidationError as err:
        raise MistakesFound(mistakes_of(err, OrderMapping, file=file, item="mapping", locate=marked.locate)) from err


def read_orders(raw: bytes, file: str, mapping: OrderMapping, source: str) -> OrderTable:
    """The rows of a table. Raises :class:`MistakesFound` where it cannot be read as a table at all.

    ``source`` is what a row is known by afterwards: ``import 2``.
    """
    _require_text(raw, file)
    text = _text(raw, file, mapping)
    if not text.strip():
        raise MistakesFound([Mistake(file, 1, 1, "", "is empty: there is not even a heading")])
    delimiter = _delimiter(text, mapping)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    lines = _lines(reader, file)
    header = next(lines, (1, []))
    places = _places(header[1], header[0], file, mapping, delimiter)
    rows: list[TableRow] = []
    mistakes: list[Mistake] = []
    for line, cells in lines:
        if len(cells) != len(header[1]):
            if any(c.strip() for c in cells):
                what = f"{len(cells)} columns where the heading has {len(header[1])}"
                mistakes.append(
                    Mistake(file, line, 1, "", what, f"quote a cell that holds {delimiter!r} or a line end")
                )
            continue
        if not any(c.strip() for c in cells):
            continue
        try:
            rows.append(read_row(mapping, line, {name: cells[at] for name, at in places.items()}, source))
        except ValueError as err:
            mistakes.append(Mistake(file, line, 1, "", str(err)))
    kept, doubled = _orders(rows, file, mapping)
    return OrderTable(tuple(kept), tuple(sorted([*mistakes, *doubled], key=lambda m: m.line)))


def listed(mistakes: Sequence[Mistake]) -> list[Mistake]:
    """The first mistakes, and how many follow."""
    if len(mistakes) <= MOST_LISTED:
        return list(mistakes)
    more = Mistake(
        mistakes[0].file, 0, 0, "", f"and {len(mistakes) - MOST_LISTED} more, the last in line {mistakes[-1].line}"
    )
    return [*mistakes[:MOST_LISTED], more]


def _require_text(raw: bytes, file: str) -> None:
    packed = next((what for magic, what in _NO_TABLES.items() if raw.startswith(magic)), "")
    if packed:
        right = "open it where it was made and save it as CSV"
        raise MistakesFound([Mistake(file, 1, 1, "", f"is {packed}, not a table written as text", right)])


def _text(raw: bytes, file: str, mapping: OrderMapping) -> str:
    encoding = next((name for bom, name in _BOMS if raw.startswith(bom)), mapping.encoding or "utf-8")
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError as err:
        before = raw[: err.start].decode(encoding, "replace")
        line = before.count("\n") + 1
        right = "save it as UTF-8, or say in the mapping how it is written, such as 'encoding: windows-1252'"
        raise MistakesFound(
            [Mistake(file, line, 1, "", f"byte 0x{raw[err.start]:02X} is not {encoding}", right)]
        ) from None
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        right = "say in the mapping how the file is written, such as 'encoding: utf-16', or save it as UTF-8"
        raise MistakesFound([Mistake(file, line, 1, "", "holds a character U+0000, which no table does", right)])
    return text


def _delimiter(text: str, mapping: OrderMapping) -> str:
    if mapping.delimiter:
        return "\t" if mapping.delimiter == "tab" else mapping.delimiter
    heading = text.split("\n", 1)[0]
    return max(",;\t|", key=heading.count)


def _lines(reader: Iterator[list[str]], file: str) -> Iterator[tuple[int, list[str]]]:
    """Each row with the line it starts in."""
    start = 1
    while True:
        try:
            cells = next(reader, None)
        except csv.Error as err:
            what, right = f"the row that starts here is broken: {err}", "close its quotation marks"
            if "field limit" in str(err):
                what = f"a cell of the row that starts here is longer than {csv.field_size_limit():,} characters"
                right = "close its quotation marks, or shorten it"
            raise MistakesFound([Mistake(file, start, 1, "", what, right)]) from None
        if cells is None:
            return
        yield start, cells
        start = reader.line_num + 1  # type: ignore[attr-defined]


def _places(header: list[str], line: int, file: str, mapping: OrderMapping, delimiter: str) -> Mapping[str, int]:
    """What is wanted -> its column. All columns that are missing or there twice are told."""
    names = [" ".join(h.split()) for h in header]
    mistakes = []
    for name, heading in mapping.wanted.items():
        if names.count(heading) != 1:
            there = "is there twice" if heading in names else f"is not there{nearest(heading, names)}"
            what = f"the column {heading!r} ({name}) {there}"
            shown = ", ".join(repr(n) for n in names[:20])
            mistakes.append(Mistake(file, line, 1, "", what, f"the heading, split at {delimiter!r}, has {shown}"[:600]))
    if mistakes:
        raise MistakesFound(mistakes)
    return {name: names.index(heading) for name, heading in mapping.wanted.items()}


def _orders(rows: Sequence[TableRow], file: str, mapping: OrderMapping) -> tuple[list[TableRow], list[Mistake]]:
    """Rows put together to orders where a row is one operation; an order that is there twice otherwise is a mistake."""
    found: dict[tuple[str, str], TableRow] = {}
    mistakes = []
    for row in rows:
        key = (row.order.firm, row.order.number)
        first = found.setdefault(key, row)
        if first is row:
            continue
        if mapping.rows == "order":
            what = f"order {row.order.number} stands in line {first.line} already"
            mistakes.append(
                Mistake(file, row.line, 1, "", what, "where a row is one operation, write 'rows: operation'")
            )
        elif _rest(row) != _rest(first):
            what = f"order {row.order.number} is told otherwise than in line {first.line}"
            mistakes.append(
                Mistake(file, row.line, 1, "", what, "rows of one order differ in operation and part alone")
            )
        else:
            order = first.order._replace(
                operations=tuple(dict.fromkeys(first.order.operations + row.order.operations)),
                origins=tuple(dict.fromkeys(first.order.origins + row.order.origins)),
            )
            found[key] = first._replace(order=order)
    for row in found.values():
        before = found.get((row.comeback.firm, row.comeback.number)) if row.comeback else None
        if before is not None and row.order.day < before.order.day:
            what = f"is a comeback of order {before.order.number}, which was closed later (line {before.line})"
            mistakes.append(Mistake(file, row.line, 1, "", what, "check both days"))
    return list(found.values()), mistakes


def _rest(row: TableRow) -> object:
    return row.order._replace(operations=(), origins=()), row.comeback and row.comeback._replace(source="")
