"""Projections: typed tables that serve lists, search and questions across dossiers.

Written in the transaction of the entries they come from, and rebuilt from entries alone by the same code.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, bindparam, delete, insert, select, text, update

from evidence.claim.marks import marks_in
from evidence.model.aside import beside
from evidence.model.base import Json, Record
from evidence.model.dossier import Step
from evidence.model.happening import DossierOpening
from evidence.model.kinds import KINDS
from evidence.model.vehicle import Vehicle
from evidence.model.when import utc_text
from evidence.ports import LedgerState
from evidence.store import tables
from evidence.store.lists import searchable

# Made once: putting a statement together takes ten times as long as running it.
_ADD_RECORDS = insert(tables.records)
_ADD_FILES = insert(tables.files)
_ADD_WORDS = {
    name: text(f"INSERT INTO {place} ({key}, ledger, subject, words) VALUES (:row, :ledger, :subject, :words)")  # noqa: S608
    for name, place, key in (
        ("sqlite", "search", "rowid"),
        ("waiting", "search_new", '"row"'),
        ("postgresql", "search", "row"),
    )
}
_INDEX_WAITING = (
    text('INSERT INTO search (rowid, ledger, subject, words) SELECT "row", ledger, subject, words FROM search_new'),
    text("DELETE FROM search_new"),
)
_FEW, _WAITING = 16, 256  # rows written at once that wait for the index of SQLite, and how many wait at most
_ADD_MARKS = insert(tables.marks)
_NEW_STATE = insert(tables.ledgers)
_NEXT_STATE = update(tables.ledgers).where(tables.ledgers.c.ledger == bindparam("of"))


def project(db: Connection, ledger: str, counts: Mapping[str, int], steps: Sequence[Step]) -> dict[str, int]:
    """Bring the projections up to date with ``steps``; ``counts`` are the records by kind before them.

    Returns the counts after them. New rows are gathered and written together: an intake has hundreds.
    """
    after = dict(counts)
    fresh: list[Json] = []
    files: list[Json] = []
    texts: list[Json] = []
    marks: list[Json] = []
    for step in steps:
        record = _value(step)
        if step.action == "record":
            after[step.kind] = after.get(step.kind, 0) + 1
            fresh.append(_row(ledger, step, record, after[step.kind]))
            texts.append(_search_row(ledger, step, record))
            files += _file_rows(ledger, step)
            marks += _mark_rows(ledger, step, record, after[step.kind])
            _open_dossier(db, ledger, step, record, first=after[step.kind] == 1)
        else:
            _write(db, fresh, files, texts, marks)
            _renew(db, ledger, step, record)
    _write(db, fresh, files, texts, marks)
    return after


def _write(db: Connection, fresh: list[Json], files: list[Json], texts: list[Json], marks: list[Json]) -> None:
    """Insert what was gathered and forget it."""
    if fresh:
        db.execute(_ADD_RECORDS, fresh)
    if files:
        db.execute(_ADD_FILES, files)
    if texts:
        _write_words(db, texts)
    if marks:
        db.execute(_ADD_MARKS, marks)
    for written in (fresh, files, texts, marks):
        written.clear()


def _write_words(db: Connection, texts: list[Json]) -> None:
    """PostgreSQL's index keeps a list of what waits for it by itself; for SQLite's we do."""
    if db.dialect.name != "sqlite" or len(texts) > _FEW:
        db.execute(_ADD_WORDS[db.dialect.name], texts)
        return
    for row in texts:
        waiting = db.execute(_ADD_WORDS["waiting"], row).lastrowid
    if waiting >= _WAITING:
        for statement in _INDEX_WAITING:
            db.execute(statement)


def _forget_words(db: Connection, ledger: str, subject: str) -> None:
    places = (("search", "rowid"), ("search_new", '"row"')) if db.dialect.name == "sqlite" else (("search", "row"),)
    for place, key in places:
        db.execute(text(f"DELETE FROM {place} WHERE {key} = :row"), {"row": search_row(ledger, subject)})  # noqa: S608


def search_row(ledger: str, subject: str) -> int:
    """The search row of a subject: 63 bits of its hash, so that it can be found again without a scan."""
    return int(hashlib.sha256(f"{ledger}/{subject}".encode()).hexdigest()[:16], 16) >> 1


def clear(db: Connection) -> None:
    """Empty every projection."""
    for table in tables.PROJECTIONS:
        db.execute(delete(table))
    for place in ("search", "search_new") if db.dialect.name == "sqlite" else ("search",):
        db.execute(text(f"DELETE FROM {place}"))  # noqa: S608


def save_state(db: Connection, state: LedgerState, changed_at: str, *, new: bool) -> None:
    """Keep where the ledger stands."""
    values = {
        "size": state.frontier.size,
        "last_leaf": state.last_leaf,
        "frontier": state.frontier.to_bytes(),
        "counts": json.dumps(state.counts, sort_keys=True),
        "changed_at": changed_at,
    }
    if new:
        db.execute(_NEW_STATE, {"ledger": state.ledger, **values})
    else:
        db.execute(_NEXT_STATE, {"of": state.ledger, **values})


def _value(step: Step) -> Record | None:
    """The record, or None for a kind of a newer version, a withheld content and a withdrawal."""
    if step.body is None or step.kind not in KINDS or step.action == "withdraw":
        return None
    return step.value or KINDS[step.kind].stored(step.body)


def _row(ledger: str, step: Step, record: Record | None, number: int) -> Json:
    return {
        "ledger": ledger, "subject": step.subject, "kind": step.kind, "number": number, "seq": step.seq,
        "name": (record.name if record else None) or "", "withdrawn": False,
        "summary": record.summary() if record else step.kind,
    }  # fmt: skip


def _renew(db: Connection, ledger: str, step: Step, record: Record | None) -> None:
    """An amendment or a withdrawal of a record that is already in the lists."""
    here = (tables.records.c.ledger == ledger) & (tables.records.c.subject == step.subject)
    db.execute(delete(tables.marks).where((tables.marks.c.ledger == ledger) & (tables.marks.c.subject == step.subject)))
    if step.action == "withdraw":
        db.execute(update(tables.records).where(here), {"withdrawn": True, "seq": step.seq})
        return
    row = _row(ledger, step, record, 0)
    db.execute(update(tables.records).where(here), {k: row[k] for k in ("seq", "summary", "name")})
    there = (tables.files.c.ledger == ledger) & (tables.files.c.subject == step.subject)
    db.execute(delete(tables.files).where(there))
    _forget_words(db, ledger, step.subject)
    number = db.execute(select(tables.records.c.number).where(here)).scalar() or 0
    marks = _mark_rows(ledger, step, record, number)
    _write(db, [], _file_rows(ledger, step), [_search_row(ledger, step, record)], marks)
    opening = tables.dossiers.c.ledger == ledger
    if isinstance(record, DossierOpening):
        db.execute(update(tables.dossiers).where(opening), _opening_row(ledger, record))
    elif isinstance(record, Vehicle) and number == 1:
        db.execute(update(tables.dossiers).where(opening), {"vehicle": record.summary()})


def _search_row(ledger: str, step: Step, record: Record | None) -> Json:
    words = [record.summary()] if record else []
    if beside(ledger):
        words = []  # a second ledger is not searched
    else:
        words += list(_texts(step.body or {}))
    row = search_row(ledger, step.subject)
    return {"row": row, "ledger": ledger, "subject": step.subject, "words": " ".join(searchable(" ".join(words)))}


def _texts(value: Any) -> Iterator[str]:
    """Every text a person could search for: hashes and subjects are left out. In the order of a stored body's keys."""
    if isinstance(value, str):
        if not (len(value) in (32, 64) and all(c in "0123456789abcdef" for c in value)):
            yield value
    elif isinstance(value, dict):
        for key in sorted(value):
            yield from _texts(value[key])
    elif isinstance(value, list):
        for inner in value:
            yield from _texts(inner)


