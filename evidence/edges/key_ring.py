"""All keys of the folder ``keys/``: the shop's and people's, those replaced and those revoked.

A key in use is ``<name>.key`` with ``<name>.pem``. Under ``former/`` lie the public parts of keys that sign no more, each
with the statement that ended it: ``<name>-<start of fingerprint>.pem`` and ``.replaced.note``, ``.revoked.note`` or ``.revoked.txt``.
"""

from __future__ import annotations

import datetime as dt
import os
import re
from pathlib import Path
from typing import TYPE_CHECKING

from evidence.edges.durable import alone_in, disk_in_words, flush_folder, made_folder, put_file
from evidence.edges.keys import FORMER, SHOP, KeyFile, former_files, locked, private_pem, refuse_loose
from evidence.edges.passphrase import new_passphrase_for, remembered
from evidence.errors import EvidenceError, KeyUnusable, NotFound
from evidence.record.attested import KeyState, KnownKey
from evidence.record.checkpoint import Note, fingerprint, public_pem, read_public_pem
from evidence.record.statements import Statement, read_statement, replacement, revocation, said_by

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

DOCUMENT = "document.pem"  # key and certificate that sign PDFs, in one file
PDFS = "document"  # its name at the command line
_LISTED = "'evidence keys list' shows them."
_PRIVATE_END = re.compile(rb"-----END (?:ENCRYPTED )?PRIVATE KEY-----\n")
_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")


