"""The key that signs PDFs: ``keys/document.pem`` (0600), an RSA key of 3072 bits with its self-signed certificate.

RSA, because the viewers of PDF know it everywhere and a signature by another kind of key would take the file out of
PDF/A-3 (ISO 19005-3 rests on ISO 32000-1). The record itself is signed by the shop key, see :mod:`evidence.edges.keys`.
"""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from evidence.edges.durable import alone_in, disk_in_words, flush_folder, made_folder, put_file
from evidence.edges.keys import refuse_loose
from evidence.edges.passphrase import VARIABLE, remembered
from evidence.errors import KeyUnusable
from evidence.ports import Recorder
from evidence.record.attested import DocumentKey

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.rsa import RSAPrivateKey
    from cryptography.x509 import Certificate

BITS = 3072  # as strong as the shop key, NIST SP 800-57 part 1, table 2
_NEVER = dt.datetime(9999, 12, 31, 23, 59, 59, tzinfo=dt.UTC)  # no well-defined end, RFC 5280, 4.1.2.5


class DocumentKeyFile:
    """The key file of a workspace; the key is made on first use, without a question."""

    def __init__(
        self, folder: Path, who: Recorder, now: Callable[[], dt.datetime], ask: Callable[[str], bytes | None] = remembered
    ) -> None:  # fmt: skip
        self._folder, self._who, self._now, self._ask = folder, who, now, ask

    @property
    def file(self) -> Path:
        """Where key and certificate lie."""
        return self._folder / "document.pem"

    def open(self) -> DocumentKey | None:
        """Key and certificate; None where the key is locked and there is nobody to ask.

        Raises ``KeyUnusable`` where the file is open to others or no key, ``WorkspaceUnusable`` where none can be made.
        """
        from cryptography.hazmat.primitives import serialization as ser

        with disk_in_words("the key that signs PDFs", self._folder):
            if not self._folder.exists():
                made_folder(self._folder, 0o700)
            refuse_loose(self._folder)
            if not self.file.exists():
                with alone_in(self._folder):
                    if not self.file.exists():
                        self._make()
            refuse_loose(self.file)
            data = self.file.read_bytes()
        phrase = None
        if b"ENCRYPTED PRIVATE KEY" in data and (phrase := self._ask("the key that signs PDFs")) is None:
            return None
        private, certificate = self._read(data, phrase)
        return DocumentKey(
            private=private.private_bytes(ser.Encoding.DER, ser.PrivateFormat.PKCS8, ser.NoEncryption()),
            certificate=certificate.public_bytes(ser.Encoding.DER),
        )

    def _read(self, data: bytes, phrase: bytes | None) -> tuple[RSAPrivateKey, Certificate]:
        from cryptography.hazmat.primitives.asymmetric.rsa import RSAPrivateKey
        from cryptography.hazmat.primitives.serialization import load_pem_private_key
        from cryptography.x509 import load_pem_x509_certificate

        again = "Bring the file back from a copy, or move it away: the next report makes another key."
        try:
            private, certificate = load_pem_private_key(data, phrase), load_pem_x509_certificate(data)
        except (ValueError, TypeError) as err:
            told = "the passphrase does not open the key" if phrase else f"cannot be read: {err}"
            raise KeyUnusable(told, item=str(self.file), advice="Try again." if phrase else again) from None
        if not isinstance(private, RSAPrivateKey) or private.public_key() != certificate.public_key():
            raise KeyUnusable("key and certificate do not belong together", item=str(self.file), advice=again)
        return private, certificate

    def _make(self) -> None:
        from cryptography.hazmat.primitives import serialization as ser
        from cryptography.hazmat.primitives.asymmetric import rsa

        key = rsa.generate_private_key(public_exponent=65537, key_size=BITS)
        phrase = os.environ.get(VARIABLE, "").encode()
        how = ser.BestAvailableEncryption(phrase) if phrase else ser.NoEncryption()
        private = key.private_bytes(ser.Encoding.PEM, ser.PrivateFormat.PKCS8, how)
        certificate = _certificate(key, self._who, self._now()).public_bytes(ser.Encoding.PEM)
        put_file(self.file, private + certificate, 0o600)  # one file: never a key without its certificate
        flush_folder(self._folder)


def _certificate(key: RSAPrivateKey, who: Recorder, now: dt.datetime) -> Certificate:
    """Whose key it is, said by himself; nobody confirms it."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.x509.oid import NameOID

    names = [x509.NameAttribute(NameOID.COMMON_NAME, (who.full_name or who.firm)[:64])]
    names += [x509.NameAttribute(NameOID.ORGANIZATION_NAME, who.firm[:64])] if who.firm else []
    name = x509.Name(names)
    usage = dict.fromkeys(
        ("key_encipherment", "data_encipherment", "key_agreement", "key_cert_sign", "crl_sign", "encipher_only",
         "decipher_only"), False,
    )  # fmt: skip
    made = x509.CertificateBuilder(name, name, key.public_key(), x509.random_serial_number(), now, _NEVER)
    made = made.add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
    made = made.add_extension(x509.KeyUsage(digital_signature=True, content_commitment=True, **usage), critical=True)
    made = made.add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    return made.sign(key, hashes.SHA256())
