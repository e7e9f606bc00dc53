"""Recomputing every hash of ledgers and files, and holding them against the head file.

Besides R1 to R6 of the chain, K1 to K6 of signed heads and keys (``recheck_heads.py``), and B1 to B3 of the register's book
(``recheck_book.py``):

====  ==========================================================================
H1    the ledger is not shorter than its head line says (rolled back)
H2    the ledger's first entries have the root that each head line says (two histories)
H3    the head file is not older than one transaction of a crash
F1    each original is there, whole, and has the hash its exhibit names
F2    each derived copy that the program drew is what its recorded operations give
F3    each trace that the program read gives the recorded features again
P1    the lists agree with the entries they were made from
D1    the database finds its own structure sound
====  ==========================================================================

Not visible here: a whole workspace put back to an earlier day. Only a head that others hold shows that.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from evidence.errors import NewerFormat
from evidence.model.aside import ASIDE, beside
from evidence.model.dossier import Dossier, fold
from evidence.model.exhibit import Exhibit
from evidence.model.happening import DossierOpening
from evidence.model.kinds import KINDS
from evidence.model.references import references
from evidence.model.waveform import Waveform
from evidence.ports import Desk, LedgerState, Progress, Reader
from evidence.record.chain import Fault, check_chain
from evidence.record.entry import Entry, step_of
from evidence.record.head import Head
from evidence.record.merkle import Branch, Frontier, completed
from evidence.usecases.aside import with_second
from evidence.usecases.copies import replays
from evidence.usecases.head_standing import recorded_times, set_back
from evidence.usecases.pen import need
from evidence.usecases.recheck_book import check_book
from evidence.usecases.recheck_heads import Kept, check_heads, check_keys, kept_heads
from evidence.usecases.traces import rereadings

_LISTS = "the list does not agree with the entries; 'evidence workspace --rebuild' makes it anew"


@dataclass(frozen=True, slots=True, kw_only=True)
class LedgerVerdict:
    """What was found in one ledger."""

    ledger: str
    title: str
    entries: int
    root: bytes
    files: int
    hashes: frozenset[str]  # of those files
    size: int  # bytes of originals read
    head: str  # in words
    faults: tuple[Fault, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecheckResult:
    """What was found in the workspace."""

    ledgers: tuple[LedgerVerdict, ...]
    faults: tuple[Fault, ...]  # of the workspace, not of one ledger
    remarks: tuple[str, ...]

    @property
    def sound(self) -> bool:
        """No fault anywhere."""
        return not self.faults and not any(v.faults for v in self.ledgers)


def recheck(desk: Desk, dossier: str | None, progress: Progress, *, mend: bool = True) -> RecheckResult:
    """Recompute everything. With ``mend`` a head line that a crash left behind is moved up, and told.

    Judged is the state at the beginning: what was acknowledged by then must be in it, and what another process records
    meanwhile is no fault.
    """
    with desk.ledgers.reading() as view:
        kept = {ledger: kept_heads(desk, ledger) for ledger in view.ledgers()}
    before = desk.ledgers.heads()
    with desk.ledgers.reading() as view:
        wanted = with_second(view, need(view, dossier)) if dossier else view.ledgers()
        heads = (before, desk.ledgers.heads())
        verdicts = [_check_ledger(desk, view, ledger, heads, kept.get(ledger, []), progress) for ledger in wanted]
    faults: list[Fault] = []
    remarks: list[str] = []
    if not dossier:
        faults += desk.ledgers.structure()
        faults += _vanished(before, [v.ledger for v in verdicts])
        faults += check_keys(desk)
        book_faults, handed_in = check_book(desk, progress)
        faults += book_faults
        if handed_in and not book_faults:
            remarks.append(f"register of comebacks: {_some(handed_in)} handed in, with the bytes and rows of then")
        remarks += _leftovers(desk, frozenset().union(*(v.hashes for v in verdicts)), mend)
    for verdict in verdicts:
        if mend and verdict.head.startswith("one transaction behind") and not verdict.faults:
            desk.ledgers.note_head(Head(verdict.ledger, verdict.entries, verdict.root))
    return RecheckResult(ledgers=tuple(verdicts), faults=tuple(faults), remarks=tuple(remarks))


def _some(count: int) -> str:
    return f"{count} thing" + ("" if count == 1 else "s")


def _check_ledger(
    desk: Desk, view: Reader, ledger: str, heads: tuple[Sequence[Head], Sequence[Head]], kept: Kept, progress: Progress
) -> LedgerVerdict:
    """``heads``: the lines of the head file as they were before and after the view was opened."""
    entries = list(view.entries(ledger))
    faults = list(check_chain(ledger, entries))
    roots, frontier, branches = {0: Frontier().root()}, Frontier(), list[Branch]()
    for entry in entries:
        branches += completed(frontier, entry.leaf)
        frontier = frontier.append(entry.leaf)
        roots[frontier.size] = frontier.root()
    before, since = heads
    own = [h for h in before if h.ledger == ledger]
    own += [h for h in since if h.ledger == ledger and h.size <= len(entries)]
    if not own and desk.ledgers.has_head_file():
        own = [Head(ledger, 0, roots[0])]  # the file was there before the ledger was
    head, head_faults = _hold_against(ledger, roots, own, view.batches(ledger))
    dossier = _folded(ledger, entries)
    files = {sha256: size for _label, sha256, size in _files_of(dossier)} if dossier else {}
    file_faults = list(_check_files(desk, dossier, files, progress)) if dossier else []
    copy_faults, told = _check_copies(desk, dossier, progress) if dossier and not file_faults else ([], [])
    trace_faults, read = _check_traces(desk, dossier, progress) if dossier and not file_faults else ([], [])
    if dossier:
        faults += _check_lists(view, dossier)
        faults += _check_state(view, ledger, entries, frontier)
        if view.branches(ledger) != sorted(branches, key=lambda b: (b.level, b.index)):
            faults.append(Fault("P1", "branches of the tree", _LISTS))
    times = recorded_times(entries)
    signed_faults, signed_remarks = check_heads(desk, kept, roots, times)
    remarks = (*set_back(times), *(_rests_on_withdrawn(dossier) if dossier else ()), *signed_remarks, *told, *read)
    return LedgerVerdict(
        ledger=ledger, title=_title(ledger, dossier), entries=len(entries),
        root=frontier.root(), files=len(files), hashes=frozenset(files), size=sum(files.values()), head=head,
        faults=(*faults, *head_faults, *signed_faults, *file_faults, *copy_faults, *trace_faults), remarks=remarks,
    )  # fmt: skip


def _title(ledger: str, dossier: Dossier | None) -> str:
    if of := beside(ledger):
        return f"second ledger of {of[:8]}, which no report or bundle carries"
    return dossier.title if dossier and dossier.all_of(DossierOpening) else ledger[:8]


def _hold_against(
    ledger: str, roots: dict[int, bytes], heads: Sequence[Head], batches: Sequence[int]
) -> tuple[str, list[Fault]]:
    size = max(roots)
    if not heads:
        return "no head on record", [
            Fault("H3", f"ledger {ledger[:8]}", "has entries and no head line")
        ] if size else []
    newest = max(heads, key=lambda h: h.size)
    if size < newest.size:
        return f"rolled back from {newest.size} to {size}", [
            Fault(
                "H1", f"ledger {ledger[:8]}", f"rolled back: {newest.size} entries were acknowledged, {size} are there"
            )
        ]
    for head in heads:
        if roots[head.size] != head.root:
            message = f"two histories at {head.size} entries: head line {head.root.hex()[:16]}…, database {roots[head.size].hex()[:16]}…"
            return "two histories", [Fault("H2", f"ledger {ledger[:8]}", message)]
    behind = sum(first > newest.size for first in batches)
    if size == newest.size:
        return "agrees with its newest head line", []
    if behind <= 1:
        return "one transaction behind the database (a crash before the flush); the line is moved up", []
    return "old", [Fault("H3", f"ledger {ledger[:8]}", f"head file is old: it is {behind} transactions behind")]


def _vanished(heads: Sequence[Head], present: Sequence[str]) -> Iterator[Fault]:
    newest: dict[str, int] = {}
    for head in heads:
        newest[head.ledger] = max(head.size, newest.get(head.ledger, 0))
    for ledger, size in newest.items():
        if ledger not in present:
            yield Fault(
                "H1", f"ledger {ledger[:8]}", f"rolled back: {size} entries were acknowledged, the ledger is gone"
            )


def _folded(ledger: str, entries: Sequence[Entry]) -> Dossier | None:
    """The dossier, or None where an entry cannot be read (which is a fault of its own)."""
    try:
        return fold(ledger, (step_of(entry) for entry in entries), ASIDE if beside(ledger) else KINDS)
    except (ValueError, NewerFormat, KeyError):
        return None


def _check_files(desk: Desk, dossier: Dossier, files: dict[str, int], progress: Progress) -> Iterator[Fault]:
    names: dict[str, list[str]] = {}
    for label, sha256, _size in _files_of(dossier):
        if label not in names.setdefault(sha256, []):
            names[sha256].append(label)
    for bad in desk.originals.check(files, progress):
        what = bad.problem
        if bad.found in names:
            what = f"content of another exhibit ({', '.join(names[bad.found])})"
        yield Fault("F1", ", ".join(names[bad.sha256]), what)


def _check_copies(desk: Desk, dossier: Dossier, progress: Progress) -> tuple[list[Fault], list[str]]:
    """Draw every derived copy again. One that other versions drew is told and is no damage."""
    faults, remarks = [], []
    count = sum(e.value.made is not None for e in dossier.of(Exhibit))
    for done, replay in enumerate(replays(dossier, desk.copier, desk.originals.path), 1):
        progress("drawing copies again", done, count)
        if replay.verdict == "differs":
            faults.append(Fault("F2", replay.label, replay.words))
        elif replay.verdict != "same":
            remarks.append(f"{replay.label} {replay.words}")
    return faults, remarks


def _check_traces(desk: Desk, dossier: Dossier, progress: Progress) -> tuple[list[Fault], list[str]]:
    """Read every trace again. What another version reads otherwise is told and is no damage."""
    faults, remarks = [], []
    count = sum(w.value.read is not None for w in dossier.of(Waveform))
    for done, reread in enumerate(rereadings(dossier, desk.read_trace, desk.originals.path), 1):
        progress("reading traces again", done, count)
        if reread.verdict == "differs":
            faults.append(Fault("F3", reread.label, reread.words))
        elif reread.verdict != "same":
            remarks.append(f"{reread.label}: {reread.words}")
    return faults, remarks


def _files_of(dossier: Dossier) -> Iterator[tuple[str, str, int]]:
    """Label, hash and size of every file that any entry names: what was amended stays evidence of what was there."""
    for recorded in dossier.all_of(Exhibit):
        newest = recorded.value.file
        for version in recorded.versions:
            named = version.body.get("file")
            if isinstance(named, dict):
                old = newest is None or named["sha256"] != newest.sha256
                yield recorded.label + (" (before it was amended)" if old else ""), named["sha256"], named["size"]


def _check_lists(view: Reader, dossier: Dossier) -> Iterator[Fault]:
    listed = view.known(dossier.ledger, dossier.by_subject)
    for subject, recorded in dossier.by_subject.items():
        row = listed.get(subject)
        state = (recorded.kind, recorded.number, recorded.newest.seq, recorded.withdrawn, recorded.name)
        if row is None or (row.kind, row.number, row.seq, row.withdrawn, row.name) != state:
            yield Fault(
                "P1",
                recorded.label,
                _LISTS,
            )


def _check_state(view: Reader, ledger: str, entries: Sequence[Entry], frontier: Frontier) -> Iterator[Fault]:
    counts: dict[str, int] = {}
    for step in map(step_of, entries):
        if step.action == "record":
            counts[step.kind] = counts.get(step.kind, 0) + 1
    last = entries[-1].leaf.hex() if entries else ""  # a flipped bit in an index can name a ledger that has no entry
    if not last or view.kept_state(ledger) != LedgerState(ledger, frontier, last, counts):
        yield Fault("P1", "ledger state", _LISTS)


def _rests_on_withdrawn(dossier: Dossier) -> Iterator[str]:
    for recorded in dossier.by_subject.values():
        if recorded.withdrawn:
            continue
        for _path, to, _kinds in references(recorded.value):
            target = dossier.get(to)
            if target and target.withdrawn:
                yield f"{recorded.label} rests on {target.label}, which is withdrawn"


def _leftovers(desk: Desk, named: frozenset[str], mend: bool) -> Iterator[str]:
    if torn := desk.ledgers.torn_head_lines():
        yield f"{torn} torn line{'s' * (torn > 1)} in the head file (a crash in the middle of it)"
    if mend and (swept := desk.originals.sweep()):
        yield f"{swept} half-written file{'s' * (swept > 1)} of an interrupted intake removed"
    with desk.ledgers.reading() as view:
        known = view.stored_hashes() | named
    for name in desk.originals.unreferenced(known):
        yield f"file {name[:19]}… is named by no entry (left by an interrupted intake; the same intake uses it again)"
