"""The register's book in the database: batches that refuse to be changed, rows read from them, and what dossiers said last."""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager

from sqlalchemy import Connection, Engine, delete, func, insert, select, text

from evidence.errors import EvidenceError, StoreDamaged
from evidence.register.batches import Batch, Content, DossierHead, Kept, body_of, cells_of, comeback_in, orders_in
from evidence.register.lines import Comeback, Order
from evidence.store import tables
from evidence.store.database import in_words
from evidence.store.memory import uncollected

_BATCHES, _ORDERS, _COMEBACKS = tables.register_batches, tables.register_orders, tables.register_comebacks
_DOSSIERS = tables.register_dossiers
_STANDING = select(_BATCHES.c.of).where(_BATCHES.c.of > 0)  # what was withdrawn
_HEADS = select(
    tables.dossiers.c.ledger, tables.dossiers.c.name, tables.dossiers.c.demonstration, tables.ledgers.c.last_leaf
).join(tables.ledgers, tables.ledgers.c.ledger == tables.dossiers.c.ledger)


class RegisterBook:
    """The book of a workspace."""

    def __init__(self, engine: Engine, place: str, refusal: EvidenceError | None) -> None:
        self._engine = engine
        self._place = place
        self._refusal = refusal  # why nothing can be written, found out beforehand

    @property
    def writable(self) -> bool:
        """Whether anything can be written."""
        return self._refusal is None

    def batches(self) -> list[Batch]:
        """Every batch in order, withdrawn ones too."""
        columns = [c for c in _BATCHES.c if c.name not in ("raw", "mapping")]
        with self._reading() as db:
            rows = [row._asdict() for row in db.execute(select(*columns).order_by(_BATCHES.c.number))]
        gone = {row["of"]: row["number"] for row in rows if row["of"]}
        return [Batch(**row, withdrawn=gone.get(row["number"], 0)) for row in rows]

    def content(self, number: int) -> Content:
        """The bytes behind a batch, as they were handed in. Raises :class:`StoreDamaged`."""
        with self._reading() as db:
            row = db.execute(select(_BATCHES.c.raw, _BATCHES.c.mapping).where(_BATCHES.c.number == number)).one()
        try:
            return Content(raw=zlib.decompress(bytes(row.raw)), mapping=zlib.decompress(bytes(row.mapping)))
        except zlib.error as err:
            raise StoreDamaged("what was handed in cannot be read again", item=f"import {number}") from err

    def next_number(self) -> int:
        """The number that the next batch gets."""
        with self._reading() as db:
            return int(db.execute(select(func.max(_BATCHES.c.number))).scalar() or 0) + 1

    def add(self, batch: Batch, content: Content) -> None:
        """Take in a batch under its number, whole or not at all. Raises :class:`EvidenceError` if others took it."""
        row = {name: getattr(batch, name) for name in batch.__slots__ if name != "withdrawn"}
        with self._writing() as db:
            if int(db.execute(select(func.max(_BATCHES.c.number))).scalar() or 0) + 1 != batch.number:
                raise EvidenceError(
                    "somebody else added to the register meanwhile", advice="Run the same command again."
                )
            packed = {"raw": zlib.compress(content.raw), "mapping": zlib.compress(content.mapping)}
            db.execute(insert(_BATCHES), {**row, **packed})
            names = [c.name for c in _ORDERS.c]
            orders = [dict(zip(names, (batch.number, r.line, *cells_of(r.order)), strict=True)) for r in content.rows]
            came = [(r.line, r.comeback) for r in content.rows if r.comeback]
            came += [(1, content.entry)] if content.entry else []
            if orders:
                db.execute(insert(_ORDERS), orders)
            if came:
                db.execute(
                    insert(_COMEBACKS),
                    [{"batch": batch.number, "line": line, "body": body_of(c)} for line, c in came],
                )

    def orders(self) -> list[Order]:
        """Every order of a batch that stands, as they were handed in."""
        columns = [c for c in _ORDERS.c if c.name not in ("batch", "line")]
        query = select(*columns).where(_ORDERS.c.batch.not_in(_STANDING)).order_by(_ORDERS.c.batch, _ORDERS.c.line)
        with self._reading() as db, uncollected():
            return orders_in(db.execute(query).all())

    def comebacks(self) -> list[Comeback]:
        """Every comeback of a batch that stands: entered by hand first, then from tables."""
        query = (
            select(_COMEBACKS.c.body)
            .join(_BATCHES, _BATCHES.c.number == _COMEBACKS.c.batch)
            .where(_COMEBACKS.c.batch.not_in(_STANDING))
            .order_by(_BATCHES.c.sort, _COMEBACKS.c.batch, _COMEBACKS.c.line)
        )
        with self._reading() as db:
            return [comeback_in(body) for body in db.execute(query).scalars()]

    def kept(self, number: int) -> Kept:
        """What the lists hold of a batch, withdrawn or not."""
        orders = select(*(c for c in _ORDERS.c if c.name != "batch")).where(_ORDERS.c.batch == number)
        came = select(_COMEBACKS.c.line, _COMEBACKS.c.body).where(_COMEBACKS.c.batch == number)
        with self._reading() as db, uncollected():
            return Kept(
                tuple(tuple(row) for row in db.execute(orders.order_by(_ORDERS.c.line))),
                tuple((row.line, row.body) for row in db.execute(came.order_by(_COMEBACKS.c.line))),
            )

    def dossiers(self) -> list[DossierHead]:
        """Every dossier, by name, with the leaf it ends in."""
        with self._reading() as db:
            return [
                DossierHead(row.ledger, row.name, row.last_leaf, bool(row.demonstration))
                for row in db.execute(_HEADS.order_by(tables.dossiers.c.name))
            ]

    def said(self, judged_by: str) -> dict[tuple[str, str], str]:
        """What dossiers said when they ended in a leaf, judged by these rules: (ledger, leaf) -> text."""
        query = select(_DOSSIERS.c.ledger, _DOSSIERS.c.leaf, _DOSSIERS.c.body)
        with self._reading() as db:
            return {(r.ledger, r.leaf): r.body for r in db.execute(query.where(_DOSSIERS.c.judged_by == judged_by))}

    def keep_said(self, judged_by: str, said: Mapping[tuple[str, str], str]) -> None:
        """Keep what dossiers say, in place of what they said before."""
        rows = [{"ledger": k[0], "leaf": k[1], "judged_by": judged_by, "body": v} for k, v in said.items()]
        with self._writing() as db:
            for part in _parts([r["ledger"] for r in rows], 500):
                db.execute(delete(_DOSSIERS).where(_DOSSIERS.c.ledger.in_(part)))
            db.execute(insert(_DOSSIERS), rows)

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        with in_words(self._place), self._engine.connect() as db:
            yield db

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        if self._refusal:
            raise self._refusal
        with in_words(self._place), self._engine.connect() as db:
            if db.dialect.name == "sqlite":
                db.exec_driver_sql("BEGIN IMMEDIATE")
            else:
                db.execute(text("LOCK TABLE register_batches IN EXCLUSIVE MODE"))
            try:
                yield db
                db.commit()
            except BaseException:
                db.rollback()
                raise


def _parts(items: Sequence[str], size: int) -> Iterator[Sequence[str]]:
    for start in range(0, len(items), size):
        yield items[start : start + size]
