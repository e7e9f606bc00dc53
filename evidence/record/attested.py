"""What is known of keys and time-stamps, as plain values."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Literal

from evidence.record.canonical import sha256
from evidence.record.head import Head

KeyState = Literal["open", "locked", "lost", "replaced", "revoked"]  # without a passphrase, with one, private part gone


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownKey:
    """A key of this workspace, in use or not any more."""

    name: str
    public: bytes  # 32
    state: KeyState
    ended: dt.date | None = None  # when it was replaced or revoked, by its owner's word
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TokenFound:
    """What a time-stamp of an authority (RFC 3161) turned out to be."""

    valid: bool  # it is of these bytes, rightly signed, by a certificate for time-stamps that was valid at that time
    time: dt.datetime | None  # by the authority's clock; None where the token cannot be read
    authority: str  # by the name in its certificate
    reasons: tuple[str, ...]  # what is wrong, or not confirmed, in words
    chain_trusted: bool  # its certificate leads to an authority that the one who asks trusts
    accuracy: str = ""  # what the authority says of its clock: "1 s"
    serial: str = ""  # the token's number at the authority, hexadecimal


@dataclass(frozen=True, slots=True)
class Stamped:
    """What a time-stamp authority gave: its whole answer (DER), and the certificates in it (PEM, the signer's first)."""

    token: bytes
    certificates: bytes


@dataclass(frozen=True, slots=True)
class Waiting:
    """A signed head that is to be stamped once the authority can be reached."""

    head: Head
    url: str


@dataclass(frozen=True, slots=True)
class DocumentKey:
    """The key that signs PDFs (RSA), unlocked. Both in DER: PKCS #8, X.509."""

    private: bytes = field(repr=False)
    certificate: bytes

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the certificate in hexadecimal: what a viewer of the PDF shows."""
        return sha256(self.certificate)
