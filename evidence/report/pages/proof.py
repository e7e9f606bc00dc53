"""Corrections to the record, cautions, and the declaration to sign."""

from __future__ import annotations

from evidence.model.base import say
from evidence.model.dossier import Version
from evidence.report.blocks import Block, Bullets, Column, Heading, Para, Row, Section, Signature, Table
from evidence.report.given import ReportInput
from evidence.report.phrasing import sentence
from evidence.report.words import moment

_ACTIONS = {"amend": "amended", "withdraw": "withdrawn"}


def corrections(given: ReportInput) -> Section:
    """Every amendment and withdrawal with its reason. Nothing is overwritten."""
    rows = []
    for recorded in given.dossier.by_subject.values():
        for before, after in zip(recorded.versions, recorded.versions[1:], strict=False):
            rows.append(
                (after.seq, Row((recorded.label, _ACTIONS.get(after.action, after.action), sentence(after.reason) or "no reason given",
                                 _changed(before, after), f"{moment(after.recorded_at)}, {given.dossier.party(after.recorded_by)}")))
            )  # fmt: skip
    if not rows:
        return Section("Corrections to the record", (Para("No record was amended or withdrawn.", tone="muted"),))
    columns = (
        Column("Record", 1.5),
        Column("", 1.1),
        Column("Reason", 3.4),
        Column("Changed", 2),
        Column("When, by whom", 2.2),
    )
    return Section(
        "Corrections to the record", (Table(columns, tuple(row for _, row in sorted(rows, key=lambda r: r[0]))),)
    )


def _changed(before: Version, after: Version) -> str:
    if after.action == "withdraw":
        return "answers nothing any more"
    names = [n for n in {**before.body, **after.body} if before.body.get(n) != after.body.get(n)]
    return ", ".join(map(say, names)) or "nothing that is stated"


def cautions(given: ReportInput) -> Section:
    """Safety, law, and what the words of this report are."""
    blocks: list[Block] = []
    said = list(dict.fromkeys(text for c in given.assessment.candidates for _, text in c.cautions if text))
    said += [
        t for t in dict.fromkeys(c.safety_note for c in given.assessment.candidates if c.safety_note) if t not in said
    ]
    if said:
        blocks += [Heading("Before any of the tests named here is done"), Bullets(tuple(map(sentence, said)))]
    blocks.append(
        Para("The maker's procedure for this vehicle, local codes and the limits of licensed practice come first. Fuel, high voltage, "
             "restraint systems, hot and lifted parts can kill; work on them belongs to those who are trained and allowed.")
    )  # fmt: skip
    blocks.append(
        Bullets(
            (
                "This report gives no legal advice. Ask a lawyer which rules of evidence, notice periods and limitation dates apply.",
                "It says which known mechanism fits what was recorded, and how well. It never says who is liable.",
                (
                    "Grades are judgements set down in the rule packs, not measured frequencies. Another grade gives another ratio; the "
                    "table of words and all grades used are printed under Findings."
                ),
                "“Not proven” is a full answer. What is not recorded was not counted for anybody.",
            )
        )
    )
    return Section("Cautions", tuple(blocks))


def declaration(given: ReportInput) -> Section:
    """Blank lines for the technician. The program signs nothing."""
    text = (
        "I have read this report. The observations and measurements named as mine were made by me, with the instruments and under the "
        "conditions stated. The captions of my photographs say what the photographs show. Where I state an opinion, it is my own and "
        "rests on the records named beside it. My interest in the result is stated under Vehicle and parties."
    )
    names = ("Name in block letters", "Qualification and registration", "Firm", "Place and date", "Signature")
    return Section(
        "Declaration of the technician",
        (
            Para(text),
            Para("Not signed until completed by hand or by a signature in the file. Choose the closing form that the law "
                 "of the place asks for.", tone="small"),
            Signature(names),
            Para(f"Root hash of the ledger that this declaration speaks of: {given.integrity.root_hex}", tone="small"),
        ),
        new_page=True,
    )  # fmt: skip
