"""Checks a disclosure bundle with Python's standard library alone.

    python3 verify.py [BUNDLE] [--key FINGERPRINT] [--head NOTE] [--quick] [--json] [--threads N]

BUNDLE is the zip or the unpacked folder; without it, the bag this file lies in. What no file can say by itself
comes from outside: whose key it is (--key, as printed on paper or told by telephone) and which head you were told
earlier (--head: a note, a checkpoint, or the line you were sent). Nothing is written, nothing is unpacked, no
network is used. Exit codes: 0 intact, 1 damage or tampering found, 2 could not check.

Z1 the zip is one plain row of stored members   Z2 names are safe and unique on every system; no links
B1 tag files well formed (RFC 8493)   B2 every file listed, every listed file there   B3 hashes are those listed
R1-R6 headers, numbers, chain, contents, succession of the ledger   W1 what is missing is said to be withheld
E1 every exhibit shown has its file   S1 signed by the key beside it   S2 the seal speaks of this ledger and bag
S3 kept heads are those of the ledger   T1 time-stamps are over their head   K1 the key you named   K2 the head you named
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from evidence.bundle.alone.bag import check_bag, compare_hashes, hash_files
from evidence.bundle.alone.ledger import Ledger, read_ledger
from evidence.bundle.alone.opening import Fault, Place, Unusable, opened
from evidence.bundle.alone.seals import check_exhibits, check_heads, check_seal, check_withheld, named_head
from evidence.bundle.alone.signatures import fingerprint


@dataclass
class Checked:
    """What was found in a bundle."""

    names: dict[str, Place]
    faults: list[Fault] = field(default_factory=list)
    newer: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    ledger: Ledger | None = None
    signer: str = ""  # fingerprint; empty: not signed
    key_confirmed: bool = False
    head_confirmed: bool = False
    withheld_records: dict[str, int] = field(default_factory=dict)  # kind -> how many
    withheld_files: int = 0
    files_read: int = 0
    bytes_read: int = 0

    @property
    def exit_code(self) -> int:
        """0 intact, 1 damage or tampering, 2 could not check."""
        return 1 if self.faults else 2 if self.newer else 0


def check(
    path: str, key: str = "", head: str = "", *, quick: bool = False, threads: int = 2,
    progress: Callable[[int], object] = lambda _size: None,
) -> Checked:  # fmt: skip
    """Check everything that can be checked without our own software. Raises :class:`Unusable`."""
    faults: list[Fault] = []
    found = Checked(opened(path, faults), faults)
    if not found.names:
        return found
    listed = check_bag(found.names, faults, found.newer)
    if not quick:
        there = [name for name in found.names if name.startswith("data/")]
        compare_hashes(listed, hash_files(found.names, there, threads, progress), faults)
        found.files_read, found.bytes_read = len(there), sum(found.names[n].size for n in there)
    found.ledger = read_ledger(found.names, faults, found.newer)
    if found.ledger is not None:
        _record(found, found.ledger, listed)
        _outside(found, found.ledger, key, head)
    return found


def _record(found: Checked, ledger: Ledger, listed: dict[str, str]) -> None:
    said = check_withheld(found.names, ledger, found.faults)
    check_exhibits(ledger, listed, found.names, said, found.faults)
    public = check_seal(found.names, ledger, found.faults)
    found.signer = fingerprint(public) if public else ""
    found.remarks += check_heads(found.names, ledger, found.faults)
    for seq, kind, _subject, action in ledger.kinds:
        if seq in ledger.missing and action == "record":
            found.withheld_records[kind] = found.withheld_records.get(kind, 0) + 1
    found.withheld_files = len(said["files"]) if isinstance(said["files"], list) else 0


def _outside(found: Checked, ledger: Ledger, key: str, head: str) -> None:
    """What the receiver was told by another way."""
    if key:
        found.key_confirmed = bool(found.signer) and "".join(key.lower().split()).replace(":", "") == found.signer
        if not found.key_confirmed:
            signer = f"signed by key {found.signer}" if found.signer else "not signed"
            found.faults.append(Fault("K1", "key", f"is {signer}; you named {key}"))
    if head:
        try:
            of, size, root = named_head(head)
        except ValueError as err:
            raise Unusable(f"--head: {err}") from None
        there = len(ledger.leaves)
        if of != ledger.ledger:
            found.faults.append(Fault("K2", "head", "is that of another ledger"))
        elif size > there:
            found.faults.append(Fault("K2", "head", f"rolled back from {size} to {there} entries"))
        elif ledger.root(size) != root:
            message = f"two histories at {size} entries: you were told {root}, the bundle has {ledger.root(size)}"
            found.faults.append(Fault("K2", "head", message))
        else:
            found.head_confirmed = True
            found.remarks.append(f"continues the head you named: {there - size} entries were added since")


def verdict(found: Checked) -> str:
    """The verdict in one sentence."""
    if found.faults:
        return f"NOT INTACT: {len(found.faults)} fault{'s' * (len(found.faults) > 1)} found"
    if found.newer:
        return f"could not check: {found.newer[0]}"
    open_ = [
        what for what, known in (("signer", found.key_confirmed), ("latest head", found.head_confirmed)) if not known
    ]
    return "intact" + (f", {' and '.join(open_)} not confirmed" if open_ else "")


def told(found: Checked) -> list[str]:
    """What was found, in plain words."""
    lines = [verdict(found)]
    lines += [f"  {fault.check}  {fault.item}: {fault.message}" for fault in found.faults]
    if found.ledger is not None:
        lines.append(f"{len(found.ledger.leaves)} entries of ledger {found.ledger.ledger}")
    whole = f"{found.files_read} files, {found.bytes_read} bytes read"
    unread = len(found.names) - found.files_read
    lines.append(whole if found.files_read else f"contents not read: {unread} files (--quick)")
    if found.withheld_records or found.withheld_files:
        kinds = ", ".join(f"{n} {kind.replace('_', ' ')}" for kind, n in sorted(found.withheld_records.items()))
        lines.append(f"withheld: {kinds or 'no record'}; {found.withheld_files} files")
    lines.append(f"signed by key {found.signer}" if found.signer else "not signed")
    lines += found.remarks
    if not found.key_confirmed:
        lines.append("Whose key it is, no file can say: compare the fingerprint with what you were given (--key).")
    if not found.head_confirmed:
        lines.append("Whether a later head exists, no file can say: name the last you were told (--head).")
    lines.append("Intact means unaltered since it was sealed; not that a caption is true or a clock was right.")
    return lines


def main(arguments: Sequence[str] | None = None) -> int:
    """Parse, check, tell."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("bundle", nargs="?", default=os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
    parser.add_argument("--key", default="", help="fingerprint of the signer's key, as you were told it")
    parser.add_argument("--head", default="", help="an earlier head: a file, or the line you were sent")
    parser.add_argument("--quick", action="store_true", help="do not read the files' contents")
    parser.add_argument("--json", action="store_true", help="print the result as JSON")
    parser.add_argument("--threads", type=int, default=2)
    asked = parser.parse_args(arguments)
    try:
        head = asked.head
        if head and os.path.isfile(head):
            with open(head, encoding="utf-8", errors="replace") as handle:
                head = handle.read(1 << 16)
        found = check(asked.bundle, asked.key, head, quick=asked.quick, threads=asked.threads)
    except Unusable as err:
        print(f"could not check: {err}", file=sys.stderr)
        return 2
    if asked.json:
        plain = {"verdict": verdict(found), "faults": [f._asdict() for f in found.faults], "signer": found.signer}
        print(json.dumps(plain, ensure_ascii=False, indent=2, sort_keys=True))
    else:
        print("\n".join(told(found)))
    return found.exit_code


if __name__ == "__main__":
    sys.exit(main())
