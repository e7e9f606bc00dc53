"""Signed heads: C2SP tlog-checkpoint in a C2SP signed-note, Ed25519 (RFC 8032), and cosignatures of witnesses.

The text of a checkpoint is exactly three lines: origin, size, root in base64. No time stands in it: the same head
signed twice is the same file. The key's name is the origin; its id the first four bytes of
SHA-256(name, 0x0A, type, 32-byte key), type 0x01 for a signature and 0x04 for a cosignature (C2SP tlog-cosignature).
"""

from __future__ import annotations

import base64
import binascii
import hashlib
from collections.abc import Callable
from dataclasses import dataclass

from evidence.record.head import ORIGIN, Head

_SIGNATURE, _COSIGNATURE = b"\x01", b"\x04"
_SPKI = bytes.fromhex("302a300506032b6570032100")  # SubjectPublicKeyInfo of Ed25519 without the key, RFC 8410
_DASH = "\u2014 "


@dataclass(frozen=True, slots=True)
class Signature:
    """One signature line: whose by name, which key by its id, and the bytes after the id."""

    name: str
    key_id: bytes
    value: bytes


@dataclass(frozen=True, slots=True)
class Note:
    """A signed note: the text that is signed, final newline included, and its signature lines."""

    text: str
    signatures: tuple[Signature, ...]

    @classmethod
    def read(cls, data: bytes) -> Note:
        """Parse a note; ``ValueError`` says what is wrong with it."""
        text, blank, lines = data.decode("utf-8").rpartition("\n\n")
        if not blank or not lines.endswith("\n"):
            raise ValueError("no signature lines after a blank line")
        if any(ord(c) < 32 and c != "\n" for c in text):
            raise ValueError("holds control characters")
        return cls(text + "\n", tuple(_signature(line) for line in lines[:-1].split("\n")))

    def to_bytes(self) -> bytes:
        """The note as it is kept."""
        lines = [f"{_DASH}{s.name} {base64.b64encode(s.key_id + s.value).decode()}\n" for s in self.signatures]
        return (self.text + "\n" + "".join(lines)).encode()

    def by(self, name: str, public: bytes) -> Signature | None:
        """The signature of that key, if it is there and right."""
        wanted = key_id(name, public)
        for found in self.signatures:
            if found.name == name and found.key_id == wanted and right(public, self.text.encode(), found.value):
                return found
        return None


def _signature(line: str) -> Signature:
    name, space, encoded = line.removeprefix(_DASH).rpartition(" ")
    try:
        raw = base64.b64decode(encoded, validate=True)
    except (binascii.Error, ValueError):
        raw = b""
    if not line.startswith(_DASH) or not space or not name or " " in name or "+" in name or len(raw) < 5:
        raise ValueError("a signature line that is none")
    return Signature(name, raw[:4], raw[4:])


def checkpoint_text(head: Head) -> str:
    """The three lines that are signed."""
    return f"{ORIGIN}{head.ledger}\n{head.size}\n{base64.b64encode(head.root).decode()}\n"


def read_checkpoint(text: str) -> Head:
    """The head that a checkpoint speaks of; ``ValueError`` if the text is none."""
    lines = text.split("\n")
    if len(lines) != 4 or lines[3] or not lines[0].startswith(ORIGIN):
        raise ValueError("a checkpoint has three lines: origin, size, root")
    ledger, size = lines[0].removeprefix(ORIGIN), lines[1]
    if not size.isascii() or not size.isdigit() or (size[0] == "0" and size != "0"):
        raise ValueError("the size of a checkpoint is a whole number")
    try:
        root = base64.b64decode(lines[2], validate=True)
    except (binascii.Error, ValueError):
        root = b""
    if len(root) != 32 or base64.b64encode(root).decode() != lines[2]:
        raise ValueError("the root of a checkpoint is 32 bytes in base64")
    return Head(ledger, int(size), root)


def sign_text(text: str, name: str, public: bytes, sign: Callable[[bytes], bytes]) -> Note:
    """``text`` signed by one key."""
    return Note(text, (Signature(name, key_id(name, public), sign(text.encode())),))


def cosign(text: str, name: str, public: bytes, sign: Callable[[bytes], bytes], at: int) -> Note:
    """``text`` countersigned by a witness; ``at`` is POSIX seconds by his clock."""
    value = at.to_bytes(8, "big") + sign(_cosigned(text, at))
    return Note(text, (Signature(name, key_id(name, public, _COSIGNATURE), value),))


def cosigned_at(note: Note, name: str, public: bytes) -> int | None:
    """When that witness countersigned, in POSIX seconds; None where he did not, or the signature is wrong."""
    wanted = key_id(name, public, _COSIGNATURE)
    for found in note.signatures:
        at = int.from_bytes(found.value[:8], "big")
        if found.name == name and found.key_id == wanted and right(public, _cosigned(note.text, at), found.value[8:]):
            return at
    return None


def _cosigned(text: str, at: int) -> bytes:
    return f"cosignature/v1\ntime {at}\n{text}".encode()


def key_id(name: str, public: bytes, kind: bytes = _SIGNATURE) -> bytes:
    """The four bytes that name a key in a note."""
    return hashlib.sha256(name.encode() + b"\n" + kind + public).digest()[:4]


def right(public: bytes, message: bytes, signature: bytes) -> bool:
    """Whether ``signature`` (64 bytes) over ``message`` is that of the Ed25519 key ``public`` (32 bytes)."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        Ed25519PublicKey.from_public_bytes(public).verify(signature, message)
    except (InvalidSignature, ValueError):
        return False
    return True


def fingerprint(public: bytes) -> str:
    """SHA-256 of the key's DER form in hexadecimal: what is printed on paper and compared."""
    return hashlib.sha256(_SPKI + public).hexdigest()


def public_pem(public: bytes) -> bytes:
    """The key as SubjectPublicKeyInfo in PEM, as OpenSSL reads it."""
    body = base64.b64encode(_SPKI + public).decode()
    return f"-----BEGIN PUBLIC KEY-----\n{body}\n-----END PUBLIC KEY-----\n".encode()


def read_public_pem(data: bytes) -> bytes:
    """The 32 bytes of an Ed25519 key in PEM; ``ValueError`` if it is none."""
    lines = data.decode("ascii").strip().split("\n")
    if len(lines) < 3 or lines[0] != "-----BEGIN PUBLIC KEY-----" or lines[-1] != "-----END PUBLIC KEY-----":
        raise ValueError("no public key in PEM")
    try:
        der = base64.b64decode("".join(line.strip() for line in lines[1:-1]), validate=True)
    except binascii.Error:
        der = b""
    if len(der) != 44 or not der.startswith(_SPKI):
        raise ValueError("no Ed25519 public key")
    return der[len(_SPKI) :]
