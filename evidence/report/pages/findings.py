"""What the rules make of the record: findings, how the band comes about, alternatives, what is not known."""

from __future__ import annotations

from evidence.model.base import say
from evidence.model.people import Binding, Resolution
from evidence.report.blocks import Block, Bullets, Column, Heading, Para, Row, Section, Table
from evidence.report.given import ReportInput
from evidence.report.pages.front import NOT_MEANT, absent
from evidence.report.tables import records
from evidence.report.words import first_up, joined, labels, ratio, sentence, when
from evidence.rules.assessment import AlternativeResult, Candidate, FindingResult

_FINDING = (
    Column("", 0.5), Column("What must be shown", 3.2), Column("Answer", 1.25), Column("Carried by", 1.7),
    Column("Why, and what comes near", 3.1), Column("If true / if not", 1.3),
)  # fmt: skip


def findings(given: ReportInput) -> Section:
    """One part for each candidate."""
    assessment = given.assessment
    if not assessment.candidates:
        text = "No mechanism of the installed rules is called up by the recorded work and complaint."
        return Section("Findings", (Para(text), *_not_called(given)), new_page=True)
    blocks: list[Block] = [
        Para("Each finding is answered by the record alone: met, not met, undecided (the limit lies within the "
             "uncertainty), not measured, or not applicable for a stated reason. The absence of a record is never taken "
             "as evidence.", tone="small")
    ]  # fmt: skip
    for candidate in assessment.candidates:
        blocks += _candidate(candidate)
    blocks += _scale(given)
    blocks += _not_called(given)
    blocks += _words_of_persons(given)
    return Section("Findings", tuple(blocks), new_page=True)


def _candidate(candidate: Candidate) -> list[Block]:
    blocks: list[Block] = [Heading(f"{candidate.title}: {candidate.weight.band}")]
    blocks.append(Para(sentence(candidate.conclusion), tone="lead"))
    why = "; ".join(joined([p.text, f"({', '.join(p.records)})" if p.records else None], " ") for p in candidate.why)
    blocks.append(Para(sentence(why) or "Not stated.", head="Why it was examined."))
    if candidate.departure:
        blocks.append(Para(sentence(candidate.departure), head="The departure in question."))
    if candidate.chain:
        blocks.append(Para(sentence(" → ".join(candidate.chain)), head="The chain from departure to damage."))
    blocks.append(Table(_FINDING, tuple(_row(f) for f in candidate.findings)))
    if candidate.common:
        blocks.append(Heading("Asked of every explanation"))
        blocks.append(Table(_FINDING, tuple(_row(f) for f in candidate.common)))
    blocks += _weight(candidate)
    return blocks


def _row(finding: FindingResult) -> Row:
    why = [sentence(r) for r in finding.reasons]
    why += [f"{n.record} comes near: {n.why}." for n in finding.near[:4]]
    why += [joined([sentence(p.text), f"({', '.join(p.records)})" if p.records else None], " ") for p in finding.word]
    if finding.low_answer != finding.answer:
        why.append(f"Without what rests on a person's word alone: {finding.low_answer}.")
    marks = ["counts in its limb" if finding.weighs else None, "as found" if finding.undisturbed else None]
    answer = joined([first_up(finding.answer), finding.coverage, *marks], "\n")
    branch = f" (only under: {finding.branch})" if finding.branch else ""
    return Row(
        (
            finding.id,
            f"{first_up(finding.limb_words)}: {finding.statement}{branch}",
            answer,
            ", ".join(finding.records) or "–",
            "\n".join(why),
            f"{finding.if_true} / {finding.if_not}\n{ratio(finding.ratio) if finding.ratio is not None else 'no ratio'}",
        )
    )


def _weight(candidate: Candidate) -> list[Block]:
    weight = candidate.weight
    rows = [
        Row((first_up(w.words), joined([w.present, ratio(w.present_ratio) if w.present else None], ": ") or "nothing met",
             joined([w.absent, ratio(w.absent_ratio) if w.absent else None], ": ") or "nothing absent", ratio(w.product)))
        for w in weight.limbs
    ]  # fmt: skip
    rows.append(Row(("Together" + (", capped" if weight.capped else ""), "", "", weight.printed), strong=True))
    columns = (
        Column("Limb", 2),
        Column("Strongest present", 2),
        Column("Worst absent", 2),
        Column("Ratio", 1, "right"),
    )
    blocks: list[Block] = [Heading("How the band comes about"), Table(columns, tuple(rows))]
    words = f"The ratio alone would read: {weight.scale_words}."
    if weight.low_printed != weight.printed:
        words += f" Without what rests on a person's word alone: {weight.low_printed}, {weight.low_band}."
    blocks.append(Para(f"{words} {sentence(weight.statement)} {NOT_MEANT}"))
    if candidate.ceilings:
        limits = (Column("Ceiling", 5), Column("Holds at", 1.6), Column("Binding here", 1.2))
        blocks.append(
            Table(
                limits, tuple(Row((sentence(c.reason), c.at, "yes" if c.holds else "no")) for c in candidate.ceilings)
            )
        )
    return blocks


def _scale(given: ReportInput) -> list[Block]:
    assessment = given.assessment
    blocks: list[Block] = [Heading("The table of words, and the grades")]
    blocks.append(Table((Column("Ratio", 1), Column("Words", 3)), tuple(Row(pair) for pair in assessment.scale)))
    grades = "; ".join(f"{grade} {number}" for grade, number in assessment.grades)
    blocks.append(
        Para(f"Grades and their working numbers: {grades}. They are judgements written down beforehand, so that two people "
             "reach the same result from the same record. They are not measured frequencies." , tone="small")
    )  # fmt: skip
    if assessment.notes:
        blocks.append(Bullets(tuple(assessment.notes)))
    packs = "; ".join(f"{p.title} ({p.id}, version {p.version}, {p.mechanisms} mechanisms)" for p in assessment.packs)
    blocks.append(Para(packs or "none", head="Rules used.", tone="small"))
    sources = list(dict.fromkeys(s for c in assessment.candidates for s in c.sources))
    if sources:
        columns = (Column("Source", 1), Column("What it is", 4.5), Column("Status", 1.4))
        blocks.append(Table(columns, tuple(Row(s) for s in sources)))
    return blocks


