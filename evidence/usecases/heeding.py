"""What is looked at before something is written down for good: duties it would break, stages it would pass over, mistakes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

from evidence.claim.course import passed_over
from evidence.claim.early import DATED, before_the_work
from evidence.claim.mistakes.made import asked, may_need_a_reason
from evidence.errors import BeforeTheWork, DutyToKeep, MistakeAhead, PassedOver
from evidence.model.base import Record
from evidence.model.course import CourseStep
from evidence.model.dossier import Dossier, Recorded, fold
from evidence.model.kinds import KINDS
from evidence.ports import Desk, Reader
from evidence.rules.keeping import GivenUp, given_up, gives_up, resting_on, warning
from evidence.usecases.assess import assess_held
from evidence.usecases.pen import Pen, read_dossier, steps


def heed(desk: Desk, work: Reader, pen: Pen) -> tuple[str, ...]:
    """Look at what is about to be recorded: does it give up what a finding rests on, or pass over a stage of the matter?

    Raises :class:`DutyToKeep`, :class:`PassedOver` or :class:`MistakeAhead` where it does and no reason is given,
    :class:`BeforeTheWork` for a date that cannot be; with a reason the warnings are returned.
    """
    held = cache(lambda: fold(pen.ledger, [*steps(work, pen.ledger), *pen.steps]))  # for most records nobody asks
    _in_order(held, pen)
    return (*_mistakes(held, work, pen), *_keep(desk, held, pen))


def _mistakes(fold_all: Callable[[], Dossier], work: Reader, pen: Pen) -> tuple[str, ...]:
    """What the steps about to be recorded do wrong, as far as it is asked about and was not so before."""
    subjects = {s.subject for s in pen.steps if s.value and may_need_a_reason(s.value)}
    if not subjects:
        return ()
    held = fold_all()
    amended = {s.subject for s in pen.steps if s.action == "amend"} & subjects
    before = asked(read_dossier(work, pen.ledger), amended) if amended else ()
    known = {(m.code, m.subject, m.despite) for m in before}
    found = [m for m in asked(held, subjects) if (m.code, m.subject, m.despite) not in known]
    if refused := [m for m in found if not m.despite]:
        lines = [f"{m.words} {m.kind.why} [{m.code}]" for m in refused]
        raise MistakeAhead("a mistake that can sink the claim; nothing recorded\n" + "\n".join(lines), refused[0].code)
    return tuple(f"{m.words} {m.kind.why}\nRecorded all the same: {m.despite}" for m in found)


def _in_order(fold_all: Callable[[], Dossier], pen: Pen) -> None:
    dated = [step.subject for step in pen.steps if isinstance(step.value, DATED)]
    made = [step.subject for step in pen.steps if isinstance(step.value, CourseStep)]
    if not dated:
        return
    held = fold_all()
    if early := [words for subject in dated if (words := before_the_work(held, subject))]:
        raise BeforeTheWork("\n".join(early))
    if passed := [words for subject in made if (words := passed_over(held, subject))]:
        raise PassedOver("\n".join(passed))


def _keep(desk: Desk, fold_all: Callable[[], Dossier], pen: Pen) -> tuple[str, ...]:
    subjects = [step.subject for step in pen.steps if step.value and gives_up(step.value)]
    if not subjects:
        return ()
    held = fold_all()
    things = [t for s in subjects if (r := held.get(s)) for t in _newly_given_up(held, r)]
    if not things:
        return ()
    assessment, vocabulary = assess_held(desk, held, firmness=False), desk.vocabulary()
    told = [(t, resting_on(t, assessment, held, vocabulary)) for t in things]
    warned = [(t, warning(t, rests, held)) for t, rests in told if rests or t.whole]
    if refused := [text for t, text in warned if not t.knowing]:
        raise DutyToKeep("a finding rests on what this gives up; nothing recorded\n" + "\n".join(refused))
    return tuple(f"{text}\nRecorded knowingly: {t.knowing}" for t, text in warned)


def _newly_given_up(held: Dossier, record: Recorded[Record]) -> list[GivenUp]:
    """What the newest version of a record gives up and the one before did not."""
    now = given_up(held, record)
    bodies = [v.body for v in record.versions[:-1] if v.action != "withdraw" and v.body]
    if not now or not bodies:
        return list(now)
    before = given_up(held, replace(record, value=KINDS[record.kind].stored(bodies[-1])))
    known = {(t.subject, t.components, t.how) for t in before}
    return [t for t in now if (t.subject, t.components, t.how) not in known]
