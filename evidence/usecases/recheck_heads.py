"""Checks of signed heads and keys, part of a recheck:

====  ==========================================================================
K1    each head that was kept is the root of the ledger's first entries
K2    its signature is right, and its files agree with each other
K3    the key that signed it is one of this workspace
K4    each time-stamp is of this head and stands at the time it names
K5    each countersignature is of this head and right
K6    nobody else on the machine can read or change a private key
====  ==========================================================================

What cannot be checked here (a library that is not installed) is told as such, never passed over.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping

from evidence.errors import StoreDamaged
from evidence.ports import Desk
from evidence.record.chain import Fault
from evidence.record.handed import line_of
from evidence.record.head import Head
from evidence.usecases.head_standing import HeadStanding, ahead, standing

Kept = list[Head] | StoreDamaged  # the heads kept of a ledger, or why they cannot be read


def kept_heads(desk: Desk, ledger: str) -> Kept:
    """The heads kept of a ledger; asked for before its entries are read, which other processes may add to meanwhile."""
    try:
        return desk.shelf.kept(ledger)
    except StoreDamaged as err:
        return err


def check_heads(
    desk: Desk, kept: Kept, roots: Mapping[int, bytes], times: Mapping[int, dt.datetime]
) -> tuple[list[Fault], list[str]]:
    """Faults and remarks on the heads kept of a ledger. ``roots``: of its entries, by size; ``times``: theirs."""
    if isinstance(kept, StoreDamaged):
        return [Fault("K1", "kept head", f"{kept}")], []
    faults: list[Fault] = []
    remarks: list[str] = []
    for head in kept:
        faults += _continued(head, roots)
        found = standing(desk, head, times.get(head.size))
        faults += found.faults
        faults += _known_key(desk, found)
        remarks += _remarks(found)
        if found.fingerprint and not desk.keys.known():
            remarks.append("there are no keys in this workspace: whose key signed the heads is not confirmed")
    size = max(roots)
    if size and size not in {h.size for h in kept}:
        newer = size - kept[-1].size if kept else size
        some = "the newest entry is" if newer == 1 else f"the newest {newer} entries are"
        remarks.append(f"{some} under no signed head yet; 'evidence heads sign' makes one")
    return faults, list(dict.fromkeys(remarks))


def check_keys(desk: Desk) -> list[Fault]:
    """Faults of the folder of keys."""
    return [Fault("K6", "keys", text) for text in desk.keys.loose()]


def _continued(head: Head, roots: Mapping[int, bytes]) -> Iterator[Fault]:
    size = max(roots)
    if head.size > size:
        yield Fault("K1", _item(head), f"rolled back: this head was kept, the ledger has {size} entries")
    elif roots[head.size] != head.root:
        here = line_of(Head(head.ledger, head.size, roots[head.size]))
        yield Fault("K1", _item(head), f"two histories\n      kept: {line_of(head)}\n      here: {here}")


def _known_key(desk: Desk, found: HeadStanding) -> Iterator[Fault]:
    if found.fingerprint and found.key is None and desk.keys.known():
        yield Fault(
            "K3", _item(found.head), f"signed by a key that is none of this workspace ({found.fingerprint[:16]}…)"
        )


def _remarks(found: HeadStanding) -> Iterator[str]:
    if not found.fingerprint and not found.faults:
        yield f"{_item(found.head)} is not signed"
    if found.queued:
        yield f"{_item(found.head)} waits for a time-stamp; 'evidence timestamp' asks again"
    if found.key and found.key.state == "revoked":
        yield (
            f"{_item(found.head)} is signed by a key that was revoked as of {found.key.ended} ({found.key.reason}): it stands as "
            "far as a time-stamp, a witness or a copy in other hands shows that it was there before"
        )
    yield from ahead(found)
    if found.not_checked:
        yield found.not_checked
    for stamp in found.stamps:
        if stamp.valid and not stamp.chain_trusted:
            yield f"time-stamp by {stamp.authority} on the {_item(found.head)}: {'; '.join(stamp.reasons)}"


def _item(head: Head) -> str:
    return f"head of {head.size} entries"
