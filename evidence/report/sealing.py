"""The PDF's own signature: PAdES (ETSI EN 319 142-1), added behind the finished file and checked before anybody sees it.

The bytes of the unsigned file stay as they are: it is the beginning of the signed one. Everything is read again
afterwards, twice: by the library, and by a few lines here that trust nothing of it but the syntax of CMS (RFC 5652).
"""

from __future__ import annotations

import hashlib
import json
import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import asdict, dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import IO, Any, Self

from evidence.errors import EvidenceError, StoreDamaged
from evidence.record.attested import DocumentKey

EXTRA = "the extra 'seal' is not installed"
_FIELD = "Signature"
_PIECE = 1 << 20
_PATIENCE = 20  # seconds that an authority may take
_MOST_BEHIND = 4 << 20  # bytes that a signature may add to a file
_START = "import sys; sys.path.insert(0, sys.argv[1]); from evidence.report.sealing import serve; serve()"
_RANGE = re.compile(rb"/ByteRange \[(\d+) (\d+) (\d+) (\d+)\s*\]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Signed:
    """A signature that was found to be right."""

    fingerprint: str  # SHA-256 of the signer's certificate
    sha256: str  # of the whole file


def available() -> bool:
    """Whether the libraries of the extra ``seal`` are there."""
    return all(find_spec(name) for name in ("pyhanko", "pikepdf"))


class Judge:
    """Judges PDF/A-3b with pikepdf, and signs, in a process of its own, which is made ready while the report is printed.

    The libraries for both take 60 MB that the process that prints need not hold.
    """

    def __init__(self) -> None:
        root = str(Path(__file__).resolve().parents[2])
        self._process = subprocess.Popen(  # noqa: S603 - our own interpreter and our own code
            [sys.executable, "-P", "-c", _START, root],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_exc: object) -> None:
        self._process.kill()
        self._process.communicate()

    def require_archive(self, path: Path) -> None:
        """Refuse a file that is not PDF/A-3b."""
        answer = self._ask({"judge": str(path)})
        found = answer.get("findings", ["it could not be judged: " + answer.get("ended", "")])
        if found:
            raise EvidenceError(
                f"the PDF is no PDF/A-3b and was not signed: {'; '.join(found[:3])}",
                advice="This is a fault of the program; please report it.",
            )

    def seal(self, stream: IO[bytes], size: int, digest: str, key: DocumentKey, authority: str = "") -> Signed:
        """As :func:`seal`, there. The key goes through a pipe, which nobody else can read."""
        stream.flush()
        answer = self._ask({
            "seal": stream.name, "size": size, "digest": digest, "authority": authority,
            "private": key.private.hex(), "certificate": key.certificate.hex(),
        })  # fmt: skip
        if "errno" in answer:
            raise OSError(answer["errno"], answer["said"], stream.name)
        if "ended" in answer:
            raise EvidenceError(f"the PDF could not be signed: {answer['ended']}", advice="Run the same command again.")
        if "error" in answer:
            kind = StoreDamaged if answer["error"] == StoreDamaged.code else EvidenceError
            raise kind(answer["said"], item=answer["item"], advice=answer["advice"])
        return Signed(fingerprint=answer["fingerprint"], sha256=answer["sha256"])

    def _ask(self, asked: dict[str, Any]) -> dict[str, Any]:
        assert self._process.stdin
        assert self._process.stdout
        with suppress(BrokenPipeError):  # it has ended: told below
            self._process.stdin.write(f"{json.dumps(asked)}\n")
            self._process.stdin.flush()
        if said := self._process.stdout.readline():
            return dict(json.loads(said))
        _said, problem = self._process.communicate()
        return {"ended": problem.strip()[-200:] or "the process for it was ended from outside"}


def serve() -> None:
    """What the process of a :class:`Judge` does: one line asks, one line answers."""
    from pikepdf import pdfa

    _load()
    for line in sys.stdin:
        asked = json.loads(line)
        if "judge" in asked:
            report = pdfa.validate_written(asked["judge"], "3b")
            passed = report.verdict == "pass"
            answer: dict[str, Any] = {
                "findings": [] if passed else [str(f) for f in report.findings] or [report.verdict]
            }
        else:
            answer = _sealed(asked)
        print(json.dumps(answer), flush=True)


def _sealed(asked: dict[str, Any]) -> dict[str, Any]:
    key = DocumentKey(private=bytes.fromhex(asked["private"]), certificate=bytes.fromhex(asked["certificate"]))
    try:
        with Path(asked["seal"]).open("r+b") as stream:
            found = seal(stream, asked["size"], asked["digest"], key, asked["authority"])
    except OSError as err:
        return {"errno": err.errno, "said": err.strerror or str(err)}
    except EvidenceError as err:
        return {"error": err.code, "said": err.message, "item": err.item, "advice": err.advice}
    return asdict(found)


def _load() -> None:
    """What signing needs; it takes a second."""
    import pyhanko.sign.signers
    import pyhanko.sign.validation  # noqa: F401


def seal(stream: IO[bytes], size: int, digest: str, key: DocumentKey, authority: str = "") -> Signed:
    """Sign the PDF in ``stream`` (``size`` bytes with SHA-256 ``digest``) in its place, and check the result.

    With ``authority`` (the URL of an RFC 3161 service) the signature carries a time-stamp. Raises ``StoreDamaged`` where
    what was written is not what was meant; the caller then throws the file away.
    """
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.sign import fields, signers

    stream.flush()
    signer = _signer(key)
    meta = signers.PdfSignatureMetadata(
        field_name=_FIELD, md_algorithm="sha256", subfilter=fields.SigSeedSubFilter.PADES, name=_name(key),
        reason="Evidence after a repair: the file is as it was made",
    )  # fmt: skip
    made = signers.PdfSigner(meta, signer, timestamper=_authority(authority))
    try:
        made.sign_pdf(IncrementalPdfFileWriter(stream), in_place=True, chunk_size=_PIECE)
    except OSError:
        raise
    except Exception as err:
        if not authority:
            raise
        raise EvidenceError(
            f"the authority gave no time-stamp: {err or type(err).__name__}", item=authority,
            advice="Run the command again later or without --authority; no report was written.",
        ) from err  # fmt: skip
    stream.flush()
    path = Path(stream.name)
    with ThreadPoolExecutor(1) as second:  # both read the whole file; hashing leaves the interpreter free
        asked = second.submit(_library_says, path, key)
        try:
            found = check_signature(path, begins=(size, digest))
            problem = asked.result() or ("another key" if found.fingerprint != key.fingerprint else "")
        except ValueError as err:
            problem = str(err)
    if problem:
        raise StoreDamaged(
            f"the signature just written is not right: {problem}", item=path.name,
            advice="Nothing was kept. Run the same command again; if it happens again, disk or memory fail.",
        )  # fmt: skip
    return found


def _signer(key: DocumentKey) -> Any:
    """A signer that loads the key once: the library's own does for every signature, and tests its primes each time."""
    from asn1crypto import keys, x509
    from cryptography.hazmat.primitives.asymmetric.padding import PKCS1v15
    from cryptography.hazmat.primitives.asymmetric.rsa import RSAPrivateKey
    from cryptography.hazmat.primitives.hashes import SHA256
    from cryptography.hazmat.primitives.serialization import load_der_private_key
    from pyhanko.sign.signers import SimpleSigner
    from pyhanko_certvalidator.registry import SimpleCertificateStore

    # Tested when the key file was read; what it signs is verified below in any case.
    private: Any = load_der_private_key(key.private, None, unsafe_skip_rsa_key_validation=True)
    assert isinstance(private, RSAPrivateKey)
    sign = private.sign

    class Loaded(SimpleSigner):
        def sign_raw(self, data: bytes, digest_algorithm: str) -> bytes:
            assert digest_algorithm == "sha256"
            return sign(data, PKCS1v15(), SHA256())

    store = SimpleCertificateStore()  # type: ignore[no-untyped-call]
    return Loaded(x509.Certificate.load(key.certificate), keys.PrivateKeyInfo.load(key.private), store)


def _authority(url: str) -> Any:
    if not url:
        return None
    from pyhanko.sign.timestamps import HTTPTimeStamper

    return HTTPTimeStamper(url, timeout=_PATIENCE)


def _name(key: DocumentKey) -> str:
    from cryptography.x509 import load_der_x509_certificate
    from cryptography.x509.oid import NameOID

    subject = load_der_x509_certificate(key.certificate).subject
    return str(subject.get_attributes_for_oid(NameOID.COMMON_NAME)[0].value)


def _library_says(path: Path, key: DocumentKey) -> str:
    """What is wrong with the signature as pyHanko sees it; empty for nothing."""
    from asn1crypto.x509 import Certificate as Loaded
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.validation import validate_pdf_signature
    from pyhanko_certvalidator import ValidationContext

    with path.open("rb") as stream:
        found = PdfFileReader(stream).embedded_signatures
        if len(found) != 1:
            return f"{len(found)} signatures instead of one"
        context = ValidationContext(trust_roots=[Loaded.load(key.certificate)], allow_fetching=False)
        status = validate_pdf_signature(found[0], context)
    stamp = status.timestamp_validity
    if not (
        status.intact
        and status.valid
        and status.trusted
        and str(status.coverage) == "SignatureCoverageLevel.ENTIRE_FILE"
    ):
        return str(status.summary())
    return "" if stamp is None or (stamp.intact and stamp.valid) else "its time-stamp is not right"


def check_signature(path: Path, *, begins: tuple[int, str] | None = None) -> Signed:
    """The signature that closes a PDF; ``ValueError`` says what is wrong with it.

    Not one byte may lie outside of what is signed but the signature itself. Whose certificate it is must be compared
    with something from elsewhere; a time-stamp inside the signature is not judged. ``begins``: size and SHA-256 of the
    unsigned file that it must begin with.
    """
    with path.open("rb") as stream:
        size = stream.seek(0, 2)
        stream.seek(max(0, size - _MOST_BEHIND))
        tail = stream.read()
        ranges = list(_RANGE.finditer(tail))
        if not ranges:
            raise ValueError("no signature at the end of the file")
        zero, end, start, rest = map(int, ranges[-1].groups())
        if zero or not 0 < end < start or start + rest != size or size - end > len(tail):
            raise ValueError("the signature does not cover the whole file")
        gap = tail[end - size : start - size]
        signed, whole = _hashes(stream, end, tail[end - size :], start - end, begins)
    contents = _contents(gap)
    try:
        return Signed(fingerprint=_signed_by(contents, signed), sha256=whole)
    except _unreadable() as err:
        raise ValueError(f"the signature cannot be read: {type(err).__name__}") from None


def _unreadable() -> tuple[type[Exception], ...]:
    """What the libraries say of nonsense."""
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.x509 import InvalidVersion

    return KeyError, TypeError, AttributeError, IndexError, OverflowError, UnsupportedAlgorithm, InvalidVersion


def _hashes(stream: IO[bytes], end: int, tail: bytes, gap: int, begins: tuple[int, str] | None) -> tuple[bytes, str]:
    """SHA-256 of what is signed, and of the whole file; the part that both share is read once."""
    seen, size = hashlib.sha256(), begins[0] if begins else 0
    if size > end:
        raise ValueError("the unsigned part was changed")
    stream.seek(0)
    _take(stream, seen, size)
    if begins and seen.hexdigest() != begins[1]:
        raise ValueError("the unsigned part was changed")
    _take(stream, seen, end - size)
    whole = seen.copy()
    whole.update(tail)
    seen.update(tail[gap:])
    return seen.digest(), whole.hexdigest()


def _take(stream: IO[bytes], seen: hashlib._Hash, count: int) -> None:
    while count and (piece := stream.read(min(count, _PIECE))):
        seen.update(piece)
        count -= len(piece)


def _contents(gap: bytes) -> bytes:
    """The CMS in the gap: hexadecimal as it was written, filled up with zeros."""
    match = re.fullmatch(rb"<((?:[0-9A-F]{2})+)>", gap)
    if match is None:
        raise ValueError("the signature is not in the form in which it was written")
    padded = bytes.fromhex(match[1].decode())
    length = _der_length(padded)
    if any(padded[length:]):
        raise ValueError("something stands behind the signature")
    return padded[:length]


def _der_length(data: bytes) -> int:
    """The length of the structure at the beginning (X.690, 8.1.3), its head included."""
    if len(data) < 6 or data[0] != 0x30 or not 0x81 <= data[1] <= 0x84:
        raise ValueError("the signature is no CMS structure")
    head = 2 + data[1] - 0x80
    return head + int.from_bytes(data[2:head], "big")


def _signed_by(cms_bytes: bytes, digest: bytes) -> str:
    """The fingerprint of the certificate whose key signed ``digest``."""
    from asn1crypto import cms, tsp  # noqa: F401 - the second teaches the first what a named certificate is
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric.padding import PKCS1v15
    from cryptography.hazmat.primitives.asymmetric.rsa import RSAPublicKey
    from cryptography.x509 import load_der_x509_certificate

    content = cms.ContentInfo.load(cms_bytes, strict=True)["content"]
    (signer,) = content["signer_infos"]
    (certificate,) = (c.chosen for c in content["certificates"])
    if _as_written(certificate, signer) != cms_bytes:
        raise ValueError("the signature is not in the form in which it was written")
    attributes = {a["type"].native: a["values"][0] for a in signer["signed_attrs"]}
    if attributes["message_digest"].native != digest:
        raise ValueError("the file is not the one that was signed")
    fingerprint = hashlib.sha256(certificate.dump()).digest()
    if attributes["signing_certificate_v2"]["certs"][0]["cert_hash"].native != fingerprint:
        raise ValueError("the certificate is not the one that the signature names")
    key = load_der_x509_certificate(certificate.dump()).public_key()
    if not isinstance(key, RSAPublicKey):
        raise ValueError("signed by a kind of key that this program does not use")  # noqa: TRY004  (of the file)
    try:
        key.verify(signer["signature"].native, signer["signed_attrs"].untag().dump(), PKCS1v15(), hashes.SHA256())
    except InvalidSignature:
        raise ValueError("the signature is not that of the certificate in it") from None
    return fingerprint.hex()


def _as_written(certificate: Any, signer: Any) -> bytes:
    """The CMS anew from what is signed, who signed it and what was added later: no other byte has any freedom."""
    from asn1crypto import algos, cms

    sha256 = algos.DigestAlgorithm({"algorithm": "sha256"})
    named = cms.IssuerAndSerialNumber({"issuer": certificate.issuer, "serial_number": certificate.serial_number})
    info = {
        "version": "v1", "sid": cms.SignerIdentifier({"issuer_and_serial_number": named}), "digest_algorithm": sha256,
        "signature_algorithm": algos.SignedDigestAlgorithm({"algorithm": "sha256_rsa"}),
        "signed_attrs": signer["signed_attrs"], "signature": signer["signature"],
    }  # fmt: skip
    if signer["unsigned_attrs"]:
        info["unsigned_attrs"] = signer["unsigned_attrs"]
    content = cms.SignedData({
        "version": "v1", "digest_algorithms": cms.DigestAlgorithms((sha256,)), "encap_content_info": {"content_type": "data"},
        "certificates": [certificate], "signer_infos": [cms.SignerInfo(info)],
    })  # fmt: skip
    return bytes(cms.ContentInfo({"content_type": "signed_data", "content": content}).dump())
