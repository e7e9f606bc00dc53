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


def canonical(value: Json) -> bytes:
    """Canonical bytes of an object; ``ValueError`` names the path of anything outside the subset."""
    _check(value, "")
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode("utf-8")


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


def _check(value: Any, path: str) -> None:
    if isinstance(value, str):
        try:
            value.encode("utf-8")
        except UnicodeEncodeError:
            raise ValueError(f"{path}: a lone surrogate cannot be written") from None
    elif isinstance(value, dict):
        for key, inner in value.items():
            if not isinstance(key, str) or not key.isascii():
                raise ValueError(f"{path}: key {key!r} is not ASCII text")
            _check(inner, f"{path}.{key}")
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            _check(inner, f"{path}.{index}")
    elif isinstance(value, bool):
        return
    elif isinstance(value, int):
        if abs(value) >= LARGEST:
            raise ValueError(f"{path}: {value} is too large; numbers with a meaning travel as text")
    else:
        raise ValueError(f"{path}: {type(value).__name__} has no canonical form here")  # noqa: TRY004
