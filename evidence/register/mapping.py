"""How a shop's own table of work orders is read: a mapping file says which column is what. Pure; ``capture`` reads the bytes."""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal
from functools import cached_property
from typing import Annotated, Final, Literal, NamedTuple, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from evidence.model.base import Line
from evidence.model.quantity import CURRENCIES
from evidence.model.repair import Origin
from evidence.register.lines import Comeback, Ended, Order

Encoding = Literal[
    "utf-8", "utf-16", "windows-1250", "windows-1251", "windows-1252", "iso-8859-1", "iso-8859-2", "iso-8859-15", "cp437",
    "cp850", "mac-roman",
]  # fmt: skip
_EARLIEST, _MOST_KM = dt.date(1950, 1, 1), 5_000_000
_PARTS: Final = {"YYYY": r"(?P<y>[0-9]{4})", "MM": r"(?P<m>[0-9]{1,2})", "DD": r"(?P<d>[0-9]{1,2})"}


def _day_pattern(value: str) -> str:
    if sorted(re.findall("YYYY|MM|DD", value)) != ["DD", "MM", "YYYY"] or re.search(
        "[A-Za-z0-9]", re.sub("YYYY|MM|DD", "", value)
    ):
        raise ValueError(f"{value!r} is not a way to write days; write it such as YYYY-MM-DD, DD.MM.YYYY or MM/DD/YYYY")
    return value


def _currency(value: str) -> str:
    if value not in CURRENCIES:
        raise ValueError(f"{value!r} is not a currency; write its three capital letters (ISO 4217), such as USD")
    return value


class _Closed(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)


class Columns(_Closed):
    """The heading of the column that holds each thing; what the table does not have is left out."""

    number: Line
    closed: Line
    vehicle: Line | None = None
    operations: Line | None = None
    technician: Line | None = None
    firm: Line | None = None
    part_origin: Line | None = None
    odometer: Line | None = None
    comeback_of: Line | None = None  # number of the earlier order that this one puts right
    mechanism: Line | None = None
    cost: Line | None = None  # of putting it right
    recovered: Line | None = None
    ended: Line | None = None


class Words(_Closed):
    """The table's own words and what they stand for here; an operation that is not listed is kept as it is written."""

    operations: dict[Line, Line] = {}
    part_origin: dict[Line, Origin] = {}
    ended: dict[Line, Ended] = {}
    mechanism: dict[Line, Line] = {}


class OrderMapping(_Closed):
    """A mapping file. Everything but ``format`` and ``columns`` has a reading that is told where it does not fit."""

    format: Literal["1"]
    columns: Columns
    words: Words = Words()
    encoding: Encoding | None = None
    delimiter: Literal[",", ";", "|", "tab"] | None = None
    decimal_sign: Literal[".", ","] = "."
    day: Annotated[Line, AfterValidator(_day_pattern)] = "YYYY-MM-DD"
    distance: Literal["km", "mi"] = "km"
    currency: Annotated[str, AfterValidator(_currency)] | None = None
    rows: Literal["order", "operation"] = "order"  # whether a row is a whole order, or one operation of it
    separator: Annotated[str, Field(min_length=1, max_length=3)] | None = None  # between several operations in one cell

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if (self.columns.cost or self.columns.recovered) and not self.currency:
            raise ValueError("names a column of money and no currency; add a line such as 'currency: USD'")
        if not self.columns.comeback_of and (self.columns.cost or self.columns.mechanism or self.columns.ended):
            raise ValueError("cost, mechanism and ended are of comebacks; name the column comeback_of as well")
        return self

    @cached_property
    def wanted(self) -> dict[str, str]:
        """What is read -> the heading it stands under."""
        return {k: v for k, v in self.columns.model_dump().items() if v}

    @cached_property
    def day_form(self) -> re.Pattern[str]:
        """How a day is written."""
        form = re.escape(self.day)
        for part, pattern in _PARTS.items():
            form = form.replace(part, pattern)
        return re.compile(form)


class TableRow(NamedTuple):
    """A row as read: the order, and the earlier order that it puts right, if any."""

    line: int
    order: Order
    comeback: Comeback | None


