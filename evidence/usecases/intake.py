"""Taking in a dossier folder: all or nothing, and idempotent on what its author stated."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from evidence.errors import Asked, ChangedMeanwhile, Mistake, MistakesFound
from evidence.model.base import Json, Record
from evidence.model.dossier import Dossier, Recorded
from evidence.model.exhibit import Exhibit, FileFacts
from evidence.model.kinds import SECTIONS, label_of
from evidence.model.references import references
from evidence.ports import Desk, Folder, Known, Progress, Taken, Writer
from evidence.usecases.handed_in import HandedIn, Stated, names_in, read_folder
from evidence.usecases.heads import SealedHead, head_of, seal_head
from evidence.usecases.heeding import heed
from evidence.usecases.intake_traces import VIA, changed_elsewhere, stated_part, was_stated, with_traces
from evidence.usecases.pen import Pen, read_dossier, recorder_party

R = TypeVar("R", bound=Record)
_ATTEMPTS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What the person answered beforehand to what an intake may ask."""

    reason: str = ""
    renamed: Mapping[str, str] = field(default_factory=dict)  # new short name -> old one
    added: frozenset[str] = frozenset()  # new short names that are no renamings


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeResult:
    """What an intake did."""

    ledger: str
    dossier: str
    recorded: tuple[str, ...]  # "Exhibit 7: caption"
    amended: tuple[str, ...]
    unchanged: int
    gone: tuple[str, ...]  # in the record, not in the folder any more
    notes: tuple[str, ...]  # on files: same bytes twice, no preview, no time zone
    warnings: tuple[str, ...] = ()  # what rests on parts that were knowingly given up
    head: SealedHead  # signed once everything else was done


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plan:
    """What is to be written."""

    fresh: tuple[Stated, ...]
    changed: tuple[tuple[Stated, Recorded[Record]], ...]
    unchanged: int
    gone: tuple[Recorded[Record], ...]
    opening_changed: bool


class _Overtaken(Exception):
    """Another process has recorded under a short name of this folder since it was compared."""


def intake_folder(desk: Desk, folder: Folder, answers: Answers, progress: Progress) -> IntakeResult:
    """Take in a folder. Raises ``MistakesFound``, ``Asked`` or ``ChangedMeanwhile`` before anything is recorded."""
    for _attempt in range(_ATTEMPTS):
        try:
            return _intake(desk, folder, answers, progress)
        except _Overtaken:  # compare again with what is there now; the files are stored already
            continue
    raise ChangedMeanwhile(
        "another program keeps recording in this dossier; nothing recorded", item=str(folder.data.get("dossier", "")),
        advice="Wait until it is done and run the same command again.",
    )  # fmt: skip


def _intake(desk: Desk, folder: Folder, answers: Answers, progress: Progress) -> IntakeResult:
    name = folder.data.get("dossier")
    with desk.ledgers.reading() as view:
        ledger = view.find(name) if isinstance(name, str) else None
        if ledger:
            head_of(desk, view, ledger)  # nothing is added to a ledger that was rolled back
        held = read_dossier(view, ledger) if ledger else None
        sizes = view.stored_sizes()
    subjects = _subjects(desk, folder.data, held, answers)
    handed = read_folder(desk, folder, subjects)
    _refuse_circles(folder, handed)
    taken = _take(desk, folder, handed, sizes, progress)
    handed = with_traces(desk, folder, _with_files(handed, taken), held)
    ledger = ledger or desk.ids.ledger()
    with desk.ledgers.writing() as work:
        before, held = held, _held_now(work, handed.dossier, ledger)
        if _standing(held) != _standing(before):
            raise _Overtaken
        plan = _compare(handed, held, answers)
        pen, recorded, amended = _write(desk, work, ledger, folder.title, handed, held, plan, answers)
        warned = heed(desk, work, pen)
        if pen.put_down():
            work.commit()
    progress("previews", 0, len(taken))
    files = [(t.file.sha256, t.facts) for t in taken.values() if t.file and t.facts]
    without = desk.previews.make(files, progress)
    desk.likeness.add(files, progress)
    with desk.ledgers.reading() as view:
        notes = _notes(handed, without, {s: view.holders(s) for s in _hashes(handed)}, ledger, desk.clock.now())
    return IntakeResult(
        ledger=ledger, dossier=handed.dossier, recorded=tuple(recorded), amended=tuple(amended),
        unchanged=plan.unchanged, gone=tuple(f"{g.label}: {g.value.summary()}" for g in plan.gone), notes=notes, warnings=warned,
        head=seal_head(desk, ledger),
    )  # fmt: skip


