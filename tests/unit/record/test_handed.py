"""Heads as people hand them over, and statements on keys: every form reads back, nothing else is taken for one."""

from __future__ import annotations

import datetime as dt
import hashlib

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from evidence.record.checkpoint import Note, checkpoint_text, fingerprint, sign_text
from evidence.record.handed import HandedHead, line_of, read_handed, witness_name, witness_said
from evidence.record.head import ORIGIN, Head
from evidence.record.statements import Statement, read_statement, replacement, revocation, said_by
from hypothesis import given
from hypothesis import strategies as st

KEY, NEXT = (Ed25519PrivateKey.from_private_bytes(hashlib.sha256(n).digest()) for n in (b"1", b"2"))
PUBLIC, NEXT_PUBLIC = (k.public_key().public_bytes_raw() for k in (KEY, NEXT))
HEAD = Head("abcdefghijklmnopqrstuvwxyz", 206, hashlib.sha256(b"root").digest())
NOTE = sign_text(checkpoint_text(HEAD), ORIGIN + HEAD.ledger, PUBLIC, KEY.sign)


@pytest.mark.parametrize("given_head", [HandedHead(HEAD), HandedHead(HEAD, NOTE), HandedHead(HEAD, NOTE, PUBLIC), HandedHead(HEAD, None, PUBLIC)])
def test_every_form_reads_back(given_head: HandedHead) -> None:
    assert read_handed(given_head.to_bytes()) == given_head
    assert read_handed(given_head.to_bytes().replace(b"\n", b"\r\n")) == given_head


@pytest.mark.parametrize("text", ["{}", "Hello, {} greetings", "{}\nPlease keep this message.", "\n\n  {}\n", "two words:\n{}\n\nBest\nAnn"])
def test_a_line_is_found_in_a_message(text: str) -> None:
    message = text.format(line_of(HEAD))
    assert read_handed(message.encode()).head == HEAD
    assert read_handed(message.replace(" 206 ", "\n 206\n").encode()).head == HEAD  # broken by a mail program
    assert len(line_of(HEAD)) <= 160  # one short message


@pytest.mark.parametrize("data", [b"", b"hello", line_of(HEAD).encode() * 2, line_of(HEAD)[:-3].encode(), b"\xff", b"x" * 200_000])
def test_what_holds_no_head(data: bytes) -> None:
    with pytest.raises(ValueError):
        read_handed(data)


@given(st.data())
def test_no_other_root_is_read_out_of_a_changed_line(data: st.DataObject) -> None:
    line = line_of(HEAD)
    at = data.draw(st.integers(0, len(line) - 1))
    changed = line[:at] + data.draw(st.characters(codec="utf-8")) + line[at + 1 :]
    try:
        found = read_handed(changed.encode()).head
    except ValueError:
        return
    assert found != HEAD or changed.split() == line.split()


@given(st.text(max_size=40))
def test_a_witness_name_fits_a_note(name: str) -> None:
    made = witness_name(name)
    assert " " not in made
    assert "+" not in made
    assert witness_said(made) == " ".join(name.replace("+", " ").split()).replace("_", " ")


DAY = dt.date(2026, 3, 4)


def test_a_replacement_is_signed_by_both_keys() -> None:
    note = Note.read(replacement(PUBLIC, KEY.sign, NEXT_PUBLIC, NEXT.sign, DAY, "yearly").to_bytes())
    assert read_statement(note.text) == Statement(key=fingerprint(PUBLIC), date=DAY, reason="yearly", successor=NEXT_PUBLIC)
    assert said_by(note, PUBLIC)
    assert said_by(note, NEXT_PUBLIC)
    assert not said_by(Note(note.text.replace("yearly", "stolen"), note.signatures), PUBLIC)


def test_a_revocation_is_signed_by_the_key_itself() -> None:
    note = Note.read(revocation(PUBLIC, KEY.sign, DAY, "stolen").to_bytes())
    assert read_statement(note.text) == Statement(key=fingerprint(PUBLIC), date=DAY, reason="stolen")
    assert said_by(note, PUBLIC)
    assert not said_by(note, NEXT_PUBLIC)


@given(st.text(max_size=300))
def test_what_is_no_statement(text: str) -> None:
    with pytest.raises(ValueError):
        read_statement(text)


def test_a_statement_may_not_name_another_successor_than_its_key() -> None:
    text = Statement(key=fingerprint(PUBLIC), date=DAY, reason="x", successor=NEXT_PUBLIC).text()
    with pytest.raises(ValueError):
        read_statement(text.replace(fingerprint(NEXT_PUBLIC), fingerprint(PUBLIC)))


@pytest.mark.parametrize("key", ["x" * 64, fingerprint(PUBLIC).upper(), fingerprint(PUBLIC)[:-1], fingerprint(PUBLIC)[:-1] + "é"])
def test_a_statement_speaks_of_a_fingerprint(key: str) -> None:
    with pytest.raises(ValueError, match="no statement"):
        read_statement(Statement(key=key, date=DAY, reason="x").text())
