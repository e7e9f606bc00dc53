"""A time-stamp authority for tests: certificates made on the spot, answers by Debian's ``openssl ts``, HTTP on loopback.

``forged`` signs any TSTInfo with ``openssl cms``, so that certificates that OpenSSL would refuse to sign with can be tried.
"""

from __future__ import annotations

import datetime as dt
import http.server
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives import serialization as ser
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID as Usage
from cryptography.x509.oid import NameOID

NOW = dt.datetime.now(dt.UTC).replace(microsecond=0)  # noqa: TID251 - openssl ts stamps with the machine's clock
DAY = dt.timedelta(days=1)
Key = ec.EllipticCurvePrivateKey


def _name(common: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, common), x509.NameAttribute(NameOID.COUNTRY_NAME, "XX")])


def certificate(
    common: str, key: Key, issuer: x509.Certificate | None = None, issuer_key: Key | None = None, *, since: dt.datetime = NOW - 900 * DAY,
    until: dt.datetime = NOW + 900 * DAY, usage: x509.ObjectIdentifier | None = None, critical: bool = True,
) -> x509.Certificate:  # fmt: skip
    """A certificate; without an issuer a self-signed authority."""
    root = issuer is None
    made = (
        x509.CertificateBuilder().subject_name(_name(common)).issuer_name(issuer.subject if issuer else _name(common))
        .public_key(key.public_key()).serial_number(x509.random_serial_number()).not_valid_before(since).not_valid_after(until)
        .add_extension(x509.BasicConstraints(root, None), True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key((issuer_key or key).public_key()), False)
        .add_extension(x509.KeyUsage(not root, not root, False, False, False, root, root, False, False), True)
    )  # fmt: skip
    if usage:
        made = made.add_extension(x509.ExtendedKeyUsage([usage]), critical)
    return made.sign(issuer_key or key, hashes.SHA256())


def pem(what: x509.Certificate | Key) -> bytes:
    if isinstance(what, x509.Certificate):
        return what.public_bytes(ser.Encoding.PEM)
    return what.private_bytes(ser.Encoding.PEM, ser.PrivateFormat.PKCS8, ser.NoEncryption())


@dataclass
class TimeAuthority:
    """Root, signer and the configuration of ``openssl ts`` in a folder. ``digests`` it accepts in a query."""

    folder: Path
    since: dt.datetime = NOW - 900 * DAY
    until: dt.datetime = NOW + 900 * DAY
    usage: x509.ObjectIdentifier | None = Usage.TIME_STAMPING
    critical: bool = True
    digests: str = "sha256, sha384, sha512"
    chain: bool = True
    asked: list[bytes] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)
        root_key, key = ec.generate_private_key(ec.SECP256R1()), ec.generate_private_key(ec.SECP256R1())
        self.root = certificate("Test Root", root_key, since=NOW - 9000 * DAY, until=NOW + 9000 * DAY)
        self.signer = certificate(
            "Test Time Authority", key, self.root, root_key, since=self.since, until=self.until, usage=self.usage, critical=self.critical
        )
        for name, what in (("root.pem", self.root), ("signer.pem", self.signer), ("signer.key", key)):
            (self.folder / name).write_bytes(pem(what))
        (self.folder / "serial").write_text("01\n")
        (self.folder / "ts.cnf").write_text(
            f"[tsa]\ndefault_tsa = t\n[t]\nserial = {self.folder}/serial\nsigner_cert = {self.folder}/signer.pem\n"
            f"signer_key = {self.folder}/signer.key\n" + (f"certs = {self.folder}/root.pem\n" if self.chain else "")
            + f"signer_digest = sha256\ndefault_policy = 1.2.3.4.1\ndigests = {self.digests}\naccuracy = secs:1, millisecs:500\n"
            "ess_cert_id_alg = sha256\n"
        )  # fmt: skip

    @property
    def root_pem(self) -> bytes:
        return pem(self.root)

    def query(self, data: bytes, digest: str = "sha256") -> bytes:
        (self.folder / "data").write_bytes(data)
        return self._openssl("ts", "-query", "-data", "data", f"-{digest}", "-cert")

    def reply(self, query: bytes) -> bytes:
        (self.folder / "query.tsq").write_bytes(query)
        return self._openssl("ts", "-reply", "-config", "ts.cnf", "-queryfile", "query.tsq")

    def stamp(self, data: bytes, digest: str = "sha256") -> bytes:
        return self.reply(self.query(data, digest))

    def forged(self, token: bytes, time: dt.datetime | None = None) -> bytes:
        """The TSTInfo of another token, signed anew by this authority whatever its certificate is for."""
        from asn1crypto import cms, tsp

        info = tsp.TimeStampResp.load(token)["time_stamp_token"]["content"]["encap_content_info"]["content"].parsed.copy()
        if time:
            info["gen_time"] = time
        (self.folder / "info.der").write_bytes(info.dump(force=True))
        made = self._openssl(
            "cms", "-sign", "-binary", "-nodetach", "-cades", "-md", "sha256", "-econtent_type", "1.2.840.113549.1.9.16.1.4",
            "-in", "info.der", "-signer", "signer.pem", "-inkey", "signer.key", "-certfile", "root.pem", "-outform", "DER",
        )  # fmt: skip
        return tsp.TimeStampResp({"status": {"status": "granted"}, "time_stamp_token": cms.ContentInfo.load(made)}).dump()

    def openssl_agrees(self, token: bytes, data: bytes, *more: str) -> bool:
        """What ``openssl ts -verify`` says of a token."""
        (self.folder / "t.tsr").write_bytes(token)
        (self.folder / "d").write_bytes(data)
        command = ["openssl", "ts", "-verify", "-data", "d", "-in", "t.tsr", "-CAfile", "root.pem", *more]
        done = subprocess.run(command, cwd=self.folder, capture_output=True)
        assert (done.returncode == 0) == (b"Verification: OK" in done.stdout + done.stderr)
        return done.returncode == 0

    def _openssl(self, *words: str) -> bytes:
        done = subprocess.run(["openssl", *words, "-out", "out"], cwd=self.folder, capture_output=True)
        assert done.returncode == 0, done.stderr.decode()
        return (self.folder / "out").read_bytes()

    @contextmanager
    def serving(self, answer: bytes | None = None, kind: str = "application/timestamp-reply", status: int = 200) -> Iterator[str]:
        """Answer queries on loopback; with ``answer`` always that one. Yields the address."""
        authority = self

        class Handler(http.server.BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                query = self.rfile.read(int(self.headers["Content-Length"]))
                authority.asked.append(query)
                body = authority.reply(query) if answer is None else answer
                self.send_response(status)
                self.send_header("Content-Type", kind)
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)

            def log_message(self, *_words: object) -> None:
                pass

        server = http.server.HTTPServer(("127.0.0.1", 0), Handler)
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
        thread.start()
        try:
            yield f"http://127.0.0.1:{server.server_port}/"
        finally:
            server.shutdown()
            server.server_close()
            thread.join(5)
