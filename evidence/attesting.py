"""What signs, stamps and keeps signed heads: the ports of the use cases that attest a record, and their values."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, Protocol

from evidence.record.canonical import sha256
from evidence.record.head import Head


class FilePath(Protocol):
    """A place in a file system; the core passes it on and never opens it."""

    def __fspath__(self) -> str: ...


class Signer(Protocol):
    """The shop's key for its records (Ed25519). It is made when first asked for; it never leaves its folder."""

    def public(self) -> bytes:
        """The public key, 32 bytes: known without a passphrase."""
        ...

    def sign(self, message: bytes) -> bytes | None:
        """The signature, 64 bytes; None where the key is locked and there is nobody to ask."""
        ...


KeyState = Literal["open", "locked", "lost", "replaced", "revoked"]  # without a passphrase, with one, private part gone


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownKey:
    """A key of this workspace, in use or not any more."""

    name: str
    public: bytes  # 32
    state: KeyState
    ended: dt.date | None = None  # when it was replaced or revoked, by its owner's word
    reason: str = ""


class Keys(Protocol):
    """The keys of the workspace: what is known of them without opening any."""

    def known(self) -> list[KnownKey]: ...

    def loose(self) -> list[str]:
        """What others on this machine could read or change, and how to mend it."""
        ...


@dataclass(frozen=True, slots=True)
class DocumentKey:
    """The key that signs PDFs (RSA), unlocked. Both in DER: PKCS #8, X.509."""

    private: bytes = field(repr=False)
    certificate: bytes

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the certificate in hexadecimal: what a viewer of the PDF shows."""
        return sha256(self.certificate)


class HeadShelf(Protocol):
    """Signed heads and what others gave for them, a folder for each head; a file once kept never changes.

    Names: ``head.note``, ``head.txt``, ``head.sig``, ``key.pem``; ``token-1.tsr`` and so on (RFC 3161 answers);
    ``witness-<start of fingerprint>.note`` with ``witness-<start of fingerprint>.pem``.
    """

    def keep(self, head: Head, files: Mapping[str, bytes]) -> None:
        """Make the files durable; one that is there with other bytes is refused."""
        ...

    def kept(self, ledger: str) -> list[Head]:
        """Heads of a ledger that have files, shortest first."""
        ...

    def files(self, head: Head) -> dict[str, FilePath]:
        """The files of a head by name."""
        ...

    def read(self, head: Head, name: str) -> bytes:
        """The bytes of one file of a head."""
        ...


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


class TimeAuthority(Protocol):
    """Time-stamp authorities: asking one, judging what they gave, and the queue of what is to be asked."""

    @property
    def url(self) -> str:
        """The authority named in the settings; empty if none is."""
        ...

    def ask(self, url: str, data: bytes) -> Stamped:
        """A time-stamp over ``data``; ``AuthorityFailed`` where there is none to be had now."""
        ...

    def check(self, token: bytes, data: bytes) -> TokenFound:
        """Judge a token by the authorities that are trusted here."""
        ...

    def trust(self, certificates: bytes) -> int:
        """Trust these authorities (certificates in PEM) from now on; returns how many."""
        ...

    def waiting(self) -> list[Waiting]: ...

    def wait(self, waiting: Waiting) -> None: ...

    def done(self, waiting: Waiting) -> None: ...
