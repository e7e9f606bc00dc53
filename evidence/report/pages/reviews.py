"""Marks of a reviewer and answers to them, as the record holds them."""

from __future__ import annotations

from evidence.model.base import say
from evidence.model.reviewing import ReviewAnswer, ReviewMark
from evidence.report.blocks import Block, Column, Section
from evidence.report.given import ReportInput
from evidence.report.phrasing import first_up, joined, names_of
from evidence.report.tables import records
from evidence.report.words import labels, when


def reviews(given: ReportInput) -> Section | None:
    """What a reviewer marked and what was answered; nothing where nobody reviewed."""
    dossier = given.dossier
    blocks: tuple[Block, ...] = records(
        dossier,
        ReviewMark,
        [
            (Column("By, when", 2), lambda r: joined([dossier.party(r.value.by), when(dossier, r.value.time)], "\n")),
            (Column("On", 2.4), lambda r: _on(given, r.value)),
            (Column("Mark", 1.3), lambda r: first_up(r.value.mark)),
            (Column("Question or reason", 3.4), lambda r: joined(
                [r.value.text, labels(dossier, (*r.value.records, *r.value.exhibits))], "\n")),
        ],
        heading="Marks of the review",
    )  # fmt: skip
    blocks += records(
        dossier,
        ReviewAnswer,
        [
            (Column("By, when", 2), lambda r: joined([dossier.party(r.value.by), when(dossier, r.value.time)], "\n")),
            (Column("To", 2.6), lambda r: f"Mark {r.value.mark} of the review {r.value.review}"),
            (Column("Answer", 3.6), lambda r: r.value.text),
            (Column("Borne out by", 1.8), lambda r: labels(dossier, (*r.value.records, *r.value.exhibits))),
        ],
        heading="Answers to a review",
    )  # fmt: skip
    return Section("Review", blocks) if blocks else None


def _on(given: ReportInput, mark: ReviewMark) -> str:
    """What a mark is on, in words; the number of a finding means nothing to a reader."""
    if mark.on in ("record", "element"):
        return f"{first_up(mark.on)}: {mark.name_of}" + (f"\n{say(mark.mechanism)}" if mark.mechanism else "")
    candidate = next((c for c in given.assessment.candidates if c.mechanism == mark.mechanism), None)
    title = candidate.title if candidate else say(mark.mechanism or "")
    if mark.on == "conclusion":
        return f"Conclusion\n{title}"
    name = mark.name_of or ""
    said = names_of(candidate).get(name, "") if candidate else ""
    return f"{first_up(mark.on)}: {said or name}\n{title}"
