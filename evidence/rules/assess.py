"""The judgement as a whole: which mechanisms are called up, how each stands, and what to capture next.

Pure: the same dossier, packs and vocabulary give the same values on every machine, whatever the order of the records
that say the same. The stable form of the result is in :mod:`evidence.rules.assessment_json`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from evidence.model.dossier import Dossier
from evidence.rules.assessment import Assessment, Candidate, FindingResult, PackUsed
from evidence.rules.ceilings import ceilings, contradictions, weight
from evidence.rules.common import CommonFinding
from evidence.rules.computed import order_in_time
from evidence.rules.conclusion import GRADES_NOTE, MEANING_NOTE, conclude
from evidence.rules.elements import elements
from evidence.rules.examine import Examined, examine
from evidence.rules.holdings import Holdings
from evidence.rules.matching import Call, called
from evidence.rules.pack import GRADE_WORDS, GRADES, LIMBS, Finding, Pack
from evidence.rules.planning.asked import Judged, lost
from evidence.rules.planning.build import capture_plan
from evidence.rules.planning.view import steps_for
from evidence.rules.replies import Reply
from evidence.rules.rivals import alternatives
from evidence.rules.vocabulary import Vocabulary
from evidence.rules.weighing import SCALE, level

_SIDES = {"mechanism": 0, "neither": 1, "none": 2, "other": 3}


def assess(dossier: Dossier, packs: Sequence[Pack], vocabulary: Vocabulary) -> Assessment:
    """Hold every mechanism that the prior work or the complaint calls up against the record."""
    holdings = Holdings(dossier)
    calls, silent = called(holdings, packs, vocabulary)
    found = sorted((_candidate(c, holdings, vocabulary) for c in calls), key=lambda pair: _rank(pair[0]))
    judged = [j for _, j in found]
    planned = capture_plan(judged, holdings, vocabulary)
    candidates = tuple(replace(c, plan=steps_for(j, planned.built)) for c, j in found)
    opening = holdings.opening
    own_grades = tuple(_own_grades(p) for p in packs if p.grades)
    return Assessment(
        title=opening.value.title if opening else "", entries=dossier.size,
        packs=tuple(PackUsed(id=p.id, version=p.version, title=p.title, mechanisms=len(p.mechanisms)) for p in packs),
        candidates=candidates, plan=planned.plan, not_called=silent, scale=SCALE,
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
    reached = -level(w.ratio) if w.side == "mechanism" else 0
    return _SIDES[w.side], reached, -w.ratio, by, candidate.mechanism


def _candidate(call: Call, holdings: Holdings, vocabulary: Vocabulary) -> tuple[Candidate, Judged]:
    """The candidate, as yet without what to capture next, and what that is planned from."""
    examined = examine(call, holdings, vocabulary)
    mechanism, pack = call.mechanism, call.pack
    rivals = alternatives(examined)
    common = examined.common({r.id: r.status for r in rivals})
    replies = {c.id: reply for c, reply in common}
    found = ceilings(examined, replies, rivals)
    weighed = weight(examined, found)
    order = order_in_time(mechanism, examined.setting)
    clashes = contradictions(examined)
    findings = tuple(_result(f, examined) for f in mechanism.findings)
    candidate = Candidate(
        mechanism=mechanism.id, title=mechanism.title, system=mechanism.system, pack=f"{pack.id} {pack.version}",
        why=call.why, called_by=_called_by(call), departure_code=mechanism.departure.code,
        departure=mechanism.departure.text, chain=mechanism.chain, components=mechanism.components,
        branch=examined.weighed.branch, findings=findings,
        common=tuple(_common_result(c, reply) for c, reply in common), weight=weighed, ceilings=found,
        contradictions=clashes, alternatives=rivals, order=order,
        elements=elements(examined, replies, rivals, order), plan=(),
        capture_before=mechanism.capture.before, capture_after=mechanism.capture.after, retain=mechanism.retain,
        loss_items=mechanism.loss_items,
        cautions=tuple((c, vocabulary.cautions.get(c, "")) for c in mechanism.safety.codes),
        safety_note=mechanism.safety.note or "",
        sources=tuple((s, pack.sources[s].text, pack.sources[s].status) for s in mechanism.sources),
        conclusion=conclude(mechanism.title, weighed, found, findings, rivals, clashes, order),
    )  # fmt: skip
    return candidate, Judged(examined, rivals, replies)


def _called_by(call: Call) -> Any:
    if call.by_work:
        return "work and complaint" if call.by_complaint else "work"
    return "complaint"


def _result(finding: Finding, examined: Examined) -> FindingResult:
    reply = examined.replies[finding.id]
    weighable: Mapping[str, Fraction | None] = {w.id: w.ratio for w in examined.weighables}
    applies = reply.answer in ("met", "not met")
    gone = lost(finding, examined) if reply.answer == "not measured" else ""
    return FindingResult(
        id=finding.id, limb=finding.limb, limb_words=LIMBS[finding.limb], kind=finding.kind,
        statement=finding.statement, answer=reply.answer, records=reply.labels, coverage=reply.coverage,
        near=reply.near, reasons=(*reply.reasons, *([gone] if gone else [])), if_true=GRADE_WORDS[finding.if_true],
        if_not=GRADE_WORDS[finding.if_not],
        ratio=weighable[finding.id] if applies and finding.limb != "X" else None,
        weighs=finding.id in examined.weighed.counted, low_answer=examined.low[finding.id].answer,
        alters=finding.alters, branch=finding.branch or "", test=finding.one_test, undisturbed=reply.undisturbed,
        word=examined.words[finding.id],
    )  # fmt: skip


def _common_result(common: CommonFinding, reply: Reply) -> FindingResult:
    return FindingResult(
        id=common.id, limb=common.limb, limb_words=common.limb, kind=common.kind, statement=common.statement,
        answer=reply.answer, records=reply.labels, coverage=reply.coverage, near=reply.near, reasons=reply.reasons,
        if_true=GRADE_WORDS[common.if_true], if_not=GRADE_WORDS[common.if_not], ratio=None, weighs=False,
        low_answer=reply.answer, alters=False, branch="", test="", undisturbed=False, word=(),
    )  # fmt: skip
