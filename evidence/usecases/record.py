"""Recording one thing at a time: a record by hand, bare files as exhibits, an amendment, a withdrawal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from evidence.errors import ChangedMeanwhile, EvidenceError, Mistake, MistakesFound, NotFound
from evidence.model.base import Json, Record
from evidence.model.copies import Made
from evidence.model.dossier import Dossier, Recorded
from evidence.model.exhibit import Exhibit
from evidence.model.happening import DossierOpening
from evidence.model.kinds import kind_of, label_of
from evidence.model.mistakes import mistakes_of
from evidence.model.references import references
from evidence.model.waveform import TraceReading, Waveform
from evidence.ports import Desk, Known, Progress, Reader, Source, Taken, Writer
from evidence.timeline.odometer import marks, running_backwards
from evidence.usecases.authoring import words_context, wrong_kind
from evidence.usecases.heads import SealedHead, head_of, seal_head
from evidence.usecases.heeding import heed
from evidence.usecases.intake import file_notes
from evidence.usecases.pen import Pen, need, read_dossier, recorder_party
from evidence.usecases.traces import with_reading_from

_Basics = Sequence[tuple[Known, Json]]  # the opening and the parties with their bodies, read once
_DISTANCE_KINDS = frozenset({"work_order", "odometer_reading", "event", "custody_transfer"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """What was entered: "Exhibit 7", and what to know about it."""

    label: str
    summary: str
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()  # what rests on a part that was knowingly given up


@dataclass(frozen=True, slots=True, kw_only=True)
class HeapResult:
    """What became of a heap of files."""

    entered: tuple[Entered, ...]
    refused: tuple[tuple[str, str], ...]  # name, why
    head: SealedHead | None = None  # signed at the end; None where nothing was taken


def open_dossier(desk: Desk, fields: Json) -> tuple[str, Entered]:
    """Open a dossier: the recorder first, then the opening. Returns its id."""
    ledger = desk.ids.ledger()
    opening = _validated(DossierOpening, fields, words_context(desk, None, _no_names))
    with desk.ledgers.writing() as work:
        if opening.name and work.find(opening.name):
            raise EvidenceError("a dossier of this short name is open already", item=opening.name)
        own = desk.ids.subject()
        pen = Pen(desk, work, ledger, recorded_by=own, via="command")
        pen.record(recorder_party(desk), own)
        pen.record(opening, desk.ids.subject())
        pen.put_down()
        work.commit()
    return ledger, Entered(label=opening.title, summary=opening.name or ledger[:8])


def record_one(
    desk: Desk, dossier: str, kind: str, fields: Json, source: Source | None = None, *, made: Made | None = None
) -> Entered:
    """Record one thing from fields as a person writes them; with ``source`` its file (an exhibit), ``made`` if the
    program drew that.
    """
    cls = kind_of(kind)
    desk.vocabulary()  # read before anything is locked
    taken = None
    reading = _reading(desk, dossier, fields) if cls is Waveform else None
    if source:  # mistakes are told before a file is stored
        with desk.ledgers.reading() as view:
            ledger = need(view, dossier)
            _validated(cls, fields, _context(desk, view, ledger, view.opening_and_parties(ledger)))
            sizes = view.stored_sizes()
        taken = take_one(desk, source, sizes)
    with desk.ledgers.writing() as work:
        ledger = need(work, dossier)
        work.state(ledger)  # from here on nobody else writes to it
        basics = work.opening_and_parties(ledger)
        record = _validated(cls, fields, _context(desk, work, ledger, basics))
        if kind in _DISTANCE_KINDS and any(marks([("this record", record)])):
            _check_distance(read_dossier(work, ledger), record)
        if taken and isinstance(record, Exhibit):
            record = record.model_copy(update={"file": taken.file, "read": taken.facts, "made": made})
        if reading:
            record = record.model_copy(update={"read": reading})
        pen = _pen(desk, work, ledger, basics)
        if record.name and work.named(ledger, record.name):
            raise EvidenceError("this short name is in use in the dossier", item=record.name)
        kind, number = pen.record(record, desk.ids.subject())
        warned = heed(desk, work, pen)
        pen.put_down()
        work.commit()
    notes = file_notes(taken.facts, desk.clock.now()) if taken else []
    return Entered(label=label_of(kind, number), summary=record.summary(), notes=tuple(notes), warnings=warned)


def _reading(desk: Desk, dossier: str, fields: Json) -> TraceReading | None:
    """What the program reads from the file of a waveform that is about to be recorded; nothing is locked meanwhile."""
    with desk.ledgers.reading() as view:
        ledger = need(view, dossier)
        record = _validated(Waveform, fields, _context(desk, view, ledger, view.opening_and_parties(ledger)))
        held = read_dossier(view, ledger)
    return with_reading_from(desk, held, record).read


def amend_reading(desk: Desk, dossier: str, which: str, reading: TraceReading, reason: str) -> Entered:
    """Put what the program reads from a waveform's file now in the place of what it read before."""
    with desk.ledgers.writing() as work:
        ledger = need(work, dossier)
        work.state(ledger)
        known = _need_record(work, ledger, which)
        value = read_dossier(work, ledger).by_subject[known.subject].value
        changed = value.model_copy(update={"read": reading})
        pen = _pen(desk, work, ledger, work.opening_and_parties(ledger))
        pen.amend(known, changed, reason)
        pen.put_down()
        work.commit()
    return Entered(label=label_of(known.kind, known.number), summary=changed.summary())