def _file_rows(ledger: str, step: Step) -> list[Json]:
    file = (step.body or {}).get("file")
    if step.kind != "exhibit" or not isinstance(file, dict):
        return []
    return [{"ledger": ledger, "subject": step.subject, "sha256": file["sha256"], "size": file["size"]}]


def _mark_rows(ledger: str, step: Step, record: Record | None, number: int) -> list[Json]:
    found = marks_in(step.subject, step.kind, number, record) if record else ()
    return [{"ledger": ledger, "position": place, **mark._asdict()} for place, mark in enumerate(found)]


def _opening_row(ledger: str, opening: DossierOpening) -> Json:
    return {"name": opening.name or ledger, "title": opening.title, "demonstration": bool(opening.demonstration)}


def _open_dossier(db: Connection, ledger: str, step: Step, record: Record | None, *, first: bool) -> None:
    """The list of dossiers shows the opening and the first vehicle."""
    if isinstance(record, DossierOpening):
        fixed = {"ledger": ledger, "vehicle": "", "opened_at": utc_text(step.recorded_at)}
        db.execute(insert(tables.dossiers), {**fixed, **_opening_row(ledger, record)})
    elif isinstance(record, Vehicle) and first:
        db.execute(update(tables.dossiers).where(tables.dossiers.c.ledger == ledger), {"vehicle": record.summary()})
