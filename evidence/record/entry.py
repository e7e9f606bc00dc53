"""An entry of a ledger: a header and a content, each kept as the exact bytes that were hashed."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any, Literal, get_args

from evidence.errors import NewerFormat
from evidence.model.base import Json
from evidence.model.dossier import Step
from evidence.model.when import from_utc_text, utc_text
from evidence.record.canonical import canonical, parse, sha256
from evidence.record.merkle import leaf_hash

FORMAT = 1
NO_ENTRY = "0" * 64  # "previous" of the first entry

Action = Literal["record", "amend", "withdraw"]


@dataclass(frozen=True, slots=True)
class Entry:
    """Stored bytes. ``content`` is None where it is withheld."""

    header: bytes
    content: bytes | None

    @property
    def leaf(self) -> bytes:
        """The leaf hash: what the chain and the tree speak of."""
        return leaf_hash(self.header)


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """A header read."""

    format: int
    ledger: str
    seq: int
    recorded_at: dt.datetime
    recorded_by: str
    kind: str
    subject: str
    action: Action
    replaces: int | None
    content: str
    previous: str

    @classmethod
    def read(cls, data: bytes) -> Header:
        """Parse header bytes; ``ValueError`` if they are no header, ``NewerFormat`` if of a newer version."""
        raw = parse(data)
        if raw.get("format") != FORMAT:
            raise NewerFormat(
                f"entry format {raw.get('format')}, this version knows {FORMAT}", item=f"entry {raw.get('seq')}"
            )
        _check_types(raw)
        try:
            return cls(
                format=raw["format"], ledger=raw["ledger"], seq=raw["seq"],
                recorded_at=from_utc_text(raw["recorded_at"]), recorded_by=raw["recorded_by"], kind=raw["kind"],
                subject=raw["subject"], action=raw["action"], replaces=raw.get("replaces"), content=raw["content"],
                previous=raw["previous"],
            )  # fmt: skip
        except KeyError as err:
            raise ValueError(f"header without {err}") from None


def _check_types(raw: Json) -> None:
    """A header that somebody tampered with is a fault of its entry, never a crash of the check."""
    counts = [raw[k] for k in ("seq", "replaces") if k in raw]
    if not all(isinstance(v, int) and not isinstance(v, bool) and v > 0 for v in counts):
        raise ValueError("header with a number that is none")
    if not all(isinstance(v, str) for k, v in raw.items() if k in _TEXTS) or raw.get("action") not in get_args(Action):
        raise ValueError("header with a field of another type")


_TEXTS = ("ledger", "recorded_at", "recorded_by", "kind", "subject", "content", "previous")


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """What is to be recorded, before it has a place in the chain."""

    kind: str
    subject: str
    action: Action
    body: Json
    via: str
    reason: str = ""
    replaces: int | None = None


def seal(draft: Draft, *, ledger: str, seq: int, previous: str, salt: str, at: dt.datetime, recorded_by: str) -> Entry:
    """Make the entry. ``salt`` is 128 random bits in hexadecimal; ``previous`` the leaf hash before, in hexadecimal."""
    content: Json = {"salt": salt, "via": draft.via, "body": draft.body}
    if draft.reason:
        content["reason"] = draft.reason
    content_bytes = canonical(content)
    header: Json = {
        "format": FORMAT, "ledger": ledger, "seq": seq, "recorded_at": utc_text(at), "recorded_by": recorded_by,
        "kind": draft.kind, "subject": draft.subject, "action": draft.action,
        "content": sha256(content_bytes), "previous": previous,
    }  # fmt: skip
    if draft.replaces is not None:
        header["replaces"] = draft.replaces
    return Entry(canonical(header), content_bytes)


def step_of(entry: Entry) -> Step:
    """The entry as the fold needs it."""
    header = Header.read(entry.header)
    content: dict[str, Any] = parse(entry.content) if entry.content is not None else {}
    if not isinstance(content.get("body", {}), dict):
        raise ValueError("content without a body")  # noqa: TRY004 - foreign bytes, not a caller's mistake
    return Step(
        seq=header.seq, kind=header.kind, subject=header.subject, action=header.action,
        recorded_at=header.recorded_at, recorded_by=header.recorded_by, via=content.get("via", ""),
        reason=content.get("reason", ""), body=content.get("body"),
    )  # fmt: skip
