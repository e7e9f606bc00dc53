"""Heads as they travel between people: a signed note with its key, a bare checkpoint, or one line in a message."""

from __future__ import annotations

import re
from dataclasses import dataclass

from evidence.record.checkpoint import Note, checkpoint_text, public_pem, read_checkpoint, read_public_pem
from evidence.record.head import ORIGIN, Head

WITNESS = "evidence-witness/"
_PEM = "-----BEGIN PUBLIC KEY-----"
_LINE = re.compile(rf"{re.escape(ORIGIN)}[a-z2-7]{{26}}\s+\d{{1,16}}\s+[A-Za-z0-9+/]{{43}}=")
LARGEST = 100_000  # bytes: no head that travels is near this


@dataclass(frozen=True, slots=True)
class HandedHead:
    """A head that somebody handed over, with the signatures and the key that came with it."""

    head: Head
    note: Note | None = None
    public: bytes | None = None

    def to_bytes(self) -> bytes:
        """As a file that can be sent: the note, then its key in PEM."""
        text = self.note.to_bytes() if self.note else checkpoint_text(self.head).encode()
        return text + (public_pem(self.public) if self.public else b"")


def read_handed(data: bytes) -> HandedHead:
    """Read a head in any of its forms, line ends of any system; ``ValueError`` if there is none in ``data``."""
    if len(data) > LARGEST:
        raise ValueError("too long to be a head")
    text = data.decode("utf-8").replace("\r\n", "\n")
    body, pem, key = text.partition(_PEM)
    public = read_public_pem((pem + key).encode()) if pem else None
    if "\n\n" in body and "\n\u2014 " in body:
        note = Note.read(body.encode())
        return HandedHead(read_checkpoint(note.text), note, public)
    try:
        return HandedHead(read_checkpoint(body), None, public)
    except ValueError:
        lines = _LINE.findall(body)
        if len(lines) != 1:
            raise ValueError("holds no head" if not lines else f"holds {len(lines)} heads, one is wanted") from None
        return HandedHead(read_checkpoint("\n".join(lines[0].split()) + "\n"), None, public)


def line_of(head: Head) -> str:
    """A head in one line: what is sent by message or letter, and compared later."""
    return " ".join(checkpoint_text(head).split())


def witness_name(name: str) -> str:
    """The name under which somebody countersigns: a note's key name has neither spaces nor plus signs."""
    return WITNESS + "_".join(name.replace("+", " ").split())


def witness_said(name: str) -> str:
    """The name of a witness as he wrote it."""
    return name.removeprefix(WITNESS).replace("_", " ")
