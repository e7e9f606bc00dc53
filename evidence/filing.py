"""Forms and filing sets of a dossier, gathered here from every adapter. Nothing is written to the ledger, nothing is sent."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from evidence.claim.course import course
from evidence.claim.due import due
from evidence.claim.loss.statement import loss_statement
from evidence.errors import EvidenceError
from evidence.model.exhibit import Exhibit
from evidence.ports import Desk, Progress
from evidence.usecases.publish import publication
from evidence.usecases.recheck import recheck
from evidence.usecases.standing import place_of

if TYPE_CHECKING:
    from evidence.report.papers.paper import PaperInput
    from evidence.report.papers.printing import Printed

SET = "set"


def write_form(desk: Desk, dossier: str, form: str, out: Path, progress: Progress, *, language: str = "en") -> Printed:
    """Write a form as PDF, or as plain text where ``out`` ends in .txt; ``set`` is the filing set.

    Raises ``EvidenceError`` for an unknown form or language.
    """
    from evidence.report.papers import paper, printing
    from evidence.report.papers.kinds import FORMS

    if form not in (*FORMS, SET):
        raise EvidenceError("there is no such form", item=form, advice=f"There are: {', '.join((*FORMS, SET))}.")
    if language not in paper.LANGUAGES:
        raise EvidenceError(
            "there is no paper in this language", item=language, advice=f"There are: {', '.join(paper.LANGUAGES)}."
        )
    as_text = out.suffix.lower() == ".txt"
    if as_text and form == SET:
        raise EvidenceError("a filing set is a PDF", item=str(out), advice="Let its name end in .pdf.")
    with tempfile.TemporaryDirectory(prefix="evidence-pages-") as folder:
        given = _input(desk, dossier, language, Path(folder), progress, checked=form == "certification")
        if form == SET:
            return printing.write_filing_set(given, out)
        made = FORMS[form].make(given)
        return printing.write_text(made, out) if as_text else printing.write_paper(given, made, out)


def _input(desk: Desk, dossier: str, language: str, folder: Path, progress: Progress, *, checked: bool) -> PaperInput:
    from evidence.capture.preview import make_page
    from evidence.publishing import versions
    from evidence.report.papers.paper import PaperInput

    found = publication(desk, dossier)
    held = found.dossier
    place = place_of(desk, held)
    files = [(e.value.file.sha256, e.value.read) for e in held.of(Exhibit) if e.value.file and e.value.read]
    present = [(digest, read) for digest, read in files if Path(desk.originals.path(digest)).is_file()]
    desk.previews.make(present, progress, "print")

    def preview(digest: str) -> Path | None:
        made = desk.previews.path(digest, "print")
        return Path(made) if made else None

    def page(digest: str, number: int) -> Path | str:
        out = folder / f"{digest[:32]}-{number}.jpg"
        return make_page(Path(desk.originals.path(digest)), number, out) or out

    return PaperInput(
        dossier=held,
        assessment=found.assessment,
        today=found.at.date(),
        loss=loss_statement(held, found.assessment, place),
        course=course(held),
        dues=due(held, place),
        place=place,
        language=language,
        original=lambda digest: Path(desk.originals.path(digest)),
        preview=preview,
        page=page,
        programs=versions(),
        root_hex=found.root.hex(),
        recheck=_rechecked(desk, dossier, progress) if checked else (),
    )


def _rechecked(desk: Desk, dossier: str, progress: Progress) -> tuple[str, ...]:
    """What a recheck of the ledger and its files says, faults included."""
    result = recheck(desk, dossier, progress, mend=False)
    told = [
        f"{v.entries} entries, root {v.root.hex()}; {v.files} files, {v.size} bytes read; head: {v.head}"
        for v in result.ledgers
    ]
    faults = [str(f) for v in result.ledgers for f in v.faults] + [str(f) for f in result.faults]
    return (*told, *(faults or ["no fault found"]))
