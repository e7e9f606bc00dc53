"""``evidence paper``: letters and forms filled from the record, as text or PDF. The program sends nothing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evidence.cli.common import desk, progress, shown, table
from evidence.errors import EvidenceError

if TYPE_CHECKING:
    from evidence.ports import Desk
    from evidence.report.papers.paper import PaperInput


def paper(
    dossier: Annotated[
        str, typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
    ],
    which: Annotated[str, typer.Argument(metavar="[PAPER]", help="Which paper; left out: list them.")] = "",
    language: Annotated[str, typer.Option(help="en or es.")] = "en",
    pdf: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write it as PDF; left out: print it as plain text.")
    ] = None,
) -> None:
    """List the papers that can be written from the record, or write one. Blanks stand where the record has nothing."""
    from evidence.paperwork import SET, certified, paper_input, papers_of, text_of, write_pdf, written

    with desk() as opened:
        given = paper_input(opened, dossier, language)
        if not which:
            rows = [[o.id, o.kind.whose, o.kind.title, "\n".join(o.blank) or "nothing"] for o in papers_of(given)]
            rows.append([SET, "owner", "Filing set for a hearing: one PDF with stamped exhibits", ""])
            table("", ["Paper", "Whose", "What it is", "Stays blank"], rows, empty="")
            typer.echo(
                "Nothing is ever sent by the program. Record what you sent: 'evidence record exhibit' for the file and the"
            )
            typer.echo("proof of delivery, then 'evidence record correspondence'.")
            return
        if which == SET:
            _write_set(opened, given, pdf)
            return
        if which == "certification":
            with progress() as shower:
                given = certified(opened, dossier, given, shower)
        made = written(given, which)
        if pdf:
            pages = write_pdf(given, made, pdf)
            typer.echo(f"{pdf}: {pages} page{'s' if pages != 1 else ''}, not sent to anybody")
        else:
            for line in text_of(given, made).splitlines():
                typer.echo(shown(line))
    for blank in made.missing:
        typer.echo(f"blank: {shown(blank)}", err=True)


def _write_set(opened: Desk, given: PaperInput, pdf: Path | None) -> None:
    """The filing set, with what of it could not be shown."""
    from evidence.paperwork import write_set

    if pdf is None:
        raise EvidenceError("a filing set is a PDF", item="filing-set", advice="Name the file: --pdf set.pdf.")
    with progress() as shower:
        made = write_set(opened, given, pdf, shower)
    typer.echo(f"{pdf}: {made.pages} pages, {made.size} bytes, SHA-256 {made.sha256}, not sent to anybody")
    for note in made.notes:
        typer.echo(shown(note), err=True)
