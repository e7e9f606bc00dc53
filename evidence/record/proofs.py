"""Inclusion and consistency proofs, RFC 9162 sections 2.1.3 and 2.1.4.

Proofs are made from ``node(level, index)``: the hash of the full subtree over the leaves
``index * 2**level`` to ``(index + 1) * 2**level``. So any store of leaves or of inner nodes will do.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from evidence.record.merkle import node_hash

Node = Callable[[int, int], bytes]


def nodes_of(leaves: Sequence[bytes]) -> Node:
    """Nodes over leaf hashes held in memory; each inner node is made once."""
    made: dict[tuple[int, int], bytes] = {}

    def node(level: int, index: int) -> bytes:
        if level == 0:
            return leaves[index]
        key = (level, index)
        if key not in made:
            made[key] = node_hash(node(level - 1, 2 * index), node(level - 1, 2 * index + 1))
        return made[key]

    return node


def root_over(node: Node, start: int, end: int) -> bytes:
    """The tree hash over leaves ``start`` to ``end`` (not included); ``start`` is aligned as in a proof."""
    size = end - start
    if size & (size - 1) == 0:
        level = size.bit_length() - 1
        return node(level, start >> level)
    half = _half(size)
    return node_hash(root_over(node, start, start + half), root_over(node, start + half, end))


def inclusion(node: Node, index: int, size: int) -> list[bytes]:
    """Proof that leaf ``index`` (from 0) is in the tree of ``size`` leaves, from the leaf upward."""
    if not 0 <= index < size:
        raise ValueError(f"leaf {index} is not in a tree of {size}")
    start, end, path = 0, size, []
    while end - start > 1:
        middle = start + _half(end - start)
        if index < middle:
            path.append(root_over(node, middle, end))
            end = middle
        else:
            path.append(root_over(node, start, middle))
            start = middle
    return path[::-1]


def consistency(node: Node, first: int, size: int) -> list[bytes]:
    """Proof that the tree of ``first`` leaves is the beginning of that of ``size`` leaves."""
    if not 0 < first <= size:
        raise ValueError(f"a tree of {first} is not the beginning of one of {size}")
    start, end, whole, path = 0, size, True, []
    while first != end:
        middle = start + _half(end - start)
        if first <= middle:
            path.append(root_over(node, middle, end))
            end = middle
        else:
            path.append(root_over(node, start, middle))
            start, whole = middle, False
    if not whole:
        path.append(root_over(node, start, end))
    return path[::-1]


def includes(leaf: bytes, index: int, size: int, proof: Sequence[bytes], root: bytes) -> bool:
    """Whether ``proof`` shows ``leaf`` at ``index`` under ``root`` (RFC 9162 section 2.1.3.2)."""
    if not 0 <= index < size:
        return False
    at, last, found = index, size - 1, leaf
    for step in proof:
        if last == 0:
            return False
        if at & 1 or at == last:
            found = node_hash(step, found)
            while not at & 1 and at:
                at, last = at >> 1, last >> 1
        else:
            found = node_hash(found, step)
        at, last = at >> 1, last >> 1
    return last == 0 and found == root


def continues(first: int, first_root: bytes, size: int, root: bytes, proof: Sequence[bytes]) -> bool:
    """Whether ``proof`` shows that one root is the beginning of the other (RFC 9162 section 2.1.4.2)."""
    if not 0 < first <= size:
        return False
    if first == size:
        return not proof and first_root == root
    path = [first_root, *proof] if first & (first - 1) == 0 else list(proof)
    if not path:
        return False
    at, last = first - 1, size - 1
    while at & 1:
        at, last = at >> 1, last >> 1
    older = newer = path[0]
    for step in path[1:]:
        if last == 0:
            return False
        if at & 1 or at == last:
            older, newer = node_hash(step, older), node_hash(step, newer)
            while not at & 1 and at:
                at, last = at >> 1, last >> 1
        else:
            newer = node_hash(newer, step)
        at, last = at >> 1, last >> 1
    return last == 0 and older == first_root and newer == root


def _half(size: int) -> int:
    """The largest power of two below ``size``."""
    return 1 << ((size - 1).bit_length() - 1)
