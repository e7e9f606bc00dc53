"""Head lines: one for each transaction, kept outside the database, so that a rolled-back database shows.

A line is ``origin size root checksum``: origin and size as in a C2SP checkpoint, root in base64, checksum the
first 16 hexadecimal digits of the SHA-256 of the rest, so that a torn line is seen for what it is.
"""

from __future__ import annotations

import base64
import binascii
from dataclasses import dataclass
from typing import Literal

from evidence.record.canonical import sha256

ORIGIN = "evidence-ledger/"


@dataclass(frozen=True, slots=True)
class Head:
    """How long a ledger was and what its root was."""

    ledger: str
    size: int
    root: bytes

    def line(self) -> str:
        """The line without its newline."""
        text = f"{ORIGIN}{self.ledger} {self.size} {base64.b64encode(self.root).decode()}"
        return f"{text} {sha256(text.encode())[:16]}"

    @classmethod
    def read(cls, line: str) -> Head | None:
        """Parse a line; None if it is torn or not a head line."""
        text, _, checksum = line.rstrip("\n").rpartition(" ")
        if sha256(text.encode())[:16] != checksum:
            return None
        parts = text.split(" ")
        if len(parts) != 3 or not parts[0].startswith(ORIGIN) or not parts[1].isdigit():
            return None
        try:
            return cls(parts[0].removeprefix(ORIGIN), int(parts[1]), base64.b64decode(parts[2], validate=True))
        except binascii.Error:
            return None


Verdict = Literal["agrees", "head_behind", "head_old", "rolled_back", "two_histories", "no_head"]


def compare(size: int, root_at: dict[int, bytes], head: Head | None, transactions_behind: int) -> Verdict:
    """Hold a ledger of ``size`` entries (``root_at``: roots by size) against its newest head line."""
    if head is None:
        return "no_head"
    if size < head.size:
        return "rolled_back"
    if root_at.get(head.size) != head.root:
        return "two_histories"
    if size == head.size:
        return "agrees"
    return "head_behind" if transactions_behind <= 1 else "head_old"
