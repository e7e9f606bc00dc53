"""Checks of the comeback register's book, part of a recheck:

====  ==========================================================================
B1    everything that was handed in is there, with the SHA-256 noted then
B2    its numbers run on without a gap, and a withdrawal names something earlier
B3    orders and comebacks in the lists are those that the bytes give, read again
====  ==========================================================================

The book has no signed head: whoever can write to the database can write a whole other book. These checks find damage.
"""

from __future__ import annotations

from collections.abc import Iterator
from hashlib import sha256

from evidence.errors import EvidenceError, StoreDamaged
from evidence.ports import Desk, Progress
from evidence.record.chain import Fault
from evidence.register.batches import Batch, Content, Kept, kept_of


def check_book(desk: Desk, progress: Progress) -> tuple[list[Fault], int]:
    """What is wrong with the book, and how many things were handed in."""
    batches = desk.book.batches()
    faults = list(_numbers(batches))
    for done, batch in enumerate(batches):
        progress("reading the register's book", done, len(batches))
        faults += _check(desk, batch)
    return faults, len(batches)


def whole(desk: Desk, batch: Batch) -> bool:
    """Whether the bytes of a batch are those handed in."""
    try:
        return sha256(desk.book.content(batch.number).raw).hexdigest() == batch.sha256
    except StoreDamaged:
        return False


def _numbers(batches: list[Batch]) -> Iterator[Fault]:
    numbers = [b.number for b in batches]
    missing = sorted(set(range(1, max(numbers, default=0) + 1)) - set(numbers))
    if missing:
        yield Fault("B2", "register's book", f"number {', '.join(map(str, missing[:9]))} is gone")
    for b in batches:
        if b.sort == "withdrawal" and not (0 < b.of < b.number):
            yield Fault("B2", f"register {b.number}", f"withdraws {b.of}, which is nothing earlier")


def _check(desk: Desk, batch: Batch) -> Iterator[Fault]:
    where = f"register {batch.number}" + (f" ({batch.file})" if batch.file else "")
    if not whole(desk, batch):
        yield Fault("B1", where, "the bytes are not those that were handed in")
        return
    try:
        given = _given(desk, batch, desk.book.content(batch.number))
    except EvidenceError as err:
        yield Fault("B3", where, f"its bytes cannot be read again: {err}")
        return
    if desk.book.kept(batch.number) != given:
        yield Fault("B3", where, "orders or comebacks in the lists are not those that its bytes give")


def _given(desk: Desk, batch: Batch, content: Content) -> Kept:
    if batch.sort == "table":
        return kept_of(desk.read_table(content.raw, batch.file, content.mapping, f"import {batch.number}"))
    return Kept((), ((1, content.raw.decode()),) if batch.sort == "entry" else ())
