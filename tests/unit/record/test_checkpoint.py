"""Signed notes and checkpoints, held against RFC 8032, the published signed-note example, and OpenSSL."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from evidence.record.checkpoint import (
    Note,
    checkpoint_text,
    cosign,
    cosigned_at,
    fingerprint,
    key_id,
    public_pem,
    read_checkpoint,
    read_public_pem,
    right,
    sign_text,
)
from evidence.record.head import Head
from hypothesis import given
from hypothesis import strategies as st

# RFC 8032 section 7.1, test 2: secret key, public key, message 0x72, signature.
_SECRET = bytes.fromhex("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb")
_PUBLIC = bytes.fromhex("3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c")
_SIGNED = bytes.fromhex(
    "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
)
_KEY = Ed25519PrivateKey.from_private_bytes(_SECRET)
_HEAD = Head("a" * 26, 12, bytes(range(32)))
_NAME = "evidence-ledger/" + "a" * 26



def test_signature_of_the_standard() -> None:
    assert right(_PUBLIC, b"\x72", _SIGNED)
    assert not right(_PUBLIC, b"\x73", _SIGNED)
    assert not right(_PUBLIC, b"\x72", _SIGNED[:-1])


def test_a_checkpoint_is_three_lines_and_reads_back() -> None:
    text = checkpoint_text(_HEAD)
    assert text.count("\n") == 3
    assert read_checkpoint(text) == _HEAD
    note = sign_text(text, _NAME, _PUBLIC, _KEY.sign)
    again = Note.read(note.to_bytes())
    assert again == note
    assert again.by(_NAME, _PUBLIC)
    assert sign_text(text, _NAME, _PUBLIC, _KEY.sign).to_bytes() == note.to_bytes()


@pytest.mark.parametrize("text", ["", "x\n1\nAA==\n", _NAME + "\n01\n" + "A" * 43 + "=\n", _NAME + "\n1\nAA==\n", checkpoint_text(_HEAD) + "more\n"])
def test_what_is_no_checkpoint_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        read_checkpoint(text)


@given(st.data())
def test_no_changed_note_passes(data: st.DataObject) -> None:
    good = sign_text(checkpoint_text(_HEAD), _NAME, _PUBLIC, _KEY.sign).to_bytes()
    at = data.draw(st.integers(0, len(good) - 1))
    changed = bytearray(good)
    changed[at] ^= data.draw(st.integers(1, 255))
    try:
        note = Note.read(bytes(changed))
    except ValueError:
        return
    # base64 ignores nothing and pads exactly, so no other spelling of the same signature may pass
    assert note.by(_NAME, _PUBLIC) is None or note == Note.read(good)


def test_witness() -> None:
    text = checkpoint_text(_HEAD)
    note = cosign(text, "witness.example", _PUBLIC, _KEY.sign, 1_760_000_000)
    assert cosigned_at(Note.read(note.to_bytes()), "witness.example", _PUBLIC) == 1_760_000_000
    assert note.by("witness.example", _PUBLIC) is None
    assert key_id("x", _PUBLIC) != key_id("x", _PUBLIC, b"\x04")


def test_openssl_agrees(tmp_path: Path) -> None:
    text = checkpoint_text(_HEAD)
    (tmp_path / "key.pem").write_bytes(public_pem(_PUBLIC))
    (tmp_path / "head.txt").write_text(text)
    (tmp_path / "head.sig").write_bytes(_KEY.sign(text.encode()))
    command = ["openssl", "pkeyutl", "-verify", "-pubin", "-inkey", "key.pem", "-rawin", "-in", "head.txt", "-sigfile", "head.sig"]
    assert subprocess.run(command, cwd=tmp_path, capture_output=True, check=True).returncode == 0
    der = subprocess.run(["openssl", "pkey", "-pubin", "-in", "key.pem", "-outform", "DER"], cwd=tmp_path, capture_output=True, check=True).stdout
    import hashlib

    assert fingerprint(_PUBLIC) == hashlib.sha256(der).hexdigest()
    assert read_public_pem(public_pem(_PUBLIC)) == _PUBLIC
