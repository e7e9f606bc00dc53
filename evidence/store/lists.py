"""Questions to the database: entries, lists and search. Everything here reads one consistent view."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable, Iterator
from typing import Any, cast

from sqlalchemy import Connection, Row, bindparam, func, or_, select, text

from evidence.claim.marks import Mark
from evidence.errors import NotFound
from evidence.model.base import Json
from evidence.model.when import from_utc_text
from evidence.ports import DossierRow, Known, LedgerState
from evidence.record.entry import Entry
from evidence.record.merkle import Branch, Frontier
from evidence.record.proofs import Node
from evidence.store.branches import nodes
from evidence.store.memory import uncollected
from evidence.store.tables import NAMED, NUMBERED, branches, dossiers, entries, files, ledgers, marks, records

# Made once: putting a statement together takes ten times as long as running it.
_HERE = records.c.ledger == bindparam("ledger")
_FIND = select(dossiers.c.ledger).where(dossiers.c.name == bindparam("name"))
_ENTRIES = (
    select(entries.c.header, entries.c.content).where(entries.c.ledger == bindparam("ledger")).order_by(entries.c.seq)
)
_KNOWN = select(records).where(_HERE & records.c.subject.in_(bindparam("subjects", expanding=True)))
_NAMED = select(records).where(_HERE & (records.c.name == bindparam("name")) & NAMED & ~records.c.withdrawn)
_BY_NUMBER = select(records).where(
    _HERE & (records.c.kind == bindparam("kind")) & (records.c.number == bindparam("number"))
)
_OPENING_AND_PARTIES = (
    select(records, entries.c.content)
    .join(entries, (entries.c.ledger == records.c.ledger) & (entries.c.seq == records.c.seq))
    .where(_HERE & records.c.kind.in_(("dossier", "party")) & NUMBERED)
    .order_by(records.c.kind, records.c.number)
)


class Lists:
    """A reading view over one connection."""

    def __init__(self, db: Connection) -> None:
        self.db = db

    def ledgers(self) -> list[str]:
        """All ledgers that have entries, oldest name first."""
        return list(self.db.execute(select(entries.c.ledger).distinct().order_by(entries.c.ledger)).scalars())

    def find(self, dossier: str) -> str | None:
        """The ledger of a dossier by its short name or the start of its id (six characters at least)."""
        if not storable(dossier):
            return None
        found = self.db.execute(_FIND, {"name": dossier}).scalar()
        if found or len(dossier) < 6 or not re.fullmatch(r"[a-z2-7]+", dossier):
            return found
        starts = list(self.db.execute(select(dossiers.c.ledger).where(dossiers.c.ledger.like(dossier + "%"))).scalars())
        if len(starts) > 1:
            raise NotFound(f"{len(starts)} dossiers start with that id; give more of it", item=dossier)
        return starts[0] if starts else None

    def entries(self, ledger: str) -> Iterator[Entry]:
        """All entries in order, streamed."""
        for row in self.db.execute(_ENTRIES, {"ledger": ledger}).yield_per(500):
            yield Entry(bytes(row.header), bytes(row.content) if row.content is not None else None)

    def kept_state(self, ledger: str) -> LedgerState | None:
        """Where the lists say that the ledger stands; None where they do not know it, or hold nonsense."""
        return state_in(self.db.execute(select(ledgers).where(ledgers.c.ledger == ledger)).first())

    def nodes(self, ledger: str) -> Node:
        """The nodes of the ledger's tree, for proofs; usable while this view is open."""
        return nodes(self.db, ledger)

    def branches(self, ledger: str) -> list[Branch]:
        """The branches of the tree that the lists keep, smallest first."""
        query = select(branches).where(branches.c.ledger == ledger).order_by(branches.c.level, branches.c.position)
        return [Branch(row.level, row.position, bytes(row.hash)) for row in self.db.execute(query)]

    def batches(self, ledger: str) -> list[int]:
        """First entry of each transaction, in order."""
        query = select(entries.c.batch).where(entries.c.ledger == ledger).distinct().order_by(entries.c.batch)
        return list(self.db.execute(query).scalars())

    def dossiers(self, query: str, *, vehicle: str = "", since: str = "") -> list[DossierRow]:
        """Dossiers, newest change first; with a query those in which every word of it occurs.

        ``vehicle`` is a part of description, plate or VIN; ``since`` the UTC text of the earliest last entry.
        """
        exhibits = (
            select(func.count())
            .where((records.c.ledger == dossiers.c.ledger) & (records.c.kind == "exhibit") & ~records.c.withdrawn)
            .scalar_subquery()
        )
        rows = select(dossiers, ledgers.c.size, ledgers.c.changed_at, exhibits.label("exhibits")).join(
            ledgers, ledgers.c.ledger == dossiers.c.ledger
        )
        if query.strip():
            hits = {str(hit.ledger) for hit in self._hits(query, None)}
            name = query.strip() if storable(query) else ""
            rows = rows.where(or_(dossiers.c.ledger.in_(hits), dossiers.c.name == name))
        if vehicle:
            rows = rows.where(dossiers.c.vehicle.icontains(vehicle, autoescape=True))
        if since:
            rows = rows.where(ledgers.c.changed_at >= since)
        rows = rows.order_by(ledgers.c.changed_at.desc(), dossiers.c.name)
        return [_dossier_row(row) for row in self.db.execute(rows)]

    def marks(self, ledger: str | None) -> Iterator[tuple[str, Mark]]:
        """Marks with their ledgers, in order of ledger, of kinds and of recording."""
        columns = (marks.c.ledger, *(marks.c[name] for name in Mark._fields))
        rows = select(*columns).order_by(marks.c.ledger, marks.c.kind, marks.c.number, marks.c.position)
        if ledger is not None:
            rows = rows.where(marks.c.ledger == ledger)
        with uncollected():
            for some in self.db.execute(rows).partitions(2_000):  # one by one, fetching takes half of the time
                for row in some:
                    yield row[0], Mark._make(row[1:])

    def search(self, query: str, ledger: str | None) -> list[Known]:
        """Records in which every word of ``query`` occurs."""
        hits = [(str(hit.ledger), str(hit.subject)) for hit in self._hits(query, ledger)]
        found: list[Known] = []
        for where in dict.fromkeys(hit[0] for hit in hits):
            found += self.known(where, [subject for at, subject in hits if at == where]).values()
        return sorted(found, key=lambda k: (k.ledger, k.seq))

    def _hits(self, query: str, ledger: str | None) -> list[Row[Any]]:
        words = searchable(query)
        if not words:
            return []
        if self.db.dialect.name == "sqlite":
            missing = "SELECT 1 FROM json_each(:words) WHERE NOT instr(' ' || search_new.words, ' ' || value)"
            places: tuple[str, ...] = ("search WHERE words MATCH :query", f"search_new WHERE NOT EXISTS ({missing})")
            match = " ".join(f'"{w}"*' for w in words)
        else:
            places = ("search WHERE found @@ to_tsquery('simple', :query)",)
            match = " & ".join(f"{w}:*" for w in words)
        within = " AND ledger = :ledger" if ledger else ""
        sql = " UNION ALL ".join(f"SELECT ledger, subject FROM {place}{within}" for place in places)  # noqa: S608
        return list(self.db.execute(text(sql), {"query": match, "words": json.dumps(words), "ledger": ledger}))

    def known(self, ledger: str, subjects: Iterable[str]) -> dict[str, Known]:
        """Those of ``subjects`` that the ledger has."""
        wanted = list(subjects)
        found: dict[str, Known] = {}
        for start in range(0, len(wanted), 500):
            rows = self.db.execute(_KNOWN, {"ledger": ledger, "subjects": wanted[start : start + 500]})
            found |= {row.subject: known_in(row) for row in rows}
        return found

    def named(self, ledger: str, word: str) -> Known | None:
        """A record by short name, by "exhibit 7" or by the start of its subject (eight characters at least)."""
        if not storable(word):
            return None
        word = word.strip()
        row = self.db.execute(_NAMED, {"ledger": ledger, "name": word}).first()
        if row is None and (match := re.fullmatch(r"([A-Za-z'_ -]+?)[ _-]?(\d{1,9})", word)):
            kind = re.sub(r"[^a-z]+", "_", match[1].lower().replace("'s", "")).strip("_")
            row = self.db.execute(_BY_NUMBER, {"ledger": ledger, "kind": kind, "number": int(match[2])}).first()
        if row is None and re.fullmatch(r"[0-9a-f]{8,32}", word):
            query = select(records).where((records.c.ledger == ledger) & records.c.subject.like(word + "%"))
            row = self.db.execute(query).first()
        return known_in(row) if row else None

    def opening_and_parties(self, ledger: str) -> list[tuple[Known, Json]]:
        """The opening and all parties with their newest bodies; empty where a content is withheld."""
        rows = self.db.execute(_OPENING_AND_PARTIES, {"ledger": ledger})
        return [(known_in(row), body_in(row.content)) for row in rows]

    def stored_sizes(self) -> frozenset[int]:
        """Sizes of all files that entries name."""
        return frozenset(self.db.execute(select(files.c.size).distinct()).scalars())

    def stored_hashes(self) -> frozenset[str]:
        """Hashes of all files that entries name, superseded ones included where an exhibit still names them."""
        return frozenset(self.db.execute(select(files.c.sha256).distinct()).scalars())

    def holders(self, sha256: str) -> list[Known]:
        """Exhibits, of any dossier, whose file has this hash."""
        query = select(records).join(
            files, (files.c.ledger == records.c.ledger) & (files.c.subject == records.c.subject)
        )
        return [
            known_in(row)
            for row in self.db.execute(query.where(files.c.sha256 == sha256).order_by(records.c.ledger, records.c.seq))
        ]


