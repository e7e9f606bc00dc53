"""Time-stamp tokens of ``openssl ts`` (RFC 3161), judged by us and by ``openssl ts -verify`` (fault matrix, row 18)."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from cryptography.x509.oid import ExtendedKeyUsageOID as Usage
from evidence.edges.token import certificates_in, check_token
from hypothesis import given, settings
from hypothesis import strategies as st

from authority import DAY, NOW, TimeAuthority

DATA = b"evidence-ledger/aaaaaaaaaaaaaaaaaaaaaaaaaa\n9\nAAAA\n"


@pytest.fixture(scope="module")
def authority(tmp_path_factory: pytest.TempPathFactory) -> TimeAuthority:
    return TimeAuthority(tmp_path_factory.mktemp("authority"))


@pytest.fixture(scope="module")
def token(authority: TimeAuthority) -> bytes:
    return authority.stamp(DATA)


@pytest.mark.parametrize("digest", ["sha256", "sha384", "sha512"])
def test_a_token_is_valid_and_openssl_says_so_too(authority: TimeAuthority, digest: str) -> None:
    token = authority.stamp(DATA, digest)
    found = check_token(token, DATA, [authority.root_pem])
    assert authority.openssl_agrees(token, DATA)
    assert (found.valid, found.chain_trusted, found.reasons) == (True, True, ())
    assert (found.authority, found.accuracy) == ("Test Time Authority", "1500 ms")
    assert found.time is not None
    assert abs(found.time - NOW) < dt.timedelta(hours=1)


def test_the_chain_is_confirmed_only_by_an_authority_that_the_caller_trusts(authority: TimeAuthority, token: bytes, tmp_path: Path) -> None:
    stranger = TimeAuthority(tmp_path / "stranger")
    for roots in ([], [stranger.root_pem], [b"no certificate"]):
        found = check_token(token, DATA, roots)
        assert (found.valid, found.chain_trusted) == (True, False)
        assert found.reasons == ("its certificate does not lead to an authority that is trusted here",)
    assert check_token(token, DATA, [stranger.root_pem, authority.root_pem]).chain_trusted
    assert not stranger.openssl_agrees(token, DATA)


def test_other_data(authority: TimeAuthority, token: bytes) -> None:
    found = check_token(token, DATA + b"x", [authority.root_pem])
    assert (found.valid, found.chain_trusted, found.reasons) == (False, False, ("it speaks of other data",))
    assert not authority.openssl_agrees(token, DATA + b"x")


def test_a_weak_imprint_is_refused(tmp_path: Path) -> None:
    weak = TimeAuthority(tmp_path, digests="sha1, sha256")
    token = weak.stamp(DATA, "sha1")
    assert weak.openssl_agrees(token, DATA)  # OpenSSL takes it; we do not
    found = check_token(token, DATA, [weak.root_pem])
    assert (found.valid, found.reasons) == (False, ("its imprint is made with SHA-1, which is too weak",))


@pytest.mark.parametrize(("usage", "critical"), [(Usage.CODE_SIGNING, True), (None, True), (Usage.TIME_STAMPING, False)])
def test_a_certificate_for_something_else(authority: TimeAuthority, token: bytes, tmp_path: Path, usage: object, critical: bool) -> None:
    wrong = TimeAuthority(tmp_path, usage=usage, critical=critical)  # type: ignore[arg-type]
    forged = wrong.forged(token)
    found = check_token(forged, DATA, [wrong.root_pem])
    assert not found.valid
    assert "its certificate is not made for time-stamps alone (RFC 3161 section 2.3)" in found.reasons
    assert not wrong.openssl_agrees(forged, DATA)


def test_a_certificate_that_expired_after_the_stamp_does_no_harm_and_before_it_does(token: bytes, tmp_path: Path) -> None:
    old = TimeAuthority(tmp_path, since=NOW - 900 * DAY, until=NOW - 100 * DAY)
    during, after = NOW - 500 * DAY, NOW - 10 * DAY
    good = old.forged(token, during)
    found = check_token(good, DATA, [old.root_pem])
    assert (found.valid, found.chain_trusted, found.time, found.reasons) == (True, True, during, ())
    assert not old.openssl_agrees(good, DATA)  # it looks at today (its issue 610), unless it is told when
    assert old.openssl_agrees(good, DATA, "-attime", str(int(during.timestamp())))
    for when in (after, NOW - 1000 * DAY):
        bad = old.forged(token, when)
        found = check_token(bad, DATA, [old.root_pem])
        assert not found.valid
        assert found.reasons[0].startswith("its certificate was not valid at that time (valid ")
        assert not old.openssl_agrees(bad, DATA, "-attime", str(int(when.timestamp())))


def test_a_token_of_another_key_with_the_same_names(authority: TimeAuthority, token: bytes, tmp_path: Path) -> None:
    """Forged by somebody who calls himself the same: his chain leads to his own root."""
    forger = TimeAuthority(tmp_path)
    found = check_token(forger.forged(token, NOW - 300 * DAY), DATA, [authority.root_pem])
    assert not found.chain_trusted
    assert found.reasons == ("its certificate does not lead to an authority that is trusted here",)


def test_a_refusal_of_the_authority_is_no_token(authority: TimeAuthority) -> None:
    refused = authority.reply(authority.query(DATA, "sha1"))  # a digest it does not take
    found = check_token(refused, DATA, [authority.root_pem])
    assert (found.valid, found.time, found.reasons) == (False, None, ("it is no answer of a time-stamp authority",))


def test_certificates_come_with_the_token_signer_first(authority: TimeAuthority, token: bytes) -> None:
    blocks = certificates_in(token).split(b"-----END CERTIFICATE-----\n")
    assert len([b for b in blocks if b]) == 2
    (authority.folder / "kept.pem").write_bytes(certificates_in(token))
    assert authority.openssl_agrees(token, DATA, "-CAfile", "kept.pem")
    from authority import pem

    assert certificates_in(token).startswith(pem(authority.signer).strip())


@settings(max_examples=150)
@given(data=st.data())
def test_no_changed_token_speaks_for_another_time_or_other_data(authority: TimeAuthority, token: bytes, data: st.DataObject) -> None:
    """A changed byte is refused, or it lies where nothing depends on it (the status, certificates that are not needed)."""
    good = check_token(token, DATA, [authority.root_pem])
    at = data.draw(st.integers(0, len(token) - 1))
    changed = bytearray(token)
    changed[at] ^= data.draw(st.integers(1, 255))
    found = check_token(bytes(changed), DATA, [authority.root_pem])
    assert not (found.valid and found.chain_trusted) or (found.time, found.serial, found.authority) == (good.time, good.serial, good.authority)
    assert found.valid or found.reasons


@settings(max_examples=100)
@given(st.binary(max_size=300))
def test_nonsense_is_no_token(junk: bytes) -> None:
    assert check_token(junk, DATA, [junk]).reasons == ("it is no answer of a time-stamp authority",)
