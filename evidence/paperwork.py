"""Letters and forms of a dossier: what they are filled from, and writing them as files. The program sends nothing."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from importlib.metadata import version
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from evidence.capture.sources import one_source
from evidence.claim.course import course
from evidence.claim.due import due
from evidence.claim.loss.statement import loss_statement
from evidence.edges.program import program
from evidence.errors import EvidenceError, MixedCurrency, NotFound
from evidence.model.base import Json, nearest
from evidence.model.exhibit import Exhibit
from evidence.model.people import Party
from evidence.ports import Desk, Progress
from evidence.report.papers.language import Words
from evidence.report.papers.paper import Kind, Paper, PaperInput, Rechecked, as_pdf
from evidence.report.papers.plain import as_text
from evidence.report.papers.registry import PAPERS
from evidence.report.writing import whole_file
from evidence.review.left_readable import uncovered
from evidence.usecases.assess import assess_held
from evidence.usecases.challenge import challenge_held
from evidence.usecases.pen import need, read_dossier
from evidence.usecases.recheck import recheck
from evidence.usecases.sending import Sent, record_sent
from evidence.usecases.standing import place_of

if TYPE_CHECKING:
    from evidence.publishing import MadeReport
    from evidence.report.pdf import Finish

SET = "filing-set"


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """A paper that can be written, what should be on record first, and what of it would stay blank."""

    id: str
    kind: Kind
    lacks: tuple[str, ...]  # what the record should hold before it is sent
    blank: tuple[str, ...]


def paper_input(
    desk: Desk, dossier: str, language: str = "en", today: dt.date | None = None, answer_by: dt.date | None = None
) -> PaperInput:
    """What papers of a dossier are filled from, as recorded now. ``answer_by`` is a day that the writer sets."""
    Words(language)  # an unknown language is told before anything is read
    with desk.ledgers.reading() as view:
        held = read_dossier(view, need(view, dossier))
    assessment, place = assess_held(desk, held), place_of(desk, held)
    day = today or desk.today()
    try:
        loss = loss_statement(held, assessment, place, day)
    except MixedCurrency:  # no sum can be named; the loss itself says why
        loss = None

    def original(sha256: str) -> Path:
        return Path(desk.originals.path(sha256))

    def preview(sha256: str) -> Path | None:
        found = desk.previews.path(sha256)
        return Path(found) if found else None

    return PaperInput(
        dossier=held, assessment=assessment, loss=loss, course=course(held), dues=due(held, place), place=place,
        language=language, today=day, original=original, preview=preview, programs=_programs(),
        answer_by=answer_by, challenges=challenge_held(held, desk.packs(), desk.vocabulary()),
        titles={name: c.title for name, c in desk.vocabulary().components.items()},
    )  # fmt: skip


def certified(desk: Desk, dossier: str, given: PaperInput, progress: Progress) -> PaperInput:
    """The same with the root of the ledger, and with what a recheck of ledger and files says now, faults included."""
    result = recheck(desk, dossier, progress, mend=False)
    own = next(v for v in result.ledgers if v.ledger == given.dossier.ledger)  # of the second ledger nothing is said
    faults = (*map(str, own.faults), *map(str, result.faults))
    told = Rechecked(entries=own.entries, files=own.files, size=own.size, head=own.head, faults=faults)
    return replace(given, root_hex=own.root.hex(), recheck=told)


def write_set(
    desk: Desk, folder: Path, given: PaperInput, out: Path, progress: Progress, *, sign: bool = True
) -> MadeReport:  # fmt: skip
    """Write the filing set: cover, table of exhibits, summary, chronology, every exhibit as a stamped copy.

    It is judged as an archive (PDF/A-3b) and signed as the report is, by the key of the workspace in ``folder``. What of an
    exhibit is missing, changed or broken is told on its page and in ``notes``.
    """
    from evidence.capture.preview import make_page
    from evidence.publishing import MadeReport, document_key, sealed
    from evidence.report.papers.printing import write_filing_set

    files = [(e.value.file.sha256, e.value.read) for e in given.dossier.of(Exhibit) if e.value.file and e.value.read]
    there = [(digest, read) for digest, read in files if Path(desk.originals.path(digest)).is_file()]
    desk.previews.make(there, progress, "print")

    def preview(sha256: str) -> Path | None:
        found = desk.previews.path(sha256, "print")
        return Path(found) if found else None

    key, unsigned = document_key(desk, folder) if sign else (None, "asked for without")
    notes = [
        f"{copy} has areas blacked out, and its original, {original}, is in the set as it is: leave its pages out where those "
        "areas are nobody's business."
        for copy, original in uncovered(given.dossier, {})
    ]
    with TemporaryDirectory(prefix="evidence-pages-") as drawings:
        Path(drawings, "pages").mkdir()

        def page(sha256: str, number: int) -> Path | str:
            drawn = Path(drawings) / "pages" / f"{sha256[:32]}-{number}.jpg"
            return make_page(Path(desk.originals.path(sha256)), number, drawn) or drawn

        def build(finish: Finish) -> int:
            made = write_filing_set(replace(given, preview=preview, page=page), out, finish)
            notes.extend(made.notes)
            return made.pages

        about = sealed(key, "", build)
    return MadeReport(
        pages=about["pages"], exhibits=len(given.dossier.of(Exhibit)), size=about["size"], sha256=about["sha256"],
        signed_by=about["signed_by"], unsigned=unsigned, notes=tuple(notes),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Dispatch:
    """How a letter went out, by the word of whoever sent it. ``within`` and ``until``: the time given to the other side."""

    day: str
    channel: str
    letter: Path
    proofs: tuple[Path, ...] = ()
    received: str = ""
    within: str = ""
    until: str = ""
    step: bool = False  # whether it is recorded as a step of the course as well
    skips: tuple[str, ...] = ()  # stages left out before it: "inspection: they declined in writing"


def record_dispatch(desk: Desk, dossier: str, which: str, dispatch: Dispatch) -> Sent:
    """Record that a letter was sent: the file as it went out and the proofs as exhibits, and what it was."""
    given = paper_input(desk, dossier)
    paper = written(given, which)
    about = PAPERS[which].about
    if not about:
        raise EvidenceError(
            "is a form, not a letter that is sent",
            item=which,
            advice="Record the signed form with 'evidence record exhibit'.",
        )
    subjects = [next((p.subject for p in given.dossier.of(Party) if p.value is one), "") for one in paper.between]
    if "" in subjects:
        side = "sender" if not subjects[0] else "receiver"
        raise NotFound(f"the record names no {side} for this letter", item=which, advice="See 'evidence record party'.")
    common = {
        "sender": subjects[0],
        "receiver": subjects[1],
        "sent": dispatch.day,
        "channel": dispatch.channel,
        "text": paper.title,
    }
    given_time = {"received": dispatch.received, "answer_within": dispatch.within, "until": dispatch.until}
    fields = {**common, **{k: v for k, v in given_time.items() if v}}
    files = [(one_source(dispatch.letter), f"{paper.kicker}, as sent on {dispatch.day}")]
    files += [(one_source(proof), f"{paper.kicker}: proof of dispatch or receipt") for proof in dispatch.proofs]
    stage = PAPERS[which].stage
    if dispatch.step and not stage:
        raise EvidenceError("is no step of the course by itself", item=which, advice="Leave out --step.")
    step: Json = {"stage": stage, "time": dispatch.day, "by": subjects[0], "text": paper.title}
    if dispatch.skips:
        step["skips"] = list(dispatch.skips)
    return record_sent(
        desk, dossier, [{**fields, "about": a} for a in about], files, step if dispatch.step else None
    )  # fmt: skip


def _programs() -> dict[str, str]:
    return {"evidence": program(), "ReportLab": version("reportlab"), "pypdfium2": version("pypdfium2")}


def papers_of(given: PaperInput) -> tuple[Offered, ...]:
    """Every paper with what would stay blank in it once it is written."""
    return tuple(
        Offered(id=name, kind=kind, lacks=kind.missing(given), blank=kind.make(_as_written(given, name)).missing)
        for name, kind in PAPERS.items()
    )


def _as_written(given: PaperInput, which: str) -> PaperInput:
    """The input as far as writing the paper fills it in: a certification is rechecked then, see :func:`certified`."""
    if which != "certification":
        return given
    return replace(given, root_hex="0" * 64, recheck=Rechecked(entries=0, files=0, size=0, head=""))


def written(given: PaperInput, which: str) -> Paper:
    """One paper by its name."""
    if which not in PAPERS:
        raise NotFound(
            f"no paper of this name{nearest(which, (*PAPERS, SET))}",
            item=which,
            advice="'evidence paper DOSSIER' lists them.",
        )
    return PAPERS[which].make(given)


def write_pdf(given: PaperInput, paper: Paper, out: Path) -> int:
    """Write a paper as PDF, whole or not at all; returns how many pages it has."""
    with whole_file(out) as stream:
        return as_pdf(given, paper, stream)


def text_of(given: PaperInput, paper: Paper) -> str:
    """A paper as plain text."""
    return as_text(given, paper)
