"""A letter that a person has sent: the paper as it went out and the proof of it become exhibits, named by the letter's record.

The program sends nothing; what is recorded is somebody's word and the files that stand behind it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from pydantic import ValidationError

from evidence.errors import MistakesFound
from evidence.model.base import Json, Record
from evidence.model.course import CourseStep
from evidence.model.dossier import Dossier, Recorded
from evidence.model.exhibit import Exhibit
from evidence.model.kinds import label_of
from evidence.model.mistakes import mistakes_of
from evidence.model.people import Correspondence
from evidence.ports import Desk, Source, Writer
from evidence.usecases.authoring import words_context
from evidence.usecases.heeding import heed
from evidence.usecases.pen import Pen, need, read_dossier, recorder_party
from evidence.usecases.record import take_one
from evidence.usecases.review import writer_party


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """Labels of what was recorded, and what the guards say to it. ``known``: what was on record already."""

    letters: tuple[str, ...]
    known: tuple[str, ...]
    step: str  # label; empty where none was asked for
    exhibits: tuple[tuple[str, str, bool], ...]  # label, SHA-256, whether it was taken in now
    warnings: tuple[str, ...]


def record_sent(
    desk: Desk, dossier: str, letters: Sequence[Json], files: Sequence[tuple[Source, str]], step: Json | None = None
) -> Sent:  # fmt: skip
    """Record a letter that went out, all or nothing: its ``files`` with their captions, what it was, and the step it is.

    ``letters`` are fields of correspondence with subjects as sender and receiver; one paper may be several things, such
    as notice and offer to inspect. ``step`` are fields of a course step; it gets the letters as what it speaks of and
    the files as its proof. What is on record already is not recorded again. Raises :class:`MistakesFound` before any
    file is stored.
    """
    with desk.ledgers.reading() as view:
        held = read_dossier(view, need(view, dossier))
        sizes = view.stored_sizes()
    records = [_validated(desk, held, fields, Correspondence) for fields in letters]
    made = _validated(desk, held, step, CourseStep) if step else None
    taken = [(take_one(desk, source, sizes), caption) for source, caption in files]
    with desk.ledgers.writing() as work:
        ledger = need(work, dossier)
        work.state(ledger)  # from here on nobody else writes to it
        held = read_dossier(work, ledger)
        known = {e.value.file.sha256: e for e in held.of(Exhibit) if e.value.file}
        pen = _pen(desk, work, ledger)
        subjects, told = [], []
        for file, caption in taken:
            assert file.file
            if same := known.get(file.file.sha256):
                subjects.append(same.subject)
                told.append((same.label, file.file.sha256, False))
                continue
            subjects.append(desk.ids.subject())
            numbered = pen.record(Exhibit(caption=caption, file=file.file, read=file.facts), subjects[-1])
            told.append((label_of(*numbered), file.file.sha256, True))
        shown = {"exhibits": tuple(subjects)}
        about, labels, before = [], [], []
        for record in records:
            if same_letter := _same(held, record, subjects[0]):
                about.append(same_letter.subject)
                before.append(same_letter.label)
                continue
            about.append(desk.ids.subject())
            labels.append(label_of(*pen.record(record.model_copy(update=shown), about[-1])))
        taken_step = ""
        if made and (old := _made_already(held, made, about)):
            before.append(old.label)
        elif made:
            taken_step = label_of(
                *pen.record(made.model_copy(update={**shown, "about": tuple(about)}), desk.ids.subject())
            )
        warned = heed(desk, work, pen)
        pen.put_down()
        work.commit()
    return Sent(
        letters=tuple(labels), known=tuple(before), step=taken_step, exhibits=tuple(told), warnings=warned
    )  # fmt: skip


def _same(held: Dossier, letter: Correspondence, file: str) -> Recorded[Correspondence] | None:
    """The record of this very letter: of the same sort, between the same, of the same day, with the same file."""
    for known in held.of(Correspondence):
        v = known.value
        alike = (v.about, v.sender, v.receiver, v.sent.given) == (
            letter.about, letter.sender, letter.receiver, letter.sent.given,
        )  # fmt: skip
        if alike and file in v.exhibits:
            return known
    return None


def _made_already(held: Dossier, step: CourseStep, about: Sequence[str]) -> Recorded[CourseStep] | None:
    """The record of this very step: the same stage, about one of these letters."""
    return next(
        (s for s in held.of(CourseStep) if s.value.stage == step.stage and set(about) & set(s.value.about)), None
    )


R = TypeVar("R", bound=Record)


def _validated(desk: Desk, held: Dossier, fields: Json, kind: type[R]) -> R:
    context = words_context(desk, held.opening.zone or desk.zone, lambda subject, _kinds: subject)
    try:
        return kind.handed_in(fields, context)
    except ValidationError as err:
        found = mistakes_of(err, kind, file="", item=kind.label)
        raise MistakesFound(found, advice="Mend the options named and run the command again.") from None


def _pen(desk: Desk, work: Writer, ledger: str) -> Pen:
    """A pen for the workspace's recorder, who is recorded as a party first where he is not yet."""
    own = writer_party(work, ledger, desk.recorder.full_name)
    if own:
        return Pen(desk, work, ledger, recorded_by=own, via="command")
    own = desk.ids.subject()
    pen = Pen(desk, work, ledger, recorded_by=own, via="command")
    pen.record(recorder_party(desk), own)
    return pen