class KeyRing:
    """The folder of keys (the Keys port), and what a person does with it."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def known(self) -> list[KnownKey]:
        """Keys in use by name, the shop's first, then former ones by date; none for somebody who may not look there."""
        if self._closed():
            return []
        found = []
        for file in sorted(self._folder.glob("*.pem"), key=lambda f: (f.stem != SHOP, f.stem)):
            public = _public(file)
            if public:  # the folder also holds keys of another make, for PDFs
                found.append(KnownKey(name=file.stem, public=public, state=_state(file.with_suffix(".key"))))
        former = [self._former_key(file, public) for file in former_files(self._folder) if (public := _public(file))]
        return found + sorted(former, key=lambda k: (k.ended or dt.date.min, k.public))

    def document(self) -> tuple[str, KeyState] | None:
        """The key that signs PDFs, where there is one: fingerprint of its certificate, and whether it has a passphrase."""
        if self._closed() or not (self._folder / DOCUMENT).exists():
            return None
        data = (self._folder / DOCUMENT).read_bytes()
        return _certificate_print(data), "locked" if locked(data) else "open"

    def loose(self) -> list[str]:
        """What others on this machine could read or change, and how to mend it."""
        if self._closed():
            return []
        found = []
        private = [f for f in sorted(self._folder.glob("*")) if f.suffix == ".key" or f.name == DOCUMENT]
        for path in [self._folder, *private] if self._folder.exists() else []:
            try:
                refuse_loose(path)
            except KeyUnusable as err:
                found.append(f"{path.name}: {err.message}; {err.advice}")
        return found

    def _closed(self) -> bool:
        """Whether the folder is another person's: he alone may look into it."""
        return self._folder.exists() and not os.access(self._folder, os.R_OK | os.X_OK)

    def get(self, name: str) -> KeyFile:
        """A key in use, by name; it is not made."""
        if not (self._folder / f"{name}.key").exists():
            raise NotFound(
                "there is no such key",
                item=name,
                advice="'evidence keys list' shows them; 'evidence keys make' makes one.",
            )
        return KeyFile(self._folder, name)

    def make(self, name: str) -> KnownKey:
        """Make a key. The shop's may be made anew after the old one was revoked."""
        if not _NAME.fullmatch(name) or name == PDFS:
            raise EvidenceError(
                "a key's name has small letters, digits and hyphens, 40 at most",
                item=name,
                advice="Such as 'ann-teal'.",
            )
        if (self._folder / f"{name}.key").exists() or (self._folder / f"{name}.pem").exists():
            raise EvidenceError(
                "a key of this name is there", item=name, advice="Use 'evidence keys rotate' to replace it."
            )
        made = KeyFile(self._folder, name, again=True)
        made.public()
        return self._named(name)

    def set_passphrase(self, name: str, *, remove: bool = False) -> None:
        """Encrypt a key under a new passphrase, or under none. ``document`` names the key that signs PDFs."""
        from cryptography.hazmat.primitives.serialization import load_pem_private_key

        file = self._folder / (DOCUMENT if name == PDFS else f"{name}.key")
        if not file.exists():
            raise NotFound("there is no such key", item=name, advice=_LISTED)
        refuse_loose(file)
        data = file.read_bytes()
        rest = _PRIVATE_END.split(data, maxsplit=1)[-1]  # the certificate, where there is one
        phrase = remembered(f"the {name} key") if locked(data) else None
        if locked(data) and phrase is None:
            raise _nobody(file)
        try:
            opened = load_pem_private_key(data, phrase)
        except ValueError:
            raise KeyUnusable(
                "the passphrase does not open the key", item=str(file), advice="Nothing was changed."
            ) from None
        new = None if remove else new_passphrase_for(f"the {name} key")
        if new is None and not remove:
            raise EvidenceError(
                "there is nobody to ask for a new passphrase", item=name,
                advice="Run the command at a terminal, or set EVIDENCE_NEW_PASSPHRASE.",
            )  # fmt: skip
        with disk_in_words("the key", file), alone_in(self._folder):
            put_file(file, private_pem(opened, new) + rest, 0o600)
            flush_folder(self._folder)
        remembered.cache_clear()

    def rotate(self, name: str, date: dt.date, reason: str) -> tuple[KnownKey, Path]:
        """Replace a key; returns the new one and the statement, which both keys have signed. The old one signs no more."""
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

        if name == PDFS:
            raise EvidenceError(
                "the key that signs PDFs has no successor", item=name,
                advice="End it with 'evidence keys revoke document': the next report makes another.",
            )  # fmt: skip
        file = self.get(name)
        old, public = _unlocked(file), file.public()
        passphrase = remembered(f"the {name} key") if locked(file.private_file.read_bytes()) else None
        new = Ed25519PrivateKey.generate()
        fresh = new.public_key().public_bytes_raw()
        note = replacement(public, old.sign, fresh, new.sign, date, _line(reason))
        with disk_in_words("the keys", self._folder):
            statement = self._put_away(name, public, "replaced.note", note.to_bytes())
            with alone_in(self._folder):
                put_file(file.public_file, public_pem(fresh), 0o644)
                put_file(file.private_file, private_pem(new, passphrase), 0o600)
                flush_folder(self._folder)
        return self._named(name), statement

    def revoke(self, name: str, date: dt.date, reason: str) -> Path:
        """End a key without a successor; returns the statement. A lost key is revoked by a text that it cannot sign.

        ``document`` is the key that signs PDFs: its certificate is kept, and the next report makes another key.
        """
        if name == PDFS:
            return self._end_document(date, _line(reason))
        file = KeyFile(self._folder, name)
        public = _public(file.public_file) if file.public_file.exists() else None
        if public is None:
            raise NotFound("there is no such key", item=name, advice=_LISTED)
        if file.private_file.exists():
            data, suffix = revocation(public, _unlocked(file).sign, date, _line(reason)).to_bytes(), "revoked.note"
        else:
            data = Statement(key=fingerprint(public), date=date, reason=_line(reason)).text().encode()
            suffix = "revoked.txt"
        with disk_in_words("the keys", self._folder):
            statement = self._put_away(name, public, suffix, data)
            with alone_in(self._folder):
                file.private_file.unlink(missing_ok=True)
                file.public_file.unlink()
                flush_folder(self._folder)
        return statement

    def _end_document(self, date: dt.date, reason: str) -> Path:
        file, folder = self._folder / DOCUMENT, self._folder / FORMER
        if not file.exists():
            raise NotFound("there is no such key", item=PDFS, advice=_LISTED)
        data = file.read_bytes()
        print_of = _certificate_print(data)
        said = Statement(key=print_of, date=date, reason=reason).text().encode()
        start = f"{PDFS}-{print_of[:8]}"
        with disk_in_words("the keys", self._folder):
            made_folder(folder, 0o700)
            with alone_in(folder):
                put_file(folder / f"{start}.crt", _PRIVATE_END.split(data, maxsplit=1)[-1], 0o444)
                put_file(folder / f"{start}.revoked.txt", said, 0o444)
                flush_folder(folder)
            with alone_in(self._folder):
                file.unlink()
                flush_folder(self._folder)
        return folder / f"{start}.revoked.txt"

    def public_files(self, name: str) -> dict[str, bytes]:
        """What others need of a key: its public part, and the statements on those before it. Nothing secret."""
        found = {f"{name}.pem": self.get(name).public_file.read_bytes()}
        for file in former_files(self._folder, name):
            found[f"former-{file.name}"] = file.read_bytes()
            found |= {f"former-{s.name}": s.read_bytes() for s in file.parent.glob(f"{file.stem}.*.*")}
        return found

    def _put_away(self, name: str, public: bytes, suffix: str, statement: bytes) -> Path:
        folder = self._folder / FORMER
        made_folder(folder, 0o700)
        start = f"{name}-{fingerprint(public)[:8]}"
        with alone_in(folder):
            put_file(folder / f"{start}.pem", public_pem(public), 0o444)
            put_file(folder / f"{start}.{suffix}", statement, 0o444)
            flush_folder(folder)
        return folder / f"{start}.{suffix}"

    def _former_key(self, file: Path, public: bytes) -> KnownKey:
        for statement in sorted(file.parent.glob(f"{file.stem}.re*")):
            try:
                text = statement.read_bytes()
                note = Note.read(text) if statement.suffix == ".note" else None
                said = read_statement(note.text if note else text.decode())
            except ValueError:
                continue
            if said.key == fingerprint(public) and (note is None or said_by(note, public)):
                state: KeyState = "replaced" if said.successor else "revoked"
                return KnownKey(name=file.stem, public=public, state=state, ended=said.date, reason=said.reason)
        return KnownKey(name=file.stem, public=public, state="revoked", reason="its statement cannot be read")

    def _named(self, name: str) -> KnownKey:
        return next(k for k in self.known() if k.name == name)


