"""The pen: the one way by which anything gets into a ledger."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from evidence.errors import ChangedMeanwhile, EvidenceError, NotFound
from evidence.model.base import Record
from evidence.model.dossier import Dossier, Step, fold
from evidence.model.people import Party
from evidence.model.references import references
from evidence.ports import Desk, Known, Reader, Writer
from evidence.record.entry import NO_ENTRY, Draft, Entry, seal, step_of


class Pen:
    """Gathers entries for one ledger inside a transaction and appends them together.

    Order in the ledger is the order of writing. References must point to something recorded before, and a
    change must name the newest entry of its subject.
    """

    def __init__(self, desk: Desk, work: Writer, ledger: str, *, recorded_by: str, via: str) -> None:
        self._desk = desk
        self._work = work
        self._state = work.state(ledger)
        self._recorded_by = recorded_by
        self._via = via
        self._at: dt.datetime = desk.clock.now()
        self._written: list[tuple[Entry, Step]] = []
        self._numbers: dict[str, tuple[str, int]] = {}  # subjects of this transaction -> kind, number
        self._counts = dict(self._state.counts)

    @property
    def ledger(self) -> str:
        """The ledger written to."""
        return self._state.ledger

    @property
    def steps(self) -> list[Step]:
        """What was written so far, as the fold needs it."""
        return [step for _entry, step in self._written]

    def record(self, record: Record, subject: str) -> tuple[str, int]:
        """Record something new; returns its kind and number."""
        self._check_references(record, subject)
        self._counts[record.kind] = self._counts.get(record.kind, 0) + 1
        self._numbers[subject] = (record.kind, self._counts[record.kind])
        draft = Draft(kind=record.kind, subject=subject, action="record", body=record.body(), via=self._via)
        self._write(draft, record)
        return self._numbers[subject]

    def amend(self, known: Known, record: Record, reason: str) -> None:
        """Replace what is recorded of a subject by the whole of ``record``."""
        self._must_be_newest(known)
        self._check_references(record, known.subject, before=known.number)
        draft = Draft(
            kind=known.kind, subject=known.subject, action="amend", body=record.body(), via=self._via,
            reason=_reason(reason), replaces=known.seq,
        )  # fmt: skip
        self._write(draft, record)

    def withdraw(self, known: Known, reason: str) -> None:
        """End a subject: it answers nothing any more and stays listed."""
        self._must_be_newest(known)
        draft = Draft(
            kind=known.kind, subject=known.subject, action="withdraw", body={}, via=self._via,
            reason=_reason(reason), replaces=known.seq,
        )  # fmt: skip
        self._write(draft)

    def put_down(self) -> int:
        """Append what was written to the transaction; returns how many entries."""
        self._work.append(self._state, self._written)
        return len(self._written)

    def _write(self, draft: Draft, record: Record | None = None) -> None:
        seq = self._state.frontier.size + len(self._written) + 1
        previous = self._written[-1][0].leaf.hex() if self._written else self._state.last_leaf
        entry = seal(
            draft, ledger=self._state.ledger, seq=seq, previous=previous if seq > 1 else NO_ENTRY,
            salt=self._desk.ids.subject(), at=self._at, recorded_by=self._recorded_by,
        )  # fmt: skip
        step = Step(
            seq=seq, kind=draft.kind, subject=draft.subject, action=draft.action, recorded_at=self._at,
            recorded_by=self._recorded_by, via=draft.via, reason=draft.reason, body=draft.body,
            value=record,
        )  # fmt: skip
        self._written.append((entry, step))

    def _check_references(self, record: Record, subject: str, before: int | None = None) -> None:
        """``before`` is the number of an amended record: what it is derived from must have been recorded earlier."""
        wanted = [(path, to, kinds) for path, to, kinds in references(record) if to not in self._numbers]
        if not wanted:
            return
        known = self._work.known(self._state.ledger, {to for _path, to, _kinds in wanted})
        for path, to, kinds in wanted:
            found = known.get(to)
            if found is None or found.withdrawn or to == subject:
                what = "itself" if to == subject else "a withdrawn record" if found else "no record of this dossier"
                raise NotFound(f"field {path} points to {what}", item=record.summary())
            if path == "derived_from" and before is not None and found.number >= before:
                raise NotFound(f"field {path} points to what was recorded later", item=record.summary())
            if kinds and found.kind not in kinds:
                raise NotFound(f"field {path} must point to a {' or '.join(kinds)}", item=record.summary())

    def _must_be_newest(self, known: Known) -> None:
        now = self._work.known(self._state.ledger, [known.subject]).get(known.subject)
        if (
            now is None
            or now.seq != known.seq
            or now.withdrawn
            or any(s.subject == known.subject for _, s in self._written)
        ):
            raise ChangedMeanwhile(
                "changed meanwhile by another entry" if now and not now.withdrawn else "is withdrawn",
                item=known.summary,
                advice="Look at it with 'evidence show' and decide again.",
            )


def _reason(text: str) -> str:
    if not text.strip():
        raise EvidenceError("a change needs a reason", advice="Give it with --reason; it stays in the record.")
    return text.strip()


def need(reader: Reader, dossier: str) -> str:
    """The ledger of a dossier; refused with advice when there is none."""
    found = reader.find(dossier)
    if found is None:
        raise NotFound("no such dossier", item=dossier, advice="'evidence dossiers' lists them.")
    return found


def read_dossier(reader: Reader, ledger: str) -> Dossier:
    """Fold a ledger."""
    return fold(ledger, steps(reader, ledger))


def steps(reader: Reader, ledger: str) -> Iterable[Step]:
    """The entries of a ledger as the fold needs them."""
    return (step_of(entry) for entry in reader.entries(ledger))


def recorder_party(desk: Desk) -> Party:
    """The party that records, from the workspace's settings."""
    raw = {"full_name": desk.recorder.full_name, "roles": ["technician"]}
    if desk.recorder.firm:
        raw["firm"] = desk.recorder.firm
    if desk.recorder.qualification:
        raw["qualification"] = desk.recorder.qualification
    return Party.handed_in(raw, {})