def _held_now(work: Writer, name: str, ledger: str) -> Dossier | None:
    """The dossier as it stands once name and ledger are locked: from here to the commit nobody else writes to it."""
    found = work.find(name)
    if found is not None and found != ledger:
        raise _Overtaken
    work.state(ledger)
    return read_dossier(work, ledger) if found else None


def _standing(held: Dossier | None) -> dict[tuple[str, str], str]:
    """(kind, short name) -> subject of what stands in the record."""
    return {(r.kind, r.name): r.subject for r in held.by_subject.values() if r.name and not r.withdrawn} if held else {}


def _subjects(desk: Desk, data: Json, held: Dossier | None, answers: Answers) -> dict[tuple[str, str], str]:
    """The subject for each short name: the one it already has, the one of the name it replaces, or a new one."""
    existing = _standing(held)
    found: dict[tuple[str, str], str] = {}
    for kind, name in names_in(data):
        old = (kind, answers.renamed.get(name, name))
        found[kind, name] = existing.get((kind, name)) or existing.get(old) or desk.ids.subject()
    return found


def _take(desk: Desk, folder: Folder, handed: HandedIn, sizes: frozenset[int], progress: Progress) -> dict[str, Taken]:
    """Store the files; every one that cannot be taken is a mistake of its exhibit."""
    with_file = [s for s in handed.records if s.source]
    sources = [s.source for s in with_file if s.source]
    results = desk.originals.take(sources, known_sizes=sizes, read_facts=desk.read_facts, progress=progress)
    taken, mistakes = {}, []
    for stated, result in zip(with_file, results, strict=True):
        taken[stated.name] = result
        if result.problem:
            line, column = folder.locate((*stated.path, "file"))
            mistakes.append(Mistake(folder.title, line, column, stated.name, f"{result.source.name} {result.problem}"))
    if mistakes:
        raise MistakesFound(mistakes)
    return taken


def _with_files(handed: HandedIn, taken: Mapping[str, Taken]) -> HandedIn:
    records = []
    for stated in handed.records:
        if (result := taken.get(stated.name)) and isinstance(stated.record, Exhibit):
            record = stated.record.model_copy(update={"file": result.file, "read": result.facts})
            records.append(
                Stated(name=stated.name, subject=stated.subject, record=record, source=stated.source, path=stated.path)
            )
        else:
            records.append(stated)
    return HandedIn(dossier=handed.dossier, opening=handed.opening, recorder=handed.recorder, records=tuple(records))


def _compare(handed: HandedIn, held: Dossier | None, answers: Answers) -> _Plan:
    """Hold the folder against the record. Asks and refusals are raised here, all of a kind together."""
    if held is None:
        return _Plan(fresh=handed.records, changed=(), unchanged=0, gone=(), opening_changed=False)
    fresh, changed, conflicts, unchanged = [], [], [], 0
    for stated in handed.records:
        known = held.get(stated.subject)
        if known is None:
            fresh.append(stated)
            continue
        if was_stated(known, stated.record):
            unchanged += 1
        elif changed_elsewhere(known):
            conflicts.append((stated, known))
        else:
            changed.append((stated, known))
    named = {(s.record.kind, s.name) for s in handed.records}
    subjects = {s.subject for s in handed.records}
    gone = [
        r for r in held.by_subject.values()
        if r.name and r.kind != "dossier" and not r.withdrawn and r.subject not in subjects and (r.kind, r.name) not in named
        and r.versions[0].via.startswith(VIA)
    ]  # fmt: skip
    opening = held.all_of(type(handed.opening))[0]
    opening_changed = stated_part(opening.newest.body) != stated_part(handed.opening.body())
    _refuse_conflicts(conflicts)
    _ask_renamed(fresh, gone, answers)
    _ask_reason(changed, opening_changed, answers)
    return _Plan(
        fresh=tuple(fresh),
        changed=tuple(changed),
        unchanged=unchanged,
        gone=tuple(gone),
        opening_changed=opening_changed,
    )


