"""``evidence paper``: letters and forms filled from the record, as text or PDF. The program sends nothing."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from evidence.cli.common import desk, shown, table


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
    from evidence.paperwork import paper_input, papers_of, text_of, write_pdf, written

    with desk() as opened:
        given = paper_input(opened, dossier, language)
        if not which:
            rows = [[o.id, o.kind.whose, o.kind.title, "\n".join(o.blank) or "nothing"] for o in papers_of(given)]
            table("", ["Paper", "Whose", "What it is", "Stays blank"], rows, empty="")
            typer.echo(
                "Nothing is ever sent by the program. Record what you sent: 'evidence record exhibit' for the file and the"
            )
            typer.echo("proof of delivery, then 'evidence record correspondence'.")
            return
        made = written(given, which)
        if pdf:
            pages = write_pdf(given, made, pdf)
            typer.echo(f"{pdf}: {pages} page{'s' if pages != 1 else ''}, not sent to anybody")
        else:
            for line in text_of(given, made).splitlines():
                typer.echo(shown(line))
    for blank in made.missing:
        typer.echo(f"blank: {shown(blank)}", err=True)
