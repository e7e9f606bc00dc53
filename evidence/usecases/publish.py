"""What goes into a report: the dossier as it stands, its assessment, and where its ledger stands. Writes nothing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import islice

from evidence.errors import EvidenceError
from evidence.model.dossier import Dossier
from evidence.model.when import from_utc_text
from evidence.ports import Desk
from evidence.record.entry import Entry
from evidence.record.head import Head
from evidence.record.merkle import root_of
from evidence.review.exchange import Presented
from evidence.rules.assessment import Assessment
from evidence.usecases.assess import assess_held
from evidence.usecases.pen import need, read_dossier


@dataclass(frozen=True, slots=True, kw_only=True)
class Publication:
    """Everything a report says, before it has a form."""

    dossier: Dossier
    assessment: Assessment
    root: bytes
    head_known: bool  # a head line outside the database says the same
    at: dt.datetime
    entries: Callable[[], Iterable[Entry]]  # as they are shown: without a content where it is withheld
    withheld: Mapping[str, int] = field(default_factory=dict)  # kind of record, in words -> how many are not shown
    withheld_files: frozenset[str] = frozenset()  # SHA-256: the record is shown and the file is not
    review: Presented | None = None  # where the dossier is a review: what it is laid beside

    @property
    def head(self) -> Head:
        """The ledger's head that all of this belongs to."""
        return Head(self.dossier.ledger, self.dossier.size, self.root)


def publication(desk: Desk, dossier: str, at: str = "") -> Publication:
    """Gather a dossier for print. ``at`` is RFC 3339 in UTC; without it the time of the last entry."""
    with desk.ledgers.reading() as view:
        ledger = need(view, dossier)
        held = read_dossier(view, ledger)
        root = root_of(entry.leaf for entry in view.entries(ledger))
    known = any(h.ledger == ledger and h.size == held.size and h.root == root for h in desk.ledgers.heads())
    try:
        moment = from_utc_text(at) if at else held.last_at
    except ValueError as err:
        raise EvidenceError(str(err), item="--at", advice="Write it as 2026-03-04T12:00:00Z.") from None
    if moment is None:
        raise EvidenceError("the dossier has no entry", item=dossier)
    return Publication(
        dossier=held, assessment=assess_held(desk, held), root=root, head_known=known, at=moment,
        entries=lambda: _entries(desk, ledger, held.size),
    )  # fmt: skip


def _entries(desk: Desk, ledger: str, size: int) -> Iterator[Entry]:
    with desk.ledgers.reading() as view:
        yield from islice(view.entries(ledger), size)  # others may have added some
