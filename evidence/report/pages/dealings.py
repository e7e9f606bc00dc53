"""What people said, agreed and wrote."""

from __future__ import annotations

from evidence.model.base import say
from evidence.model.dossier import Dossier, Recorded
from evidence.model.people import (
    CallNote,
    Consent,
    Correspondence,
    Opinion,
    Outcome,
    OwnerDeclaration,
    Statement,
)
from evidence.report.blocks import Block, Column, Heading, Para, Row, Section, Table
from evidence.report.given import ReportInput
from evidence.report.phrasing import first_up, joined, or_not_stated
from evidence.report.tables import records
from evidence.report.words import labels, parts, title, when


def statements(given: ReportInput) -> Section:
    """Calls, consents, the owner's declaration, letters, opinions, outcomes."""
    dossier = given.dossier
    blocks: list[Block] = []
    blocks += records(
        dossier,
        CallNote,
        [
            (Column("Caller, taken by", 1.8), lambda r: joined([dossier.party(r.value.caller), dossier.party(r.value.taken_by)], "\n")),
            (Column("When", 1.8), lambda r: when(dossier, r.value.time)),
            (Column("In the caller's words", 3.4), lambda r: f"“{r.value.words}”"),
            (Column("Last work, attempts, advice", 3), lambda r: joined(
                [f"last work: {or_not_stated(r.value.last_work)}", f"attempts: {or_not_stated(r.value.attempts)}",
                 f"advice given: {or_not_stated(r.value.advice_given)}", labels(dossier, r.value.exhibits)], "\n")),
        ],
        heading="Calls",
        none="No call note recorded.",
    )  # fmt: skip
    blocks += records(
        dossier,
        Consent,
        [
            (Column("To what", 2), lambda r: first_up(r.value.to)),
            (Column("Given", 1.8), lambda r: joined(["allowed" if r.value.granted else "refused",
                f"up to {r.value.limit.words()}" if r.value.limit else None])),
            (Column("By, to", 2), lambda r: joined([dossier.party(r.value.given_by), dossier.party(r.value.given_to)], "\n")),
            (Column("How, when", 2.2), lambda r: joined([say(r.value.channel), when(dossier, r.value.time)], "\n")),
            (Column("Scope, exhibits", 2.2), lambda r: joined([r.value.scope, labels(dossier, r.value.exhibits)], "\n")),
        ],
        heading="Consents",
        none="No consent recorded: neither to diagnose nor to do altering tests nor to share.",
    )  # fmt: skip
    declarations = dossier.all_of(OwnerDeclaration)
    blocks.append(Heading("The owner's declaration"))
    if not declarations:
        blocks.append(Para("None recorded. What the owner did or had done is not known from him.", tone="muted"))
    for declaration in declarations:
        blocks += _declaration(given, declaration)
    blocks += records(
        dossier,
        Correspondence,
        [
            (Column("About", 1.35), lambda r: first_up(r.value.about)),
            (Column("From, to", 2), lambda r: f"{dossier.party(r.value.sender)}\n{dossier.party(r.value.receiver)}"),
            (Column("Sent, received, by", 2.4), lambda r: joined([f"sent {when(dossier, r.value.sent)}",
                f"received {when(dossier, r.value.received)}", f"by {say(r.value.channel)}"], "\n")),
            (Column("Text", 2.7), lambda r: r.value.text or ""),
            (Column("Answers, exhibits", 1.9), lambda r: joined(
                [labels(dossier, [r.value.answers]), labels(dossier, r.value.exhibits)], "\n")),
        ],
        heading="Letters and messages",
        none="None recorded: no notice to the prior repairer and no offer to inspect.",
    )  # fmt: skip
    blocks += _opinions_and_outcomes(given)
    return Section("Calls, consents, statements and letters", tuple(blocks))


def _declaration(given: ReportInput, declaration: Recorded[OwnerDeclaration]) -> list[Block]:
    dossier, d = given.dossier, declaration.value
    how = joined([
        f"given by {dossier.party(d.given_by)}", f"taken by {dossier.party(d.taken_by)}", when(dossier, d.time),
        "before the findings were shown" if d.before_findings_shown else "after findings were shown",
        "signed" if d.signed else "not signed", labels(dossier, d.exhibits)], ", ")  # fmt: skip
    rows = [
        Row(
            (title(declaration), "How it was taken", how, d.text or ""),
            key=declaration.label,
            faded=declaration.withdrawn,
        )
    ]
    rows += [_statement(dossier, s, faded=declaration.withdrawn) for s in d.statements]
    return [Table((Column("No.", 1.35), Column("Topic", 1.5), Column("Answer", 2.4), Column("Text", 4)), tuple(rows))]


def _statement(dossier: Dossier, s: Statement, *, faded: bool) -> Row:
    answer = {"none": "none", "some": "yes", "unknown": "does not know"}[s.answer]
    return Row(
        (
            "",
            first_up(s.topic),
            joined([answer, parts(s.components), when(dossier, s.time) if s.time else None]),
            s.text or "",
        ),
        faded=faded,
    )


def _opinions_and_outcomes(given: ReportInput) -> list[Block]:
    dossier = given.dossier
    blocks = records(
        dossier,
        Opinion,
        [
            (Column("By, when", 1.3), lambda r: joined([dossier.party(r.value.by), when(dossier, r.value.time)], "\n")),
            (Column("Opinion", 4.4), lambda r: joined([r.value.text, f"Limits: {or_not_stated(r.value.limits)}"], "\n")),
            (Column("On what basis", 1.9), lambda r: labels(dossier, (*r.value.basis, *r.value.exhibits))),
            (Column("Qualification, interest, second reader", 2.2), lambda r: joined(
                [r.value.qualification, f"interest: {r.value.interest}", f"second reader: {dossier.party(r.value.second_reader)}"], "\n")),
        ],
        heading="Opinions",
        none="No opinion recorded. The findings stand by themselves.",
    )  # fmt: skip
    blocks += records(
        dossier,
        Outcome,
        [
            (Column("Result", 1.8), lambda r: joined([first_up(r.value.result), r.value.amount and r.value.amount.words()], ", ")),
            (Column("When", 2), lambda r: when(dossier, r.value.time)),
            (Column("By", 1.8), lambda r: dossier.party(r.value.by)),
            (Column("Reasons, exhibits", 4), lambda r: joined([or_not_stated(r.value.reasons), labels(dossier, r.value.exhibits)], "\n")),
        ],
        heading="Outcomes",
        none="No outcome recorded.",
    )  # fmt: skip
    return list(blocks)
