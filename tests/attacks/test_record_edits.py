"""Entries edited, dropped, inserted, moved, repeated (fault matrix, row 15), as a family: every field, every way.

The worst case is assumed: somebody who holds the shop's own key and recomputes every list, head and seal. What he cannot
recompute without a trace is the chain; and where he chains everything anew, the head that the receiver was told earlier.
"""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest
from bag_kit import CONTENTS, HEADERS, SHOP, Files, Receiver, Sealed, packed, rechained, resealed, with_head

FIELDS = ("format", "ledger", "seq", "recorded_at", "recorded_by", "kind", "subject", "action", "replaces", "content", "previous", "new")
VALUES = (
    "", "x", "0" * 64, 0, 1, -1, 2, 7, 2**53, 1.5, True, None, [], {}, ["x"], {"a": {"b": []}}, "\u00e9", "record", "amend", "withdraw",
    "2026-03-02T12:00:00Z", "exhibit",
)  # fmt: skip
PLACES = (0, 5, -1)
EVERY = [pytest.param(4, id="each fourth value"), pytest.param(1, id="every value", marks=pytest.mark.campaign)]


def _lines(files: Files, name: str) -> list[bytes]:
    return files[name].split(b"\n")[:-1]


def _with(files: Files, headers: list[bytes], contents: list[bytes] | None = None) -> Files:
    """The record replaced, every hash recomputed and signed by the shop's key."""
    made = {**files, HEADERS: b"".join(line + b"\n" for line in headers)}
    if contents is not None:
        made[CONTENTS] = b"".join(line + b"\n" for line in contents)
    return made


def _sealed_by_the_shop(files: Files) -> bytes:
    try:
        return packed(resealed(with_head(files, SHOP), SHOP))
    except (ValueError, KeyError, TypeError):  # nothing that the kit could seal: the first header names no ledger
        return packed(files)


def _json(value: object) -> bytes:
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def _edits(files: Files, field: str, step: int) -> Iterator[tuple[str, list[bytes]]]:
    headers = _lines(files, HEADERS)
    for place in PLACES:
        header = json.loads(headers[place])
        for value in ("<gone>", *VALUES[FIELDS.index(field) % step :: step]):
            edited = {k: v for k, v in header.items() if k != field} if value == "<gone>" else {**header, field: value}
            if edited != header or list(map(type, edited.values())) != list(map(type, header.values())):
                changed = list(headers)
                changed[place] = _json(edited)
                yield f"entry {place}, {field} = {value!r}", changed


def _damage(field: str) -> tuple[tuple[int, int], ...]:
    """Damage is told as damage. An entry that calls itself newer, under the shop's own seal, may be one that cannot be judged."""
    return ((1, 1), (2, 2)) if field == "format" else ((1, 1),)


@pytest.mark.parametrize("step", EVERY)
@pytest.mark.parametrize("field", FIELDS)
def test_every_field_of_a_header_in_every_way(sealed: Sealed, receiver: Receiver, field: str, step: int) -> None:
    tried = 0
    for what, headers in _edits(sealed.files, field, step):
        codes = receiver.both(_sealed_by_the_shop(_with(sealed.files, headers)))
        tried += 1
        assert codes in _damage(field), what
    assert tried > 50 / step


@pytest.mark.parametrize("field", [f for f in FIELDS if f not in ("previous", "seq")])
@pytest.mark.parametrize("step", EVERY)
def test_and_chained_anew_it_is_another_history(sealed: Sealed, receiver: Receiver, field: str, step: int) -> None:
    """Everything recomputed from the edit on: the head that was told is what shows it."""
    for what, headers in _edits(sealed.files, field, step):
        made = rechained([json.loads(line) for line in headers])
        codes = receiver.both(_sealed_by_the_shop({**sealed.files, HEADERS: made}))
        assert codes in _damage(field), what


def _orders(count: int) -> Iterator[tuple[str, list[int]]]:
    whole = list(range(count))
    for at in whole:
        yield f"{at} dropped", whole[:at] + whole[at + 1 :]
        yield f"{at} repeated", whole[: at + 1] + whole[at:]
        yield f"{at} moved to the end", whole[:at] + whole[at + 1 :] + [at]
        yield f"cut off at {at}", whole[:at]
        if at:
            yield f"{at - 1} and {at} swapped", [*whole[: at - 1], at, at - 1, *whole[at + 1 :]]
    yield "backwards", whole[::-1]


@pytest.mark.parametrize("anew", [False, True], ids=["as they were", "chained anew"])
def test_entries_dropped_repeated_moved_and_cut_off(sealed: Sealed, receiver: Receiver, anew: bool) -> None:
    headers, contents = _lines(sealed.files, HEADERS), _lines(sealed.files, CONTENTS)
    for what, order in _orders(len(headers)):
        if order == list(range(len(headers))):
            continue
        moved = [headers[n] for n in order]
        files = _with(sealed.files, moved, [contents[n] for n in order])
        if anew:
            files[HEADERS] = rechained([json.loads(line) for line in moved])
        assert receiver.both(_sealed_by_the_shop(files)) == (1, 1), what


def test_the_first_bad_number_and_what_differs_are_told(sealed: Sealed, receiver: Receiver) -> None:
    headers, contents = _lines(sealed.files, HEADERS), _lines(sealed.files, CONTENTS)
    bundle = receiver.folder / "attacked.zip"
    bundle.write_bytes(_sealed_by_the_shop(_with(sealed.files, headers[:4] + headers[5:], contents[:4] + contents[5:])))
    verdict = receiver.verdict(bundle)
    told = [(f.check, f.item) for f in verdict.faults if f.check in ("R2", "R3")]
    assert told[:2] == [("R2", "entry 5"), ("R3", "entry 5")]
    assert any(f.check == "N2" and f"rolled back from {len(headers)} to {len(headers) - 1} entries" in f.message for f in verdict.faults)


def test_every_content_changed_swapped_dropped_or_hidden(sealed: Sealed, receiver: Receiver) -> None:
    headers, contents = _lines(sealed.files, HEADERS), _lines(sealed.files, CONTENTS)
    for at, content in enumerate(contents):
        read = json.loads(content)
        for changed in (
            b"", b"{}", content[:-1], content + b" ", b"[]", b"\xff", _json({**read, "via": "other"}), _json({**read, "salt": "0" * 32}),
            _json({**read, "body": {}}), _json({k: v for k, v in read.items() if k != "body"}), contents[at - 1], b"[" * 100_000,
        ):  # fmt: skip
            files = _with(sealed.files, headers, [*contents[:at], changed, *contents[at + 1 :]])
            codes = receiver.both(_sealed_by_the_shop(files))
            assert codes == (1, 1), (at, changed[:40])
    for files in (_with(sealed.files, headers, contents[:-1]), _with(sealed.files, headers, [*contents, b""]), {**sealed.files, CONTENTS: b""}):
        assert receiver.both(_sealed_by_the_shop(files)) == (1, 1)
