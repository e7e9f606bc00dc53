"""The report of a review: what was received, how it was checked, every mark with its question and answer, what changed since.

Made of the same blocks as the report of a dossier, and printed by the same printer.
"""

from __future__ import annotations

from collections.abc import Mapping

from evidence.model.base import shorten
from evidence.model.dossier import Dossier
from evidence.model.kinds import enumerated
from evidence.model.people import Party
from evidence.report.blocks import Block, Bullets, Column, Cover, Heading, Para, Report, Row, Section, Signature, Table
from evidence.report.given import ReportInput
from evidence.report.pages.front import DEMONSTRATION
from evidence.report.phrasing import capital, first_up, joined, sentence, without_numbers
from evidence.report.words import moment
from evidence.review.compare import CandidateChange, Comparison, RecordChange
from evidence.review.exchange import Answered, Line, Marked, Part, Presented, Sheet

_LEDGER_KINDS = (
    "dossier",
    "party",
    "review_mark",
)  # of the review itself; everything else is the reviewer's own evidence
_MARKS = ("accepted", "questioned", "rejected")
MEANING = (
    "A mark says what this reviewer makes of one finding, explanation, element or record: accepted, questioned, or rejected with "
    "the reason. It decides nothing about liability, cover or payment, and nothing here is legal advice."
)


def review_outline(given: ReportInput, review: Presented) -> Report:
    """The whole report as values; ``given.dossier`` is the review's own ledger."""
    sheet = review.sheet
    parts = (
        _received(given, review), _waiting(sheet), _answered(sheet), *_parts(sheet), _own_records(given.dossier),
        _differences(review.compared), _unmarked(sheet), _closing(given.dossier),
    )  # fmt: skip
    party = _reviewer(given.dossier)
    return Report(
        cover=_cover(given, review), sections=tuple(p for p in parts if p), keys=frozenset(),
        author=party.firm or party.full_name, at=given.at,
    )  # fmt: skip


def _reviewer(review: Dossier) -> Party:
    return next(p.value for p in review.of(Party))


def _cover(given: ReportInput, review: Presented) -> Cover:
    party, sheet = _reviewer(given.dossier), review.sheet
    facts = [
        ("Reviewer", joined([party.full_name, party.firm, party.qualification], ", ")),
        ("Dossier under review", review.of.title),
        ("Received", f"{review.of.entries} entries"),
        *((first_up(word), _counted(sheet.count(word))) for word in _MARKS),
        ("Waiting for an answer", _counted(len(sheet.waiting()))),
        ("Report date", moment(given.at)),
    ]  # fmt: skip
    return Cover(
        kicker="Review of a technical dossier", title=review.of.title,
        subtitle="What was accepted, questioned and rejected, and what was answered", facts=tuple(facts),
        mark=DEMONSTRATION if given.dossier.opening.demonstration else "",
    )  # fmt: skip


def _counted(number: int) -> str:
    return "none" if not number else f"{number} point" if number == 1 else f"{number} points"


def _received(given: ReportInput, review: Presented) -> Section:
    of = review.of
    rows = (
        ("File", review.bundle_name), ("SHA-256 of the file", review.bundle_sha256),
        ("Ledger", f"evidence-ledger/{of.ledger}"), ("Entries", str(of.entries)), ("Root", of.root),
        ("Signed by the key", of.signer or "not signed"), ("This review", f"evidence-ledger/{given.dossier.ledger}"),
        ("Its entries", str(given.dossier.size)), ("Its root", given.integrity.root_base64),
    )  # fmt: skip
    verdict, *lines = of.verified.split("\n")
    blocks: list[Block] = [Para(sentence(verdict), head="Verdict.")]
    for head in ("Shown", "Asserted only", "Missing"):
        told = [line.removeprefix(f"{head}: ") for line in lines if line.startswith(f"{head}: ")]
        blocks += [Para("", head=f"{head}."), Bullets(tuple(map(sentence, told)))] if told else []
    table = Table((Column("", 1.6), Column("", 6.2, mono=True)), tuple(Row((name, value)) for name, value in rows))
    return Section("What was received, and how it was checked", (table, *blocks))


def _waiting(sheet: Sheet) -> Section:
    waiting = sheet.waiting()
    title = "Questions and rejections without an answer"
    if not waiting:
        asked = any(m.mark != "accepted" and not m.old for x in sheet.lines() for m in x.marks)
        text = "Every question and rejection has an answer." if asked else "Nothing was questioned or rejected."
        return Section(title, (Para(text),))
    columns = (Column("No.", 0.5), Column("On", 2.6), Column("Mark", 1.0), Column("Question or reason", 3.9))
    return Section(title, (Table(columns, tuple(_question(line, m) for line, m in waiting)),))


def _question(line: Line, mark: Marked) -> Row:
    return Row((str(mark.number), _on(line), first_up(mark.mark), joined([mark.text, _by(mark)], "\n")))


def _answered(sheet: Sheet) -> Section | None:
    found = [(line, m) for line in sheet.lines() for m in line.marks if m.answers]
    if not found:
        return None
    columns = (Column("No.", 0.5), Column("On", 2.2), Column("Question or reason", 2.6), Column("Answer", 2.9))
    rows = tuple(
        Row((str(m.number), _on(line), f"{first_up(m.mark)}: {m.text}", "\n".join(map(_answer, m.answers))))
        for line, m in sorted(found, key=lambda pair: pair[1].number)
    )  # fmt: skip
    return Section("Questions and rejections with their answers", (Table(columns, rows),))


