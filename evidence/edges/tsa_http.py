"""Asking a time-stamp authority over HTTP (RFC 3161 section 3.4). Nothing but a hash leaves the house."""

from __future__ import annotations

import hashlib
import secrets
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from evidence.edges.token import certificates_in, check_token, need_seal, read_token
from evidence.errors import AuthorityFailed, EvidenceError
from evidence.record.attested import Stamped

if TYPE_CHECKING:
    from asn1crypto import tsp

_SECONDS = 20


def ask_authority(url: str, data: bytes) -> Stamped:
    """A time-stamp over ``data``; ``AuthorityFailed`` where it cannot be reached, refuses, or answers something else.

    Sent are the SHA-256 of ``data`` and a nonce, which the answer must repeat: an old answer cannot pass for a new one.
    """
    need_seal()
    if urlsplit(url).scheme not in ("http", "https") or not urlsplit(url).hostname:
        raise EvidenceError("is no address of an authority", item=url, advice="It begins with http:// or https://.")
    nonce = secrets.randbits(63) | 1
    token = _answer(url, _query(data, nonce))
    try:
        info = read_token(token)["encap_content_info"]["content"].parsed
        repeated = info["nonce"].native
    except (ValueError, TypeError, KeyError, AttributeError) as err:
        raise AuthorityFailed(f"did not stamp: {_refusal(token) or err}", item=url) from None
    if repeated != nonce:
        raise AuthorityFailed("answered another question (the nonce is not ours); nothing was kept", item=url)
    found = check_token(token, data, [])
    if not found.valid:
        raise AuthorityFailed(
            f"gave a time-stamp that cannot stand: {'; '.join(found.reasons)}; nothing was kept", item=url
        )
    return Stamped(token=token, certificates=certificates_in(token))


def _query(data: bytes, nonce: int) -> tsp.TimeStampReq:
    from asn1crypto import tsp

    imprint = {"hash_algorithm": {"algorithm": "sha256"}, "hashed_message": hashlib.sha256(data).digest()}
    return tsp.TimeStampReq({"version": 1, "message_imprint": imprint, "nonce": nonce, "cert_req": True})


def _answer(url: str, query: tsp.TimeStampReq) -> bytes:
    import asyncio

    from pyhanko.sign.timestamps import HTTPTimeStamper, TimestampRequestError

    try:
        return bytes(asyncio.run(HTTPTimeStamper(url, timeout=_SECONDS).async_request_tsa_response(query)).dump())
    except (TimestampRequestError, OSError, TimeoutError) as err:
        why = _plain(err.__cause__ or err)
        raise AuthorityFailed(f"could not be reached, or gave no time-stamp answer: {why}", item=url) from None
    except (ValueError, TypeError) as err:
        raise AuthorityFailed(f"gave no time-stamp answer: {err}", item=url) from None


def _plain(err: BaseException) -> str:
    """Why nobody answered, without what only a programmer reads."""
    reason = getattr(err, "os_error", err)  # the library wraps the system's reason in its own words
    return str(getattr(reason, "strerror", "") or reason) or "no answer in time"


def _refusal(answer: bytes) -> str:
    """Why an authority refused, in its own words. The library's own answer type knows none without a token."""
    from asn1crypto import core, tsp

    class Refusal(core.Sequence):  # type: ignore[misc]  # the library has no types
        _fields = [("status", tsp.PKIStatusInfo), ("time_stamp_token", core.Any, {"optional": True})]

    try:
        status = Refusal.load(answer)["status"]
        words = [*(status["status_string"].native or []), *(status["fail_info"].native or [])]
        return "; ".join([status["status"].native, *words]).replace("_", " ")
    except (ValueError, TypeError):
        return ""