def _state(private: Path) -> KeyState:
    try:
        return "locked" if locked(private.read_bytes()) else "open"
    except FileNotFoundError:
        return "lost"
    except PermissionError:  # somebody else's: it is as good as locked
        return "locked"


def _unlocked(file: KeyFile) -> Ed25519PrivateKey:
    opened = file.opened()
    if opened is None:
        raise _nobody(file.private_file)
    return opened


def _nobody(file: Path) -> KeyUnusable:
    return KeyUnusable(
        "the key is locked, and there is nobody to ask for its passphrase", item=str(file),
        advice="Run the command at a terminal, or set EVIDENCE_PASSPHRASE.",
    )  # fmt: skip


def _public(file: Path) -> bytes | None:
    try:
        return read_public_pem(file.read_bytes())
    except (ValueError, OSError):
        return None


def _certificate_print(data: bytes) -> str:
    """SHA-256 of the certificate in a file of key and certificate; empty where it cannot be read."""
    from cryptography.hazmat.primitives.hashes import SHA256
    from cryptography.x509 import load_pem_x509_certificate

    try:
        return load_pem_x509_certificate(data).fingerprint(SHA256()).hex()
    except ValueError:
        return ""


def _line(reason: str) -> str:
    line = " ".join(reason.split())
    if not line:
        raise EvidenceError("why?", item="--reason", advice="The statement carries it: 'the laptop was stolen'.")
    return line
