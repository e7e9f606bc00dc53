"""Checks of a ledger's bytes. A fault is a value; all of them are reported, each with its entry.

The checks carry numbers that the manual and every report use:

====  ==========================================================================
R1    the header is canonical and of a format that is known
R2    the entry belongs to this ledger and has the next number
R3    it continues the chain: ``previous`` is the leaf hash of the entry before
R4    the content is the content that the header names
R5    an amendment or withdrawal names the newest entry of its subject, and keeps kind
R6    the record of each subject comes first and once
====  ==========================================================================
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from evidence.errors import NewerFormat
from evidence.record.canonical import parse, sha256
from evidence.record.entry import NO_ENTRY, Entry, Header


@dataclass(frozen=True, slots=True)
class Fault:
    """What a check of bytes found: which check, on what, and what differs."""

    check: str
    item: str
    message: str

    def __str__(self) -> str:
        return f"{self.check} {self.item}: {self.message}"


def check_chain(ledger: str, entries: Iterable[Entry]) -> Iterator[Fault]:
    """Run checks R1 to R6 over all entries of a ledger, in order."""
    previous, expected = NO_ENTRY, 1
    newest: dict[str, tuple[int, str, str]] = {}  # subject -> seq, kind, action
    for entry in entries:
        name = f"entry {expected}"
        try:
            header = Header.read(entry.header)
        except NewerFormat as err:
            yield Fault("R1", name, f"{err.message}: hashes can be checked, meaning cannot be read")
            newer = parse(entry.header)
            yield from _place(newer, name, ledger, expected, previous)
            yield from _content(entry, newer.get("content"), name)
            previous, expected = entry.leaf.hex(), expected + 1
            continue
        except ValueError as err:
            yield Fault("R1", name, f"header cannot be read: {err}")
            previous, expected = entry.leaf.hex(), expected + 1
            continue
        raw = {"ledger": header.ledger, "seq": header.seq, "previous": header.previous}
        yield from _place(raw, name, ledger, expected, previous)
        yield from _content(entry, header.content, name)
        yield from _succession(header, newest, name)
        newest[header.subject] = (header.seq, header.kind, header.action)
        previous, expected = entry.leaf.hex(), expected + 1


def _place(raw: dict[str, object], name: str, ledger: str, expected: int, previous: str) -> Iterator[Fault]:
    if raw.get("ledger") != ledger:
        yield Fault("R2", name, "belongs to another ledger")
    if raw.get("seq") != expected:
        yield Fault("R2", name, f"carries number {raw.get('seq')}, {expected} was due")
    if raw.get("previous") != previous:
        yield Fault("R3", name, "does not continue the chain")


def _content(entry: Entry, recorded: object, name: str) -> Iterator[Fault]:
    if entry.content is not None and sha256(entry.content) != recorded:
        yield Fault("R4", name, "content is not the content that was recorded")


def _succession(header: Header, newest: dict[str, tuple[int, str, str]], name: str) -> Iterator[Fault]:
    known = newest.get(header.subject)
    if header.action == "record":
        if known:
            yield Fault("R6", name, "records a subject a second time")
    elif known is None:
        yield Fault("R6", name, f"{header.action} of a subject that was never recorded")
    elif header.replaces != known[0] or header.kind != known[1] or known[2] == "withdraw":
        yield Fault("R5", name, f"{header.action} does not name the newest entry of its subject ({known[0]})")