def read_row(mapping: OrderMapping, line: int, cells: dict[str, str], source: str) -> TableRow:
    """One row; ``cells`` are what the mapping wants. Raises ``ValueError`` naming the heading and what is wrong with it."""
    get = cells.get
    number = _must(mapping, "number", get("number", ""))
    day = _day(mapping, _must(mapping, "closed", get("closed", "")))
    km = _km(mapping, get("odometer", ""))
    firm, vehicle = _text(mapping, "firm", cells), plate(_text(mapping, "vehicle", cells))
    operations = _operations(mapping, _text(mapping, "operations", cells))
    origins = _worded(mapping, "part_origin", get("part_origin", ""))
    order = Order(
        number, day, vehicle, firm, _text(mapping, "technician", cells), operations, (origins,) if origins else (), km
    )
    redone = _text(mapping, "comeback_of", cells)
    if not redone:
        return TableRow(line, order, None)
    if redone == number:
        raise ValueError(f"{mapping.columns.comeback_of!r} names the order itself ({number})")
    cost, recovered = _money(mapping, "cost", get("cost", "")), _money(mapping, "recovered", get("recovered", ""))
    comeback = Comeback(
        f"{source}, line {line}", firm=firm, number=redone, vehicle=vehicle, back=day, back_km=km,
        mechanism=_mechanism(mapping, cells), cost=cost, recovered=recovered,
        currency=(mapping.currency or "") if cost is not None or recovered is not None else "",
        ended=_worded(mapping, "ended", get("ended", "")),  # type: ignore[arg-type]
    )  # fmt: skip
    return TableRow(line, order, comeback)


def plate(text: str) -> str:
    """A plate or VIN as it is compared: without spaces, dots and dashes, in capitals."""
    return re.sub(r"[\s.\-]", "", text).upper()


def _heading(mapping: OrderMapping, name: str) -> str:
    return repr(mapping.wanted[name])


def _text(mapping: OrderMapping, name: str, cells: dict[str, str]) -> str:
    text = " ".join(cells.get(name, "").split())
    if len(text) > 200:
        raise ValueError(f"{_heading(mapping, name)} holds {len(text)} characters; 200 are the most")
    if not text.isprintable():
        raise ValueError(f"{_heading(mapping, name)} holds a character that cannot be printed")
    return text


def _must(mapping: OrderMapping, name: str, text: str) -> str:
    found = _text(mapping, name, {name: text})
    if not found:
        raise ValueError(f"{_heading(mapping, name)} is empty")
    return found


def _day(mapping: OrderMapping, text: str) -> int:
    match = mapping.day_form.fullmatch(text)
    try:
        found = dt.date(*(int(match[p]) for p in "ymd")) if match else None
    except ValueError:
        found = None
    if found is None or found < _EARLIEST:
        raise ValueError(f"{_heading(mapping, 'closed')}: {text!r} is not a day written as {mapping.day}")
    return found.toordinal()


def number_in(mapping: OrderMapping, name: str, text: str) -> Decimal | None:
    """A number as the table writes it, signs that group thousands taken out; ``None`` for an empty cell."""
    text = text.strip()
    if not text:
        return None
    group = "." if mapping.decimal_sign == "," else ","
    plain = re.sub(rf"(?<=[0-9])[{group}'\u00a0\u202f ](?=[0-9]{{3}}(?![0-9]))", "", text)
    plain = plain.replace(group, "?").replace(mapping.decimal_sign, ".")
    if not re.fullmatch(r"-?[0-9]{1,12}(\.[0-9]{1,6})?", plain, re.ASCII):
        raise ValueError(
            f"{_heading(mapping, name)}: {text[:40]!r} is not a number with the decimal sign {mapping.decimal_sign!r}"
        )
    found = Decimal(plain)
    if found < 0:
        raise ValueError(f"{_heading(mapping, name)}: {text[:40]} is negative")
    return found


def _km(mapping: OrderMapping, text: str) -> int | None:
    read = number_in(mapping, "odometer", text)
    if read is None:
        return None
    km = read if mapping.distance == "km" else read * Decimal("1.609344")
    if km > _MOST_KM:
        raise ValueError(
            f"{_heading(mapping, 'odometer')}: {text[:40]} {mapping.distance} is farther than any vehicle has run"
        )
    return int(km)


def _money(mapping: OrderMapping, name: str, text: str) -> Decimal | None:
    return number_in(mapping, name, text)


def _operations(mapping: OrderMapping, text: str) -> tuple[str, ...]:
    parts = text.split(mapping.separator) if mapping.separator else [text]
    words = (part.strip() for part in parts)
    return tuple(dict.fromkeys(mapping.words.operations.get(w, w) for w in words if w))


def _mechanism(mapping: OrderMapping, cells: dict[str, str]) -> str:
    text = _text(mapping, "mechanism", cells)
    return mapping.words.mechanism.get(text, text)


def _worded(mapping: OrderMapping, name: str, text: str) -> str:
    """A word of a closed list, as it stands there or as the mapping translates it."""
    from typing import get_args

    text = text.strip()
    known = get_args(Origin) if name == "part_origin" else get_args(Ended)
    word = getattr(mapping.words, name).get(text, text)
    if word and word not in known:
        listed = ", ".join(filter(None, known))
        raise ValueError(
            f"{_heading(mapping, name)}: {text[:60]!r} is not known; say under 'words: {name}:' which it stands for of {listed}"
        )
    return str(word)
