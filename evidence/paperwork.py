"""Letters and forms of a dossier: what they are filled from, and writing them as files. The program sends nothing."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from evidence.claim.course import course
from evidence.claim.due import due
from evidence.claim.loss.statement import loss_statement
from evidence.errors import MixedCurrency, NotFound
from evidence.model.base import nearest
from evidence.ports import Desk
from evidence.report.papers.language import Words
from evidence.report.papers.paper import Kind, Paper, PaperInput, as_pdf, as_text
from evidence.report.papers.registry import PAPERS
from evidence.report.writing import whole_file
from evidence.usecases.assess import assess_held
from evidence.usecases.pen import need, read_dossier
from evidence.usecases.standing import place_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """A paper that can be written, and what of it would stay blank."""

    id: str
    kind: Kind
    blank: tuple[str, ...]


def paper_input(desk: Desk, dossier: str, language: str = "en", today: dt.date | None = None) -> PaperInput:
    """What papers of a dossier are filled from, as recorded now."""
    Words(language)  # an unknown language is told before anything is read
    with desk.ledgers.reading() as view:
        held = read_dossier(view, need(view, dossier))
    assessment, place = assess_held(desk, held), place_of(desk, held)
    try:
        loss = loss_statement(held, assessment, place)
    except MixedCurrency:  # no sum can be named; the loss itself says why
        loss = None

    def original(sha256: str) -> Path:
        return Path(desk.originals.path(sha256))

    def preview(sha256: str) -> Path | None:
        found = desk.previews.path(sha256)
        return Path(found) if found else None

    return PaperInput(
        dossier=held, assessment=assessment, loss=loss, course=course(held), dues=due(held, place), place=place,
        language=language, today=today or desk.clock.now().date(), original=original, preview=preview,
    )  # fmt: skip


def papers_of(given: PaperInput) -> tuple[Offered, ...]:
    """Every paper with what would stay blank in it."""
    return tuple(Offered(id=name, kind=kind, blank=kind.make(given).missing) for name, kind in PAPERS.items())


def written(given: PaperInput, which: str) -> Paper:
    """One paper by its name."""
    if which not in PAPERS:
        raise NotFound(
            f"no paper of this name{nearest(which, PAPERS)}", item=which, advice="'evidence paper DOSSIER' lists them."
        )
    return PAPERS[which].make(given)


def write_pdf(given: PaperInput, paper: Paper, out: Path) -> int:
    """Write a paper as PDF, whole or not at all; returns how many pages it has."""
    with whole_file(out) as stream:
        return as_pdf(given, paper, stream)


def text_of(given: PaperInput, paper: Paper) -> str:
    """A paper as plain text."""
    return as_text(given, paper)
