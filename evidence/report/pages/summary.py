"""The one-page summary, in an owner's words: no number of a finding or of an alternative stands here."""

from __future__ import annotations

from evidence.model.base import shorten
from evidence.model.happening import Event
from evidence.model.kinds import enumerated
from evidence.model.repair import WorkOrder
from evidence.report.blocks import Block, Bullets, Para, Section
from evidence.report.given import ReportInput
from evidence.report.pages.front import absent
from evidence.report.pages.next_steps import BOX, CONSENT, MAKER_RULES, untouched
from evidence.report.phrasing import (
    NOT_MEANT,
    first_clause,
    first_up,
    joined,
    sentence,
    to_capture,
    to_owner,
    whole_sentences,
)
from evidence.rules.assessment import Candidate, FindingResult, PlanStep
from evidence.rules.pack import GRADE_WORDS

_MOST, _MOST_STEPS, _MOST_BEFORE, _MOST_DECIDING, _MOST_GAPS = 4, 6, 7, 3, 8
_LINES_LONG, _CAUTION_LONG = 170, 330  # characters
_LIMBS = {"D": "The work", "L": "The link", "E": "The effect", "X": "Other causes"}
_AGAINST = {  # common findings that are not met, turned into what the record then says
    "C2": "The record shows the complaint before the work",
    "C3": "The first sign lies outside the time or the distance in which this would show",
    "C4": "Somebody else worked there in between",
    "C8": "There is damage that this does not explain",
}
_GRADES = list(GRADE_WORDS.values())  # from what cannot be missing to what should not be there
_CERTAIN, _EXPECTED = _GRADES[:2]


def summary(given: ReportInput) -> Section:
    """What happened, what was found and how far it goes, what speaks against it, and what to do next."""
    blocks: list[Block] = [*_happened(given)]
    candidates = given.assessment.candidates
    if not candidates:
        return Section("Summary", (*blocks, *_nothing_called_up(given)), new_page=True)
    leading = candidates[0]
    blocks += _found(leading)
    blocks += _supports(leading)
    blocks += _against(leading)
    if leading.weight.side == "mechanism":
        blocks += _deciding(leading)
        blocks += _incomplete(leading)
    else:
        blocks += _next(given, leading)
    if len(candidates) > 1:
        others = "; ".join(f"{c.title} ({c.weight.band})" for c in candidates[1:5])
        more = f"; and {len(candidates) - 5} more" if len(candidates) > 5 else ""
        blocks.append(Para(f"{others}{more}. Each stands under Findings.", head="Also examined.", tone="small"))
    return Section("Summary", tuple(blocks), new_page=True)


def _nothing_called_up(given: ReportInput) -> list[Block]:
    blocks: list[Block] = [
        Para(
            "No mechanism of the installed rules is called up by the earlier work or the complaint. The record "
            "stands as it is; nothing can be said from it about a cause.",
            head="What it supports.",
        )
    ]
    if gaps := absent(given):
        rest = (f"{len(gaps) - _MOST_GAPS} more under What is not known.",) if len(gaps) > _MOST_GAPS else ()
        blocks += [Para("", head="What is missing."), Bullets((*map(sentence, gaps[:_MOST_GAPS]), *rest))]
    return blocks


def _happened(given: ReportInput) -> list[Block]:
    dossier = given.dossier
    parts: list[str] = []
    for order in [o for o in dossier.of(WorkOrder) if o.value.side != "present_repairer"][:3]:
        work = _work([o.text for o in order.value.operations])
        date = order.value.closed or order.value.opened
        on = f"On {date.given}" if date else "At a time not stated"
        whose = " (the owner's own work)" if order.value.side == "owner" else ""
        said = f"{on}, {dossier.party(order.value.repairer)}{whose}: {work} ({order.label})"
        parts.append(sentence(said))
    for event in [e for e in dossier.of(Event) if e.value.what == "onset"][:1]:
        what = shorten(event.value.text, 160).rstrip(".")
        parts.append(sentence(f"First sign, {event.value.time.given}: {what} ({event.label})"))
    if complaint := dossier.opening.complaint:
        parts.append(f"The complaint in the customer's words: “{shorten(complaint, 230)}”")
    return [Para(" ".join(parts) or "The record does not say yet.", head="What happened.")]


