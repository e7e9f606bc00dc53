"""What the files of a signed head say: who signed it, who stamped it, who countersigned it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from evidence.edges.token import check_token, system_roots
from evidence.errors import ExtraMissing
from evidence.record.checkpoint import Note, cosigned_at, fingerprint, read_checkpoint, read_public_pem
from evidence.record.head import ORIGIN, Head

_NOT_YET = "the shop key has not signed it yet"


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidOfHead:
    """Only what was checked and is right; the rest is not there."""

    fingerprint: str  # of the shop key, hexadecimal; empty: not signed
    problem: str  # why it is not
    time_stamps: tuple[str, ...] = ()
    witnesses: tuple[str, ...] = ()


def said_of(head: Head, files: Mapping[str, Path]) -> SaidOfHead:
    """Read and check the files of a head, by name."""
    if "head.note" not in files or "key.pem" not in files:
        return SaidOfHead(fingerprint="", problem=_NOT_YET)
    data = files["head.note"].read_bytes()
    try:
        note, public = Note.read(data), read_public_pem(files["key.pem"].read_bytes())
        same = read_checkpoint(note.text) == head
    except ValueError as err:
        return SaidOfHead(fingerprint="", problem=f"its signature cannot be read ({err})")
    if not same or note.by(ORIGIN + head.ledger, public) is None:
        return SaidOfHead(fingerprint="", problem="the signature that is kept with it is not right")
    stamps = [_stamp(path.read_bytes(), data) for name, path in sorted(files.items()) if name.endswith(".tsr")]
    seen = [_witness(path, note.text) for name, path in sorted(files.items()) if _is_witness(name)]
    return SaidOfHead(
        fingerprint=fingerprint(public), problem="", time_stamps=tuple(filter(None, stamps)),
        witnesses=tuple(filter(None, seen)),
    )  # fmt: skip


def _stamp(token: bytes, note: bytes) -> str:
    try:
        found = check_token(token, note, system_roots())
    except ExtraMissing:
        return "one is kept; it was not checked here, because the extra 'seal' is not installed"
    if not found.valid or found.time is None:
        return ""
    trusted = "" if found.chain_trusted else "; whether the authority can be trusted was not confirmed here"
    return f"{found.authority}: {found.time:%Y-%m-%d %H:%M:%S} UTC{trusted}"


def _is_witness(name: str) -> bool:
    return name.startswith("witness-") and name.endswith(".note")


def _witness(path: Path, text: str) -> str:
    """Who countersigned, by the fingerprint of the key, and when by his clock."""
    try:
        note, public = Note.read(path.read_bytes()), read_public_pem(path.with_suffix(".pem").read_bytes())
    except (OSError, ValueError):
        return ""
    names = dict.fromkeys(s.name for s in note.signatures)
    for name in names if note.text == text else ():
        if (at := cosigned_at(note, name, public)) is not None:
            return f"{name}, key {fingerprint(public)}: {dt.datetime.fromtimestamp(at, dt.UTC):%Y-%m-%d %H:%M:%S} UTC"
    return ""
