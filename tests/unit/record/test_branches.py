"""Branches that an appended leaf completes, held against the tree made anew."""

from __future__ import annotations

import hashlib

from evidence.record.merkle import BRANCH, Frontier, completed, node_hash


def test_every_full_branch_appears_once_with_the_hash_of_its_leaves() -> None:
    """Small trees are checked leaf by leaf, then one of 2**16 + 5 leaves, which completes a branch of the second level."""
    leaves = [hashlib.sha256(n.to_bytes(4, "big")).digest() for n in range((1 << 16) + 5)]
    frontier, found = Frontier(), []
    for leaf in leaves:
        found += completed(frontier, leaf)
        frontier = frontier.append(leaf)
    assert [(b.level, b.index) for b in found] == [(BRANCH, n) for n in range(256)] + [(16, 0)]
    row = leaves[: 1 << 16]
    for level in range(1, 17):
        row = [node_hash(row[n], row[n + 1]) for n in range(0, len(row), 2)]
        if level == BRANCH:
            assert [b.hash for b in found[:256]] == row
    assert found[-1].hash == row[0]