def _answer(answer: Answered) -> str:
    shown = f" ({enumerated(answer.records)})" if answer.records else ""
    return f"{answer.text}{shown}\n{answer.label}, {answer.by}"


def _on(line: Line) -> str:
    """What a question is about, in words; a record by its label."""
    if line.key[0] == "conclusion":
        return f"The conclusion\n{line.state}"
    name = f"{capital(line.name)}: " if line.key[0] in ("record", "element") else ""
    return f"{name}{shorten(capital(line.statement), 140)}\n{line.state}"


def _by(mark: Marked) -> str:
    shown = f"; see {enumerated(mark.records)} of the review" if mark.records else ""
    return f"{mark.by}, {mark.time[:10]}, on {mark.entries} entries{shown}"


def _told(sheet: Sheet) -> tuple[Part, ...]:
    """The candidates that carry a mark, and always the first."""
    return tuple(p for n, p in enumerate(sheet.parts) if n == 0 or any(line.marks for line in p.lines))


def _parts(sheet: Sheet) -> list[Section]:
    """One section for each; titles short enough for the table of contents, the candidate's own stands below."""
    told = _told(sheet)
    many = sum(bool(p.mechanism) for p in told) > 1
    found = []
    for number, part in enumerate(told, 1):
        title = (
            "Marks on the explanation" + (f" {number}" if many else "") if part.mechanism else "Marks on single records"
        )
        found.append(_part(title, part))
    return found


def _part(title: str, part: Part) -> Section:
    names = {
        line.name: line.statement.partition(";")[0] for line in part.lines if line.key[0] in ("finding", "alternative")
    }
    columns = (Column("", 0.9), Column("What the dossier says", 3.6), Column("Answer", 1.3), Column("Mark", 2.6))
    blocks: list[Block] = [Para("", head=sentence(part.title), tone="lead")] if part.mechanism else []
    for on, heading in (
        ("conclusion", ""), ("finding", "Findings"), ("alternative", "Other explanations"), ("element", "Elements"),
        ("record", ""),
    ):  # fmt: skip
        lines = [line for line in part.lines if line.key[0] == on]
        if lines:
            blocks += [Heading(heading)] if heading else []
            blocks.append(Table(columns, tuple(_line(line, names) for line in lines)))
    return Section(title, tuple(blocks))


def _line(line: Line, names: Mapping[str, str]) -> Row:
    statement = without_numbers(line.statement, names) if line.key[0] == "conclusion" else line.statement
    said = joined([capital(statement), enumerated(line.records)], "\n")
    return Row((capital(line.name), said, first_up(line.state), _mark_cell(line)), strong=False)


def _mark_cell(line: Line) -> str:
    if not line.marks:
        return "–"
    newest, *older = line.marks
    told = [f"{first_up(newest.mark)} (mark {newest.number}){': ' + newest.text if newest.text else ''}"]
    told += [f"before: {m.mark} (mark {m.number})" for m in older]
    return "\n".join(told)


def _own_records(review: Dossier) -> Section | None:
    opening = next(r for r in review.by_subject.values() if r.kind == "dossier")
    bundles = {v.body.get("reviews", {}).get("bundle") for v in opening.versions}
    own = [
        r for r in review.by_subject.values()
        if r.kind not in _LEDGER_KINDS and r.subject not in bundles and not r.withdrawn
    ]  # fmt: skip
    if not own:
        return None
    rows = tuple(Row((r.label, r.value.summary()), key="") for r in own)
    return Section("The reviewer's own records", (Table((Column("No.", 1.6), Column("What", 6.4)), rows),))


def _differences(found: Comparison | None) -> Section | None:
    if found is None:
        return None
    title = f"What changed between {found.before} and {found.after} entries"
    if found.nothing:
        return Section(title, (Para("Nothing that is shown here."),))
    blocks: list[Block] = []
    for heading, changes in (
        ("Added", found.added), ("Amended", found.amended), ("Withdrawn", found.withdrawn),
        ("Shown before, withheld now", found.withheld), ("Withheld before, shown now", found.shown),
    ):  # fmt: skip
        if changes:
            rows = tuple(Row((c.label, change_words(c))) for c in changes)
            blocks += [Heading(heading), Table((Column("No.", 1.6), Column("What", 6.4)), rows)]
    if found.findings:
        blocks.append(Heading("What that did to the findings"))
        blocks += [block for c in found.findings for block in _moved(c)]
    return Section(title, tuple(blocks))


def _moved(change: CandidateChange) -> tuple[Block, ...]:
    return (Para("", head=f"{change.title}."), Bullets(tuple(capital(line) for line in change.lines)))


def change_words(change: RecordChange) -> str:
    """A changed record: what it is, what reads otherwise, and why."""
    told = [capital(change.summary)]
    told += [f"{capital(f.field)}: {f.was} → {f.now}" for f in change.fields]
    told += [f"Reason: {reason}" for reason in change.reasons]
    return "\n".join(told)


def _unmarked(sheet: Sheet) -> Section | None:
    silent = [p.title for p in sheet.parts[1:] if not any(line.marks for line in p.lines)]
    if not silent:
        return None
    text = "The dossier calls these up as well; the reviewer marked nothing of them."
    return Section("Explanations without a mark", (Para(text), Bullets(tuple(silent))))


def _closing(review: Dossier) -> Section:
    party = _reviewer(review)
    return Section("What this review says, and signature", (Para(MEANING), Signature((party.full_name,))))
