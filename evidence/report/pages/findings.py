"""What the rules make of the record: findings, how the band comes about, alternatives, what is not known."""

from __future__ import annotations

from evidence.model.kinds import enumerated
from evidence.model.people import Binding, Resolution
from evidence.report.blocks import Block, Bullets, Column, Heading, Para, Row, Section, Table
from evidence.report.figures import ratio
from evidence.report.gathering import gathered, gathered_near, unnamed
from evidence.report.given import ReportInput
from evidence.report.pages.weight import scale, weighing
from evidence.report.phrasing import (
    asked_about,
    capital,
    first_up,
    joined,
    sentence,
    some,
    to_capture,
    to_owner,
)
from evidence.report.tables import records
from evidence.report.words import labels, when
from evidence.rules.assessment import AlternativeResult, Candidate, FindingResult, Point

_FINDING = (
    Column("", 0.45), Column("What must be shown", 3.2), Column("Answer", 1.45), Column("Carried by, why, and what comes near", 4.0),
    Column("Ratio", 0.7, "right"),
)  # fmt: skip
_MOST_REASONS, _MOST_NEAR, _MOST_STEPS, _NAME_LONG = 8, 3, 3, 110
SHORT_FORM = (
    "Printed in short, because nothing on record supports it. Its full table of findings and alternatives is in "
    "evidence assess --json and is computed from the same record."
)


def findings(given: ReportInput) -> Section:
    """One part for each candidate."""
    assessment = given.assessment
    if not assessment.candidates:
        text = "No mechanism of the installed rules is called up by the recorded work and complaint."
        return Section("Findings", (Para(text), *_not_called(given)), new_page=True)
    blocks: list[Block] = [
        Para("Each finding is answered by the record alone: met, not met, undecided (the limit lies within the "
             "uncertainty), not measured, or not applicable for a stated reason. The absence of a record is never taken "
             "as evidence. “As found” was read before anything was touched; “weighs” is the one that counts for its limb. A ratio "
             "is an interval where a grade is one; its low end counts.",
             tone="small")
    ]  # fmt: skip
    leading = assessment.candidates[0]
    for candidate in assessment.candidates:
        blocks += _candidate(candidate, leading) if in_full(candidate, leading) else _in_short(candidate)
    blocks += scale(given)
    blocks += _not_called(given)
    blocks += _words_of_persons(given)
    return Section("Findings", tuple(blocks), new_page=True)


def in_full(candidate: Candidate, leading: Candidate) -> bool:
    """The leading explanation, and every other that is supported or held up by a supported alternative."""
    return candidate is leading or candidate.weight.side in ("mechanism", "none")


def _in_short(candidate: Candidate) -> list[Block]:
    """An explanation without support: that it was examined, with what result, and what would settle it."""
    against = [sentence(f.statement) for f in candidate.findings if f.answer == "not met"]
    steps = [to_capture(s) for s in candidate.deciding[:_MOST_STEPS]]
    blocks: list[Block] = [
        Heading(f"{candidate.title}: {candidate.weight.band}"),
        Para(" ".join(map(said, candidate.why)) or "Not stated.", head="Why it was examined."),
        Para(sentence(to_owner(candidate.conclusion, candidate, _NAME_LONG)), head="Conclusion."),
    ]
    if against:
        blocks.append(Para(" ".join(some(against, _MOST_STEPS)), head="Looked for and not there."))
    if steps:
        blocks.append(Para(" ".join(f"({n}) {step}" for n, step in enumerate(steps, 1)), head="What would settle it."))
    blocks.append(Para(SHORT_FORM, tone="small"))
    return blocks


def _candidate(candidate: Candidate, leading: Candidate) -> list[Block]:
    blocks: list[Block] = [Heading(f"{candidate.title}: {candidate.weight.band}")]
    blocks.append(Para(sentence(to_owner(candidate.conclusion, candidate, _NAME_LONG))))
    blocks.append(Para(" ".join(map(said, candidate.why)) or "Not stated.", head="Why it was examined."))
    if candidate.departure:
        blocks.append(Para(sentence(candidate.departure), head="The departure in question."))
    if candidate.chain:
        blocks.append(Para(sentence(" → ".join(candidate.chain)), head="The chain from departure to damage."))
    if candidate.order.sentence:
        blocks.append(Para(sentence(candidate.order.sentence), head="Order in time."))
    blocks.append(Table(_FINDING, tuple(_row(f, candidate) for f in candidate.findings)))
    common = [_row(f, candidate) for f in candidate.common]
    if candidate is not leading:
        known = {_row(f, leading) for f in leading.common}
        common = [row for row in common if row not in known]
    if common:
        differs = "" if candidate is leading else ", where the answer differs from the first"
        blocks.append(Heading(f"Asked of every explanation{differs}"))
        blocks.append(Table(_FINDING, tuple(common)))
    return blocks + weighing(candidate)


