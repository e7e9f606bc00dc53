"""``evidence paper``: letters and forms filled from the record, as text or PDF. The program sends nothing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from evidence.cli.common import desk, progress, shown, table, tell_warnings, workspace_folder
from evidence.cli.making import tell_report
from evidence.errors import EvidenceError

if TYPE_CHECKING:
    from evidence.ports import Desk
    from evidence.report.papers.paper import PaperInput


Day = Annotated[str, typer.Option(metavar="DAY", help="The day that you set for an answer, such as 2026-06-30.")]
SentDay = Annotated[
    str, typer.Option(metavar="DAY", help="Record that you sent the letter on that day; the program sends nothing.")
]
Channel = Annotated[str, typer.Option(help="How it went: letter, registered_letter, message, in_person or form.")]
Letter = Annotated[Path | None, typer.Option(metavar="FILE", help="With --sent: the letter as it went out.")]
Proofs = Annotated[
    list[Path] | None,
    typer.Option(metavar="FILE", help="With --sent: proof of dispatch or receipt; may be given again."),
]
Received = Annotated[str, typer.Option(metavar="DAY", help="With --sent: the day it was received.")]
Within = Annotated[str, typer.Option(metavar="PERIOD", help="With --sent: time given to answer, such as '14 days'.")]
Until = Annotated[str, typer.Option(metavar="DAY", help="With --sent: last day to answer or to come and see.")]
Step = Annotated[
    bool, typer.Option("--step", help="With --sent: record the step of the course as well that this letter is.")
]
Skips = Annotated[
    list[str] | None,
    typer.Option(metavar="'STAGE: WHY'", help="With --step: a stage before it that was left out; may be given again."),
]


def paper(
    dossier: Annotated[
        str, typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
    ],
    which: Annotated[str, typer.Argument(metavar="[PAPER]", help="Which paper; left out: list them.")] = "",
    language: Annotated[str, typer.Option(help="en or es.")] = "en",
    pdf: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write it as PDF; left out: print it as plain text.")
    ] = None,
    by: Day = "",
    sent: SentDay = "",
    channel: Channel = "registered_letter",
    letter: Letter = None,
    proof: Proofs = None,
    received: Received = "",
    within: Within = "",
    until: Until = "",
    step: Step = False,
    skips: Skips = None,
    sign: Annotated[
        bool, typer.Option("--sign/--no-sign", help="Sign the filing set with the workspace's document key.")
    ] = True,
) -> None:
    """List the papers that can be written from the record, or write one. Blanks stand where the record has nothing."""
    from evidence.paperwork import SET, certified, paper_input

    with desk() as opened:
        if sent:
            told = {"received": received, "within": within, "until": until, "step": step, "skips": tuple(skips or ())}
            _record_sent(opened, dossier, which, sent, channel, letter, proof or [], told)
            return
        if letter or proof or received or within or until or step or skips:
            raise EvidenceError(
                "--letter, --proof, --received, --within, --until and --step tell of a letter that was sent", item="paper",
                advice="Name the day: --sent DAY.",
            )  # fmt: skip
        given = paper_input(opened, dossier, language, answer_by=_day(by))
        if not which:
            _list(given)
            return
        if which == SET:
            _write_set(opened, given, pdf, sign=sign)
            return
        if which == "certification":
            with progress() as shower:
                given = certified(opened, dossier, given, shower)
        _write(given, which, pdf)


def _write(given: PaperInput, which: str, pdf: Path | None) -> None:
    """One paper as text or PDF, and what its writer should know before it goes out."""
    from evidence.paperwork import text_of, write_pdf, written
    from evidence.report.papers.registry import PAPERS

    made = written(given, which)
    if pdf:
        pages = write_pdf(given, made, pdf)
        typer.echo(f"{pdf}: {pages} page{'s' if pages != 1 else ''}, not sent to anybody")
    else:
        for line in text_of(given, made).splitlines():
            typer.echo(shown(line))
    told = [("not on record", words) for words in PAPERS[which].missing(given)]
    told += [*(("before you send it", note) for note in made.notes), *(("blank", words) for words in made.missing)]
    for head, words in told:
        typer.echo(f"{head}: {shown(words)}", err=True)


def _day(text: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text) if text else None
    except ValueError:
        raise EvidenceError("is not a day", item=text, advice="Write it as 2026-06-30.") from None


def _list(given: PaperInput) -> None:
    """Every paper: for whom, what should be on record first, what would stay blank."""
    from evidence.paperwork import SET, papers_of

    t = given.words
    rows = [[o.id, o.kind.whose, t(o.kind.title), "\n".join(o.lacks), "\n".join(o.blank)] for o in papers_of(given)]
    rows.append([SET, "owner", "Filing set for a hearing: one PDF with stamped exhibits", "", ""])
    table("", ["Paper", "Whose", "What it is", "Not on record", "Stays blank"], rows, empty="")
    typer.echo(
        "The program sends nothing. When you have sent a letter, record it: evidence paper DOSSIER PAPER --sent DAY"
    )
    typer.echo("--letter FILE --proof FILE keeps both as exhibits; --step records the step of the course with it.")


def _record_sent(
    opened: Desk, dossier: str, which: str, sent: str, channel: str, letter: Path | None, proofs: list[Path], more: Mapping[str, Any]
) -> None:  # fmt: skip
    from evidence.model.base import say
    from evidence.paperwork import Dispatch, record_dispatch
    from evidence.report.papers.registry import PAPERS

    if letter is None:
        raise EvidenceError(
            "the letter as it went out is needed", item=which or "paper", advice="Name the file: --letter FILE."
        )
    done = record_dispatch(
        opened, dossier, which, Dispatch(day=sent, channel=channel, letter=letter, proofs=tuple(proofs), **more)
    )
    for label, sha256, new in done.exhibits:
        typer.echo(f"{label}: SHA-256 {sha256}" + ("" if new else ", held already"))
    for words, labels in (("recorded as sent", done.letters), ("on record already", done.known)):
        if labels:
            typer.echo(f"{words}: {', '.join(labels)}")
    tell_warnings(done.warnings)
    stage = PAPERS[which].stage
    if done.step:
        typer.echo(f"recorded as a step of the course: {done.step}, {say(stage or '')}")
    elif stage and not more["step"]:
        typer.echo(
            f"No step of the course was recorded. If this is the {say(stage)}, say so: the same command again with --step; "
            "the letter is not recorded twice."
        )
    if not proofs:
        typer.echo(
            "no proof of dispatch or receipt is on record yet: add it with 'evidence record exhibit' and amend the letter"
        )


def _write_set(opened: Desk, given: PaperInput, pdf: Path | None, *, sign: bool) -> None:
    """The filing set, with what of it could not be shown."""
    from evidence.paperwork import write_set

    if pdf is None:
        raise EvidenceError("a filing set is a PDF", item="filing-set", advice="Name the file: --pdf set.pdf.")
    with progress() as shower:
        made = write_set(opened, workspace_folder(), given, pdf, shower, sign=sign)
    tell_report(pdf, made)
    typer.echo(f"SHA-256 {made.sha256}; not sent to anybody")
