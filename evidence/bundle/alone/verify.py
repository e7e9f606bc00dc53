"""Checks a disclosure bundle with Python's standard library alone.

    python3 verify.py [BUNDLE] [--key FINGERPRINT] [--head NOTE] [--quick] [--both] [--json] [--threads N]

BUNDLE is the zip or the unpacked folder; without it, the bag this file lies in. What no file can say by itself
comes from outside: whose key it is (--key, as printed on paper or told by telephone) and which head you were told
earlier (--head: a note, a checkpoint, or the line you were sent). Nothing is written, nothing is unpacked, no
network is used. Exit codes: 0 intact, 1 damage or tampering found, 2 could not check.

Z1 the zip is one plain row of stored members   Z2 names are safe and unique on every system; no links
B1 tag files well formed (RFC 8493)   B2 every file listed, every listed file there   B3 contents are those listed
R1-R6 headers, numbers, chain, contents, succession of the ledger   W1 what is missing is said to be withheld
E1 every exhibit shown has its file   S1 signed by the key beside it   S2 the seal speaks of this ledger and bag
S3 kept heads are those of the ledger   T1 time-stamps are over their head   N1 the key you named   N2 the head you named
"""

from __future__ import annotations

import os
import re
import sys

from evidence.bundle.alone.bag import check_bag, compare_hashes, compare_sizes, hash_files, newer_bag
from evidence.bundle.alone.ledger import Ledger, read_ledger
from evidence.bundle.alone.opening import Fault, Place, Unusable, opened, printable
from evidence.bundle.alone.seals import check_exhibits, check_heads, check_seal, check_withheld, named_head
from evidence.bundle.alone.signatures import fingerprint

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from evidence.bundle.alone.bag import Hashes

_MOST_TOLD = 500


class Checked:
    """What was found in a bundle."""

    def __init__(self, names: dict[str, Place], faults: list[Fault]) -> None:
        self.names, self.faults = names, faults
        self.newer: list[str] = []
        self.remarks: list[str] = []
        self.ledger: Ledger | None = None
        self.signer = ""  # fingerprint; empty: not signed
        self.key_confirmed = self.head_confirmed = False
        self.shown: dict[str, int] = {}  # kind -> how many records
        self.withheld_records: dict[str, int] = {}
        self.withheld_files = 0
        self.read: set[str] = set()  # files whose contents were hashed
        self.both = False
        self.finished = True

    @property
    def exit_code(self) -> int:
        """0 intact, 1 damage or tampering, 2 could not check, 3 not finished."""
        if any(not fault.message.startswith("is unreadable") for fault in self.faults):
            return 1
        return 2 if self.newer or self.faults else 0 if self.finished else 3

    def bytes_of(self, names: set[str]) -> int:
        """The size of some of the files together."""
        return sum(self.names[name].size for name in names)


def check(
    path: str, key: str = "", head: str = "", *, quick: bool = False, both: bool = False, threads: int = 2,
    progress: Callable[[int], object] = lambda _size: None, hashing: Callable[..., Hashes] = hash_files,
) -> Checked:  # fmt: skip
    """Check everything that can be checked without our own software. Raises :class:`Unusable`.

    ``hashing`` may stand in for :func:`hash_files`; files that it leaves out make the check one that is not finished.
    """
    key = "".join(key.lower().split()).replace(":", "")
    if key and not re.fullmatch("[0-9a-f]{64}", key):
        raise Unusable(
            f"--key: is no fingerprint: 64 of the digits 0-9 and a-f are wanted, it has {len(key)} characters"
        )
    faults: list[Fault] = []
    found = Checked(opened(path, faults), faults)
    if newer := newer_bag(found.names):
        found.newer.append(newer)
        return found
    if not found.names and faults:
        return found
    if "bagit.txt" not in found.names and not any(n.startswith("data/") for n in found.names):
        raise Unusable(f"{path}: is no disclosure bundle")
    listed = check_bag(found.names, faults)
    there = {name for name in found.names if name.startswith("data/")}
    hashes = {} if quick else hashing(found.names, there, threads, both=both, progress=progress)
    found.ledger = read_ledger(found.names, faults, found.newer)
    sizes = {hash_: size for hash_, (_, size) in found.ledger.files.items()} if found.ledger else {}
    compare_hashes(found.names, listed, hashes, sizes, faults)
    if quick:
        compare_sizes(found.names, listed, sizes, faults)
    found.read, found.both, found.finished = set(hashes), both, quick or len(hashes) == len(there)
    if found.ledger is not None:
        _record(found, found.ledger, listed["sha256"])
        _outside(found, found.ledger, key, head)
    return found


