"""Proofs of inclusion and consistency, held against RFC 9162 and against each other."""

from __future__ import annotations

import hashlib

from evidence.record.merkle import leaf_hash, root_of
from evidence.record.proofs import consistency, continues, includes, inclusion, nodes_of
from hypothesis import given
from hypothesis import strategies as st

# Leaf data of the published test tree of the transparency-dev/merkle repository (testonly/reference inputs), as
# used with RFC 6962; the root of all eight is published there too.
_INPUTS = [bytes.fromhex(h) for h in ("", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f")]
_ROOT_OF_EIGHT = "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328"


def _leaves(count: int) -> list[bytes]:
    return [hashlib.sha256(str(n).encode()).digest() for n in range(count)]


def test_published_tree() -> None:
    leaves = [leaf_hash(d) for d in _INPUTS]
    assert root_of(leaves).hex() == _ROOT_OF_EIGHT
    for size in range(1, 9):
        root = root_of(leaves[:size])
        for index in range(size):
            assert includes(leaves[index], index, size, inclusion(nodes_of(leaves), index, size), root)


def test_published_paths() -> None:
    """RFC 9162 section 2.1.5: in the tree of seven, the path of d3 is [c, g, l] and that from 3 to 7 is [c, d, g, l]."""
    leaves = _leaves(7)
    node = nodes_of(leaves)
    c, d, g = leaves[2], leaves[3], node(1, 0)
    ell = hashlib.sha256(b"\x01" + node(1, 2) + leaves[6]).digest()
    assert inclusion(node, 3, 7) == [c, g, ell]
    assert consistency(node, 3, 7) == [c, d, g, ell]
    assert consistency(node, 4, 7) == [ell]


@given(st.integers(1, 300).flatmap(lambda n: st.tuples(st.just(n), st.integers(1, n), st.integers(0, n - 1))), st.data())
def test_right_proofs_hold_and_changed_ones_do_not(case: tuple[int, int, int], data: st.DataObject) -> None:
    size, first, index = case
    leaves = _leaves(size)
    node, root, older = nodes_of(leaves), root_of(leaves), root_of(leaves[:first])
    path, proof = inclusion(node, index, size), consistency(node, first, size)
    assert includes(leaves[index], index, size, path, root)
    assert continues(first, older, size, root, proof)
    assert len(path) <= (size - 1).bit_length()
    for good, check in (
        (path, lambda p: includes(leaves[index], index, size, p, root)),
        (proof, lambda p: continues(first, older, size, root, p)),
    ):
        assert not check([*good, leaves[0]])
        if good:
            at = data.draw(st.integers(0, len(good) - 1))
            bit = data.draw(st.integers(0, 255))
            changed = (int.from_bytes(good[at], "big") ^ (1 << bit)).to_bytes(32, "big")
            assert not check([*good[:at], changed, *good[at + 1 :]])
            assert not check(good[:-1])
