"""What is not known, and what to capture next: the page a technician works through at the vehicle."""

from __future__ import annotations

from collections.abc import Sequence

from evidence.model.base import shorten
from evidence.model.kinds import enumerated
from evidence.report.blocks import Block, Bullets, Column, Heading, Para, Row, Section, Table
from evidence.report.given import ReportInput
from evidence.report.pages.findings import in_full, said, some
from evidence.report.pages.front import absent
from evidence.report.phrasing import first_up, joined, sentence
from evidence.rules.assessment import Candidate, PlanStep

BOX = "\u2610"  # an empty box to tick
MAKER_RULES = "The maker's procedure, local codes and licensed practice rule over everything on this page."
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
        shown = some([shorten(said(p), 200) for p in element.shown], _MOST_POINTS)
        rows.append(Row((first_up(element.name), "complete" if element.complete else "not complete",
                         "\n".join(shown) or "nothing yet", "\n".join(map(sentence, element.missing)) or "nothing")))  # fmt: skip
    columns = (Column("Element", 1.2), Column("State", 1), Column("Shown", 3.4), Column("Missing", 2.6))
    blocks.append(Table(columns, tuple(rows)))
    open_ = [f for f in (*candidate.findings, *candidate.common) if f.answer in ("undecided", "not measured")]
    if open_:
        blocks.append(Heading("Undecided or not measured"))
        blocks.append(Bullets(tuple(sentence(f"{f.id}, {f.answer}: {f.statement}") for f in open_)))
    if candidate.contradictions:
        blocks.append(Heading("Contradictions"))
        blocks.append(Bullets(tuple(
            joined([sentence(c.text), f"({enumerated(c.records)})" if c.records else None,
                    f"Written answer: {sentence(c.resolved)}" if c.resolved else "Not resolved."], " ")
            for c in candidate.contradictions)))  # fmt: skip
    return blocks


def untouched(given: ReportInput) -> bool:
    """Whether something can still be had only before anything is touched: then the plan comes first."""
    return any(step.undisturbed for c in given.assessment.candidates[:1] for step in c.plan)


def plan(given: ReportInput) -> Section | None:
    """What to capture next, in the order of work; None where nothing is left to capture."""
    candidates = [c for c in given.assessment.candidates if c.plan]
    if not candidates:
        return None
    leading = candidates[0]
    blocks: list[Block] = [Para(sentence(f"In the order of work, for: {leading.title}"), tone="small")]
    blocks += _first(leading)
    calm = [s for s in leading.plan if not s.undisturbed and not s.alters]
    altering = [s for s in leading.plan if not s.undisturbed and s.alters]
    if calm:
        blocks += [Heading("Then, without changing the state"), _table(calm, waits=False)]
    if altering:
        blocks.append(Heading("Last: tests that change or use up the state"))
        blocks.append(
            Para(
                "With the owner's consent, after notice to the prior repairer, recorded on video or by two people.",
                tone="small",
            )
        )
        blocks.append(_table(altering, waits=True))
    blocks += _others(candidates[1:])
    blocks += _cautions(leading)
    return Section("What to capture next", tuple(blocks), new_page=True)


def _first(leading: Candidate) -> list[Block]:
    steps = [s for s in leading.plan if s.undisturbed]
    if not steps:
        return []
    return [
        Heading("Before anything is touched"),
        Para("Photograph wide, middle and close with a scale; note who, when and with which device.", tone="small"),
        Bullets(tuple(sentence(s.what) for s in steps), mark=BOX),
    ]


def _table(steps: Sequence[PlanStep], *, waits: bool) -> Table:
    columns = [Column("", 0.5), Column("Step", 3.4), Column("How", 2.9), Column("What it would settle", 3.2)]
    rows = []
    for step in steps:
        what = [sentence(step.what), "Can be done only once." if step.one_shot else None]
        wait = f"Wait: {sentence(step.waiting)}" if waits and step.waiting else None
        rows.append(
            Row(
                (
                    f"{BOX} {step.place}", joined([*what, wait], "\n"), sentence(step.how),
                    joined([sentence(step.settles), *map(sentence, step.separates)], "\n"),
                )
            )
        )  # fmt: skip
    return Table(tuple(columns), tuple(rows))


def _others(candidates: Sequence[Candidate]) -> list[Block]:
    """The first steps for the explanations that do not lead."""
    blocks: list[Block] = []
    for candidate in candidates[:4]:
        steps = [s for s in candidate.plan if not s.alters][:_MOST_OTHERS]
        if steps:
            blocks.append(Para("", head=f"For: {candidate.title}."))
            blocks.append(Bullets(tuple(sentence(s.what) for s in steps), mark=BOX))
    return [Heading("First steps for the other explanations"), *blocks] if blocks else []


def _cautions(leading: Candidate) -> list[Block]:
    texts = [text for _code, text in leading.cautions] + ([leading.safety_note] if leading.safety_note else [])
    return [Heading("Cautions"), Bullets((*map(sentence, texts), MAKER_RULES))]
