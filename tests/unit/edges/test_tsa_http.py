"""Asking an authority on loopback: good answers, and every way in which one can go wrong."""

from __future__ import annotations

import hashlib
import socket
from pathlib import Path

import pytest
from evidence.edges.token import check_token
from evidence.edges.tsa_http import ask_authority
from evidence.errors import AuthorityFailed, EvidenceError, ExitCode

from authority import TimeAuthority

DATA = b"a head\n"


@pytest.fixture(scope="module")
def authority(tmp_path_factory: pytest.TempPathFactory) -> TimeAuthority:
    return TimeAuthority(tmp_path_factory.mktemp("authority"))


@pytest.mark.parametrize("chain", [True, False])
def test_what_comes_back_is_a_whole_answer(tmp_path: Path, chain: bool) -> None:
    authority = TimeAuthority(tmp_path, chain=chain)
    with authority.serving() as url:
        stamped = ask_authority(url, DATA)
    assert authority.openssl_agrees(stamped.token, DATA)
    assert check_token(stamped.token, DATA, [authority.root_pem]).chain_trusted
    assert stamped.certificates.count(b"BEGIN CERTIFICATE") == 1 + chain


def test_only_a_hash_and_a_nonce_leave_the_house(authority: TimeAuthority) -> None:
    from asn1crypto import tsp

    authority.asked.clear()
    secret = b"the words of the record"
    with authority.serving() as url:
        ask_authority(url, secret)
        ask_authority(url, secret)
    first, second = (tsp.TimeStampReq.load(q) for q in authority.asked)
    assert first["message_imprint"]["hashed_message"].native == hashlib.sha256(secret).digest()
    assert first["message_imprint"]["hash_algorithm"]["algorithm"].native == "sha256"
    assert first["nonce"].native != second["nonce"].native
    assert len(authority.asked[0]) < 90


def test_an_answer_to_another_question_is_refused(authority: TimeAuthority) -> None:
    """A recorded answer over the same data, played again: its nonce is not ours."""
    old = authority.stamp(DATA)
    assert authority.openssl_agrees(old, DATA)
    with authority.serving(answer=old) as url, pytest.raises(AuthorityFailed, match="answered another question"):
        ask_authority(url, DATA)


def test_a_refusal_is_told_in_the_authoritys_words(authority: TimeAuthority) -> None:
    refused = authority.reply(authority.query(DATA, "sha1"))
    with authority.serving(answer=refused) as url, pytest.raises(AuthorityFailed, match=r"did not stamp: rejection; .*not supported.*bad alg"):
        ask_authority(url, DATA)


@pytest.mark.parametrize(
    ("answer", "kind", "status"),
    [(b"<html>", "text/html", 200), (b"<html>", "application/timestamp-reply", 200), (b"", "application/timestamp-reply", 200),
     (b"gone", "text/plain", 503), (b"0\x80", "application/timestamp-reply", 200)],
)  # fmt: skip
def test_what_is_no_time_stamp_answer(authority: TimeAuthority, answer: bytes, kind: str, status: int) -> None:
    with authority.serving(answer=answer, kind=kind, status=status) as url, pytest.raises(AuthorityFailed) as err:
        ask_authority(url, DATA)
    assert err.value.exit_code == ExitCode.UNFINISHED
    assert url in str(err.value)


def test_nobody_there() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        with pytest.raises(AuthorityFailed, match="could not be reached"):
            ask_authority(f"http://127.0.0.1:{taken.getsockname()[1]}/", DATA)


@pytest.mark.parametrize("url", ["", "authority", "file:///etc/passwd", "ftp://x/", "http://"])
def test_what_is_no_address(url: str) -> None:
    with pytest.raises(EvidenceError, match="is no address of an authority"):
        ask_authority(url, DATA)
