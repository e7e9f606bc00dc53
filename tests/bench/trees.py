"""Many events at once, and proofs over a million of them. Every function runs in a process of its own."""

from __future__ import annotations

import base64
import hashlib
import json
import random
import statistics
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from ours import event, make_measured_workspace
from timing import EVENTS, each, timed

BULK = 50_000
LEAVES = 1_000_000
_LEDGER = "l" * 26


def bulk(work: Path, database: str = "") -> dict[str, float]:
    """Events that are values already, recorded in one transaction: canonical bytes, chain, lists, text index, commit, head."""
    from evidence.bootstrap import open_desk

    workspace = make_measured_workspace(work, database)
    with open_desk(workspace) as desk:
        ledger, values = _opened(desk), _values(BULK)
        with timed() as found:
            _record_many(desk, ledger, values)
    return found


def append_after(work: Path, before: int) -> dict[str, float]:
    """One durable event where the ledger holds ``before`` others."""
    from evidence.bootstrap import open_desk
    from evidence.usecases.record import record_one

    workspace = make_measured_workspace(work, "")
    with open_desk(workspace) as desk:
        ledger = _opened(desk)
        for start in range(0, before, BULK):
            _record_many(desk, ledger, _values(min(BULK, before - start)))
        for number in range(20):  # what is read once and kept
            record_one(desk, "measured", "event", event(number))
        return each(EVENTS, lambda number: record_one(desk, "measured", "event", event(number)))


def _opened(desk: Any) -> str:
    from evidence.usecases.record import open_dossier

    return open_dossier(desk, {"title": "Measured", "name": "measured"})[0]


def _values(count: int) -> list[Any]:
    from evidence.model.happening import Event

    return [Event.handed_in(event(number), {"zone": "UTC"}) for number in range(count)]


def _record_many(desk: Any, ledger: str, values: list[Any]) -> None:
    from evidence.usecases.pen import Pen

    with desk.ledgers.writing() as work:
        pen = Pen(desk, work, ledger, recorded_by="0" * 32, via="command")
        for value in values:
            pen.record(value, desk.ids.subject())
        assert pen.put_down() == len(values)
        work.commit()


def orm_bulk(url: str) -> dict[str, float]:
    """The floor of that: as many rows through the ORM of SQLAlchemy, added together and committed once."""
    import sqlalchemy as sa
    from floors import orm_row
    from sqlalchemy.orm import Session

    engine = sa.create_engine(url)
    made = orm_row(engine)
    with timed() as found, Session(engine) as session:
        session.add_all([made(number) for number in range(BULK)])
        session.commit()
    engine.dispose()
    return found


def leaf(_work: Path) -> dict[str, float]:
    """The floor of a tree: a million leaf hashes and the plain tree over them, level by level."""
    headers = [_header(n) for n in range(LEAVES)]
    with timed() as found:
        row = [hashlib.sha256(b"\x00" + header).digest() for header in headers]
        while len(row) > 1:
            odd = [row[-1]] if len(row) % 2 else []
            row = [hashlib.sha256(b"\x01" + row[n] + row[n + 1]).digest() for n in range(0, len(row) - 1, 2)] + odd
    return found


def tree(work: Path) -> dict[str, float]:
    """A ledger of a million events: keeping its tree, proofs from what the database keeps, and their check."""
    import sqlalchemy as sa
    from evidence.bootstrap import _url
    from evidence.record.merkle import Frontier, completed, grown, leaf_hash
    from evidence.record.proofs import includes, inclusion
    from evidence.store import database, tables
    from evidence.store.branches import keep, nodes

    headers = [_header(n) for n in range(LEAVES)]
    with timed() as found:
        leaves = [leaf_hash(header) for header in headers]
        frontier, branches = grown(Frontier(), leaves)
    one_by_one = _each(lambda n: (completed(frontier, leaves[n]), frontier.append(leaves[n])), 1000)
    engine = database.open_engine(_url(make_measured_workspace(work)))
    with engine.connect() as db:
        db.exec_driver_sql("BEGIN IMMEDIATE")
        for start in range(0, LEAVES, 50_000):
            rows = [
                {"ledger": _LEDGER, "seq": n + 1, "header": headers[n], "content": b"c", "batch": 1}
                for n in range(start, min(LEAVES, start + 50_000))
            ]
            db.execute(sa.insert(tables.entries), rows)
        keep(db, _LEDGER, branches)
        db.commit()
        picked = random.Random(17).sample(range(LEAVES), 200)
        proofs = {n: inclusion(nodes(db, _LEDGER), n, LEAVES) for n in picked}
        make = _each(lambda n: inclusion(nodes(db, _LEDGER), picked[n], LEAVES), len(picked))
    root = frontier.root()
    assert all(includes(leaves[n], n, LEAVES, proof, root) for n, proof in proofs.items())
    check = _each(lambda n: includes(leaves[picked[n]], picked[n], LEAVES, proofs[picked[n]], root), len(picked))
    engine.dispose()
    longest = max(proofs.values(), key=len)
    size = len(json.dumps({"size": LEAVES, "proof": [base64.b64encode(step).decode() for step in longest]}))
    return {**found, "append": one_by_one, "hashes": len(longest), "bytes": size, "make": make, "check": check}


def _header(number: int) -> bytes:
    return b'{"format":1,"ledger":"%s","seq":%d,"subject":"%s"}' % (_LEDGER.encode(), number + 1, b"x" * 330)


def _each(deed: Callable[[int], object], count: int) -> float:
    times = []
    for number in range(count):
        begun = time.perf_counter()
        deed(number)
        times.append(time.perf_counter() - begun)
    return statistics.median(times)
