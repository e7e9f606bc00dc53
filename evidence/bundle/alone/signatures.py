"""Ed25519 signatures, RFC 8032 section 5.1, and notes that carry them."""

from __future__ import annotations

import base64
import binascii
import hashlib
from functools import lru_cache

TYPE_CHECKING = False
if TYPE_CHECKING:
    Point = tuple[int, int, int, int]

_P = 2**255 - 19
_L = 2**252 + 27742317777372353535851937790883648493
_D = -121665 * pow(121666, _P - 2, _P) % _P


def _add(p: Point, q: Point) -> Point:
    a, b = (p[1] - p[0]) * (q[1] - q[0]) % _P, (p[1] + p[0]) * (q[1] + q[0]) % _P
    c, d = 2 * p[3] * q[3] * _D % _P, 2 * p[2] * q[2] % _P
    e, f, g, h = b - a, d - c, d + c, b + a
    return e * f % _P, g * h % _P, f * g % _P, e * h % _P


def _times(n: int, p: Point) -> Point:
    q = (0, 1, 1, 0)
    while n:
        if n & 1:
            q = _add(q, p)
        p, n = _add(p, p), n >> 1
    return q


def _point(data: bytes) -> Point:
    y = int.from_bytes(data, "little")
    sign, y = y >> 255, y & (2**255 - 1)
    if y >= _P:
        raise ValueError
    xx = (y * y - 1) * pow(_D * y * y + 1, _P - 2, _P) % _P
    x = pow(xx, (_P + 3) // 8, _P)
    if (x * x - xx) % _P:
        x = x * pow(2, (_P - 1) // 4, _P) % _P
    if (x * x - xx) % _P or (not x and sign):
        raise ValueError
    x = _P - x if x & 1 != sign else x
    return x, y, 1, x * y % _P


_B = _point((4 * pow(5, _P - 2, _P) % _P).to_bytes(32, "little"))


@lru_cache(maxsize=4096)
def signed(public: bytes, message: bytes, signature: bytes) -> bool:
    """Whether the signature over the message is that of the key."""
    if len(public) != 32 or len(signature) != 64:
        return False
    try:
        a, r = _point(public), _point(signature[:32])
    except ValueError:
        return False
    s = int.from_bytes(signature[32:], "little")
    if s >= _L:
        return False
    h = int.from_bytes(hashlib.sha512(signature[:32] + public + message).digest(), "little") % _L
    p, q = _times(s, _B), _add(r, _times(h, a))
    return (p[0] * q[2] - q[0] * p[2]) % _P == 0 and (p[1] * q[2] - q[1] * p[2]) % _P == 0


_SPKI = bytes.fromhex("302a300506032b6570032100")  # RFC 8410: what stands before the key in its DER form


def public_key(pem: bytes) -> bytes:
    """The 32 bytes of an Ed25519 key in PEM; ``ValueError`` if it is none."""
    lines = pem.decode("ascii").split("\n")
    if len(lines) != 4 or (lines[0], lines[2], lines[3]) != (
        "-----BEGIN PUBLIC KEY-----",
        "-----END PUBLIC KEY-----",
        "",
    ):
        raise ValueError("no public key as a bundle carries it")
    der = base64.b64decode(lines[1], validate=True)
    if len(der) != 44 or not der.startswith(_SPKI) or base64.b64encode(der).decode() != lines[1]:
        raise ValueError("no Ed25519 key")
    return der[len(_SPKI) :]


def fingerprint(public: bytes) -> str:
    """SHA-256 of the key's DER form: what is printed on paper."""
    return hashlib.sha256(_SPKI + public).hexdigest()


def note_of(data: bytes) -> tuple[str, list[tuple[str, bytes, bytes]]]:
    """Text of a signed note (C2SP signed-note) and its signature lines: name, key id, value."""
    text, blank, lines = data.decode("utf-8").rpartition("\n\n")
    if not blank or not lines.endswith("\n"):
        raise ValueError("no signed note")
    found = []
    for line in lines[:-1].split("\n"):
        dash, name, encoded = line.split(" ")
        raw = base64.b64decode(encoded, validate=True)
        if dash != "\u2014" or not name or len(raw) < 5 or base64.b64encode(raw).decode() != encoded:
            raise ValueError("a signature line that is none")
        found.append((name, raw[:4], raw[4:]))
    return text + "\n", found


def key_id(name: str, public: bytes, kind: int = 1) -> bytes:
    """The four bytes that name a key in a note."""
    return hashlib.sha256(name.encode() + b"\n" + bytes([kind]) + public).digest()[:4]


def note_signed_by(data: bytes, name: str, public: bytes) -> str | None:
    """The text of a note, where that key has signed it alone; None where it has not."""
    try:
        text, lines = note_of(data)
    except (ValueError, binascii.Error):
        return None
    right = [(name, key_id(name, public))] == [(line[0], line[1]) for line in lines]
    return text if right and signed(public, text.encode(), lines[0][2]) else None


def cosigned_at(data: bytes, public: bytes) -> tuple[str, str, int] | None:
    """Text, witness and POSIX seconds of a countersigned note (C2SP tlog-cosignature); None where it is none."""
    try:
        text, lines = note_of(data)
    except (ValueError, binascii.Error):
        return None
    for name, id_, value in lines:  # the shop's own signature may stand beside it
        at = int.from_bytes(value[:8], "big")
        message = f"cosignature/v1\ntime {at}\n{text}".encode()
        if id_ == key_id(name, public, 4) and signed(public, message, value[8:]):
            return text, name, at
    return None


def head_of(text: str) -> tuple[str, int, str]:
    """Ledger, size and root (base64) of a checkpoint's three lines, or of them in one line."""
    parts = text.rstrip("\n").split("\n") if "\n" in text.rstrip("\n") else text.split()
    if len(parts) < 3 or not parts[0].startswith("evidence-ledger/") or not parts[1].isdigit() or len(parts[1]) > 15:
        raise ValueError("no head: origin, size and root are wanted")
    root = base64.b64decode(parts[2], validate=True)
    if len(root) != 32 or base64.b64encode(root).decode() != parts[2]:
        raise ValueError("no head: its root is not 32 bytes in base64")
    return parts[0][len("evidence-ledger/") :], int(parts[1]), parts[2]
