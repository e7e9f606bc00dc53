"""What to capture next: what is lost once anything is touched first, then what alters nothing, then the altering tests.

Within each, what separates the most comes first. An altering test waits while a non-altering finding of the same entry
has neither a result nor a stated reason; consent and notice that are missing are told.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from evidence.model.people import Consent, Correspondence
from evidence.rules.asks import (
    AllOf,
    AnyOf,
    Change,
    Computed,
    Document,
    Measure,
    Observe,
    Read,
    Taken,
    parts_of,
    question,
)
from evidence.rules.assessment import AlternativeResult, PlanStep
from evidence.rules.common import COMMON, general_alternatives
from evidence.rules.criteria import Closed
from evidence.rules.examine import Examined
from evidence.rules.holdings import Holdings
from evidence.rules.pack import GRADE_WORDS, LIMBS, Finding
from evidence.rules.wording import in_words

_READ_ONCE = frozenset({"gaskets_on_seat", "seal_state", "bead"})
# Common findings that a paper or a question settles, in the order in which they are worth asking for.
_PAPERS = {
    "C1": "Without it the mechanism stays a candidate and nothing is said.",
    "C2": "It decides whether the effect was there before; not met, it leaves no support.",
    "C4": "It excludes the owner's own work and a later repairer, who hold the statement at moderate.",
    "C3": "It places the onset inside or outside the latency window, by date and by odometer.",
    "C7": "It gives the standard of work, and the maker's figures that replace the defaults.",
}


@dataclass(frozen=True, slots=True)
class _Open:
    """A finding still open, with what is needed to rank it."""

    finding: Finding
    undisturbed: bool
    lost: str  # why the state can no longer be met


def plan(examined: Examined, rivals: Sequence[AlternativeResult]) -> tuple[PlanStep, ...]:
    """The steps in order; ``place`` counts from 1."""
    opened = [_opened(f, examined) for f in examined.call.mechanism.findings if _is_open(f, examined)]
    alive = [o for o in opened if not o.lost]
    first = [o for o in alive if o.undisturbed and not o.finding.alters]
    then = [o for o in alive if not o.undisturbed and not o.finding.alters]
    last = [o for o in alive if o.finding.alters]
    waiting = _waiting(examined, [*first, *then])
    steps = [_step(o, examined, rivals, "") for o in _ranked(first, rivals)]
    steps += list(_before_touch(examined))
    steps += list(_papers(examined))
    steps += [_step(o, examined, rivals, "") for o in _ranked(then, rivals)]
    steps += list(_of_alternatives(examined, rivals))
    steps += [_step(o, examined, rivals, waiting) for o in _ranked(last, rivals)]
    return tuple(replace(step, place=place) for place, step in enumerate(steps, 1))


def lost(finding: Finding, examined: Examined) -> str:
    """Why a finding about the vehicle as found can no longer be made, or an empty text."""
    asks = parts_of(finding.asks) if finding.asks else ()
    taken = [a for a in asks if isinstance(a, Taken)]
    if not taken or any(a.after or a.lasting for a in taken) or any(isinstance(a, Change) for a in asks):
        return ""
    gone: set[str] = set()
    for ask in taken:
        touched = examined.setting.touching((*examined.setting.components, *ask.of)) - examined.setting.excused
        if not touched:
            return ""
        gone |= touched
    return f"{', '.join(examined.setting.holdings.states.labels(gone))} came first; the state as found is gone"


def _is_open(finding: Finding, examined: Examined) -> bool:
    return examined.replies[finding.id].answer in ("not measured", "undecided")


def _opened(finding: Finding, examined: Examined) -> _Open:
    asks = parts_of(finding.asks) if finding.asks else ()
    undisturbed = any(isinstance(a, Taken) and a.state == "undisturbed" for a in asks)
    return _Open(finding, undisturbed, lost(finding, examined))


def _ranked(opened: Sequence[_Open], rivals: Sequence[AlternativeResult]) -> list[_Open]:
    """By alternatives it would settle, then by how far a result would move the ratio, then as written."""

    def key(o: _Open) -> tuple[int, int, Fraction]:
        settles = _settled(o.finding, rivals)
        guarded = sum(r.guarded for r in settles)
        return (-guarded, -len(settles), -_reach(o.finding))

    return sorted(opened, key=key)


def _settled(finding: Finding, rivals: Sequence[AlternativeResult]) -> list[AlternativeResult]:
    return [r for r in rivals if finding.id in r.needs and r.status != "excluded"]


def _reach(finding: Finding) -> Fraction:
    if finding.limb == "X":
        return Fraction(0)
    grades = list(GRADE_WORDS)
    return Fraction(grades.index(finding.if_not) - grades.index(finding.if_true))


def _step(o: _Open, examined: Examined, rivals: Sequence[AlternativeResult], waiting: str) -> PlanStep:
    finding, vocabulary = o.finding, examined.setting.vocabulary
    cautions = examined.call.mechanism.safety.codes
    settled = _settled(finding, rivals)
    return PlanStep(
        place=0, findings=(finding.id,), what=finding.statement,
        how=in_words(finding.asks, vocabulary) if finding.asks else "", undisturbed=o.undisturbed,
        alters=finding.alters, one_shot=any(_once(a, finding) for a in parts_of(finding.asks)) if finding.asks else False,
        waiting=waiting, cautions=tuple((c, vocabulary.cautions.get(c, "")) for c in cautions),
        separates=tuple(f"{r.id}: {r.claim}" for r in settled), settles=_settles(finding, examined),
    )  # fmt: skip


def _settles(finding: Finding, examined: Examined) -> str:
    if finding.limb == "X":
        return "Met, it helps to exclude the alternatives that rest on it; not met, it supports them."
    pack = examined.call.pack
    true, other = pack.probability(finding.if_true), pack.probability(finding.if_not)
    limb = LIMBS[finding.limb]
    if true == other:
        return f"It belongs to the {limb}, and is expected either way: it separates nothing by itself."
    return (
        f"It belongs to the {limb}: {GRADE_WORDS[finding.if_true]} if the mechanism is true, "
        f"{GRADE_WORDS[finding.if_not]} if not."
    )


def _once(ask: Closed, finding: Finding) -> bool:
    if isinstance(ask, Measure):
        return ask.measure == "breakaway_torque"
    if isinstance(ask, Read):
        return ask.read == "codes" and "before-reset" in ask.when
    return isinstance(ask, Observe) and finding.alters and ask.observe in _READ_ONCE


def _before_touch(examined: Examined) -> Iterator[PlanStep]:
    """The entry's checklist, as long as nobody has had hands on these parts."""
    mechanism = examined.call.mechanism
    if examined.setting.touching(mechanism.components):
        return
    cautions = tuple((c, examined.setting.vocabulary.cautions.get(c, "")) for c in mechanism.safety.codes)
    for text in mechanism.capture.before:
        yield PlanStep(
            place=0, findings=(), what=text, how="photograph wide, middle and close with scale, or read, as found",
            undisturbed=True, alters=False, one_shot=False, waiting="", cautions=cautions, separates=(),
            settles="It can be had only before anything is touched.",
        )  # fmt: skip