def _record(found: Checked, ledger: Ledger, listed: dict[str, str]) -> None:
    said = check_withheld(found.names, ledger, found.faults)
    check_exhibits(ledger, listed, found.names, said, found.faults)
    public = check_seal(found.names, ledger, found.faults)
    found.signer = fingerprint(public) if public else ""
    found.remarks += ledger.set_back[:_MOST_TOLD]
    found.remarks += check_heads(found.names, ledger, found.faults)
    for seq, kind, _subject, action in ledger.kinds:
        if action == "record":
            counted = found.withheld_records if seq in ledger.missing else found.shown
            counted[kind] = counted.get(kind, 0) + 1
    found.withheld_files = len(said["files"]) if isinstance(said["files"], list) else 0


def _outside(found: Checked, ledger: Ledger, key: str, head: str) -> None:
    """What the receiver was told by another way."""
    if key:
        found.key_confirmed = key == found.signer
        if not found.key_confirmed:
            signer = f"signed by a key that you did not name: {found.signer}" if found.signer else "not signed"
            found.faults.append(Fault("N1", "the signer", f"is {signer}; you named {key}"))
    if not head:
        return
    try:
        of, size, root = named_head(head)
    except ValueError as err:
        raise Unusable(f"--head: {err}") from None
    there = len(ledger.leaves)
    if of != ledger.ledger:
        found.faults.append(Fault("N2", "the head you named", "is that of another ledger"))
    elif size > there:
        found.faults.append(Fault("N2", "the head you named", f"rolled back from {size} to {there} entries"))
    elif ledger.root(size) != root:
        message = f"two histories at {size} entries: you were told {root}, the bundle has {ledger.root(size)}"
        found.faults.append(Fault("N2", "the head you named", message))
    else:
        found.head_confirmed = True
        found.remarks.append(f"It continues the head you named; {there - size} entries were added since.")


def verdict(found: Checked) -> str:
    """The verdict in one sentence."""
    if found.exit_code == 1:
        return f"NOT INTACT: {len(found.faults)} fault{'s' * (len(found.faults) > 1)} found"
    if found.exit_code == 2:
        return f"could not check: {found.newer[0] if found.newer else 'not every file can be read'}"
    if found.exit_code == 3:
        return "not finished: nothing wrong so far"
    open_ = [
        what for what, known in (("signer", found.key_confirmed), ("latest head", found.head_confirmed)) if not known
    ]
    unread = (
        "contents of files not read, else " if len(found.read) < sum(n.startswith("data/") for n in found.names) else ""
    )
    return f"{unread}intact" + (f", {' and '.join(open_)} not confirmed" if open_ else "")


def told(found: Checked) -> list[str]:
    """What was found, in plain words: the verdict, faults by what they are about, what it means and what it does not."""
    lines = [verdict(found)]
    items: dict[str, list[str]] = {}
    for fault in found.faults:
        items.setdefault(fault.item, []).append(f"{fault.message} [{fault.check}]")
    for item, messages in list(items.items())[:_MOST_TOLD]:
        lines += [f"  {item}: {'; '.join(messages)}"]
    if len(items) > _MOST_TOLD:
        lines.append(f"  and {len(items) - _MOST_TOLD} more")
    lines += _extent(found)
    lines.append(f"signed by key {found.signer}" if found.signer else "not signed by a key that could be checked")
    lines += found.remarks
    if not found.key_confirmed:
        lines.append("Whose key it is, no file can say: compare the fingerprint with what you were given (--key).")
    if not found.head_confirmed:
        lines.append("Whether a later head exists, no file can say: name the last you were told (--head).")
    lines += advice([(fault.check, fault.message) for fault in found.faults])
    lines.append("The findings were not computed again here; the sender's program does that ('evidence verify').")
    lines.append("Intact means unaltered since it was sealed; not that a caption is true or a clock was right.")
    return [printable(in_fours(line)) for line in lines]