def _row(finding: FindingResult, candidate: Candidate) -> Row:
    others = unnamed(finding.records, finding.reasons)
    why = [capital(enumerated(others)) + "."] if others else []
    why += some([sentence(to_owner(r, candidate)) for r in gathered(finding.reasons)], _MOST_REASONS)
    why += some(gathered_near(finding.near), _MOST_NEAR)
    why += map(said, finding.word)
    if finding.low_answer != finding.answer:
        why.append(f"Without what rests on a person's word alone: {finding.low_answer}.")
    marks = ["as found" if finding.undisturbed else None, "weighs" if finding.weighs else None]
    branch = f" Only under: {finding.branch}." if finding.branch else ""
    grades = f"Expected if true: {finding.if_true}; if not: {finding.if_not}."
    if not finding.separates:
        grades += " It separates nothing: it is to be expected alike either way."
    return Row(
        (
            finding.id,
            f"{first_up(finding.limb_words)}: {sentence(finding.statement)}{branch}\n{grades}",
            joined([first_up(finding.answer), finding.coverage, *marks], "\n"),
            "\n".join(why) or "–",
            _weighs(finding),
        ),
        faded=not finding.separates,
    )


def _weighs(finding: FindingResult) -> str:
    """The low end, which counts, above the rest of the interval."""
    if finding.ratio_low is None or finding.ratio_low == finding.ratio_high:
        return ratio(finding.ratio_low)
    return f"{ratio(finding.ratio_low)}\nto {ratio(finding.ratio_high)}"


def said(point: Point) -> str:
    """A point with the records that carry it."""
    return joined([sentence(point.text), f"({enumerated(point.records)})" if point.records else None], " ")


def _not_called(given: ReportInput) -> list[Block]:
    points = given.assessment.not_called
    if not points:
        return []
    return [Heading("Work that no installed rule speaks of"), Bullets(tuple(map(said, points)))]


def _words_of_persons(given: ReportInput) -> list[Block]:
    dossier = given.dossier
    blocks = records(
        dossier,
        Binding,
        [
            (Column("Says", 3.6), lambda r: f"{dossier.label(r.value.record)} "
                f"{'answers' if r.value.binds else 'does not answer'} {asked_about(given.assessment, r.value.mechanism, r.value.finding)}"),
            (Column("Reason", 3), lambda r: r.value.reason),
            (Column("By", 1.5), lambda r: dossier.party(r.value.by)),
            (Column("When", 1.8), lambda r: when(dossier, r.value.time)),
        ],
        heading="Records bound to findings by a person's word",
    )  # fmt: skip
    blocks += records(
        dossier,
        Resolution,
        [
            (Column("Settles", 3.2), lambda r: joined(
                [first_up(r.value.about), asked_about(given.assessment, r.value.mechanism, r.value.finding or r.value.alternative)], ", ")),
            (Column("Written answer", 3.6), lambda r: r.value.text),
            (Column("Records", 1.7), lambda r: labels(dossier, r.value.records) or "none"),
            (Column("By", 1.3), lambda r: dossier.party(r.value.by)),
            (Column("When", 1.4), lambda r: when(dossier, r.value.time)),
        ],
        heading="Written answers of a person",
    )  # fmt: skip
    return list(blocks)


def alternatives(given: ReportInput) -> Section:
    """Every other explanation, its status and by what."""
    blocks: list[Block] = []
    columns = (
        Column("", 0.45), Column("The other explanation", 2.8), Column("Status", 1.75),
        Column("By what, why, and what would settle it", 4.8),
    )  # fmt: skip
    candidates = given.assessment.candidates
    for candidate in (c for c in candidates if in_full(c, candidates[0])):
        blocks.append(Heading(f"Against: {candidate.title}"))
        if candidate.alternatives:
            blocks.append(Table(columns, tuple(_alternative(a, candidate) for a in candidate.alternatives)))
        else:
            blocks.append(Para("The entry names no alternative.", tone="muted"))
    if not blocks:
        blocks.append(Para("Nothing was examined, so there is nothing to set an alternative against.", tone="muted"))
    return Section("Alternatives considered", tuple(blocks))


def _alternative(other: AlternativeResult, candidate: Candidate) -> Row:
    settled = [
        ", ".join(to_owner(by, candidate) for by in other.by).replace("own test", "its own test"),
        enumerated(unnamed(other.records, other.reasons)),
    ]
    by = joined(settled)
    why = [f"By {by}."] if by else []
    why += some([sentence(to_owner(r, candidate)) for r in gathered(other.reasons)], _MOST_REASONS)
    needs = to_owner("; ".join(other.needs) or other.test, candidate)
    if other.status in ("open", "less supported") and needs:
        why.append(f"Would be settled by: {needs.rstrip('.')}.")
    if other.resolved:
        why.append(f"Written answer: {sentence(other.resolved)}")
    guarded = ", holds the band" if other.guarded and other.status != "excluded" else ""
    return Row(
        (
            other.id,
            f"{first_up(other.kind_words)}: {other.claim}",
            first_up(other.status) + guarded,
            "\n".join(why) or "–",
        )
    )