def _refuse_conflicts(conflicts: list[tuple[Stated, Recorded[Record]]]) -> None:
    if conflicts:
        lines = [
            f"\n  {known.label} ({stated.name})\n    in the folder: {stated.record.summary()}"
            f"\n    in the record: {known.value.summary()} (entry {known.newest.seq}, {known.newest.via}: {known.newest.reason})"
            for stated, known in conflicts
        ]
        raise ChangedMeanwhile(
            "changed in the folder and, since it was taken in, by another entry as well; nothing recorded"
            + "".join(lines),
            advice="Bring the folder in line with the record ('evidence show' prints it), or amend the record.",
        )


def _ask_renamed(fresh: list[Stated], gone: list[Recorded[Record]], answers: Answers) -> None:
    open_questions = []
    for stated in fresh:
        if stated.name in answers.added:
            continue
        body = {k: v for k, v in stated_part(stated.record.body()).items() if k != "name"}
        for old in gone:
            if (
                old.kind == stated.record.kind
                and {k: v for k, v in stated_part(old.newest.body).items() if k != "name"} == body
            ):
                open_questions.append(f"\n  {stated.name}: is this {old.label}, until now called {old.name}?")
                break
    if open_questions:
        raise Asked(
            "renamed?" + "".join(open_questions),
            advice="Answer with --renamed NEW=OLD, or with --added NEW if it is another thing. Nothing was recorded.",
        )


def _ask_reason(changed: list[tuple[Stated, Recorded[Record]]], opening_changed: bool, answers: Answers) -> None:
    if (changed or opening_changed) and not answers.reason.strip():
        lines = [f"\n  {known.label} ({stated.name}): {_difference(known, stated)}" for stated, known in changed]
        if opening_changed:
            lines.insert(0, "\n  the opening of the dossier")
        raise Asked(
            "changed since it was taken in; an amendment needs a reason" + "".join(lines),
            advice="Give it with --reason; it stays in the record beside both versions. Nothing was recorded.",
        )


def _difference(known: Recorded[Record], stated: Stated) -> str:
    old, new = stated_part(known.newest.body), stated_part(stated.record.body())
    return ", ".join(sorted(k for k in {*old, *new} if old.get(k) != new.get(k))).replace("_", " ")


def _write(
    desk: Desk,
    work: Writer,
    ledger: str,
    title: str,
    handed: HandedIn,
    held: Dossier | None,
    plan: _Plan,
    answers: Answers,
) -> tuple[Pen, list[str], list[str]]:
    party = next((s for s in handed.records if s.name == handed.recorder), None)
    own = _own_party(desk, held) if party is None else party.subject
    pen = Pen(desk, work, ledger, recorded_by=own, via=f"{VIA}{title}")
    recorded, amended = [], []
    waiting = list(plan.fresh)
    if held is None:
        if party is None:
            pen.record(recorder_party(desk), own)
        else:
            recorded.append(_line(pen.record(party.record, party.subject), party.record))
            waiting.remove(party)
        pen.record(handed.opening, desk.ids.subject())
    elif own not in held.by_subject and party is None:
        pen.record(recorder_party(desk), own)
    recorded += [_line(pen.record(s.record, s.subject), s.record) for s in in_order(waiting)]
    if plan.opening_changed and held is not None:
        opening = held.all_of(type(handed.opening))[0]
        pen.amend(_known(ledger, opening), handed.opening, answers.reason)
        amended.append(f"{opening.label}: {handed.opening.summary()}")
    for stated, known in plan.changed:
        pen.amend(_known(ledger, known), stated.record, answers.reason)
        amended.append(f"{known.label}: {stated.record.summary()}")
    return pen, recorded, amended


def _own_party(desk: Desk, held: Dossier | None) -> str:
    """The subject under which the workspace's recorder stands in the dossier, or a new one."""
    for party in held.of(type(recorder_party(desk))) if held else ():
        if party.value.full_name == desk.recorder.full_name:
            return party.subject
    return desk.ids.subject()


