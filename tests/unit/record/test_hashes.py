"""SHA-256 and Merkle trees against published vectors."""

from __future__ import annotations

import hashlib
import re
from importlib.resources import files

import pytest
from evidence.record.canonical import sha256
from evidence.record.merkle import EMPTY_ROOT, Frontier, leaf_hash, node_hash, root_of

# FIPS 180-4, examples of the Secure Hash Standard: "abc", two blocks, a million letters a; and the empty message.
FIPS = [
    (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
    (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
    (
        b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
    ),
    (b"a" * 1_000_000, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"),
]


@pytest.mark.parametrize(("message", "digest"), FIPS)
def test_sha256_of_the_standard(message: bytes, digest: str) -> None:
    assert sha256(message) == digest


@pytest.mark.parametrize(("file", "count"), [("SHA256ShortMsg.rsp", 65), ("SHA256LongMsg.rsp", 64)])
def test_sha256_of_the_validation_program(file: str, count: int) -> None:
    """NIST CAVP, SHA byte-oriented vectors, as carried by the package cryptography-vectors."""
    text = (files("cryptography_vectors") / "hashes" / "SHA2" / file).read_text("ascii")
    found = re.findall(r"Len = (\d+)\s+Msg = ([0-9a-f]+)\s+MD = ([0-9a-f]{64})", text)
    assert len(found) == count
    for bits, message, digest in found:
        assert sha256(bytes.fromhex(message)[: int(bits) // 8]) == digest


def test_sha256_of_the_monte_carlo_test() -> None:
    """NIST CAVP, SHA Validation System section 6.4: each seed is 1000 rounds over the last three digests."""
    text = (files("cryptography_vectors") / "hashes" / "SHA2" / "SHA256Monte.rsp").read_text("ascii")
    seed = re.search(r"Seed = ([0-9a-f]{64})", text)
    wanted = re.findall(r"COUNT = \d+\s+MD = ([0-9a-f]{64})", text)
    assert seed
    assert len(wanted) == 100
    assert wanted[-1] == "6a912ba4188391a78e6f13d88ed2d14e13afce9db6f7dcbf4a48c24f3db02778"
    digest = seed[1]
    for expected in wanted[:12]:  # 12,000 of 100,000 rounds: enough to see any difference
        before = [digest] * 3
        for _round in range(1000):
            digest = sha256(bytes.fromhex("".join(before)))
            before = [*before[1:], digest]
        assert digest == expected


# transparency-dev/merkle (Apache-2.0), testonly/constants.go: the leaves of RFC 6962's reference implementation,
# and testonly/reference_test.go: roots of the first 0 to 8 of them (RFC 6962 and RFC 9162, section 2.1).
LEAVES = ["", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"]
ROOTS = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]


@pytest.mark.parametrize("size", range(9))
def test_roots_of_the_reference_leaves(size: int) -> None:
    leaves = [leaf_hash(bytes.fromhex(text)) for text in LEAVES[:size]]
    assert root_of(leaves).hex() == ROOTS[size]


def test_leaf_and_node_hashes() -> None:
    """transparency-dev/merkle (Apache-2.0), rfc6962/rfc6962_test.go."""
    assert leaf_hash(b"L123456").hex() == "395aa064aa4c29f7010acfe3f25db9485bbd4b91897b6ad7ad547639252b4d56"
    assert leaf_hash(b"").hex() == ROOTS[1]
    assert node_hash(b"N123", b"N456").hex() == "aa217fe888e47007fa15edab33c2b492a722cb106c64667fc2b044444de66bbb"
    assert hashlib.sha256(b"").digest() == EMPTY_ROOT


@pytest.mark.parametrize("size", range(9))
def test_a_frontier_is_read_as_it_was_written(size: int) -> None:
    frontier = Frontier()
    for text in LEAVES[:size]:
        frontier = frontier.append(leaf_hash(bytes.fromhex(text)))
    again = Frontier.from_bytes(size, frontier.to_bytes())
    assert again == frontier
    assert again.root().hex() == ROOTS[size]


def test_a_frontier_of_the_wrong_length_is_refused() -> None:
    with pytest.raises(ValueError, match=r"a tree of 5 leaves has 2 peaks, not 1.5"):
        Frontier.from_bytes(5, b"\0" * 48)