def _work(lines: list[str]) -> str:
    """Labour lines as worded, as many whole ones as an owner wants to read."""
    kept = lines[:1]
    for line in lines[1:]:
        if sum(map(len, kept)) + len(line) > _LINES_LONG:
            return f"{'; '.join(shorten(k, _LINES_LONG) for k in kept)}; and {len(lines) - len(kept)} more"
        kept.append(line)
    return shorten("; ".join(kept), _LINES_LONG + 10) or "work not itemised"


def _found(candidate: Candidate) -> list[Block]:
    met = [f for f in candidate.findings if f.answer == "met"]
    met.sort(key=lambda f: (not f.weighs, "DLEX".find(f.limb) % 5))
    head = f"What was found. The question put to the record: {candidate.title}."
    if not met:
        return [Para("Nothing that this explanation asks for has been shown yet.", head=head)]
    said = [f"{_LIMBS.get(f.limb, first_up(f.limb_words))}: {_said(f)}" for f in met[:_MOST]]
    more = (f"{len(met) - _MOST} more under Findings.",) if len(met) > _MOST else ()
    return [Para("", head=head), Bullets((*said, *more))]


def _said(finding: FindingResult, words: str = "") -> str:
    carried = f"({shorten(enumerated(finding.records), 120)})" if finding.records else None
    return joined([words or first_clause(finding.statement, 190), carried], " ")


def _supports(candidate: Candidate) -> list[Block]:
    weight = candidate.weight
    table = f"ratio at least {weight.low_printed}; the table of words stands under Findings"
    held = [whole_sentences(sentence(to_owner(c.reason, candidate)), 190) for c in candidate.ceilings if c.holds][:2]
    why = f" It goes no further because: {' '.join(held)}" if held and weight.side != "none" else ""
    said = {
        "mechanism": f"Together the findings give {weight.band} to this explanation, held against the same complaint "
        f"having arisen some other way ({table}).",
        "other": f"Together the findings speak for another cause rather than for this explanation: {weight.band} ({table}).",
        "neither": f"Together the findings support neither this explanation nor another one ({table}).",
        "none": joined(["Nothing can be said for this explanation yet.", *held], " "),
    }[weight.side]
    if not any(f.answer in ("met", "not met") for f in candidate.findings):
        said = (
            "Nothing is on record yet that speaks for this explanation or against it. That is a result, not a verdict: "
            "what is captured next can change it."
        )
    return [Para(f"{said}{why}{_firm(candidate)} {NOT_MEANT}", head="What it supports, and how strongly.")]


def _firm(candidate: Candidate) -> str:
    """What the band hangs on, and which other explanation the findings leave beside it."""
    if candidate.weight.side != "mechanism":
        return ""
    told = ""
    if candidate.falls:
        hanging = [f.what for f in candidate.falls if f.what not in {x.id for x in candidate.findings}]
        any_one = "it" if len(hanging) == 1 else "any one of them"
        if hanging:
            told = f" The words hang on {enumerated(hanging[:_MOST])}: without {any_one} they would be others."
    beside = next((v for v in candidate.versus if v.mechanism and not v.words.endswith("for this one")), None)
    if beside:
        told += f" The same findings do not speak against “{shorten(beside.title, 110)}”."
    return told


def _against(candidate: Candidate) -> list[Block]:
    points = [f"Looked for and not there: {_said(f)}" for f in candidate.findings if f.answer == "not met"]
    points += [_said(f, _AGAINST.get(f.id, "")) for f in candidate.common if f.answer == "not met"]
    rivals = [a for a in candidate.alternatives if not a.resolved]
    points += [
        f"The record supports something else: {shorten(a.claim, 150)}" for a in rivals if a.status == "supported"
    ]
    points += [
        f"To be resolved: {shorten(to_owner(c.text, candidate), 170)}"
        for c in candidate.contradictions
        if not c.resolved and not any(f.id == c.about and f.answer == "not met" for f in candidate.findings)
    ]
    points += [
        f"Not ruled out yet: {shorten(a.claim, 150)} ({a.kind_words})"
        for a in rivals
        if a.status in ("open", "less supported") and a.guarded
    ]
    if not points:
        calm = "Nothing recorded so far. That is not the same as everything having been looked for."
        return [Para(calm, head="What speaks against it.")]
    more = (f"{len(points) - _MOST} more in the parts that follow.",) if len(points) > _MOST else ()
    return [Para("", head="What speaks against it."), Bullets((*points[:_MOST], *more))]


