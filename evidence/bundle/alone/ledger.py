"""The ledger in a bundle: every header, the contents that are shown, the chain and the tree over all of them."""

from __future__ import annotations

import base64
import hashlib
import json
import re

from evidence.bundle.alone.opening import Altered, Fault, Place, Unusable, chunks

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

FORMAT = 1
RECORD = "data/record/"
_TEXTS = ("ledger", "recorded_at", "recorded_by", "kind", "subject", "action", "content", "previous")
_LONGEST_LINE = 16 << 20  # a dossier file has at most 5 MB


class Ledger:
    """What was read: leaf hashes, the contents shown by subject, and what they say of files."""

    def __init__(self, ledger: str) -> None:
        self.ledger = ledger
        self.leaves: list[bytes] = []
        self._rows = [self.leaves]
        self.kinds: list[tuple[int, str, str, str]] = []  # seq, kind, subject, action
        self.missing: set[int] = set()  # entries whose content is not here
        self.set_back: list[str] = []  # where the recorder's clock went back, in words
        self.last_time = ""
        self.files: dict[str, tuple[str, int]] = {}  # SHA-256 -> "exhibit 7" (the first that has it), size

    def root(self, size: int) -> str:
        """Root in base64 over the first ``size`` entries (RFC 9162 section 2.1): from the full subtrees that it has."""
        found = b""
        for level in range(size.bit_length()):
            if size >> level & 1:
                peak = self._row(level)[(size >> level) - 1]
                found = hashlib.sha256(b"\x01" + peak + found).digest() if found else peak
        return base64.b64encode(found or hashlib.sha256(b"").digest()).decode()

    def _row(self, level: int) -> list[bytes]:
        """The full subtrees of ``2**level`` entries, made when first asked for."""
        while len(self._rows) <= level:
            row = self._rows[-1]
            pairs = range(0, len(row) - 1, 2)
            self._rows.append([hashlib.sha256(b"\x01" + row[n] + row[n + 1]).digest() for n in pairs])
        return self._rows[level]

    def recorded(self) -> dict[str, int]:
        """The entry that recorded each subject."""
        return {subject: seq for seq, _kind, subject, action in reversed(self.kinds) if action == "record"}


def lines(place: Place) -> Iterator[bytes]:
    """The lines of a member; ``ValueError`` where the last has no end or one is beyond all measure."""
    rest = b""
    for chunk in chunks(place):
        *whole, rest = (rest + chunk).split(b"\n")
        yield from whole
        if len(rest) > _LONGEST_LINE:
            raise ValueError("a line beyond all measure")
    if rest:
        raise ValueError("its last line is cut off")


def canonical(data: bytes) -> dict[str, object]:
    """Canonical JSON read back (RFC 8785, narrowed); ``ValueError`` if it is not canonical."""
    try:
        value = json.loads(data.decode("utf-8"), parse_float=_refused, parse_constant=_refused)
        again = json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode("utf-8")
    except RecursionError:
        raise ValueError("nested too deeply") from None
    if not isinstance(value, dict) or again != data or not _plain(value):
        raise ValueError("not in canonical form")
    return value


def _plain(value: object) -> bool:
    """Only what a record holds: texts, booleans, whole numbers below 2^53, lists, objects with ASCII keys."""
    if isinstance(value, dict):
        return all(key.isascii() and _plain(inner) for key, inner in value.items())
    if isinstance(value, list):
        return all(map(_plain, value))
    return isinstance(value, str) or (isinstance(value, int) and abs(value) < 2**53)


def _refused(text: str) -> object:
    raise ValueError(f"{text} has no place in a record")


def read_ledger(names: dict[str, Place], faults: list[Fault], newer: list[str]) -> Ledger | None:
    """Read and check the record; None where there is none to read. ``newer`` takes what only a newer program can read."""
    places = [names.get(RECORD + name) for name in ("headers.jsonl", "contents.jsonl")]
    if places[0] is None or places[1] is None:
        faults.append(Fault("R1", "record", "headers or contents are missing"))
        return None
    found: Ledger | None = None
    newest: dict[str, tuple[int, str, str]] = {}
    counts: dict[str, int] = {}
    try:
        contents = lines(places[1])
        for seq, raw in enumerate(lines(places[0]), 1):
            content = next(contents, None)
            header = _header(raw, seq, faults, newer)
            found = found or Ledger(str(header.get("ledger", "")) if header else "")
            _entry(found, seq, raw, header, content, newest, counts, faults)
        if next(contents, None) is not None:
            faults.append(Fault("R4", "record", "there are more contents than headers"))
    except (ValueError, Altered) as err:
        faults.append(Fault("R1", "record", str(err)))
    except OSError as err:
        raise Unusable(f"record: cannot be read: {err.strerror or err}") from None
    if found is None:
        faults.append(Fault("R1", "record", "holds no entry"))
    return found


