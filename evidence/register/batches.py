"""The book of the register: what was handed in, in the order it came, and nothing ever taken out.

A batch is a table that was imported, one comeback entered by hand, or the withdrawal of an earlier batch. Its bytes are kept as
they came, with their SHA-256; orders and comebacks are read from them again at any time. The register is a shop's own
statistic: it proves nothing to anybody and goes into no bundle, so it needs neither ledger nor signed head. What proves
something stands in a dossier, and is counted from there.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Literal, NamedTuple, Protocol

from evidence.errors import NotFound
from evidence.register.lines import Comeback, Order
from evidence.register.mapping import TableRow

Sort = Literal["table", "entry", "withdrawal"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """One thing handed in; ``number`` is 0 until the book gives it one. ``withdrawn`` is the number of what withdrew it."""

    number: int = 0
    sort: Sort
    made_at: str  # UTC
    made_by: str
    file: str = ""
    sha256: str = ""
    orders: int = 0
    comebacks: int = 0
    left_out: int = 0  # rows that were broken and left out knowingly; their bytes are kept
    of: int = 0  # the batch that is withdrawn
    reason: str = ""
    withdrawn: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """What stands behind a batch: the bytes handed in, the mapping they were read by, and the rows read from them."""

    raw: bytes = b""
    mapping: bytes = b""
    rows: tuple[TableRow, ...] = ()
    entry: Comeback | None = None


class Kept(NamedTuple):
    """What the lists hold of a batch: orders as cells and comebacks as texts, each behind its line."""

    orders: tuple[tuple[Any, ...], ...]
    comebacks: tuple[tuple[int, str], ...]


class DossierHead(NamedTuple):
    """A dossier and the leaf that its ledger ends in."""

    ledger: str
    name: str
    leaf: str
    demonstration: bool


class Book(Protocol):
    """Where batches are kept, and what dossiers said last."""

    @property
    def writable(self) -> bool:
        """Whether anything can be written."""

    def batches(self) -> list[Batch]:
        """Every batch in order, withdrawn ones too."""

    def content(self, number: int) -> Content:
        """The bytes behind a batch, as they were handed in."""

    def next_number(self) -> int:
        """The number that the next batch gets."""

    def add(self, batch: Batch, content: Content) -> None:
        """Take in a batch under its number, whole or not at all."""

    def orders(self) -> list[Order]:
        """Every order of a batch that stands, as they were handed in."""

    def comebacks(self) -> list[Comeback]:
        """Every comeback of a batch that stands: entered by hand first, then from tables."""

    def kept(self, number: int) -> Kept:
        """What the lists hold of a batch, withdrawn or not."""

    def dossiers(self) -> list[DossierHead]:
        """Every dossier, by name."""

    def said(self, judged_by: str) -> dict[tuple[str, str], str]:
        """What dossiers said, judged by these rules: (ledger, leaf) -> text."""

    def keep_said(self, judged_by: str, said: Mapping[tuple[str, str], str]) -> None:
        """Keep what dossiers say, in place of what they said before."""


def body_of(comeback: Comeback) -> str:
    """A comeback as text: only what is stated, numbers in plain decimals."""
    stated = {k: v for k, v in comeback._asdict().items() if v not in ("", (), None)}
    return json.dumps(stated, default=_plain, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def _plain(value: Any) -> str:
    if isinstance(value, Decimal):
        return f"{value:f}"
    raise TypeError(type(value).__name__)


def comeback_in(body: str) -> Comeback:
    """The comeback in a text of :func:`body_of`."""
    held = json.loads(body)
    for name in ("cost", "recovered"):
        if name in held:
            held[name] = Decimal(held[name])
    for name in ("operations", "origins"):
        if name in held:
            held[name] = tuple(held[name])
    return Comeback(**held)


def cells_of(order: Order) -> tuple[Any, ...]:
    """An order as a row of plain values."""
    return (*order[:5], "\n".join(order.operations), "\n".join(order.origins), order.km)


def kept_of(rows: Iterable[TableRow]) -> Kept:
    """What the lists must hold of the rows of a table."""
    held = sorted(rows, key=lambda row: row.line)
    return Kept(
        tuple((row.line, *cells_of(row.order)) for row in held),
        tuple((row.line, body_of(row.comeback)) for row in held if row.comeback),
    )


def no_table(_raw: bytes, file: str, _mapping: bytes, _source: str) -> tuple[TableRow, ...]:
    """What a desk that reads no tables answers."""
    raise NotFound("tables are not read here", item=file)


def orders_in(rows: Iterable[tuple[Any, ...]]) -> list[Order]:
    """The orders in rows of :func:`cells_of`. Orders share few wordings: each is taken apart once."""
    parts: dict[str, tuple[str, ...]] = {"": ()}

    def apart(text: str) -> tuple[str, ...]:
        found = parts.get(text)
        if found is None:
            found = parts[text] = tuple(text.split("\n"))
        return found

    make = Order._make
    return [make((n, d, v, f, t, apart(o), apart(g), k)) for n, d, v, f, t, o, g, k in rows]