def record_heap(desk: Desk, dossier: str, sources: Sequence[Source], fields: Json, progress: Progress) -> HeapResult:
    """Take bare files one by one: each that can be taken becomes an exhibit, the others are told. The head is signed."""
    with desk.ledgers.reading() as view:
        ledger = need(view, dossier)
        head_of(desk, view, ledger)  # refused here, before anything is stored, where the ledger was rolled back
        base = _validated(Exhibit, fields, _context(desk, view, ledger, view.opening_and_parties(ledger)))
        sizes = view.stored_sizes()
        held = read_dossier(view, ledger).of(Exhibit)
    labels = {r.value.file.sha256: r.label for r in held if r.value.file}
    names = {(r.value.file.sha256, r.value.file.name) for r in held if r.value.file}
    entered: list[tuple[str, Taken, list[str]]] = []
    refused: list[tuple[str, str]] = []
    for taken in desk.originals.take(sources, known_sizes=sizes, read_facts=desk.read_facts, progress=progress):
        file = taken.file
        if file is None or (file.sha256, file.name) in names:
            refused.append(
                (taken.source.name, taken.problem or "is an exhibit of this dossier already: same name, same bytes")
            )
            continue
        label = _enter_file(desk, ledger, base.model_copy(update={"file": file, "read": taken.facts}))
        twin = labels.setdefault(file.sha256, label)
        entered.append((label, taken, [f"the same bytes as {twin}; stored once"] if twin != label else []))
        names.add((file.sha256, file.name))
    facts = [(t.file.sha256, t.facts) for _label, t, _notes in entered if t.file and t.facts]
    without = desk.previews.make(facts, progress)
    desk.likeness.add(facts, progress)
    now = desk.clock.now()
    return HeapResult(
        entered=tuple(
            Entered(
                label=label,
                summary=t.source.name,
                notes=(*notes, *file_notes(t.facts, now, without.get(t.file.sha256 if t.file else "", ""))),
            )
            for label, t, notes in entered
        ),
        refused=tuple(refused), head=seal_head(desk, ledger) if entered else None,
    )  # fmt: skip


def _enter_file(desk: Desk, ledger: str, record: Exhibit) -> str:
    """One file, one transaction: what was taken stays when a later one fails. Returns the label."""
    with desk.ledgers.writing() as work:
        work.state(ledger)
        pen = _pen(desk, work, ledger, work.opening_and_parties(ledger))
        numbered = pen.record(record, desk.ids.subject())
        pen.put_down()
        work.commit()
    return label_of(*numbered)


def amend_one(desk: Desk, dossier: str, which: str, fields: Json, reason: str) -> Entered:
    """Amend a record: ``fields`` replace those of the same name; an empty text takes a field away."""
    with desk.ledgers.reading() as view:
        ledger = need(view, dossier)
        known = _need_record(view, ledger, which)
        dossier_held = read_dossier(view, ledger)
        held = dossier_held.by_subject[known.subject]
        if held.withdrawn:
            raise ChangedMeanwhile("is withdrawn", item=known.summary, advice="Record it anew if it stands after all.")
        context = _context(desk, view, ledger, view.opening_and_parties(ledger))
        cls = type(held.value)
        if by_hand := sorted(cls.filled_in & fields.keys()):
            raise MistakesFound([Mistake("", 0, 0, held.label, f"{f!r} is filled in by the program") for f in by_hand])
        either = {**context, "resolve": _either(context["resolve"])}  # asks the view, so it is used while that is open
        try:
            changed = cls.amended(_merged(held, fields), either)
        except ValidationError as err:
            raise _mistakes(err, cls) from None
    if isinstance(changed, Waveform):
        changed = with_reading_from(desk, dossier_held, changed)
    with desk.ledgers.writing() as work:
        work.state(ledger)
        pen = _pen(desk, work, ledger, work.opening_and_parties(ledger))
        if changed.name and changed.name != held.name and work.named(ledger, changed.name):
            raise EvidenceError("this short name is in use in the dossier", item=changed.name)
        pen.amend(known, changed, reason)
        warned = heed(desk, work, pen)
        pen.put_down()
        work.commit()
    return Entered(label=held.label, summary=changed.summary(), warnings=warned)