def _header(raw: bytes, seq: int, faults: list[Fault], newer: list[str]) -> dict[str, object] | None:
    try:
        header = canonical(raw)
        if header.get("format") != FORMAT and isinstance(header.get("format"), int):
            newer.append(f"entry {seq} is of format {header.get('format')}, this program knows {FORMAT}")
            return None
        numbers = [header[k] for k in ("seq", "replaces") if k in header]
        if not all(isinstance(n, int) and not isinstance(n, bool) and n > 0 for n in numbers) or "seq" not in header:
            raise ValueError("carries a number that is none")
        if not all(isinstance(header.get(k), str) for k in _TEXTS):
            raise ValueError("lacks a field, or has one of another type")
        if header["action"] not in ("record", "amend", "withdraw"):
            raise ValueError("carries an action that is none")
        if not re.fullmatch(r"[0-9a-f]{64}", str(header["content"])) or not header["kind"]:
            raise ValueError("names its content or kind in no known form")
    except ValueError as err:
        faults.append(Fault("R1", f"entry {seq}", f"its header cannot be read: {err}"))
        return None
    return header


def _entry(
    found: Ledger, seq: int, raw: bytes, header: dict[str, object] | None, content: bytes | None,
    newest: dict[str, tuple[int, str, str]], counts: dict[str, int], faults: list[Fault],
) -> None:  # fmt: skip
    def fault(check: str, message: str) -> None:
        faults.append(Fault(check, f"entry {seq}", message))

    previous = found.leaves[-1].hex() if found.leaves else "0" * 64
    found.leaves.append(hashlib.sha256(b"\x00" + raw).digest())
    if content is None:
        fault("R4", "its content is missing, and not as one that was withheld")
    if not content:
        found.missing.add(seq)
    if header is None:
        return
    kind, subject, action = str(header["kind"]), str(header["subject"]), str(header["action"])
    found.kinds.append((seq, kind, subject, action))
    time, before = str(header["recorded_at"]), found.last_time
    if time < before and (back := set_back(seq, before, time)):
        found.set_back.append(back)
    found.last_time = time
    if header["ledger"] != found.ledger or header["seq"] != seq:
        fault("R2", f"carries number {header['seq']} of ledger {str(header['ledger'])[:8]}; {seq} was due")
    if header["previous"] != previous:
        fault("R3", "does not continue the chain")
    _succession(header, newest, fault)
    newest[subject] = (seq, kind, action)
    if action == "record":
        counts[kind] = counts.get(kind, 0) + 1
        counts[subject] = counts[kind]
    if content:
        if hashlib.sha256(content).hexdigest() != header["content"]:
            fault("R4", "its content is not the one that was recorded")
        _files(found, kind, counts.get(subject, 0), content, fault)


def set_back(seq: int, before: str, time: str) -> str:
    """That the recorder's clock went back before an entry, and by how much; an empty text below two seconds.

    Such a step is no damage: the order is that of the numbers, which the chain fixes whatever a clock says.
    """
    from datetime import datetime  # not needed by any other check

    try:
        moments = [datetime.fromisoformat(t.replace("Z", "+00:00")) for t in (before, time)]  # noqa: FURB162 - Python < 3.11
        seconds = (moments[0] - moments[1]).total_seconds()
    except (ValueError, TypeError):
        return ""  # told elsewhere: it is no time
    if seconds < 2:
        return ""
    for unit, size in (("day", 86400), ("hour", 3600), ("minute", 60), ("second", 1)):
        if seconds >= 2 * size:
            by = f"{int(seconds // size)} {unit}s"
            break
    return f"The recorder's clock went back by {by} before entry {seq}; the order is that of the entries, not of its times."


def _succession(
    header: dict[str, object], newest: dict[str, tuple[int, str, str]], fault: Callable[[str, str], None]
) -> None:
    known = newest.get(str(header["subject"]))
    if header["action"] == "record":
        if known:
            fault("R6", "records a subject a second time")
    elif known is None:
        fault("R6", "changes what was never recorded")
    elif (header.get("replaces"), header["kind"]) != known[:2] or known[2] == "withdraw":
        fault("R5", f"does not name the newest entry of its subject ({known[0]})")


def _files(found: Ledger, kind: str, number: int, content: bytes, fault: Callable[[str, str], None]) -> None:
    try:
        body = canonical(content).get("body")
        file = body.get("file") if isinstance(body, dict) else None
        if not isinstance(body, dict):
            raise ValueError("it has no body")
        if kind == "exhibit" and isinstance(file, dict):
            sha256, size = file.get("sha256"), file.get("size")
            if not isinstance(sha256, str) or not isinstance(size, int):
                raise ValueError("it names its file in no known form")
            known = int(found.files[sha256][0].split()[1]) if sha256 in found.files else number
            found.files[sha256] = f"exhibit {min(known, number)}", size
    except ValueError as err:
        fault("R4", f"its content cannot be read: {err}")
