"""Branches that an appended leaf completes, held against the tree made anew."""

from __future__ import annotations

import hashlib

import pytest
from evidence.record.merkle import BRANCH, Frontier, completed, grown, node_hash


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


@pytest.mark.parametrize("first", [0, 1, 255, 256, 300, 65535])
def test_many_leaves_at_once_are_leaf_by_leaf(first: int) -> None:
    leaves = [hashlib.sha256(n.to_bytes(4, "big")).digest() for n in range((1 << 16) + 700)]
    start, _ = grown(Frontier(), leaves[:first])
    slowly, found = start, []
    for leaf in leaves[first:]:
        found += completed(slowly, leaf)
        slowly = slowly.append(leaf)
    assert grown(start, leaves[first:]) == (slowly, found)
    assert len(found) == 258 - first // 256 + 1
