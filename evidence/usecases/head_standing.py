"""What is known of each head of a dossier: signed by whom, stamped when, countersigned by whom; every part judged anew."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from itertools import pairwise

from evidence.errors import ExtraMissing, NewerFormat
from evidence.ports import Desk
from evidence.record.attested import KnownKey, TokenFound
from evidence.record.chain import Fault
from evidence.record.checkpoint import Note, checkpoint_text, cosigned_at, fingerprint, read_public_pem, right
from evidence.record.entry import Entry, Header
from evidence.record.handed import WITNESS, witness_said
from evidence.record.head import ORIGIN, Head
from evidence.usecases.heads import KEY, NOTE, SIGNATURE, TEXT
from evidence.usecases.pen import need
from evidence.usecases.timestamps import token_names

_TOLERANCE = dt.timedelta(seconds=5)  # between two clocks that are both kept right
_STEP = 2  # seconds
_UNITS = (("day", 86_400), ("hour", 3600), ("minute", 60), ("second", 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Witnessed:
    """A countersignature that is kept; ``at`` by the witness's clock."""

    name: str
    fingerprint: str
    at: dt.datetime
    own: bool  # by a key of this workspace: then it is nobody else's word


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadStanding:
    """One head and everything that others and the shop's own key gave for it."""

    head: Head
    fingerprint: str  # of the key that signed; empty where it is not signed
    key: KnownKey | None  # that key, if it is one of this workspace
    stamps: tuple[TokenFound, ...]
    witnesses: tuple[Witnessed, ...]
    queued: bool  # waits for a time-stamp
    faults: tuple[Fault, ...]
    last_entry: dt.datetime | None = None  # by the shop's clock; None where the entry cannot be read
    not_checked: str = ""  # why time-stamps could not be judged


def standings(desk: Desk, dossier: str) -> list[HeadStanding]:
    """All heads of a dossier that are kept, oldest first."""
    with desk.ledgers.reading() as view:
        ledger = need(view, dossier)
        times = recorded_times(view.entries(ledger))
    return [standing(desk, head, times.get(head.size)) for head in desk.shelf.kept(ledger)]


def recorded_times(entries: Iterable[Entry]) -> dict[int, dt.datetime]:
    """When each entry was recorded, by the shop's clock, by number; without those that cannot be read."""
    found = {}
    for seq, entry in enumerate(entries, 1):
        with suppress(ValueError, NewerFormat):
            found[seq] = Header.read(entry.header).recorded_at
    return found


def set_back(times: Mapping[int, dt.datetime]) -> Iterator[str]:
    """Where the recorder's clock went back: told and no damage, because nothing is put in order by it.

    Steps below two seconds are those of a clock that is kept right, or of two machines.
    """
    for (_before, earlier), (seq, time) in pairwise(times.items()):
        seconds = int((earlier - time).total_seconds())
        if seconds >= _STEP:
            unit, size = next(found for found in _UNITS if seconds >= _STEP * found[1])
            yield (
                f"the recorder's clock went back by {seconds // size} {unit}s before entry {seq}; the order is that of the "
                "entries, not of their times"
            )


def ahead(found: HeadStanding) -> Iterator[str]:
    """Where a stamp is earlier than the entries under it say: by how much the shop's clock ran ahead, at the least."""
    for stamp in found.stamps:
        if stamp.valid and stamp.time and found.last_entry and found.last_entry - stamp.time > _TOLERANCE:
            yield (
                f"{_item(found.head)}: stamped {stamp.time:%Y-%m-%d %H:%M:%S} UTC by {stamp.authority}, but its last entry "
                f"says {found.last_entry:%Y-%m-%d %H:%M:%S} UTC: the clock here ran ahead by at least that much"
            )


def standing(desk: Desk, head: Head, last_entry: dt.datetime | None = None) -> HeadStanding:
    """Judge every file that is kept of a head: its signature, its time-stamps, its countersignatures."""
    files = desk.shelf.files(head)
    known = {key.public: key for key in desk.keys.known()}
    faults: list[Fault] = []
    public = None
    if NOTE in files:
        public, wrong = _signature(desk, head, files)
        faults += wrong
    stamps, not_checked = _stamps(desk, head, files, faults)
    witnesses = [*_witnesses(desk, head, files, known, faults)]
    return HeadStanding(
        head=head, fingerprint=fingerprint(public) if public else "", key=known.get(public) if public else None,
        stamps=stamps, witnesses=tuple(witnesses), queued=any(w.head == head for w in desk.authority.waiting()),
        faults=tuple(faults), last_entry=last_entry, not_checked=not_checked,
    )  # fmt: skip


def _signature(desk: Desk, head: Head, files: Mapping[str, object]) -> tuple[bytes | None, list[Fault]]:
    """The key that signed, and what is wrong with the four files of a signed head."""
    name, text = _item(head), checkpoint_text(head)
    if missing := sorted({TEXT, SIGNATURE, KEY} - files.keys()):
        return None, [Fault("K2", name, f"{', '.join(missing)} is missing beside the signed note")]
    try:
        public = read_public_pem(desk.shelf.read(head, KEY))
        note = Note.read(desk.shelf.read(head, NOTE))
    except ValueError as err:
        return None, [Fault("K2", name, f"signed note or key cannot be read: {err}")]
    if note.text != text or desk.shelf.read(head, TEXT).decode() != text:
        return None, [Fault("K2", name, "the signed text is of another head")]
    if not note.by(f"{ORIGIN}{head.ledger}", public) or not right(
        public, text.encode(), desk.shelf.read(head, SIGNATURE)
    ):
        return None, [
            Fault("K2", name, f"the signature is not that of the key beside it ({fingerprint(public)[:16]}…)")
        ]
    return public, []


def _stamps(
    desk: Desk, head: Head, files: Mapping[str, object], faults: list[Fault]
) -> tuple[tuple[TokenFound, ...], str]:
    found = []
    note = desk.shelf.read(head, NOTE) if NOTE in files else b""
    for name in token_names(files):
        try:
            token = desk.authority.check(desk.shelf.read(head, name), note)
        except ExtraMissing as err:
            return (), f"time-stamps were not checked: {err.message}. {err.advice}"
        found.append(token)
        if not token.valid:
            faults.append(Fault("K4", _item(head), f"time-stamp {name} does not stand: {'; '.join(token.reasons)}"))
    return tuple(found), ""


def _witnesses(
    desk: Desk, head: Head, files: Mapping[str, object], known: dict[bytes, KnownKey], faults: list[Fault]
) -> Iterator[Witnessed]:
    for name in files:
        if not (name.startswith("witness-") and name.endswith(".note")):
            continue
        try:
            note = Note.read(desk.shelf.read(head, name))
            public = read_public_pem(desk.shelf.read(head, name.removesuffix(".note") + ".pem"))
        except (ValueError, LookupError, OSError) as err:
            faults.append(Fault("K5", _item(head), f"countersignature {name} cannot be read: {err}"))
            continue
        by = next((s.name for s in note.signatures if s.name.startswith(WITNESS)), "")
        at = cosigned_at(note, by, public)
        if note.text != checkpoint_text(head) or at is None:
            faults.append(Fault("K5", _item(head), f"countersignature {name} is not right, or of another head"))
            continue
        moment = dt.datetime.fromtimestamp(at, dt.UTC)
        yield Witnessed(name=witness_said(by), fingerprint=fingerprint(public), at=moment, own=public in known)


def _item(head: Head) -> str:
    return f"head of {head.size} entries"
