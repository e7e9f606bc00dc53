"""Laws of the record: what happens to a ledger's bytes is found, and where it happened."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from typing import Any

import rfc8785
from evidence.errors import NewerFormat
from evidence.record.canonical import LARGEST, canonical, parse, sha256
from evidence.record.chain import Fault, check_chain
from evidence.record.entry import NO_ENTRY, Draft, Entry, Header, seal, step_of
from evidence.record.head import Head, compare
from evidence.record.merkle import Frontier, leaf_hash, node_hash, root_of
from hypothesis import given
from hypothesis import strategies as st

AT = dt.datetime(2026, 3, 2, 12, tzinfo=dt.UTC)
LEDGER = "a" * 26

texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
keys = st.text(st.characters(max_codepoint=127), max_size=8)
values: st.SearchStrategy[Any] = st.recursive(
    texts | st.booleans() | st.integers(1 - LARGEST, LARGEST - 1),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(keys, inner, max_size=4),
    max_leaves=20,
)
objects = st.dictionaries(keys, values, max_size=6)


@given(objects)
def test_canonical_form_is_that_of_the_reference_library_and_a_fixed_point(value: dict[str, Any]) -> None:
    data = canonical(value)
    assert data == rfc8785.dumps(value)
    assert parse(data) == value
    assert canonical(parse(data)) == data


@given(objects)
def test_order_of_keys_does_not_matter(value: dict[str, Any]) -> None:
    assert canonical(dict(reversed(value.items()))) == canonical(value)


@given(objects, st.integers(0, 10_000), st.integers(1, 255))
def test_another_form_of_the_same_value_is_refused(value: dict[str, Any], at: int, flip: int) -> None:
    data = bytearray(canonical(value))
    data[at % len(data)] ^= flip
    try:
        read = parse(bytes(data))
    except ValueError:
        return
    assert canonical(read) == bytes(data) != canonical(value)  # then it is the canonical form of another value


@given(st.lists(st.binary(max_size=8), max_size=70))
def test_a_frontier_gives_the_root_of_the_definition(payloads: list[bytes]) -> None:
    leaves = [leaf_hash(p) for p in payloads]
    assert root_of(leaves) == (_defined(leaves) if leaves else Frontier().root())
    frontier = Frontier()
    for leaf in leaves:
        frontier = frontier.append(leaf)
    assert Frontier.from_bytes(len(leaves), frontier.to_bytes()) == frontier


def _defined(leaves: list[bytes]) -> bytes:
    """RFC 9162 section 2.1.1, word for word."""
    if len(leaves) == 1:
        return leaves[0]
    k = 1
    while k * 2 < len(leaves):
        k *= 2
    return node_hash(_defined(leaves[:k]), _defined(leaves[k:]))


def written(deeds: list[tuple[str, int]]) -> list[Entry]:
    """A sound ledger: records, amendments and withdrawals of a few subjects."""
    entries: list[Entry] = []
    newest: dict[int, tuple[int, str]] = {}
    for action, number in deeds:
        seq = len(entries) + 1
        known = newest.get(number)
        deed = "record" if known is None else action
        if known and known[1] == "withdraw":
            continue
        draft = Draft(
            kind="event", subject=f"{number:032x}", action=deed, body={} if deed == "withdraw" else {"text": f"{seq}"},  # type: ignore[arg-type]
            via="test", reason="" if deed == "record" else "because", replaces=known[0] if known else None,
        )  # fmt: skip
        previous = entries[-1].leaf.hex() if entries else NO_ENTRY
        entries.append(
            seal(draft, ledger=LEDGER, seq=seq, previous=previous, salt=f"{seq:032x}", at=AT, recorded_by="0" * 32)
        )
        newest[number] = (seq, deed)
    return entries


def faults(entries: list[Entry]) -> list[Fault]:
    return list(check_chain(LEDGER, entries))


ledgers = (
    st.lists(st.tuples(st.sampled_from(["amend", "amend", "withdraw"]), st.integers(0, 5)), min_size=2, max_size=14)
    .map(written)
    .filter(lambda entries: len(entries) >= 2)
)


@given(ledgers)
def test_a_ledger_that_nobody_touched_has_no_fault(entries: list[Entry]) -> None:
    assert faults(entries) == []


@given(ledgers, st.data())
def test_a_flipped_bit_in_a_header_is_found_at_its_entry_or_at_the_next(
    entries: list[Entry], data: st.DataObject
) -> None:
    at = data.draw(st.integers(0, len(entries) - 1))
    header = bytearray(entries[at].header)
    header[data.draw(st.integers(0, len(header) - 1))] ^= 1 << data.draw(st.integers(0, 7))
    head = Head(LEDGER, len(entries), root_of(e.leaf for e in entries))
    entries = [*entries[:at], replace(entries[at], header=bytes(header)), *entries[at + 1 :]]
    found = faults(entries)
    if at + 1 < len(entries):
        assert f"entry {at + 2}" in {f.item for f in found if f.check == "R3"}
        assert min(int(f.item.split()[1]) for f in found) in (at + 1, at + 2)
    roots = {n: root_of(e.leaf for e in entries[:n]) for n in range(len(entries) + 1)}
    assert compare(len(entries), roots, head, 0) == "two_histories"  # the last entry too: by the head outside


@given(ledgers, st.data())
def test_a_flipped_bit_in_a_content_is_found_at_its_entry_alone(entries: list[Entry], data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(entries) - 1))
    content = bytearray(entries[at].content or b"")
    content[data.draw(st.integers(0, len(content) - 1))] ^= 1 << data.draw(st.integers(0, 7))
    changed = [*entries[:at], replace(entries[at], content=bytes(content)), *entries[at + 1 :]]
    assert [(f.check, f.item) for f in faults(changed)] == [("R4", f"entry {at + 1}")]


@given(ledgers, st.data())
def test_a_dropped_entry_is_found_where_it_was(entries: list[Entry], data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(entries) - 2))
    found = faults([*entries[:at], *entries[at + 1 :]])
    assert {("R2", f"entry {at + 1}"), ("R3", f"entry {at + 1}")} <= {(f.check, f.item) for f in found}
    assert all(int(f.item.split()[1]) >= at + 1 for f in found)


@given(ledgers, st.data())
def test_two_swapped_entries_are_found_at_both_places(entries: list[Entry], data: st.DataObject) -> None:
    first = data.draw(st.integers(0, len(entries) - 2))
    second = data.draw(st.integers(first + 1, len(entries) - 1))
    entries[first], entries[second] = entries[second], entries[first]
    found = {(f.check, f.item) for f in faults(entries)}
    assert {("R2", f"entry {first + 1}"), ("R2", f"entry {second + 1}")} <= found


@given(ledgers, st.data())
def test_a_duplicated_entry_is_found_where_the_second_stands(entries: list[Entry], data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(entries) - 1))
    found = {(f.check, f.item) for f in faults([*entries[: at + 1], *entries[at:]])}
    assert {("R2", f"entry {at + 2}"), ("R3", f"entry {at + 2}")} <= found


@given(ledgers, st.data())
def test_an_inserted_entry_is_found_where_the_chain_breaks(entries: list[Entry], data: st.DataObject) -> None:
    """Even one that continues what is before it: then the entry after it does not continue the chain."""
    at = data.draw(st.integers(1, len(entries) - 1))
    draft = Draft(kind="event", subject="f" * 32, action="record", body={"text": "slipped in"}, via="test")
    slipped = seal(
        draft,
        ledger=LEDGER,
        seq=at + 1,
        previous=entries[at - 1].leaf.hex(),
        salt="0" * 32,
        at=AT,
        recorded_by="0" * 32,
    )
    found = {(f.check, f.item) for f in faults([*entries[:at], slipped, *entries[at:]])}
    assert ("R3", f"entry {at + 2}") in found
    assert not any(item == f"entry {at + 1}" for _check, item in found)


@given(ledgers, st.data())
def test_a_truncated_ledger_is_told_by_its_head(entries: list[Entry], data: st.DataObject) -> None:
    kept = data.draw(st.integers(0, len(entries) - 1))
    head = Head(LEDGER, len(entries), root_of(e.leaf for e in entries))
    roots = {n: root_of(e.leaf for e in entries[:n]) for n in range(kept + 1)}
    assert faults(entries[:kept]) == []  # a prefix is sound in itself: that is why the head lies outside
    assert compare(kept, roots, head, 0) == "rolled_back"


@given(ledgers, st.data())
def test_entries_chained_anew_after_an_edit_are_two_histories(entries: list[Entry], data: st.DataObject) -> None:
    """Whoever recomputes every hash after his edit is still contradicted by the head outside."""
    at = data.draw(st.integers(0, len(entries) - 1))
    head = Head(LEDGER, len(entries), root_of(e.leaf for e in entries))
    forged: list[Entry] = []
    for index, entry in enumerate(entries):
        raw, content = parse(entry.header), entry.content
        if index == at:
            content = canonical({**parse(content or b""), "body": {"text": "forged"}})
            raw["content"] = sha256(content)
        raw["previous"] = forged[-1].leaf.hex() if forged else NO_ENTRY
        forged.append(Entry(canonical(raw), content))
    roots = {n: root_of(e.leaf for e in forged[:n]) for n in range(len(forged) + 1)}
    assert faults(forged) == []
    assert compare(len(forged), roots, head, 0) == "two_histories"


@given(ledgers, st.data())
def test_an_amendment_that_names_another_entry_is_found(entries: list[Entry], data: st.DataObject) -> None:
    changes = [i for i, e in enumerate(entries) if Header.read(e.header).action != "record"]
    if not changes:
        return
    at = data.draw(st.sampled_from(changes))
    raw = parse(entries[at].header)
    raw["replaces"] += data.draw(st.sampled_from([1, 5]))
    entries[at] = Entry(canonical(raw), entries[at].content)
    assert ("R5", f"entry {at + 1}") in {(f.check, f.item) for f in faults(entries)}


@given(
    st.binary(max_size=200) | objects.map(canonical) | objects.map(json.dumps).map(str.encode), st.binary(max_size=50)
)
def test_foreign_bytes_are_a_fault_and_never_a_crash(header: bytes, content: bytes) -> None:
    entry = Entry(header, content)
    assert faults([entry])
    try:
        step_of(entry)
    except (ValueError, NewerFormat):
        return
    raise AssertionError("foreign bytes were read as an entry")