def withdraw_one(desk: Desk, dossier: str, which: str, reason: str) -> Entered:
    """Withdraw a record: it stays listed and answers nothing. What rests on it is named in ``notes``."""
    with desk.ledgers.writing() as work:
        ledger = need(work, dossier)
        work.state(ledger)
        known = _need_record(work, ledger, which)
        if known.kind == "dossier":
            raise EvidenceError("the opening of a dossier cannot be withdrawn", item=known.summary)
        resting = resting_on(read_dossier(work, ledger), known.subject)
        pen = _pen(desk, work, ledger, work.opening_and_parties(ledger))
        pen.withdraw(known, reason)
        pen.put_down()
        work.commit()
    notes = (f"rests on it: {', '.join(r.label for r in resting)}",) if resting else ()
    return Entered(label=label_of(known.kind, known.number), summary=known.summary, notes=notes)


def resting_on(dossier: Dossier, subject: str) -> tuple[Recorded[Record], ...]:
    """Standing records that refer to ``subject``."""
    return tuple(
        r for r in dossier.by_subject.values()
        if not r.withdrawn and any(to == subject for _path, to, _kinds in references(r.value))
    )  # fmt: skip


def _pen(desk: Desk, work: Writer, ledger: str, basics: _Basics) -> Pen:
    """A pen for the workspace's recorder, who is recorded as a party first where he is not yet."""
    work.state(ledger)  # locked before it is read
    wanted = recorder_party(desk)
    for known, body in basics:
        if known.kind == "party" and not known.withdrawn and body.get("full_name") == wanted.full_name:
            return Pen(desk, work, ledger, recorded_by=known.subject, via="command")
    own = desk.ids.subject()
    pen = Pen(desk, work, ledger, recorded_by=own, via="command")
    pen.record(wanted, own)
    return pen


def _context(desk: Desk, view: Reader, ledger: str, basics: _Basics) -> Json:
    """Words of the author: his zone is the dossier's, his references are short names or numbers."""
    zone = next((body.get("zone") for known, body in basics if known.kind == "dossier"), None)

    def resolve(word: str, kinds: tuple[str, ...]) -> str:
        found = view.named(ledger, word)
        if found is None:
            raise ValueError(f"no record of this dossier is called {word!r}")
        if kinds and found.kind not in kinds:
            raise ValueError(wrong_kind(word, found.kind, kinds))
        return found.subject

    return words_context(desk, zone or desk.zone, resolve)


def _validated(cls: type[Record], fields: Json, context: Mapping[str, Any]) -> Any:
    try:
        return cls.handed_in(fields, context)
    except ValidationError as err:
        raise _mistakes(err, cls) from None


def _mistakes(err: ValidationError, cls: type[Record]) -> MistakesFound:
    found = mistakes_of(err, cls, file="", item=cls.label)
    return MistakesFound(found, advice="Mend the options named and run the command again.")


def _no_names(word: str, _kinds: tuple[str, ...]) -> str:
    raise ValueError(f"no record is called {word!r}: the dossier is only being opened")


def _either(resolve: Any) -> Any:
    """In an amendment old fields hold subjects already; only new words need resolving."""

    def either(word: str, kinds: tuple[str, ...]) -> str:
        return word if len(word) == 32 and all(c in "0123456789abcdef" for c in word) else resolve(word, kinds)

    return either


def _merged(held: Recorded[Record], fields: Json) -> Json:
    merged = {**held.newest.body, **fields}
    if "vin" in fields:
        merged.pop("vin_note", None)  # it spoke of the number before
    return {k: v for k, v in merged.items() if v != ""}


def _need_record(view: Reader, ledger: str, which: str) -> Known:
    found = view.named(ledger, which)
    if found is None:
        raise NotFound(
            "no such record in this dossier",
            item=which,
            advice="Name it by its short name or its number, such as 'exhibit 7'; 'evidence show' lists them.",
        )
    return found


def take_one(desk: Desk, source: Source, sizes: frozenset[int]) -> Taken:
    """Store one file; a file that cannot be taken is a mistake of whoever named it."""
    taken = next(iter(desk.originals.take([source], known_sizes=sizes, read_facts=desk.read_facts, progress=_silent)))
    if taken.file is None:
        raise MistakesFound([Mistake(source.name, 0, 0, "", taken.problem)])
    if taken.facts:
        desk.previews.make([(taken.file.sha256, taken.facts)], _silent)
        desk.likeness.add([(taken.file.sha256, taken.facts)], _silent)
    return taken


def _silent(_stage: str, _done: int, _of: int) -> None:
    """Progress of something too short to report."""


def _check_distance(dossier: Dossier, record: Record) -> None:
    held = [(r.label, r.value) for r in dossier.by_subject.values() if not r.withdrawn and r.kind in _DISTANCE_KINDS]
    found = list(marks([*held, ("this record", record)]))
    for earlier, later in running_backwards(found):
        if "this record" in (earlier.item, later.item):
            raise MistakesFound(
                [Mistake("", 0, 0, "", f"the odometer runs backwards: {later.read} on {later.given} ({later.item}), "
                         f"but {earlier.read} on {earlier.given} ({earlier.item})",
                         "correct the reading, or say why in 'odometer_note' or 'note'")]
            )  # fmt: skip
