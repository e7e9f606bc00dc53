"""Checking time-stamps of an authority (RFC 3161), without network and without a workspace.

A valid token shows that the bytes it speaks of existed when the authority's clock said so. It does not show who made
them, nor that what they say is true. Whether a certificate was revoked is not asked.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import logging
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evidence.errors import ExtraMissing
from evidence.record.attested import TokenFound

if TYPE_CHECKING:
    from asn1crypto import cms, tsp, x509

STRONG = frozenset({"sha256", "sha384", "sha512", "sha3_256", "sha3_384", "sha3_512"})  # digests of what is stamped
_WORDS = {
    "other_data": "it speaks of other data",
    "no_token": "it is no answer of a time-stamp authority",
    "signature": "its signature is wrong: the token was changed after it was made",
    "usage": "its certificate is not made for time-stamps alone (RFC 3161 section 2.3)",
    "chain": "its certificate does not lead to an authority that is trusted here",
}


def check_token(token: bytes, stamped: bytes, roots: Sequence[bytes]) -> TokenFound:
    """Hold a time-stamp answer (``TimeStampResp`` or bare token, DER) against the bytes it is said to be of.

    ``roots``: certificates of authorities that the caller trusts, DER or PEM (one or more in each). The certificate
    is judged at the time in the token: one that expired afterwards does no harm, one that had expired before does.
    """
    need_seal()
    try:
        return _found(read_token(token), stamped, _all_of(roots))
    except _unreadable():
        return TokenFound(valid=False, time=None, authority="", reasons=(_WORDS["no_token"],), chain_trusted=False)


def _found(signed: cms.SignedData, stamped: bytes, roots: list[x509.Certificate]) -> TokenFound:
    info = signed["encap_content_info"]["content"].parsed
    time = info["gen_time"].native
    authority, about_signature, trusted = _about_signature(signed, time, roots)
    reasons = [*_about_imprint(info, stamped), *about_signature]
    chain = [] if trusted or reasons else [_WORDS["chain"]]
    return TokenFound(
        valid=not reasons, time=time, authority=authority, reasons=(*reasons, *chain), chain_trusted=trusted and not reasons,
        accuracy=_accuracy(info), serial=f"{info['serial_number'].native:x}",
    )  # fmt: skip


def _unreadable() -> tuple[type[Exception], ...]:
    """What the libraries raise on bytes that are no token, or no token they can judge."""
    from cryptography.exceptions import UnsupportedAlgorithm
    from pyhanko.pdf_utils.misc import PdfError
    from pyhanko_certvalidator.errors import PathError

    lookups = (ValueError, TypeError, LookupError, AttributeError, AssertionError, ArithmeticError, RuntimeError)
    return (*lookups, UnsupportedAlgorithm, PdfError, PathError)


def read_token(data: bytes) -> cms.SignedData:
    """The signed data inside an answer or a bare token; ``ValueError`` if there is none."""
    from asn1crypto import cms, tsp

    try:
        answer = tsp.TimeStampResp.load(data, strict=True)
        status = answer["status"]["status"].native
        token = answer["time_stamp_token"]
    except (ValueError, TypeError):
        status, token = "granted", cms.ContentInfo.load(data, strict=True)
    if status not in ("granted", "granted_with_mods"):
        raise ValueError(f"the authority refused: {status}")
    if token["content_type"].native != "signed_data":
        raise ValueError("no signed data")
    signed = token["content"]
    if signed["encap_content_info"]["content_type"].native != "tst_info" or len(signed["signer_infos"]) != 1:
        raise ValueError("no time-stamp of one signer")
    return signed


def certificates(data: bytes) -> list[x509.Certificate]:
    """Every certificate in ``data``, PEM or DER; what cannot be read is passed over."""
    from asn1crypto import pem, x509

    found: list[x509.Certificate] = []
    try:
        blocks = [der for kind, _headers, der in pem.unarmor(data, multiple=True) if kind == "CERTIFICATE"]
    except ValueError:
        blocks = [data]
    for der in blocks:
        try:
            certificate = x509.Certificate.load(der, strict=True)
            certificate.subject.native  # noqa: B018 - parsed to the bottom now, not in the middle of a check
            found.append(certificate)
        except (ValueError, TypeError):
            continue
    return found


def _all_of(files: Sequence[bytes]) -> list[x509.Certificate]:
    return [certificate for file in files for certificate in certificates(file)]


def certificates_in(token: bytes) -> bytes:
    """The certificates that came with a token, in PEM, the signer's first."""
    from asn1crypto import pem

    signed = read_token(token)
    came = [c.chosen for c in signed["certificates"]]
    own = _signer(signed, came)
    ordered = [own, *(c for c in came if c is not own)] if own else came
    return b"".join(pem.armor("CERTIFICATE", c.dump()) for c in ordered)