def state_in(row: Row[Any] | None) -> LedgerState | None:
    """A row of the list of ledgers as a state; None where it is none."""
    if row is None:
        return None
    try:
        return LedgerState(
            row.ledger, Frontier.from_bytes(row.size, bytes(row.frontier)), row.last_leaf, json.loads(row.counts)
        )
    except ValueError:
        return None


def body_in(content: bytes | None) -> Json:
    """The body in stored content; empty where it is withheld."""
    return {} if content is None else cast("Json", json.loads(bytes(content))["body"])


def searchable(text: str) -> list[str]:
    """The words of a text as they are searched for: without case, accents and punctuation, each once, alike on both databases."""
    if text.isascii():
        plain = text.lower()
    else:
        parts = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", text).casefold())
        plain = "".join(c for c in parts if not unicodedata.combining(c))
    return list(dict.fromkeys(re.findall(r"[^\W_]+", plain)))


def storable(word: str) -> bool:
    """Whether a database could hold the text at all; what it cannot hold is not in it."""
    return "\0" not in word and not any("\ud800" <= c <= "\udfff" for c in word)


def known_in(row: Row[Any]) -> Known:
    """A row of the list of records."""
    return Known(
        ledger=row.ledger, subject=row.subject, kind=row.kind, number=row.number, name=row.name, seq=row.seq,
        withdrawn=bool(row.withdrawn), summary=row.summary,
    )  # fmt: skip


def _dossier_row(row: Row[Any]) -> DossierRow:
    return DossierRow(
        id=row.ledger, name=row.name, title=row.title, vehicle=row.vehicle, entries=row.size, exhibits=row.exhibits,
        opened_at=from_utc_text(row.opened_at), changed_at=from_utc_text(row.changed_at), demonstration=bool(row.demonstration),
    )  # fmt: skip
