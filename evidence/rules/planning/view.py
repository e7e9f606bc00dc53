"""The part of the plan that concerns one candidate, by the numbers of its own findings and alternatives."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from evidence.rules.assessment import AlternativeResult, PlanStep
from evidence.rules.capture_plan import CaptureStep
from evidence.rules.pack import GRADE_WORDS, LIMBS, Alternative, Finding
from evidence.rules.planning.asked import Judged
from evidence.rules.planning.order import Built


def steps_by_candidate(all_judged: Sequence[Judged], built: Sequence[Built]) -> Mapping[str, tuple[PlanStep, ...]]:
    """By mechanism, in the order of the plan, save that its own questions come before its checklist; ``place`` is the plan's."""
    mine: dict[str, list[Built]] = {j.id: [] for j in all_judged}
    for b in built:
        for asker in b.step.asked_by:
            mine[asker.mechanism].append(b)
    for steps in mine.values():
        steps.sort(key=lambda b: (b.step.stage != "untouched", b.step.stage == "untouched" and b.asked is None))
    return {j.id: tuple(_steps(j, mine[j.id])) for j in all_judged}


def _steps(judged: Judged, built: Sequence[Built]) -> Iterator[PlanStep]:
    codes = judged.examined.call.mechanism.safety.codes
    cautions = tuple((c, judged.examined.setting.vocabulary.cautions.get(c, "")) for c in codes)
    for b in built:
        mine = next(a for a in b.step.asked_by if a.mechanism == judged.id)
        if b.asked is None and not mine.numbers and b.step.undisturbed:
            for text in judged.examined.call.mechanism.capture.before:
                yield _step(b.step, (), text, cautions, settles=b.step.effect)
            continue
        finding = next((f for j, f in b.asked.findings if j.id == judged.id), None) if b.asked else None
        alternative = next((a for j, a in b.asked.alternatives if j.id == judged.id), None) if b.asked else None
        what = finding.statement if finding else alternative.test if alternative else b.step.what
        settled = [r for n in mine.numbers for r in _settled(n, judged)]
        yield _step(
            b.step, mine.numbers, what, cautions if b.asked else (), waiting=_waiting(judged, b, built),
            separates=tuple(dict.fromkeys(f"{r.id}: {r.claim}" for r in settled)),
            settles=_settles(finding, alternative, judged) or b.step.effect,
        )  # fmt: skip


def _step(
    step: CaptureStep, findings: tuple[str, ...], what: str, cautions: tuple[tuple[str, str], ...], *, settles: str,
    waiting: str = "", separates: tuple[str, ...] = (),
) -> PlanStep:  # fmt: skip
    return PlanStep(
        place=step.place, findings=findings, what=what, how=step.how, undisturbed=step.stage == "untouched",
        alters=step.alters, one_shot=step.one_shot, waiting=waiting, cautions=cautions, separates=separates,
        settles=settles, bits=step.bits,
    )  # fmt: skip


def _settled(number: str, judged: Judged) -> list[AlternativeResult]:
    return [r for r in judged.rivals if (number in r.needs or number == r.id) and r.status != "excluded"]


def _settles(finding: Finding | None, alternative: Alternative | None, judged: Judged) -> str:
    if finding is None:
        if alternative is None:
            return ""
        kind = next(r.kind_words for r in judged.rivals if r.id == alternative.id)
        return f"It settles {alternative.id} ({kind}); the mechanism stands if: {alternative.standing_result}."
    if finding.limb == "X":
        return "Met, it helps to exclude the alternatives that rest on it; not met, it supports them."
    limb = LIMBS[finding.limb]
    if finding.if_true == finding.if_not:
        return f"It belongs to the {limb}, and is expected either way: it separates nothing by itself."
    return (
        f"It belongs to the {limb}: {GRADE_WORDS[finding.if_true]} if the mechanism is true, "
        f"{GRADE_WORDS[finding.if_not]} if not."
    )


def _waiting(judged: Judged, built: Built, every: Sequence[Built]) -> str:
    """The reasons of the step, with the entry's own findings by their numbers."""
    if not built.step.waiting:
        return ""
    own = [
        n for b in every if b.asked and not b.asked.alters and judged.id in b.asked.unread
        for a in b.step.asked_by if a.mechanism == judged.id for n in a.numbers if judged.examined.call.mechanism.finding(n)
    ]  # fmt: skip
    told = (
        [f"{', '.join(own)} {'has' if len(own) == 1 else 'have'} neither a result nor a stated reason"] if own else []
    )
    return "; ".join([*told, *(w for w in built.step.waiting if "neither a result" not in w)])