def _line(numbered: tuple[str, int], record: Record) -> str:
    return f"{label_of(*numbered)}: {record.summary()}"


def _known(ledger: str, recorded: Recorded[R]) -> Known:
    return Known(
        ledger=ledger, subject=recorded.subject, kind=recorded.kind, number=recorded.number, name=recorded.name,
        seq=recorded.newest.seq, withdrawn=recorded.withdrawn, summary=recorded.value.summary(),
    )  # fmt: skip


def in_order(records: Sequence[Stated]) -> list[Stated]:
    """Records so that each comes after those it refers to, otherwise as the author wrote them.

    Raises :class:`MistakesFound` for records that refer to each other in a circle.
    """
    order = {cls.kind: place for place, cls in enumerate(SECTIONS.values())}
    by_subject = {s.subject: s for s in sorted(records, key=lambda s: order[s.record.kind])}
    done: dict[str, Stated] = {}
    for first, stated in by_subject.items():
        above = {first: _targets(stated, by_subject)}  # a stack: chains may be longer than calls go deep
        while above and first not in done:
            subject, ahead = next(reversed(above.items()))
            target = next((t for t in ahead if t not in done), None)
            if target is None:
                done[subject] = by_subject[subject]
                del above[subject]
            elif target in above:
                names = [by_subject[s].name for s in above]
                circle = " -> ".join([*names[list(above).index(target) :], by_subject[target].name])
                message = f"records refer to each other in a circle: {circle}"
                raise MistakesFound([Mistake("", 0, 0, by_subject[target].name, message)])
            else:
                above[target] = _targets(by_subject[target], by_subject)
    return list(done.values())


def _targets(stated: Stated, by_subject: Mapping[str, Stated]) -> list[str]:
    return [to for _path, to, _kinds in references(stated.record) if to in by_subject]


def _refuse_circles(folder: Folder, handed: HandedIn) -> None:
    try:
        in_order(handed.records)
    except MistakesFound as err:
        places = {s.name: folder.locate(s.path) for s in handed.records}
        raise MistakesFound(
            [Mistake(folder.title, *places[m.item], m.item, m.message, m.right) for m in err.mistakes]
        ) from None


def _hashes(handed: HandedIn) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for stated in handed.records:
        if isinstance(stated.record, Exhibit) and stated.record.file:
            found.setdefault(stated.record.file.sha256, []).append(stated.name)
    return found


def _notes(
    handed: HandedIn, without: Mapping[str, str], holders: Mapping[str, list[Known]], ledger: str, now: dt.datetime
) -> tuple[str, ...]:
    """What a person should know of the files: told once each, never silently passed over."""
    together = _hashes(handed)
    notes = [f"{', '.join(n)}: the same bytes; stored once, {len(n)} exhibits" for n in together.values() if len(n) > 1]
    for sha256, names in together.items():
        elsewhere = sorted({k.ledger[:8] for k in holders.get(sha256, []) if k.ledger != ledger})
        if elsewhere:
            notes.append(
                f"{names[0]}: the same bytes are an exhibit of another dossier as well ({', '.join(elsewhere)})"
            )
    for stated in handed.records:
        if isinstance(stated.record, Exhibit) and stated.record.file:
            facts = stated.record.read
            found = file_notes(facts, now, without.get(stated.record.file.sha256, ""))
            notes += [f"{stated.name}: {note}" for note in found]
    return tuple(dict.fromkeys(notes))


def file_notes(facts: FileFacts | None, now: dt.datetime, no_preview: str = "") -> list[str]:
    """What a person should know of one file: the reader's notes, a capture time that says too little or too much."""
    if facts is None:
        return []
    notes = list(facts.notes)
    if no_preview and not no_preview.endswith("is not shown") and not any(no_preview in n for n in notes):
        notes.append(f"no preview: {no_preview}")
    if facts.captured and not facts.captured.zone_known:
        notes.append(f"capture time {facts.captured.given} is local, zone unknown: taken as a span of 26 hours")
    if facts.captured and facts.captured.span.earliest > now + dt.timedelta(days=1):
        notes.append(f"capture time {facts.captured.given} lies in the future: the camera's clock was wrong")
    return notes
