"""Forms to sign and sets to file: what there is, and writing one."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from evidence.cli.common import desk, progress, shown, table

form_app = typer.Typer(no_args_is_help=True, help="Forms to sign, and the filing set for a hearing. Nothing is sent.")


@form_app.command("list")
def list_forms() -> None:
    """The forms there are, for whom, and what the record should hold for each."""
    from evidence.report.papers.kinds import FORMS

    rows = [[name, k.title, k.whom, k.needs] for name, k in FORMS.items()]
    rows.append(["set", "Filing set for a hearing (one PDF)", "owner", "exhibits with their files, loss lines"])
    table("", ["Form", "What", "For whom", "Filled from"], rows, empty="")


@form_app.command("write")
def write(
    dossier: Annotated[str, typer.Argument(metavar="DOSSIER", help="Short name of the dossier.")],
    form: Annotated[str, typer.Argument(help="Name of the form; 'evidence form list' shows them.")],
    out: Annotated[Path, typer.Option("-o", "--out", help="The file to write; .txt for plain text.")],
    language: Annotated[str, typer.Option(help="en or es.")] = "en",
) -> None:
    """Fill a form from the record. What the record does not hold stays a ruled blank."""
    from evidence.filing import write_form

    with desk() as opened, progress() as shower:
        made = write_form(opened, dossier, form, out, shower, language=language)
    typer.echo(
        f"{out}: {made.pages} {'page' if made.pages == 1 else 'pages'}, {made.size} bytes, SHA-256 {made.sha256}"
    )
    for note in made.notes:
        typer.echo(shown(note), err=True)
    typer.echo("Not signed, not sent. No legal advice.")
