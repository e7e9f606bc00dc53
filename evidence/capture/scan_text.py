"""Trouble codes in the text of a scan tool, and in the bytes it sends.

SAE J2012 and ISO 15031-6: a code is a letter P, C, B or U, a digit 0 to 3 and three hexadecimal digits, in
two bytes; a third byte, written after a hyphen, is the failure type. ISO 14229-1: the bits of the status byte.
"""

from __future__ import annotations

import re
from typing import Final

STATUS_BITS: Final = (  # ISO 14229-1, DTCStatusMask, bit 0 first, in the words of a stored code
    "test_failed",
    "test_failed_this_cycle",
    "pending",
    "confirmed",
    "not_completed_since_clear",
    "failed_since_clear",
    "not_completed_this_cycle",
    "lamp_requested",
)
_LETTERS: Final = "PCBU"
_CODE: Final = re.compile(r"(?<![A-Za-z0-9])([PCBU][0-3][0-9A-Fa-f]{3})(?:-([0-9A-Fa-f]{2}))?(?![A-Za-z0-9])")


def codes_in(text: str) -> tuple[str, ...]:
    """The trouble codes that stand in ``text``, each once, in order, with capital digits: ``P0A9B-17``."""
    found = ((m[1] + (f"-{m[2]}" if m[2] else "")).upper() for m in _CODE.finditer(text))
    return tuple(dict.fromkeys(found))


def code_of_bytes(a: int, b: int, failure_type: int | None = None) -> str | None:
    """The code in two bytes, or three with the failure type; ``None`` for 00 00, which fills unused places."""
    for value in (a, b, failure_type or 0):
        if not 0 <= value <= 255:
            raise ValueError(f"{value} is not a byte")
    if a == b == 0:
        return None
    tail = f"-{failure_type:02X}" if failure_type is not None else ""
    return f"{_LETTERS[a >> 6]}{a >> 4 & 3}{a & 15:X}{b:02X}{tail}"


def status_of(byte: int) -> tuple[str, ...]:
    """The words of :data:`STATUS_BITS` whose bits are set."""
    if not 0 <= byte <= 255:
        raise ValueError(f"{byte} is not a byte")
    return tuple(word for bit, word in enumerate(STATUS_BITS) if byte >> bit & 1)


def matches_mask(status: int, mask: int) -> bool:
    """Whether a code of that status answers a request for ``mask``: any bit in common, not all of them."""
    return bool(status & mask)