def with_issuers(chain: bytes, roots: Sequence[bytes]) -> bytes:
    """Certificates in PEM, completed by those of ``roots`` that issued one of them: what ``openssl ts -verify`` needs."""
    from asn1crypto import pem

    found, known = certificates(chain), _all_of(roots)
    have = {c.dump() for c in found}
    for certificate in found:  # grows as it goes: an issuer may itself have one
        for root in known:
            if root.subject == certificate.issuer and root.dump() not in have:
                have.add(root.dump())
                found.append(root)
    return b"".join(pem.armor("CERTIFICATE", c.dump()) for c in found)


@cache
def system_roots() -> tuple[bytes, ...]:
    """The authorities that this machine trusts; none where it does not say."""
    import ssl

    file = ssl.get_default_verify_paths().cafile or "/etc/ssl/certs/ca-certificates.crt"
    return (Path(file).read_bytes(),) if Path(file).is_file() else ()


def need_seal() -> None:
    """Refuse with advice where the libraries for time-stamps and signed PDFs are not installed."""
    try:
        import pyhanko  # noqa: F401
    except ImportError:
        raise ExtraMissing(
            "time-stamps need a library that is not installed", item="extra 'seal'",
            advice="Install it: pip install 'comeback-evidence[seal]'.",
        ) from None  # fmt: skip
    for name in ("pyhanko", "pyhanko_certvalidator"):  # what they have to say is said in our words
        if not logging.getLogger(name).handlers:
            logging.getLogger(name).addHandler(logging.NullHandler())


def _about_imprint(info: tsp.TSTInfo, stamped: bytes) -> list[str]:
    algorithm = info["message_imprint"]["hash_algorithm"]["algorithm"].native
    if algorithm not in STRONG:
        return [f"its imprint is made with {algorithm.upper().replace('SHA', 'SHA-')}, which is too weak"]
    made = hashlib.new(algorithm, stamped).digest()
    return [] if made == info["message_imprint"]["hashed_message"].native else [_WORDS["other_data"]]


def _about_signature(
    signed: cms.SignedData, time: dt.datetime, roots: list[x509.Certificate]
) -> tuple[str, list[str], bool]:
    """Name of the authority, what is wrong, and whether its chain leads to one of ``roots``."""
    came = [c.chosen for c in signed["certificates"]]
    own = _signer(signed, came)
    if own is None:
        return "", ["it does not carry the certificate of its signer"], False
    name = own.subject.native.get("common_name") or own.subject.human_friendly
    reasons = []
    usage = own.extended_key_usage_value
    if usage is None or usage.native != ["time_stamping"] or "extended_key_usage" not in own.critical_extensions:
        reasons.append(_WORDS["usage"])
    if time < own.not_valid_before or time > own.not_valid_after:
        when = f"{own.not_valid_before:%Y-%m-%d} to {own.not_valid_after:%Y-%m-%d}"
        reasons.append(f"its certificate was not valid at that time (valid {when})")
    attributes = {a["type"].native for a in signed["signer_infos"][0]["signed_attrs"]}
    if not attributes & {"signing_certificate", "signing_certificate_v2"}:
        reasons.append("it does not name the certificate it was made with")
    anchors = [r for r in roots if r.self_signed != "no"]
    between = [r for r in roots if r.self_signed == "no"]
    status = _validated(signed, time, anchors or [own], between)
    if not (status["intact"] and status["valid"]):
        reasons.append(_WORDS["signature"])
    trusted = bool(anchors) and status["trust_problem_indic"] is None
    return name, reasons, trusted


def _validated(signed: cms.SignedData, time: dt.datetime, anchors: list[Any], between: list[Any]) -> dict[str, Any]:
    """What pyHanko finds of signature and chain at the time of the token."""
    import asyncio

    from pyhanko.sign.validation.generic_cms import validate_tst_signed_data
    from pyhanko_certvalidator import ValidationContext

    context = ValidationContext(trust_roots=anchors, other_certs=between, allow_fetching=False, moment=time)
    imprint = signed["encap_content_info"]["content"].parsed["message_imprint"]["hashed_message"].native
    # The imprint is held against the data elsewhere, so that each fault has its own words.
    return dict(asyncio.run(validate_tst_signed_data(signed, context, lambda _algorithm: imprint)))


def _signer(signed: cms.SignedData, came: list[x509.Certificate]) -> x509.Certificate | None:
    sid = signed["signer_infos"][0]["sid"]
    for certificate in came:
        if sid.name == "issuer_and_serial_number":
            if (certificate.issuer, certificate.serial_number) == (
                sid.chosen["issuer"],
                sid.chosen["serial_number"].native,
            ):
                return certificate
        elif certificate.key_identifier == sid.chosen.native:
            return certificate
    return None


def _accuracy(info: tsp.TSTInfo) -> str:
    """What the authority says of its clock's accuracy: "1 s", "500 ms"; empty where it does not say."""
    said = info["accuracy"].native or {}
    micros = (said.get("seconds") or 0) * 1_000_000 + (said.get("millis") or 0) * 1000 + (said.get("micros") or 0)
    if not micros:
        return ""
    for unit, factor in (("s", 1_000_000), ("ms", 1000), ("µs", 1)):
        if micros % factor == 0:
            return f"{micros // factor} {unit}"
    return ""