def _deciding(candidate: Candidate) -> list[Block]:
    """The few steps whose result would move a supported explanation most."""
    steps = candidate.deciding[:_MOST_DECIDING]
    if not steps:
        return [Para("No capture step is open.", head="What would strengthen or refute it.")]
    points = tuple(joined([_brief(s, candidate), _effect(s, candidate)], " ") for s in steps)
    return [Para("", head="What would strengthen or refute it."), Bullets(points)]


def _brief(step: PlanStep, candidate: Candidate) -> str:
    """One or two lines of a step; the whole of it stands under What to capture next."""
    whole = to_owner(to_capture(step), candidate)
    return whole if len(whole) <= 150 else sentence(first_clause(whole, 190))


def _effect(step: PlanStep, candidate: Candidate) -> str:
    """What a result of the step would do, as far as its finding or its alternative says."""
    graded = [f for f in candidate.findings if f.limb in "DLE" and {f.if_true, f.if_not} <= set(_GRADES)]
    for finding in (f for f in graded if f.id in step.findings):
        true, other = _GRADES.index(finding.if_true), _GRADES.index(finding.if_not)
        if true == other:
            return ""
        there, absent_ = ("strengthen", "weaken") if true < other else ("weaken", "strengthen")
        lost = f"; missing, it would {'speak strongly against it' if finding.if_true == _CERTAIN else absent_ + ' it'}"
        return f"Found, it would {there} this explanation{lost if finding.if_true in (_CERTAIN, _EXPECTED) else ''}."
    for rival in (a for a in candidate.alternatives if a.id in step.findings):
        return f"It would settle whether {rival.claim}."
    return ""


def _incomplete(candidate: Candidate) -> list[Block]:
    """What a complete dossier still needs besides the cause."""
    points = [
        to_owner(m, candidate) for e in candidate.elements if e.name not in ("departure", "cause") for m in e.missing
    ]
    if not points:
        return []
    more = f"; and {len(points) - _MOST} more" if len(points) > _MOST else ""
    return [Para(sentence("; ".join(shorten(p, 150) for p in points[:_MOST]) + more), head="What is missing besides.")]


def _next(given: ReportInput, candidate: Candidate) -> list[Block]:
    """Where nothing is shown, this is the most useful thing that an owner and a shop can read."""
    steps = candidate.plan
    if not steps:
        return []
    first = untouched(given)
    before = [to_capture(s) for s in steps if s.undisturbed] + (
        [*map(sentence, candidate.capture_before)] if first else []
    )
    before = [to_owner(shorten(t, 150), candidate) for t in dict.fromkeys(before)]
    calm = [_brief(s, candidate) for s in steps if not s.undisturbed and not s.alters]
    altering = [_brief(s, candidate) for s in steps if s.alters] if not calm else []
    every = " ".join(sentence(text) for _code, text in candidate.cautions)
    cautions = whole_sentences(every, _CAUTION_LONG)
    cautions += " Further cautions stand under What to capture next." if cautions != every else ""
    blocks: list[Block] = [
        Para("", head="What to capture next" + (", before anything is touched." if first else ".")),
        Para(f"{cautions} {MAKER_RULES}".strip(), head="Caution.", tone="caution"),
    ]
    if before:
        more = (f"{len(before) - _MOST_BEFORE} more under What to capture next.",) if len(before) > _MOST_BEFORE else ()
        blocks.append(Bullets((*before[:_MOST_BEFORE], *more), mark=BOX))
    if calm:
        if before:
            blocks.append(Para("", head="Then, without changing anything."))
        blocks.append(Bullets(tuple(calm[: max(_MOST_STEPS - len(before), 3)]), mark=BOX))
    elif altering:
        blocks += [
            Para(CONSENT, head="Only tests that change the state are left."),
            Bullets(tuple(altering[:3]), mark=BOX),
        ]
    return [*blocks, Para("The whole list, with how and why, stands under What to capture next.", tone="small")]
