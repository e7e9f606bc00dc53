"""What is not known, and what to capture next: the page a technician works through at the vehicle."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from evidence.model.base import shorten
from evidence.model.kinds import enumerated
from evidence.report.blocks import Block, Bullets, Column, Heading, Para, Row, Section, Table
from evidence.report.given import ReportInput
from evidence.report.pages.findings import in_full, said
from evidence.report.pages.front import absent
from evidence.report.phrasing import first_up, joined, sentence, some, to_owner
from evidence.rules.assessment import Candidate
from evidence.rules.capture_plan import STAGES, CapturePlan, CaptureStep, Gone

BOX = "\u2610"  # an empty box to tick
MAKER_RULES = "The maker's procedure, local codes and licensed practice rule over everything on this page."
CONSENT = "With the owner's consent, after notice to the prior repairer, recorded on video or by two people."
_MOST_POINTS = 6
_COLUMNS = (
    Column("", 0.6),
    Column("Step, how and with what", 4.4),
    Column("What a reading would mean", 4.0),
    Column("Minutes", 0.9),
)


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
    """What to capture next, in the order of work; None where no question is put."""
    found = given.assessment.plan
    if not found.explanations:
        return None
    blocks: list[Block] = [Para(_total(found), tone="lead" if not found.matters else "body")]
    blocks += _explanations(found)
    if found.steps:
        blocks += _beforehand(found)
    for stage, title in STAGES.items():
        blocks += _stage(title, [s for s in found.offered(stage) if stage != "altering"])
    blocks += _altering(found)
    if found.keep and found.steps:
        blocks += [Heading("Keep until the dispute is settled"), Bullets(tuple(map(sentence, found.keep)))]
    blocks += _gone("Cannot be had any more", found.lost) + _gone(
        "Open, and no answer would change anything", found.idle
    )
    return Section(
        "What to capture next", (*blocks, Para(" ".join((*found.notes, *_starred(found))), tone="small")), new_page=True
    )


def _starred(found: CapturePlan) -> list[str]:
    usual = any(not s.minutes_stated for s in found.steps)
    return ["* The usual time for its kind; the rules state none for it."] if usual else []


def _total(found: CapturePlan) -> str:
    if not found.steps:
        return found.verdict
    count = len(found.steps) - len(found.slight)
    told = f"{count} step{'s' if count != 1 else ''}, {_minutes(found.minutes_first)}, what tells most per minute first"
    rest = f"{len(found.slight)} more tell little as things stand ({_minutes(found.minutes - found.minutes_first)})"
    return f"{told}. {first_up(rest) + '. ' if found.slight else ''}{found.verdict}"


def _explanations(found: CapturePlan) -> list[Block]:
    rows = tuple(Row((e.letter, joined([sentence(e.title), e.settled], "\n"), e.band)) for e in found.explanations)
    return [Table((Column("", 0.4), Column("Explanation to be told apart", 6), Column("So far", 2)), rows)]


def _beforehand(found: CapturePlan) -> list[Block]:
    """Cautions and the mistakes that can still be avoided."""
    cautions = [f"{first_up(name)}: {text}" for name, text in found.cautions]
    every = [*map(sentence, (*cautions, *found.safety_notes)), MAKER_RULES]
    blocks: list[Block] = [Para(" ".join(every), head="Caution.", tone="caution")]
    if found.warned:
        blocks.append(Heading("Mistakes that can still be avoided"))
        blocks.append(Bullets(tuple(f"{w.text} {w.why}" for w in found.warned)))
    return blocks


def _stage(title: str, steps: Sequence[CaptureStep]) -> list[Block]:
    if not steps:
        return []
    blocks: list[Block] = [Heading(title)]
    for step in (s for s in steps if len(s.lines) > _MOST_POINTS):  # a long list is no cell of a table
        blocks.append(
            Para(joined([step.how, _by_hand(step), step.effect], " "), head=f"{step.place}. {sentence(step.what)}")
        )
        blocks.append(Bullets(step.lines, mark=BOX))
    if full := [s for s in steps if not s.slight and len(s.lines) <= _MOST_POINTS]:
        blocks.append(Table(_COLUMNS, tuple(map(_row, full))))
    if slight := [s for s in steps if s.slight]:
        blocks.append(Para("", head="As things stand these tell little beside the others."))
        blocks.append(Bullets(tuple(f"{s.place}. {_line(s)}" for s in slight), mark=BOX))
    return blocks


def _altering(found: CapturePlan) -> list[Block]:
    """The altering tests, those that may be made now first; what all of the others wait for is said once."""
    offered, waiting = found.offered("altering"), found.waiting
    blocks: list[Block] = []
    if offered or waiting:
        blocks += [Heading("Last: tests that change or use up the state"), Para(CONSENT, tone="small")]
    blocks += _stage("", offered)[1:]
    if waiting:
        common = set.intersection(*(set(s.waiting) for s in waiting))
        told = "; ".join(w for w in waiting[0].waiting if w in common)
        head = "These are not offered yet." if len(waiting) > 1 else "This one is not offered yet."
        blocks.append(Para(sentence(f"Wait: {told}") if told else "", head=head))
        if full := [s for s in waiting if not s.slight]:
            blocks.append(Table(_COLUMNS, tuple(_row(s, common) for s in full)))
        if slight := [s for s in waiting if s.slight]:
            blocks.append(Bullets(tuple(f"{s.place}. {_line(s)}" for s in slight), mark=BOX))
    return blocks


def _row(step: CaptureStep, common: frozenset[str] | set[str] = frozenset()) -> Row:
    wait = "; ".join(w for w in step.waiting if w not in common)
    what = [
        f"{sentence(step.what)} ({_letters(step)})", "Can be done only once: on video, or by two people." if step.one_shot else None,
        step.how and sentence(f"How: {step.how}"), _by_hand(step), *(f"{BOX} {line}" for line in step.lines),
        step.invite and sentence(f"Invite, by notice first: {'; '.join(step.invite)}"),
        step.keep and sentence(f"Keep: {'; '.join(step.keep)}"),
        step.cautions and sentence(f"Caution: {', '.join(name for name, _ in step.cautions)}"), wait and sentence(f"Wait: {wait}"),
    ]  # fmt: skip
    means = [
        f"If so: {step.if_met}" if step.if_met else None, f"If not: {step.if_not}" if step.if_not else None,
        f"In between: {step.between}" if step.between else None, step.effect,
        step.read_so_far and sentence(f"On record so far: {step.read_so_far}"),
    ]  # fmt: skip
    spent = f"{step.minutes.normalize():f}{'' if step.minutes_stated else ' *'}\n{_minutes(step.running)}"
    return Row((f"{BOX} {step.place}", joined(what, "\n"), joined(means, "\n"), spent))


def _by_hand(step: CaptureStep) -> str:
    return sentence(f"With: {step.instrument}") if step.instrument not in ("", "papers") else ""


def _line(step: CaptureStep) -> str:
    return f"{sentence(step.what)} ({_letters(step)}; {_minutes(step.minutes)})"


def _letters(step: CaptureStep | Gone) -> str:
    return ", ".join(a.letter for a in step.asked_by)


def _gone(title: str, points: Sequence[Gone]) -> list[Block]:
    if not points:
        return []
    return [Heading(title), Bullets(tuple(f"{sentence(p.what)} ({_letters(p)}): {sentence(p.why)}" for p in points))]


def _minutes(minutes: Decimal) -> str:
    whole = int(minutes)
    return f"{minutes.normalize():f} min" if minutes < 60 else f"{whole // 60} h {whole % 60:02d} min"