def _not_called(given: ReportInput) -> list[Block]:
    points = given.assessment.not_called
    if not points:
        return []
    said = tuple(joined([p.text, f"({', '.join(p.records)})" if p.records else None], " ") for p in points)
    return [Heading("Work that no installed rule speaks of"), Bullets(said)]


def _words_of_persons(given: ReportInput) -> list[Block]:
    dossier = given.dossier
    blocks = records(
        dossier,
        Binding,
        [
            (Column("Says", 3), lambda r: f"{dossier.label(r.value.record)} "
                f"{'answers' if r.value.binds else 'does not answer'} {say(r.value.mechanism)}, {r.value.finding}"),
            (Column("Reason", 3), lambda r: r.value.reason),
            (Column("By", 1.5), lambda r: dossier.party(r.value.by)),
            (Column("When", 1.8), lambda r: when(r.value.time)),
        ],
        heading="Records bound to findings by a person's word",
    )  # fmt: skip
    blocks += records(
        dossier,
        Resolution,
        [
            (Column("Settles", 2.4), lambda r: joined(
                [first_up(r.value.about), say(r.value.mechanism), r.value.finding or r.value.alternative], ", ")),
            (Column("Written answer", 3.2), lambda r: r.value.text),
            (Column("Records", 1.4), lambda r: labels(dossier, r.value.records) or "none"),
            (Column("By", 1.5), lambda r: dossier.party(r.value.by)),
            (Column("When", 1.8), lambda r: when(r.value.time)),
        ],
        heading="Written answers of a person",
    )  # fmt: skip
    return list(blocks)


def alternatives(given: ReportInput) -> Section:
    """Every other explanation, its status and by what."""
    blocks: list[Block] = []
    columns = (
        Column("", 0.5), Column("The other explanation", 3), Column("Status", 1.2), Column("By", 1.9),
        Column("Why, and what would settle it", 3.6),
    )  # fmt: skip
    for candidate in given.assessment.candidates:
        blocks.append(Heading(f"Against: {candidate.title}"))
        if candidate.alternatives:
            blocks.append(Table(columns, tuple(_alternative(a) for a in candidate.alternatives)))
        else:
            blocks.append(Para("The entry names no alternative.", tone="muted"))
    if not blocks:
        blocks.append(Para("Nothing was examined, so there is nothing to set an alternative against.", tone="muted"))
    return Section("Alternatives considered", tuple(blocks))


def _alternative(other: AlternativeResult) -> Row:
    why = [sentence(r) for r in other.reasons]
    if other.status in ("open", "less supported"):
        needs = "; ".join(other.needs) or other.test
        why.append(f"Would be settled by: {needs}." if needs else "")
    if other.resolved:
        why.append(f"Written answer: {sentence(other.resolved)}")
    guarded = "\nholds the band until excluded" if other.guarded and other.status != "excluded" else ""
    return Row(
        (
            other.id,
            f"{first_up(other.kind_words)}: {other.claim}",
            first_up(other.status) + guarded,
            joined([", ".join(other.by), ", ".join(other.records)], "\n") or "–",
            "\n".join(w for w in why if w),
        )
    )


def unknowns(given: ReportInput) -> Section:
    """Gaps, contradictions, missing elements, and what to capture next."""
    blocks: list[Block] = []
    for candidate in given.assessment.candidates:
        blocks += _unknown(candidate, single=len(given.assessment.candidates) == 1)
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
        shown = "; ".join(
            joined([p.text, f"({', '.join(p.records)})" if p.records else None], " ") for p in element.shown
        )
        rows.append(Row((first_up(element.name), "complete" if element.complete else "not complete", shown or "nothing yet",
                         "\n".join(element.missing) or "nothing")))  # fmt: skip
    if rows:
        blocks.append(
            Table((Column("Element", 1.2), Column("State", 1), Column("Shown", 3), Column("Missing", 3)), tuple(rows))
        )
    open_ = [f for f in (*candidate.findings, *candidate.common) if f.answer in ("undecided", "not measured")]
    if open_:
        blocks.append(Heading("Undecided or not measured"))
        blocks.append(Bullets(tuple(f"{f.id}, {f.answer}: {f.statement}" for f in open_)))
    if candidate.contradictions:
        blocks.append(Heading("Contradictions"))
        blocks.append(Bullets(tuple(
            joined([sentence(c.text), f"({', '.join(c.records)})" if c.records else None,
                    f"Written answer: {sentence(c.resolved)}" if c.resolved else "Not resolved."], " ")
            for c in candidate.contradictions)))  # fmt: skip
    if candidate.plan:
        blocks.append(Heading("What to capture next"))
        columns = (Column("", 0.4, "right"), Column("Step", 3.2), Column("How", 2.8), Column("Takes care of", 2.6))
        blocks.append(Table(columns, tuple(
            Row((str(p.place), joined([p.what, "before anything is touched" if p.undisturbed else None,
                                       "alters the state" if p.alters else None, "can be done only once" if p.one_shot else None,
                                       p.waiting], "\n"),
                 p.how, joined([", ".join(p.findings), *p.separates, p.settles], "\n")))
            for p in candidate.plan)))  # fmt: skip
    return blocks
