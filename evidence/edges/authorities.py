"""The folder ``authorities/``: certificates of time-stamp authorities that are trusted here, and heads that wait for a stamp."""

from __future__ import annotations

import hashlib
from pathlib import Path

from evidence.edges.durable import alone_in, disk_in_words, flush_folder, made_folder, put_file
from evidence.edges.token import certificates, check_token, need_seal, system_roots, with_issuers
from evidence.edges.tsa_http import ask_authority
from evidence.errors import EvidenceError
from evidence.record.attested import Stamped, TokenFound, Waiting
from evidence.record.handed import line_of, read_handed

_QUEUE = "waiting"


class Authorities:
    """Time-stamp authorities of a workspace (the TimeAuthority port)."""

    def __init__(self, folder: Path, url: str) -> None:
        self._folder = folder
        self._url = url

    @property
    def url(self) -> str:
        """The authority named in the settings; empty if none is."""
        return self._url

    def ask(self, url: str, data: bytes) -> Stamped:
        """A time-stamp over ``data``, fresh from the authority, with its certificates up to one that is trusted here."""
        stamped = ask_authority(url, data)
        return Stamped(stamped.token, with_issuers(stamped.certificates, self._roots()))

    def check(self, token: bytes, data: bytes) -> TokenFound:
        """Judge a token by the authorities trusted here: those of this folder and those of the machine."""
        return check_token(token, data, self._roots())

    def _roots(self) -> list[bytes]:
        return [*(file.read_bytes() for file in sorted(self._folder.glob("*.pem"))), *system_roots()]

    def trust(self, data: bytes) -> int:
        """Keep certificates of authorities; returns how many."""
        from asn1crypto import pem

        need_seal()
        found = certificates(data)
        if not found:
            raise EvidenceError(
                "holds no certificate",
                item="--root",
                advice="An authority publishes its root certificate as a .pem or .crt file.",
            )
        with disk_in_words("the authority's certificate", self._folder):
            made_folder(self._folder)
            for certificate in found:
                name = hashlib.sha256(certificate.dump()).hexdigest()[:16]
                put_file(self._folder / f"{name}.pem", pem.armor("CERTIFICATE", certificate.dump()))
            flush_folder(self._folder)
        return len(found)

    def waiting(self) -> list[Waiting]:
        """Heads that wait for a stamp, by ledger and size; a file that cannot be read is passed over."""
        found = []
        for file in (self._folder / _QUEUE).glob("*.txt"):
            line, _, url = file.read_text(encoding="utf-8").partition("\n")
            try:
                found.append(Waiting(read_handed(line.encode()).head, url.strip()))
            except ValueError:
                continue
        return sorted(found, key=lambda w: (w.head.ledger, w.head.size, w.url))

    def wait(self, waiting: Waiting) -> None:
        """Put a head into the queue."""
        with disk_in_words("the queue of time-stamps", self._folder):
            made_folder(self._folder / _QUEUE)
            with alone_in(self._folder / _QUEUE):
                put_file(self._file(waiting), f"{line_of(waiting.head)}\n{waiting.url}\n".encode(), 0o644)
                flush_folder(self._folder / _QUEUE)

    def done(self, waiting: Waiting) -> None:
        """Take a head out of the queue."""
        self._file(waiting).unlink(missing_ok=True)

    def _file(self, waiting: Waiting) -> Path:
        by = hashlib.sha256(waiting.url.encode()).hexdigest()[:8]
        return self._folder / _QUEUE / f"{waiting.head.ledger}-{waiting.head.size}-{by}.txt"
