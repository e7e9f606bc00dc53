"""Where the matter stands: the stages with what proves them, and the days in it."""

from __future__ import annotations

from evidence.claim.course import StageState
from evidence.claim.due import Due
from evidence.claim.marks import Mark, marks_of
from evidence.claim.standing import standing
from evidence.model.base import say
from evidence.model.course import CourseStep, DueDate
from evidence.report.blocks import Block, Column, Heading, Para, Row, Section, Table
from evidence.report.given import ReportInput
from evidence.report.phrasing import capital, first_up, joined, or_not_stated, sentence
from evidence.report.tables import records
from evidence.report.words import labels, when

_STAGES = (Column("Stage", 1.6), Column("On record", 4.4), Column("When, by whom", 2.2), Column("Shown by", 1.4))
_DAYS = (Column("Day", 1.3), Column("What", 3.4), Column("From", 1.6), Column("How it is known", 3.2))
_FOOT = (
    "Nothing is inferred: a stage is reached where a step of it is on record. Days are those that papers state, or are counted "
    "from a period that a paper states; no law is computed. No legal advice."
)


def course(given: ReportInput) -> Section:
    """The stages and the days; nothing where neither is on record."""
    told = standing(marks_of(given.dossier), given.at.date(), given.place)
    every = [*given.dossier.all_of(CourseStep), *given.dossier.all_of(DueDate)]
    if not every and not told.dues:
        return Section("Where the matter stands", (Para("No step of the matter is recorded.", tone="muted"),))
    blocks: list[Block] = [Table(_STAGES, tuple(r for s in told.course.stages for r in _stage(given, s)))]
    blocks += [Para(sentence(remark), head="Look at this.") for remark in told.remarks]
    if told.dues:
        blocks += [Heading("Days"), Table(_DAYS, tuple(_day(d) for d in told.dues))]
    blocks += records(
        given.dossier, DueDate,
        [
            (Column("What", 3), lambda r: joined([first_up(r.value.what), r.value.text], ": ")),
            (Column("Day", 1.2), lambda r: r.value.day.given),
            (Column("Source", 3.4), lambda r: _source(given, r.value)),
            (Column("Done, exhibits", 1.6), lambda r: _done(given, r.value)),
        ],
        heading="Days that a person set", none="",
    )  # fmt: skip
    if given.place:
        entries = "; ".join(f"{name}: {entry.age_words(given.at.date())}" for name, entry in given.place.entries)
        blocks.append(Para(f"{given.place.name}. {capital(entries)}.", head="Place."))
    blocks.append(Para(_FOOT, tone="small"))
    return Section("Where the matter stands", tuple(blocks))


def _source(given: ReportInput, due: DueDate) -> str:
    read = f"looked up {due.read_on.given}" if due.read_on else None
    return joined([due.source, read, given.dossier.party(due.by) if due.by else None], "\n")


def _done(given: ReportInput, due: DueDate) -> str:
    return joined([or_not_stated(due.done.given if due.done else None), labels(given.dossier, due.exhibits)], "\n")


def _stage(given: ReportInput, state: StageState) -> list[Row]:
    if not state.steps:
        words = f"left out: {state.skipped}" if state.skipped else "not recorded"
        return [Row((first_up(say(state.stage)), words, "", ""), faded=not state.skipped)]
    return [_step(given, mark) for mark in state.steps]


def _step(given: ReportInput, mark: Mark) -> Row:
    held = given.dossier.get(mark.subject)
    assert held is not None
    step = held.value
    assert isinstance(step, CourseStep)
    about = ", ".join(given.dossier.label(s) for s in step.about)
    skips = [f"left out before it: {say(s.stage)}, {s.why}" for s in step.skips]
    return Row(
        (
            first_up(say(step.stage)), joined([f"{mark.label}: {step.text or 'no words'}", about and f"about {about}", *skips], "\n"),
            joined([when(given.dossier, step.time), given.dossier.party(step.by)], "\n"),
            labels(given.dossier, step.exhibits) or "no exhibit named",
        ),
        key=mark.label,
    )  # fmt: skip


def _day(due: Due) -> Row:
    return Row(
        (due.day.isoformat() if due.day else "by distance", due.words, due.record, joined([due.note, due.done])),
        faded=bool(due.done),
    )