def advice(faults: Sequence[tuple[str, str]]) -> list[str]:
    """What the receiver does about faults (check and message of each); nothing where there is none."""
    if not faults:
        return []
    lines = []
    if any(message == "is compressed" for _check, message in faults):
        lines.append("Another program packed this zip anew. Unpack it and check the folder: that is what was sealed.")
    if all(check in ("N1", "N2") for check, _message in faults):
        lines.append("Hold the fingerprint and the head that you typed against what you were told, digit by digit.")
    return [*lines, "Change nothing and keep the bundle as it is. Ask the sender for it again, and for a reason."]


def in_fours(text: str) -> str:
    """Fingerprints as they are printed on paper and read out: in groups of four."""
    return re.sub(r"\b[0-9a-f]{64}\b", lambda found: " ".join(re.findall("....", found[0])), text)


def _extent(found: Checked) -> list[str]:
    """How much was looked at, and how much was not."""
    lines, payload = [], {name for name in found.names if name.startswith("data/")}
    if found.ledger is not None:
        lines.append(
            f"{len(found.ledger.leaves)} entries of ledger {found.ledger.ledger}: {sum(found.shown.values())} records shown"
        )
    if found.read:
        lists = (
            "SHA-256 and SHA-512"
            if found.both
            else "SHA-256; the SHA-512 list by its names alone (--both reads for it too)"
        )
        lines.append(f"{len(found.read)} files, {found.bytes_of(found.read):,} bytes read against {lists}")
    if unread := payload - found.read:
        lines.append(
            f"contents not read: {len(unread)} files, {found.bytes_of(unread):,} bytes; what was compared is their presence and size"
        )
    if found.withheld_records or found.withheld_files:
        kinds = ", ".join(f"{n} {kind.replace('_', ' ')}" for kind, n in sorted(found.withheld_records.items()))
        lines.append(f"withheld on purpose: records: {kinds or 'none'}; files: {found.withheld_files}")
    return lines


def summary(found: Checked) -> dict[str, object]:
    """The same as plain data."""
    return {
        "verdict": verdict(found), "exit_code": found.exit_code, "faults": [fault._asdict() for fault in found.faults],
        "ledger": found.ledger.ledger if found.ledger else "", "entries": len(found.ledger.leaves) if found.ledger else 0,
        "signer": found.signer, "key_confirmed": found.key_confirmed, "head_confirmed": found.head_confirmed,
        "files_read": len(found.read), "bytes_read": found.bytes_of(found.read), "shown": found.shown,
        "withheld": found.withheld_records, "withheld_files": found.withheld_files, "remarks": found.remarks,
    }  # fmt: skip


def main(arguments: Sequence[str] | None = None) -> int:
    """Parse, check, tell."""
    import argparse
    import json

    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("bundle", nargs="?", default=os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
    parser.add_argument("--key", default="", help="fingerprint of the signer's key, as you were told it")
    parser.add_argument("--head", default="", help="an earlier head: a file, or the line you were sent")
    parser.add_argument("--quick", action="store_true", help="do not read the files' contents")
    parser.add_argument("--both", action="store_true", help="hash contents with SHA-512 too")
    parser.add_argument("--json", action="store_true", help="print the result as JSON")
    parser.add_argument("--threads", type=int, default=min(8, os.cpu_count() or 1))
    asked = parser.parse_args(arguments)
    try:
        head = asked.head
        if head and os.path.isfile(head):
            with open(head, encoding="utf-8", errors="replace") as handle:
                head = handle.read(1 << 16)
        found = check(asked.bundle, asked.key, head, quick=asked.quick, both=asked.both, threads=asked.threads)
    except Unusable as err:
        print(f"could not check: {printable(str(err))}", file=sys.stderr)
        return 2
    if asked.json:
        print(json.dumps(summary(found), ensure_ascii=True, indent=2, sort_keys=True))
    else:
        text = "\n".join(told(found)) + "\n"
        sys.stdout.buffer.write(text.encode(sys.stdout.encoding or "ascii", "backslashreplace"))
        sys.stdout.flush()
    return found.exit_code


if __name__ == "__main__":
    sys.exit(main())
