"""Merkle tree hashes as RFC 9162 section 2.1 (SHA-256), kept incrementally.

A :class:`Frontier` holds the roots of the full subtrees along the right edge: enough to append a leaf and
to give the root, 32 bytes for each bit of the size.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

EMPTY_ROOT = hashlib.sha256(b"").digest()


def leaf_hash(data: bytes) -> bytes:
    """SHA-256(0x00, data)."""
    return hashlib.sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """SHA-256(0x01, left, right)."""
    return hashlib.sha256(b"\x01" + left + right).digest()


@dataclass(frozen=True, slots=True)
class Frontier:
    """The right edge of a tree of ``size`` leaves; ``peaks`` from the largest full subtree to the smallest."""

    size: int = 0
    peaks: tuple[bytes, ...] = ()

    def append(self, top: bytes, level: int = 0) -> Frontier:
        """The frontier after one more leaf hash, or after a full subtree of ``2**level`` leaves where it fits."""
        peaks, count = [*self.peaks, top], self.size >> level
        while count & 1:
            right = peaks.pop()
            peaks.append(node_hash(peaks.pop(), right))
            count >>= 1
        return Frontier(self.size + (1 << level), tuple(peaks))

    def root(self) -> bytes:
        """The tree hash; that of no leaves is SHA-256 of nothing."""
        if not self.peaks:
            return EMPTY_ROOT
        root = self.peaks[-1]
        for peak in reversed(self.peaks[:-1]):
            root = node_hash(peak, root)
        return root

    def to_bytes(self) -> bytes:
        """Peaks in order, 32 bytes each."""
        return b"".join(self.peaks)

    @classmethod
    def from_bytes(cls, size: int, data: bytes) -> Frontier:
        """Read what :meth:`to_bytes` wrote."""
        if len(data) != 32 * size.bit_count():
            raise ValueError(f"a tree of {size} leaves has {size.bit_count()} peaks, not {len(data) / 32:g}")
        return cls(size, tuple(data[i : i + 32] for i in range(0, len(data), 32)))


BRANCH = 8  # kept branches are the full subtrees of 2**8, 2**16 and so on leaves: a proof reads few rows of them


@dataclass(frozen=True, slots=True)
class Branch:
    """A full subtree: the ``index``-th of those with ``2**level`` leaves, and its hash."""

    level: int
    index: int
    hash: bytes


def completed(before: Frontier, top: bytes, level: int = 0) -> list[Branch]:
    """The branches that are complete with one more leaf, or subtree of ``2**level``; most leaves complete none."""
    size, peaks = before.size + (1 << level), list(before.peaks)
    found = [Branch(level, (size >> level) - 1, top)] if level else []
    while size % (1 << (level := level + BRANCH)) == 0:
        for _ in range(BRANCH):
            top = node_hash(peaks.pop(), top)
        found.append(Branch(level, (size >> level) - 1, top))
    return found


def grown(frontier: Frontier, leaves: Sequence[bytes]) -> tuple[Frontier, list[Branch]]:
    """The frontier after more leaf hashes, and the branches that became complete. Full branches are hashed at once."""
    found, at, full = list[Branch](), 0, 1 << BRANCH
    while at < len(leaves):
        level = BRANCH if frontier.size % full == 0 and len(leaves) - at >= full else 0
        top = _top(leaves[at : at + full]) if level else leaves[at]
        found += completed(frontier, top, level)
        frontier = frontier.append(top, level)
        at += 1 << level
    return frontier, found


def _top(row: Sequence[bytes]) -> bytes:
    """The hash over a power of two of nodes."""
    sha256 = hashlib.sha256
    while len(row) > 1:
        row = [sha256(b"\x01" + row[n] + row[n + 1]).digest() for n in range(0, len(row), 2)]
    return row[0]


def root_of(leaves: Iterable[bytes]) -> bytes:
    """Root over leaf hashes."""
    frontier = Frontier()
    for leaf in leaves:
        frontier = frontier.append(leaf)
    return frontier.root()
