"""What is not known, and what to capture next: the page a technician works through at the vehicle."""

from __future__ import annotations

import re
from collections.abc import Sequence

from evidence.model.base import shorten
from evidence.model.kinds import enumerated
from evidence.report.blocks import Block, Bullets, Column, Heading, Para, Row, Section, Table
from evidence.report.given import ReportInput
from evidence.report.pages.findings import in_full, said
from evidence.report.pages.front import absent
from evidence.report.phrasing import first_up, joined, sentence, some, to_capture, to_owner
from evidence.rules.assessment import Candidate, PlanStep

BOX = "\u2610"  # an empty box to tick
MAKER_RULES = "The maker's procedure, local codes and licensed practice rule over everything on this page."
CONSENT = "With the owner's consent, after notice to the prior repairer, recorded on video or by two people."
_MOST_POINTS, _MOST_OTHERS = 6, 3


def unknowns(given: ReportInput) -> Section:
    """Gaps, contradictions and missing elements."""
    candidates = given.assessment.candidates
    blocks: list[Block] = []
    for candidate in (c for c in candidates if in_full(c, candidates[0])):
        blocks += _unknown(candidate, single=len(candidates) == 1)
    if not blocks:
        blocks.append(Para("No question was put to the record, so no gap can be named.", tone="muted"))
    if gaps := absent(given):
        blocks += [
            Heading("Asked for by a reader of a claim, and not in the record"),
            Bullets(tuple(map(sentence, gaps))),
        ]
    if given.limits:
        blocks += [Heading("Limits of this report"), Bullets(given.limits)]
    return Section("What is not known", tuple(blocks))


def _unknown(candidate: Candidate, *, single: bool) -> list[Block]:
    blocks: list[Block] = [] if single else [Heading(candidate.title)]
    rows = []
    for element in candidate.elements:
        shown = some([shorten(to_owner(said(p), candidate), 200) for p in element.shown], _MOST_POINTS)
        state = "complete" if element.complete else "not complete"
        missing = "\n".join(sentence(to_owner(m, candidate)) for m in element.missing) or "nothing"
        rows.append(Row((f"{first_up(element.name)}\n{state}", "\n".join(shown) or "nothing yet", missing)))
    blocks.append(Table((Column("Element", 1.3), *_by_length(rows)), tuple(rows)))
    open_ = [f for f in (*candidate.findings, *candidate.common) if f.answer in ("undecided", "not measured")]
    if open_:
        blocks.append(Heading("Undecided or not measured"))
        blocks.append(Bullets(tuple(sentence(f"{f.answer}: {f.statement}") for f in open_)))
    if candidate.contradictions:
        blocks.append(Heading("Contradictions"))
        blocks.append(Bullets(tuple(
            joined([sentence(to_owner(c.text, candidate)), f"({enumerated(c.records)})" if c.records else None,
                    f"Written answer: {sentence(c.resolved)}" if c.resolved else "Not resolved."], " ")
            for c in candidate.contradictions)))  # fmt: skip
    return blocks


def _by_length(rows: Sequence[Row]) -> tuple[Column, Column]:
    """What is shown and what is missing share the width by how much there is to say."""
    shown, missing = (sum(len(row.cells[n]) for row in rows) for n in (1, 2))
    part = min(0.75, max(0.3, missing / (shown + missing)))
    return Column("Shown", 7 * (1 - part)), Column("Missing", 7 * part)


def untouched(given: ReportInput) -> bool:
    """Whether something can still be had only before anything is touched: then the plan comes first."""
    return any(step.undisturbed for c in given.assessment.candidates[:1] for step in c.plan)


def plan(given: ReportInput) -> Section | None:
    """What to capture next, in the order of work; None where nothing is left to capture."""
    candidates = [c for c in given.assessment.candidates if c.plan]
    if not candidates:
        return None
    leading = candidates[0]
    blocks: list[Block] = [
        Para(sentence(f"In the order of work, for: {leading.title}"), tone="small"),
        Para(_cautions(leading), head="Caution.", tone="caution"),
    ]
    blocks += _first(leading)
    calm = [s for s in leading.plan if not s.undisturbed and not s.alters]
    if calm:
        first = "Then, without" if any(s.undisturbed for s in leading.plan) else "First, without"
        blocks += [Heading(f"{first} changing the state"), _table(calm, "", leading)]
    blocks += _altering([s for s in leading.plan if not s.undisturbed and s.alters], leading)
    blocks += _others(candidates[1:])
    return Section("What to capture next", tuple(blocks), new_page=True)


def _first(leading: Candidate) -> list[Block]:
    steps = [s for s in leading.plan if s.undisturbed]
    if not steps:
        return []
    return [
        Heading("Before anything is touched"),
        Para("Photograph wide, middle and close with a scale; note who, when and with which device.", tone="small"),
        Bullets(tuple(to_owner(sentence(s.what), leading) for s in steps), mark=BOX),
    ]


def _altering(steps: Sequence[PlanStep], leading: Candidate) -> list[Block]:
    """The altering tests; what all of them wait for is said once, above."""
    if not steps:
        return []
    waits = {s.waiting for s in steps}
    common = waits.pop() if len(waits) == 1 else ""
    blocks: list[Block] = [Heading("Last: tests that change or use up the state"), Para(CONSENT, tone="small")]
    if common:
        blocks.append(Para(sentence(to_owner(common, leading)), head="These wait." if len(steps) > 1 else "It waits."))
    return [*blocks, _table(steps, common, leading)]


def _table(steps: Sequence[PlanStep], common: str, leading: Candidate) -> Table:
    columns = (Column("", 0.5), Column("Step", 3.4), Column("How", 2.9), Column("What it would settle", 3.2))
    return Table(columns, tuple(_step(step, common, leading) for step in steps))


def _step(step: PlanStep, common: str, leading: Candidate) -> Row:
    what = [to_owner(to_capture(step), leading), "Can be done only once." if step.one_shot else None]
    wait = f"Wait: {sentence(to_owner(step.waiting, leading))}" if step.waiting and step.waiting != common else None
    known = [s for s in step.separates if s.partition(": ")[0] not in step.findings]  # the sentence names its own
    settles = step.settles
    for own in (s for s in step.separates if s not in known):
        name, _, claim = own.partition(": ")
        settles = re.sub(rf"\b{name} \([^)]*\)", f"“{claim}”", settles)
    lines = [settles, *(s.partition(": ")[2] or s for s in known)]
    return Row(
        (
            f"{BOX} {step.place}",
            joined([*what, wait], "\n"),
            sentence(step.how),
            joined([sentence(to_owner(s, leading)) for s in lines], "\n"),
        )
    )


def _others(candidates: Sequence[Candidate]) -> list[Block]:
    """The first steps for the explanations that do not lead."""
    rows = []
    for candidate in candidates[:4]:
        steps = [s for s in candidate.plan if not s.alters][:_MOST_OTHERS]
        if steps:
            rows.append(Row((candidate.title, "\n".join(f"{BOX} {to_owner(to_capture(s), candidate)}" for s in steps))))
    if not rows:
        return []
    columns = (Column("Explanation", 2.6), Column("First steps", 4.4))
    return [Heading("First steps for the other explanations"), Table(columns, tuple(rows))]


def _cautions(leading: Candidate) -> str:
    """Each caution once: those of the entry, those of its steps, the entry's own note, and what rules over them."""
    texts = [text for _code, text in leading.cautions]
    texts += [text for step in leading.plan for _code, text in step.cautions]
    texts += [leading.safety_note] if leading.safety_note else []
    return " ".join((*dict.fromkeys(map(sentence, filter(None, texts))), MAKER_RULES))
