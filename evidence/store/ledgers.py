"""Transactions over the database of entries: one consistent view, or one writer at a time for each ledger."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from sqlalchemy import CompoundSelect, Connection, Engine, Row, bindparam, func, insert, null, select, text, union_all

from evidence.errors import EvidenceError, StoreDamaged
from evidence.model.base import Json
from evidence.model.dossier import Step
from evidence.model.when import utc_text
from evidence.ports import Known, LedgerState
from evidence.record.chain import Fault
from evidence.record.entry import NO_ENTRY, Entry, step_of
from evidence.record.head import Head
from evidence.record.merkle import Branch, Frontier, grown, leaf_hash
from evidence.store import tables
from evidence.store.branches import keep
from evidence.store.database import in_words
from evidence.store.heads_file import HeadsFile
from evidence.store.lists import Lists, body_in, known_in, state_in, storable
from evidence.store.memory import uncollected
from evidence.store.projections import clear, project, save_state

# Made once: putting a statement together takes ten times as long as running it.
# The lock of a ledger is on its row (SQLite has locked everything already). A ledger that has none yet is only
# known to the transaction that makes it.
_STATE = select(tables.ledgers).where(tables.ledgers.c.ledger == bindparam("ledger")).with_for_update()
_FIND_STATE = (
    select(tables.ledgers)
    .join(tables.dossiers, tables.dossiers.c.ledger == tables.ledgers.c.ledger)
    .where(tables.dossiers.c.name == bindparam("name"))
    .with_for_update(of=tables.ledgers)
)
_ENTRY = [tables.entries.c.seq.label("at"), tables.entries.c.header, tables.entries.c.content]
_HERE = tables.entries.c.ledger == bindparam("ledger")
_NEWEST = select(func.max(tables.entries.c.seq)).where(_HERE).scalar_subquery()
# The last entry, and the opening and the parties: what every event entered by hand starts from, in one question.
_KNOWN = (
    select(tables.records, *_ENTRY)
    .join(tables.entries, (tables.entries.c.ledger == tables.records.c.ledger) & (tables.entries.c.seq == tables.records.c.seq))
    .where(tables.records.c.ledger == bindparam("ledger"))
)  # fmt: skip
_START: CompoundSelect[Any] = union_all(
    select(*(null().label(c.name) for c in tables.records.c), *_ENTRY).where(_HERE & (tables.entries.c.seq == _NEWEST)),
    *(_KNOWN.where(tables.records.c.kind == kind, tables.NUMBERED) for kind in ("dossier", "party")),
)
_APPEND = insert(tables.entries)

_Waiting = tuple[LedgerState, LedgerState, Sequence[tuple[Entry, Step]]]  # before, after, what comes between


class Transaction(Lists):
    """A writing transaction. What is appended is kept back and written by :meth:`commit`, all of it together."""

    def __init__(self, db: Connection) -> None:
        super().__init__(db)
        self.committed = False
        self.new_heads: dict[str, Head] = {}
        self._locked: dict[str, Row[Any]] = {}  # rows of the list of ledgers
        self._states: dict[str, LedgerState] = {}
        self._basics: dict[str, list[tuple[Known, Json]]] = {}
        self._waiting: list[_Waiting] = []
        self._branches: list[tuple[str, list[Branch]]] = []

    def find(self, dossier: str) -> str | None:
        """As for readers, with the ledger locked. Where there is none, nobody else opens one of that name until the end."""
        row = self.db.execute(_FIND_STATE, {"name": dossier}).first() if storable(dossier) else None
        if row is not None:
            self._locked[row.ledger] = row
            return str(row.ledger)
        found = super().find(dossier)
        if found is None:
            self._lock(f"name {dossier}")
            found = super().find(dossier)
        return found

    def state(self, ledger: str) -> LedgerState:
        """Lock the ledger for this transaction and say where it stands; asked again, it is not read again."""
        if ledger not in self._states:
            row = self._locked.pop(ledger, None)
            if row is None:
                row = self.db.execute(_STATE, {"ledger": ledger}).first()
            state = state_in(row) or LedgerState(ledger, Frontier(), NO_ENTRY)
            there = self._start(ledger)
            if (state.frontier.size, state.last_leaf) != there:  # what is written must continue the entries themselves
                raise StoreDamaged(
                    "the lists do not agree with the entries, so nothing was recorded", item=f"ledger {ledger[:8]}",
                    advice="Run 'evidence recheck'; if it finds the lists alone at fault, 'evidence workspace --rebuild' makes them anew.",
                )  # fmt: skip
            self._states[ledger] = state
        return self._states[ledger]

    def _start(self, ledger: str) -> tuple[int, str]:
        """Number and leaf of the last entry; opening and parties come with it."""
        there, basics = (0, NO_ENTRY), []
        for row in self.db.execute(_START, {"ledger": ledger}):
            if row.subject is None:
                there = row.at, leaf_hash(bytes(row.header)).hex()
            else:
                basics.append((known_in(row), body_in(row.content)))
        self._basics[ledger] = sorted(basics, key=lambda pair: (pair[0].kind, pair[0].number))
        return there

    def opening_and_parties(self, ledger: str) -> list[tuple[Known, Json]]:
        """As for readers; what came with the state is not read again."""
        return self._basics[ledger] if ledger in self._basics else super().opening_and_parties(ledger)

    def _lock(self, what: str) -> None:
        """Wait for others that hold ``what``. The row may not exist yet, so the lock is on the name. SQLite has one writer."""
        if self.db.dialect.name == "postgresql":
            self.db.execute(text("SELECT pg_advisory_xact_lock(hashtextextended(:what, 0))"), {"what": what})

    def append(self, state: LedgerState, entries: Sequence[tuple[Entry, Step]]) -> LedgerState:
        """Take entries that continue ``state``, to be written by :meth:`commit`."""
        if not entries:
            return state
        frontier, branches = grown(state.frontier, [entry.leaf for entry, _step in entries])
        counts = dict(state.counts)
        for _entry, step in entries:
            if step.action == "record":
                counts[step.kind] = counts.get(step.kind, 0) + 1
        after = LedgerState(state.ledger, frontier, entries[-1][0].leaf.hex(), counts)
        self._waiting.append((state, after, entries))
        self._branches.append((state.ledger, branches))
        self._states[state.ledger] = after
        self.new_heads[state.ledger] = Head(state.ledger, frontier.size, frontier.root())
        return after

    def _write(self) -> None:
        for state, after, entries in self._waiting:
            first = state.frontier.size + 1
            self.db.execute(
                _APPEND,
                [
                    {"ledger": state.ledger, "seq": seq, "header": e.header, "content": e.content, "batch": first}
                    for seq, (e, _step) in enumerate(entries, first)
                ],
            )
            steps = [step for _entry, step in entries]
            project(self.db, state.ledger, state.counts, steps)
            save_state(self.db, after, utc_text(steps[-1].recorded_at), new=first == 1)
        for ledger, branches in self._branches:
            keep(self.db, ledger, branches)

    def commit(self) -> None:
        """Write what was appended and make it durable."""
        with uncollected(), together(self.db, self._waiting):
            self._write()
            self.db.commit()
        self.committed = True


@contextmanager
def together(db: Connection, waiting: Sequence[_Waiting]) -> Iterator[None]:
    """Send statements to PostgreSQL without waiting for the answer to each; for new records only, since a change asks first."""
    if db.dialect.name != "postgresql" or any(s.action != "record" for _, _, entries in waiting for _e, s in entries):
        yield
        return
    driver = db.connection.driver_connection
    assert driver is not None
    with driver.pipeline():
        yield


class LedgerStore:
    """The database of a workspace with its head file."""

    def __init__(self, engine: Engine, heads: HeadsFile, place: str, refusal: EvidenceError | None = None) -> None:
        self._engine = engine
        self._heads = heads
        self._place = place
        self._refusal = refusal  # why nothing can be written, found out beforehand

    @contextmanager
    def reading(self) -> Iterator[Lists]:
        """One consistent view."""
        with in_words(self._place), self._engine.connect() as db:
            if db.dialect.name == "sqlite":
                db.exec_driver_sql("BEGIN")
            else:
                db = db.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
            try:
                yield Lists(db)
            finally:
                db.rollback()

    @contextmanager
    def writing(self) -> Iterator[Transaction]:
        """A transaction that rolls back unless it is committed; head lines follow the commit."""
        if self._refusal:
            raise self._refusal
        self._heads.ready()
        with in_words(self._place), self._engine.connect() as db:
            if db.dialect.name == "sqlite":
                db.exec_driver_sql("BEGIN IMMEDIATE")
            work = Transaction(db)
            try:
                yield work
            finally:
                if not work.committed:
                    db.rollback()
        if work.committed:
            for head in work.new_heads.values():
                self._heads.note(head)

    def heads(self) -> list[Head]:
        """All readable head lines in order."""
        return [head for head in self._heads.lines() if head is not None]

    def torn_head_lines(self) -> int:
        """Lines of the head file that cannot be read."""
        return sum(head is None for head in self._heads.lines())

    def has_head_file(self) -> bool:
        """Whether there is a head file at all."""
        return self._heads.present()

    def note_head(self, head: Head) -> None:
        """Append a head line; used when a crash left the newest one behind."""
        self._heads.note(head)

    def structure(self) -> list[Fault]:
        """What the database says of its own structure (it cannot see a changed value; the hashes do)."""
        with in_words(self._place), self._engine.connect() as db:
            if db.dialect.name != "sqlite":
                return []
            found = [str(row[0]) for row in db.exec_driver_sql("PRAGMA integrity_check(20)")]
        return [Fault("D1", "database", line) for line in found if line != "ok"]

    def rebuild(self) -> int:
        """Make the projections anew from the entries; the number of entries read."""
        total = 0
        with self.writing() as work:
            clear(work.db)
            for ledger in work.ledgers():
                leaves: list[bytes] = []
                steps: list[Step] = []
                for entry in work.entries(ledger):
                    leaves.append(entry.leaf)
                    steps.append(step_of(entry))
                counts = project(work.db, ledger, {}, steps)
                total += len(steps)
                frontier, branches = grown(Frontier(), leaves)
                keep(work.db, ledger, branches)
                after = LedgerState(ledger, frontier, leaves[-1].hex(), counts)
                save_state(work.db, after, utc_text(steps[-1].recorded_at), new=True)
            work.commit()
        return total

    def close(self) -> None:
        """Give database and head file back."""
        self._engine.dispose()
        self._heads.close()
