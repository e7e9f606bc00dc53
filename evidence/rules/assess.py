"""The judgement as a whole: which mechanisms are called up, how each stands, and what to capture next.

Pure: the same dossier, packs and vocabulary give the same values on every machine, whatever the order of the records
that say the same. The stable form of the result is in :mod:`evidence.rules.assessment_json`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from evidence.model.dossier import Dossier
from evidence.rules.assessment import Assessment, Candidate, FindingResult, PackUsed
from evidence.rules.ceilings import contradictions, weight
from evidence.rules.common import CommonFinding
from evidence.rules.computed import order_in_time
from evidence.rules.conclusion import GRADES_NOTE, MEANING_NOTE, conclude
from evidence.rules.elements import elements
from evidence.rules.examine import Examined, examine
from evidence.rules.experiments import experiments
from evidence.rules.grades import grade_words
from evidence.rules.holdings import Holdings
from evidence.rules.matching import Call, called
from evidence.rules.opinion import changes, falls, stand
from evidence.rules.pack import GRADE_WORDS, GRADES, LIMBS, Finding, Pack
from evidence.rules.planning.asked import Judged, lost
from evidence.rules.planning.build import capture_plan
from evidence.rules.planning.view import steps_by_candidate
from evidence.rules.replies import Reply
from evidence.rules.versus import Contender, contenders, separating, versus
from evidence.rules.vocabulary import Vocabulary
from evidence.rules.weighing import SCALE, level

_MOST_FIRM = (
    3  # candidates, best first, of which is told what carries and would change their band, and what a change showed
)
_TOLD_BELOW = Fraction(95, 100)  # an answer less sure than what a coverage of 95 % gives is said to be so; by choice
_SIDES = {"mechanism": 0, "neither": 1, "none": 2, "other": 3}


def assess(dossier: Dossier, packs: Sequence[Pack], vocabulary: Vocabulary, *, firmness: bool = True) -> Assessment:
    """Hold every mechanism that the prior work or the complaint calls up against the record.

    Without ``firmness`` nothing is said of what carries a band, would change it or is to be captured next: for comparisons
    that ask the bands alone.
    """
    holdings = Holdings(dossier)
    calls, silent = called(holdings, packs, vocabulary)
    looked = [examine(c, holdings, vocabulary) for c in calls]
    together = contenders(looked)
    firm = together[:_MOST_FIRM] if firmness else ()
    found = sorted((_candidate(x, together, firm, vocabulary) for x in looked), key=lambda pair: _rank(pair[0]))
    judged = [j for _, j in found] if firmness else []
    planned = capture_plan(judged, holdings, vocabulary)
    steps = steps_by_candidate(judged, planned.built)
    candidates = tuple(replace(c, plan=steps.get(c.mechanism, ())) for c, _ in found)
    opening = holdings.opening
    own_grades = tuple(_own_grades(p) for p in packs if p.grades)
    return Assessment(
        title=opening.value.title if opening else "", entries=dossier.size,
        packs=tuple(PackUsed(id=p.id, version=p.version, title=p.title, mechanisms=len(p.mechanisms)) for p in packs),
        candidates=candidates, plan=planned.plan,
        experiments=experiments(holdings, [c.examined for c in together[:_MOST_FIRM]]),
        not_called=silent, scale=SCALE,
        grades=tuple((GRADE_WORDS[g], f"{float(p):.2f}") for g, p in GRADES.items()),
        notes=(GRADES_NOTE, MEANING_NOTE, *own_grades),
    )  # fmt: skip


def _own_grades(pack: Pack) -> str:
    told = ", ".join(f"{GRADE_WORDS[g]} {value}" for g, value in pack.grades.items())
    return f"The pack {pack.id} {pack.version} brings its own grades: {told}."


def _rank(candidate: Candidate) -> tuple[int, int, Fraction, int, str]:
    """What is supported best first; what speaks for another cause last."""
    w = candidate.weight
    by = ("work and complaint", "work", "complaint").index(candidate.called_by)
    reached = -level(w.low) if w.side == "mechanism" else 0
    return _SIDES[w.side], reached, -w.low, by, candidate.mechanism


def _candidate(
    examined: Examined, together: Sequence[Contender], firmly: Sequence[Contender], vocabulary: Vocabulary
) -> tuple[Candidate, Judged]:
    """The candidate, as yet without what to capture next, and what that is planned from."""
    call = examined.call
    mechanism, pack = call.mechanism, call.pack
    standing = stand(examined)
    rivals, replies, found = standing.rivals, standing.replies, standing.ceilings
    weighed = weight(examined, found)
    order = order_in_time(mechanism, examined.setting)
    clashes = contradictions(examined)
    gone = {f.id: lost(f, examined) for f in mechanism.findings if examined.replies[f.id].answer == "not measured"}
    separate = separating(examined, together)
    findings = tuple(_result(f, examined, gone.get(f.id, ""), separate) for f in mechanism.findings)
    pairs = versus(examined, together)
    firm = any(c.examined is examined for c in firmly)
    changing = changes(standing, gone) if firm else ()
    candidate = Candidate(
        mechanism=mechanism.id, title=mechanism.title, system=mechanism.system, pack=f"{pack.id} {pack.version}",
        why=call.why, called_by=_called_by(call), departure_code=mechanism.departure.code,
        departure=mechanism.departure.text, chain=mechanism.chain, components=mechanism.components,
        branch=examined.branch, findings=findings,
        common=tuple(_common_result(c, reply) for c, reply in standing.common), weight=weighed, ceilings=found,
        contradictions=clashes, alternatives=rivals, versus=pairs, falls=falls(standing) if firm else (),
        changes=changing, order=order, elements=elements(examined, replies, rivals, order), plan=(),
        capture_before=mechanism.capture.before, capture_after=mechanism.capture.after, retain=mechanism.retain,
        loss_items=mechanism.loss_items,
        cautions=tuple((c, vocabulary.cautions.get(c, "")) for c in mechanism.safety.codes),
        safety_note=mechanism.safety.note or "",
        sources=tuple((s, pack.sources[s].text, pack.sources[s].status) for s in mechanism.sources),
        conclusion=conclude(mechanism.title, weighed, found, findings, rivals, clashes, order, pairs),
    )  # fmt: skip
    return candidate, Judged(examined, rivals, replies, standing.band, changing)


def _called_by(call: Call) -> Any:
    if call.by_work:
        return "work and complaint" if call.by_complaint else "work"
    return "complaint"


def _result(finding: Finding, examined: Examined, gone: str, separate: frozenset[str]) -> FindingResult:
    reply = examined.replies[finding.id]
    weighable = next(w for w in examined.weighables if w.id == finding.id)
    ratio = weighable.interval if reply.answer in ("met", "not met") and finding.limb != "X" else None
    return FindingResult(
        id=finding.id, limb=finding.limb, limb_words=LIMBS[finding.limb], kind=finding.kind,
        statement=finding.statement, answer=reply.answer, records=reply.labels, coverage=reply.coverage,
        near=reply.near, reasons=(*reply.reasons, *_unsure(reply), *([gone] if gone else [])), if_true=grade_words(finding, if_true=True),
        if_not=grade_words(finding, if_true=False), ratio=ratio.point if ratio else None,
        ratio_low=weighable.counts("low") if ratio else None, ratio_high=weighable.counts("high") if ratio else None,
        weighs=finding.id in examined.weighed.counted, separates=finding.id in separate,
        low_answer=examined.low[finding.id].answer, alters=finding.alters, branch=finding.branch or "",
        test=finding.one_test, undisturbed=reply.undisturbed, word=examined.words[finding.id],
    )  # fmt: skip


def _unsure(reply: Reply) -> tuple[str, ...]:
    if reply.answer != "met" or reply.sure >= _TOLD_BELOW:
        return ()
    return (f"this answer is itself only probable ({float(reply.sure):.2f}), and weighs less than a sure one",)


def _common_result(common: CommonFinding, reply: Reply) -> FindingResult:
    return FindingResult(
        id=common.id, limb=common.limb, limb_words=common.limb, kind=common.kind, statement=common.statement,
        answer=reply.answer, records=reply.labels, coverage=reply.coverage, near=reply.near, reasons=reply.reasons,
        if_true=GRADE_WORDS[common.if_true], if_not=GRADE_WORDS[common.if_not], ratio=None, ratio_low=None,
        ratio_high=None, weighs=False, separates=True, low_answer=reply.answer, alters=False, branch="", test="",
        undisturbed=False, word=(),
    )  # fmt: skip
