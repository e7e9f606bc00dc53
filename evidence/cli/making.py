"""Commands that make something: a workspace, a report, the schema of a dossier file, a demonstration."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evidence.cli.common import desk, print_json, progress, shown, workspace_folder
from evidence.cli.telling_heads import signature_words
from evidence.errors import EvidenceError

if TYPE_CHECKING:
    from evidence.publishing import MadeReport


def workspace(
    folder: Annotated[Path | None, typer.Argument(help="Folder to make a workspace of; default: --workspace.")] = None,
    recorder: Annotated[str, typer.Option(help="Your name: who records.")] = "",
    firm: Annotated[str, typer.Option(help="Your firm.")] = "",
    zone: Annotated[str, typer.Option(help="Time zone (IANA name) of times entered without one.")] = "",
    postgresql: Annotated[
        str, typer.Option(metavar="URL", help="Keep the record in this PostgreSQL database instead.")
    ] = "",
    rebuild: Annotated[bool, typer.Option("--rebuild", help="Make the lists anew from the entries.")] = False,
) -> None:
    """Make a workspace, or bring an existing one to this version."""
    from evidence.bootstrap import local_zone, make_workspace, open_desk

    place = folder or workspace_folder()
    exists = (place / "settings.toml").exists()
    if not exists and not recorder:
        raise EvidenceError("who records?", item=str(place), advice="Add --recorder 'Your Name' (and --firm).")
    make_workspace(place, recorder=recorder, firm=firm, zone=zone or local_zone(), postgresql=postgresql)
    if rebuild:
        with open_desk(place) as opened:
            typer.echo(f"lists made anew from {opened.ledgers.rebuild()} entries")
    typer.echo(f"workspace {place}: {'is of this version' if exists else 'made'}")


def report(
    dossier: Annotated[
        str, typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
    ],
    out: Annotated[Path | None, typer.Option("-o", "--out", help="The PDF to write.")] = None,
    page: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write it as a web page as well, or alone: for reading, not signed."),
    ] = None,
    at: Annotated[str, typer.Option(help="Date of the report, UTC; default: the time of the last entry.")] = "",
    sign: Annotated[
        bool, typer.Option("--sign/--no-sign", help="Sign the PDF with the workspace's document key.")
    ] = True,
    authority: Annotated[
        str, typer.Option(metavar="URL", help="Time-stamp authority (RFC 3161) to stamp the PDF's signature.")
    ] = "",
    attach_originals: Annotated[
        bool, typer.Option("--attach-originals", help="Put the exhibits' files inside the PDF.")
    ] = False,
) -> None:
    """Make the chain-of-custody PDF of a dossier: PDF/A-3b, tagged, signed. The same report again is the same file."""
    from evidence.publishing import ReportOptions, write_page, write_report

    if out is None and page is None:
        raise EvidenceError("nothing to write", item="--out", advice="Name a PDF with -o, or a web page with --page.")

    if authority and not sign:
        raise EvidenceError("a time-stamp is of a signature", item="--authority", advice="Leave out --no-sign.")
    options = ReportOptions(at=at, sign=sign, authority=authority, attach_originals=attach_originals)
    with desk() as opened, progress() as shower:
        made = write_report(opened, workspace_folder(), dossier, out, options, shower) if out else None
        size = write_page(opened, dossier, page, at, shower) if page else 0
    if out and made:
        tell_report(out, made)
    if page:
        typer.echo(f"{page}: {size} bytes, one page to read in a browser; not signed, the PDF is the document")


def tell_report(out: Path, made: MadeReport) -> None:
    """What was written, by whose signature, and what else the maker should know."""
    kept = "; made before, the same file again" if made.kept else ""
    typer.echo(f"{out}: {made.pages} pages, {made.exhibits} exhibits, {made.size} bytes{kept}")
    typer.echo(signature_words(made))
    for note in made.notes:
        typer.echo(note, err=True)


def schema(
    kind: Annotated[str, typer.Argument(help="Only this kind of record; default: the whole dossier file.")] = "",
) -> None:
    """Print the JSON Schema of a dossier file (dossier.yaml), or of one kind of record."""
    from evidence.usecases.schema import schema_of

    print_json(schema_of(kind))


def demo(
    folder: Annotated[Path, typer.Argument(help="New folder for the workspace.")] = Path("demo"),
    which: Annotated[str, typer.Option(help="Only this demonstration dossier.")] = "",
) -> None:
    """Make a workspace with the demonstration dossiers, run the whole job and say where the PDF is."""
    from evidence.cli.demonstration import run_demo

    with progress() as shower:
        for step in run_demo(folder, which, shower):
            typer.echo(shown(step))
