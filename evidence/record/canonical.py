"""The one place that makes bytes for hashing: RFC 8785, narrowed.

Keys are ASCII; values are text, booleans, whole numbers below 2^53, lists and objects; no null, no floating
point. In this subset sorted keys, no spaces and plain UTF-8 are the canonical form, so a verifier needs
nothing beyond the standard library.
"""

from __future__ import annotations

import hashlib
import json
from typing import Any

from evidence.model.base import Json

LARGEST = 2**53
_written = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, check_circular=False).encode


def canonical(value: Json) -> bytes:
    """Canonical bytes of an object; ``ValueError`` names the path of anything outside the subset."""
    if found := _fault(value):
        raise ValueError(found)
    return _written(value).encode("utf-8")


def parse(data: bytes) -> Json:
    """Read canonical bytes back; ``ValueError`` if they are not in canonical form."""
    try:
        value = json.loads(data.decode("utf-8"))
        if not isinstance(value, dict) or canonical(value) != data:
            raise ValueError("not in canonical form")
    except RecursionError:  # bytes that nobody here wrote
        raise ValueError("nested too deeply to be read") from None
    return value


def sha256(data: bytes) -> str:
    """SHA-256 (FIPS 180-4) in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def _fault(value: Any) -> str:
    """What is outside the subset, after its path; an empty text where nothing is. The path is only made where needed."""
    if isinstance(value, str):
        return "" if value.isascii() or _encodes(value) else ": a lone surrogate cannot be written"
    if isinstance(value, dict):
        for key, inner in value.items():
            if not isinstance(key, str) or not key.isascii():
                return f": key {key!r} is not ASCII text"
            if found := _fault(inner):
                return f".{key}{found}"
        return ""
    if isinstance(value, list):
        return next((f".{index}{found}" for index, inner in enumerate(value) if (found := _fault(inner))), "")
    if isinstance(value, int):  # a boolean is one
        return f": {value} is too large; numbers with a meaning travel as text" if abs(value) >= LARGEST else ""
    return f": {type(value).__name__} has no canonical form here"


def _encodes(value: str) -> bool:
    try:
        value.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True