def _of_alternatives(examined: Examined, rivals: Sequence[AlternativeResult]) -> Iterator[PlanStep]:
    """What settles an alternative by its own test, the guarded kinds first; papers are asked for once, above."""
    vocabulary, mechanism = examined.setting.vocabulary, examined.call.mechanism
    asked = {question(f.asks) for f in mechanism.findings if f.asks}
    every = {a.id: a for a in (*mechanism.alternatives, *general_alternatives(mechanism.components))}
    cautions = tuple((c, vocabulary.cautions.get(c, "")) for c in mechanism.safety.codes)
    for rival in sorted(rivals, key=lambda r: (not r.guarded, r.general)):
        asks = every[rival.id].asks
        if rival.status not in ("open", "less supported") or asks is None or question(asks) in asked:
            continue
        if all(isinstance(a, (Computed, AllOf, AnyOf)) for a in parts_of(asks)):
            continue
        asked.add(question(asks))
        yield PlanStep(
            place=0, findings=(rival.id,), what=rival.test, how=in_words(asks, vocabulary), undisturbed=False,
            alters=False, one_shot=False, waiting="", cautions=cautions, separates=(f"{rival.id}: {rival.claim}",),
            settles=f"It settles {rival.id} ({rival.kind_words}); the mechanism stands if: {rival.standing_result}.",
        )  # fmt: skip


def _papers(examined: Examined) -> Iterator[PlanStep]:
    for name, settles in _PAPERS.items():
        common = next(c for c in COMMON if c.id == name)
        reply = examined.reply(name)
        if reply.answer in ("not measured", "undecided"):
            yield PlanStep(
                place=0, findings=(name,), what=common.statement, how="; ".join(reply.reasons), undisturbed=False,
                alters=False, one_shot=False, waiting="", cautions=(), separates=(), settles=settles,
            )  # fmt: skip


def _waiting(examined: Examined, before: Sequence[_Open]) -> str:
    holdings = examined.setting.holdings
    unread = [o.finding.id for o in before if examined.replies[o.finding.id].answer == "not measured" and not _paper(o)]
    reasons = []
    if unread:
        verb = "has" if len(unread) == 1 else "have"
        reasons.append(f"{', '.join(unread)} {verb} neither a result nor a stated reason")
    if not _consented(holdings):
        reasons.append("no consent of the owner to altering tests is on record")
    if not any(c.value.about in ("notice", "inspection_opportunity") for c in holdings.dossier.of(Correspondence)):
        reasons.append("no notice to the prior repairer is on record")
    return "; ".join(reasons)


def _paper(o: _Open) -> bool:
    asks = o.finding.asks
    return asks is not None and all(isinstance(a, (Document, Computed)) for a in parts_of(asks))


def _consented(holdings: Holdings) -> bool:
    given = [c.value for c in holdings.dossier.of(Consent) if c.value.to == "altering_tests"]
    return bool(given) and given[-1].granted
