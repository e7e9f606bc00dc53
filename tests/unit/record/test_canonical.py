"""Canonical bytes against RFC 8785, inside our narrower subset; outside it every value is refused."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import rfc8785
from evidence.record.canonical import canonical, parse

DOCUMENTS = json.loads((Path(__file__).parents[2] / "data" / "canonical.json").read_text())["documents"]
INSIDE = {"unicode"}
REFUSED = {  # the others of the reference documents lie outside the subset, each for a reason of its own
    "arrays": r"\.1\.10: NoneType has no canonical form here",
    "french": r"key 'p.ch.' is not ASCII text",
    "structures": r"\.1\.\n: float has no canonical form here",
    "values": r"\.numbers\.0: float has no canonical form here",
    "weird": r"key '.' is not ASCII text",
}


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda d: str(d["name"]))
def test_reference_documents(document: dict[str, str]) -> None:
    """cyberphone/json-canonicalization, testdata/ (Apache-2.0), by the author of RFC 8785."""
    value = json.loads(document["input"])
    wanted = bytes.fromhex(document["output_hex"])
    assert rfc8785.dumps(value) == wanted  # the reference library agrees with the reference data
    if document["name"] in INSIDE:
        assert canonical(value) == wanted
    else:
        whole = value if isinstance(value, dict) else {str(i): v for i, v in enumerate(value)}
        with pytest.raises(ValueError, match=REFUSED[document["name"]]):
            canonical(whole)


@pytest.mark.parametrize(
    "value",
    [
        {"numbers": [0, -1, 2**53 - 1, -(2**53) + 1], "literals": [True, False], "string": "\u20ac$\nA'B\"\\\\\"/"},
        {"b": {"Z": [], "a": {}}, "B": "", "1": 1, "10": 2, "2": 3, "": "empty"},
        {"control": "".join(map(chr, range(32))) + "\x7f\x80\u2028\u2029"},
        {"emoji": "\U0001f600", "hebrew": "\ufb33", "combining": "A\u030a", "astral": "\U0010ffff"},
        {"</script>": "Browser Challenge", "\r": "cr", "\n": "lf", "~": "tilde"},
    ],
)
def test_the_same_bytes_as_the_reference_library(value: dict[str, Any]) -> None:
    """Package rfc8785, an independent implementation of RFC 8785."""
    assert canonical(value) == rfc8785.dumps(value)
    assert parse(canonical(value)) == value


@pytest.mark.parametrize(
    ("value", "message"),
    [
        ({"a": {"b": [1.0]}}, r"\.a\.b\.0: float has no canonical form here"),
        ({"a": float("nan")}, r"\.a: float"),
        ({"a": None}, r"\.a: NoneType"),
        ({"a": 2**53}, r"\.a: 9007199254740992 is too large; numbers with a meaning travel as text"),
        ({"a": -(2**53)}, r"\.a: -9007199254740992 is too large"),
        ({"a": "\ud800"}, r"\.a: a lone surrogate cannot be written"),
        ({"\ud800": "a"}, r"is not ASCII text"),
        ({"\u00e9": "a"}, r"key '\u00e9' is not ASCII text"),
        ({1: "a"}, r"key 1 is not ASCII text"),
        ({"a": b"bytes"}, r"\.a: bytes has no canonical form here"),
        ({"a": ("tuple",)}, r"\.a: tuple has no canonical form here"),
    ],
)
def test_what_lies_outside_is_refused_with_its_path(value: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        canonical(value)


@pytest.mark.parametrize(
    "data",
    [
        b'{"b":1,"a":2}', b'{"a": 1}', b'{"a":1}\n', b'{"a":1,"a":1}', b'{"a":1.0}', b'{"a":1e2}', b'{"a":null}', b"[]", b"1",
        b'"text"', b"", b"{", b'{"a":"\\u0041"}', b'{"a":"\\/"}', b'{"a":-0}', b'{"a":"\xff"}', b'\xef\xbb\xbf{"a":1}',
        b'{"a":NaN}', b'{"a":"\x01"}', b'{"a":' * 5000 + b"1" + b"}" * 5000, b'{"a":' + b"1" * 5000 + b"}",
    ],
)  # fmt: skip
def test_bytes_in_another_form_are_no_canonical_bytes(data: bytes) -> None:
    with pytest.raises(ValueError):
        parse(data)
