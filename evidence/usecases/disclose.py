"""What a disclosure shows: the entries with what is left out of them, and what is computed from the rest."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from evidence.errors import EvidenceError, NotFound
from evidence.model.dossier import Step, fold
from evidence.model.exhibit import Exhibit
from evidence.ports import Desk, Known, Reader
from evidence.record.entry import Entry, Header, step_of
from evidence.record.head import Head
from evidence.record.merkle import Frontier
from evidence.review.disclosing import Choice, Disclosure
from evidence.usecases.assess import assess_held
from evidence.usecases.pen import need


def disclosure(desk: Desk, dossier: str, choice: Choice) -> Disclosure:
    """Gather what is shown of a dossier. Writes nothing."""
    with desk.ledgers.reading() as view:
        ledger = need(view, dossier)
        withheld = frozenset(_record(view, ledger, which).subject for which in choice.records)
        steps, frontier = [], Frontier()
        for entry in view.entries(ledger):
            frontier = frontier.append(entry.leaf)
            steps.append(step_of(entry))
        files = frozenset(_file(view, ledger, which, steps) for which in choice.files)
    shown = fold(ledger, (replace(s, body=None, reason="", via="") if s.subject in withheld else s for s in steps))
    return Disclosure(
        head=Head(ledger, frontier.size, frontier.root()), shown=shown, assessment=assess_held(desk, shown),
        withheld=withheld, withheld_files=files,
        withheld_seqs=tuple(s.seq for s in steps if s.action == "record" and s.subject in withheld),
    )  # fmt: skip


def shown_entries(view: Reader, ledger: str, withheld: frozenset[str]) -> Iterator[Entry]:
    """The entries of a ledger; the contents of withheld subjects are left out, every header stays."""
    for entry in view.entries(ledger):
        yield Entry(entry.header, None) if withheld and Header.read(entry.header).subject in withheld else entry


def _record(view: Reader, ledger: str, which: str) -> Known:
    found = view.named(ledger, which)
    if found is None:
        raise NotFound("no such record in this dossier", item=which, advice="'evidence show' lists them.")
    if found.kind == "dossier":
        raise EvidenceError("the opening of a dossier cannot be withheld", item=which)
    return found


def _file(view: Reader, ledger: str, which: str, steps: Sequence[Step]) -> str:
    subject = _record(view, ledger, which).subject
    bodies = [s.body for s in steps if s.subject == subject and s.body]
    file = bodies[-1].get("file") if bodies else None
    if not isinstance(file, dict):
        raise EvidenceError(f"has no file that could be withheld ({Exhibit.label} records have)", item=which)
    return str(file["sha256"])
