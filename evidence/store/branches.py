"""Kept branches of a ledger's tree, and the nodes that proofs are made from.

Below a kept branch the leaves are hashed from the headers; a proof needs one such stretch, and above it a few
stretches of kept branches.
"""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, bindparam, insert, select

from evidence.record.merkle import BRANCH, Branch, leaf_hash
from evidence.record.proofs import Node, nodes_of
from evidence.store.tables import branches, entries

_KEEP = insert(branches)
_HASHES = (
    select(branches.c.hash)
    .where((branches.c.ledger == bindparam("ledger")) & (branches.c.level == bindparam("level")))
    .where(branches.c.position.between(bindparam("first"), bindparam("last")))
    .order_by(branches.c.position)
)
_HEADERS = (
    select(entries.c.header)
    .where((entries.c.ledger == bindparam("ledger")) & entries.c.seq.between(bindparam("first"), bindparam("last")))
    .order_by(entries.c.seq)
)


def keep(db: Connection, ledger: str, found: Sequence[Branch]) -> None:
    """Keep complete branches."""
    if found:
        db.execute(_KEEP, [{"ledger": ledger, "level": b.level, "position": b.index, "hash": b.hash} for b in found])


def nodes(db: Connection, ledger: str) -> Node:
    """The nodes of a ledger's tree. What is read once is kept for as long as the caller keeps the function."""
    stretches: dict[tuple[int, int], Node] = {}

    def node(level: int, index: int) -> bytes:
        base = level - level % BRANCH  # the kept level, or that of the leaves, from which this node is made
        start = (index << (level - base)) >> BRANCH  # which stretch of 256 it lies in
        if (base, start) not in stretches:
            stretches[base, start] = nodes_of(_stretch(db, ledger, base, start << BRANCH))
        return stretches[base, start](level - base, index - (start << (BRANCH - (level - base))))

    return node


def _stretch(db: Connection, ledger: str, level: int, first: int) -> list[bytes]:
    last = first + (1 << BRANCH) - 1
    if level:
        asked = {"ledger": ledger, "level": level, "first": first, "last": last}
        return [bytes(row.hash) for row in db.execute(_HASHES, asked)]
    return [
        leaf_hash(bytes(row.header))
        for row in db.execute(_HEADERS, {"ledger": ledger, "first": first + 1, "last": last + 1})
    ]
