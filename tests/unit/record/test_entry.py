"""Entries, headers and head lines: what is written is what is read, and bytes of others are refused, not crashed on."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from evidence.errors import NewerFormat
from evidence.record.canonical import canonical, parse, sha256
from evidence.record.chain import check_chain
from evidence.record.entry import NO_ENTRY, Draft, Entry, Header, seal, step_of
from evidence.record.head import Head, compare
from evidence.record.merkle import EMPTY_ROOT, leaf_hash

AT = dt.datetime(2026, 3, 2, 12, 0, 0, 500, tzinfo=dt.UTC)
DRAFT = Draft(kind="event", subject="5" * 32, action="amend", body={"text": "Ω"}, via="intake van", reason="misread", replaces=1)
RAW: dict[str, Any] = {
    "format": 1, "ledger": "l", "seq": 1, "recorded_at": "2026-03-02T12:00:00Z", "recorded_by": "p", "kind": "event",
    "subject": "s", "action": "record", "content": "c", "previous": NO_ENTRY,
}  # fmt: skip


def _sealed(draft: Draft = DRAFT) -> Entry:
    return seal(draft, ledger="ab", seq=2, previous="1" * 64, salt="0f" * 16, at=AT, recorded_by="6" * 32)


def test_a_header_names_place_author_time_and_content() -> None:
    entry = _sealed()
    assert entry.content is not None
    assert parse(entry.header) == {
        "format": 1, "ledger": "ab", "seq": 2, "recorded_at": "2026-03-02T12:00:00.000500Z", "recorded_by": "6" * 32,
        "kind": "event", "subject": "5" * 32, "action": "amend", "replaces": 1, "content": sha256(entry.content),
        "previous": "1" * 64,
    }  # fmt: skip
    assert parse(entry.content) == {"salt": "0f" * 16, "via": "intake van", "reason": "misread", "body": {"text": "Ω"}}
    assert entry.leaf == leaf_hash(entry.header)


def test_a_header_and_a_step_are_read_as_written() -> None:
    header = Header.read(_sealed().header)
    assert (header.seq, header.action, header.replaces, header.recorded_at) == (2, "amend", 1, AT)
    step = step_of(_sealed())
    assert (step.seq, step.reason, step.via, step.body) == (2, "misread", "intake van", {"text": "Ω"})
    withheld = step_of(Entry(_sealed().header, None))
    assert (withheld.seq, withheld.body) == (2, None)


def test_a_first_entry_and_one_without_reason_write_nothing_empty() -> None:
    entry = _sealed(Draft(kind="event", subject="5" * 32, action="record", body={"text": "x"}, via="command"))
    assert "replaces" not in parse(entry.header)
    assert entry.content is not None
    assert "reason" not in parse(entry.content)


def test_a_newer_format_says_which() -> None:
    with pytest.raises(NewerFormat, match=r"entry 1: entry format 2, this version knows 1"):
        Header.read(canonical({**RAW, "format": 2}))


@pytest.mark.parametrize("key", [k for k in RAW if k != "format"])
def test_a_header_without_a_field_is_no_header(key: str) -> None:
    with pytest.raises(ValueError, match="header with"):
        Header.read(canonical({k: v for k, v in RAW.items() if k != key}))


@pytest.mark.parametrize("key", [k for k in RAW if k != "format"])
@pytest.mark.parametrize("value", [True, 0, -1, [], {}, ["x"], {"x": "y"}, "", "x"])
def test_a_field_of_another_type_is_refused_and_crashes_nothing(key: str, value: object) -> None:
    if isinstance(value, str) and key not in ("seq", "recorded_at", "action"):
        assert Header.read(canonical({**RAW, key: value})).seq == 1
        return
    with pytest.raises(ValueError, match=r"header with|not a UTC moment"):
        Header.read(canonical({**RAW, key: value}))


@pytest.mark.parametrize("body", [[], ["x"], "x", 1, True])
def test_a_content_whose_body_is_no_object_is_refused(body: object) -> None:
    with pytest.raises(ValueError, match="content without a body"):
        step_of(Entry(canonical(RAW), canonical({"salt": "0", "via": "x", "body": body})))


def test_a_head_line_is_read_as_written_and_torn_ones_are_not() -> None:
    head = Head("abcdefghij", 7, bytes(range(32)))
    line = head.line()
    assert Head.read(line) == head
    assert Head.read(line + "\n") == head
    assert line.startswith("evidence-ledger/abcdefghij 7 AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8= ")
    for end in range(len(line)):
        assert Head.read(line[:end]) is None
    for at in range(len(line)):
        assert Head.read(line[:at] + chr(ord(line[at]) ^ 1) + line[at + 1 :]) is None


@pytest.mark.parametrize("text", ["", "x", "a b c d", "evidence-ledger/x one AA==", "evidence-ledger/x 1 !", "other/x 1 AA==", "x 1"])
def test_a_line_with_a_right_checksum_and_wrong_words_is_no_head(text: str) -> None:
    assert Head.read(f"{text} {sha256(text.encode())[:16]}") is None


def test_verdicts_of_a_ledger_against_its_head_line() -> None:
    roots = {n: bytes([n]) * 32 for n in range(4)}
    assert compare(0, {0: EMPTY_ROOT}, None, 0) == "no_head"
    assert compare(3, roots, Head("l", 3, roots[3]), 0) == "agrees"
    assert compare(3, roots, Head("l", 2, roots[2]), 1) == "head_behind"
    assert compare(3, roots, Head("l", 1, roots[1]), 2) == "head_old"
    assert compare(2, roots, Head("l", 3, roots[3]), 0) == "rolled_back"
    assert compare(3, roots, Head("l", 2, roots[1]), 1) == "two_histories"
    assert compare(3, roots, Head("l", 3, roots[1]), 0) == "two_histories"


def test_a_newer_entry_is_checked_by_its_hashes_and_named() -> None:
    content = canonical({"salt": "0", "body": {"text": "of tomorrow"}})
    entry = Entry(canonical({**RAW, "format": 2, "content": sha256(content)}), content)
    assert [str(f) for f in check_chain("l", [entry])] == [
        "R1 entry 1: entry format 2, this version knows 1: hashes can be checked, meaning cannot be read"
    ]
    altered = Entry(entry.header, content.replace(b"tomorrow", b"to-morow"))
    assert [f.check for f in check_chain("l", [altered])] == ["R1", "R4"]
