"""What a key's owner says of a key, as signed notes: it was replaced by another, or it is revoked.

A replacement is signed by the old key and by the new one: whoever holds the old fingerprint on paper can follow to
the new. A revocation is signed by the key itself while that is possible; where the key is lost it is a bare text, and
only worth the paper on which its owner hands it over. No statement speaks of time by any clock but its author's.
"""

from __future__ import annotations

import base64
import binascii
import datetime as dt
import re
from collections.abc import Callable
from dataclasses import dataclass

from evidence.record.checkpoint import Note, Signature, fingerprint, key_id, right

KEY = "evidence-key/"
_FINGERPRINT = re.compile("[0-9a-f]{64}")
Sign = Callable[[bytes], bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """What was said of a key. ``successor`` is the new public key of a replacement, None for a revocation."""

    key: str  # fingerprint of the key spoken of
    date: dt.date
    reason: str
    successor: bytes | None = None

    def text(self) -> str:
        """The lines that are signed."""
        if self.successor:
            what = f"replaced-by {fingerprint(self.successor)}\nkey {base64.b64encode(self.successor).decode()}\n"
        else:
            what = "revoked\n"
        return f"{KEY}{self.key}\n{what}date {self.date.isoformat()}\nreason {self.reason}\n"


def read_statement(text: str) -> Statement:
    """Parse the lines of a statement; ``ValueError`` says what is wrong."""
    lines = text.split("\n")
    if not lines[0].startswith(KEY) or lines[-1] or len(lines) not in (5, 6):
        raise ValueError("no statement on a key")
    key, successor = lines[0].removeprefix(KEY), None
    if lines[1] != "revoked":
        try:
            successor = base64.b64decode(lines[2].removeprefix("key "), validate=True)
        except binascii.Error:
            raise ValueError("the new key cannot be read") from None
    try:
        date = dt.date.fromisoformat(lines[-3].removeprefix("date "))
    except ValueError:
        raise ValueError("the date cannot be read") from None
    made = Statement(key=key, date=date, reason=lines[-2].removeprefix("reason "), successor=successor)
    if made.text() != text or not _FINGERPRINT.fullmatch(key) or (successor is not None and len(successor) != 32):
        raise ValueError("no statement on a key")
    return made


def replacement(old: bytes, sign_old: Sign, new: bytes, sign_new: Sign, date: dt.date, reason: str) -> Note:
    """The note by which a key names its successor; both sign."""
    text = Statement(key=fingerprint(old), date=date, reason=reason, successor=new).text()
    return Note(text, tuple(_signed(text, public, sign) for public, sign in ((old, sign_old), (new, sign_new))))


def revocation(public: bytes, sign: Sign, date: dt.date, reason: str) -> Note:
    """The note by which a key revokes itself."""
    text = Statement(key=fingerprint(public), date=date, reason=reason).text()
    return Note(text, (_signed(text, public, sign),))


def said_by(note: Note, public: bytes) -> bool:
    """Whether that key signed the statement."""
    name = KEY + fingerprint(public)
    wanted = key_id(name, public)
    return any(
        s.name == name and s.key_id == wanted and right(public, note.text.encode(), s.value) for s in note.signatures
    )


def _signed(text: str, public: bytes, sign: Sign) -> Signature:
    name = KEY + fingerprint(public)
    return Signature(name, key_id(name, public), sign(text.encode()))
