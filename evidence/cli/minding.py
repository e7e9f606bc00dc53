"""``evidence mistakes``: what sinks claims, and what of it a dossier shows."""

from __future__ import annotations

from typing import Annotated

import typer

from evidence.cli.common import desk, print_json, shown, table


def mistakes(
    dossier: Annotated[
        str, typer.Argument(metavar="[DOSSIER]", help="Short name of the dossier; left out: the catalogue itself.")
    ] = "",
    as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False,
) -> None:
    """List the mistakes that a dossier shows, each where it was made; without a dossier, those that are looked for."""
    from evidence.rules.mistakes import MISTAKES
    from evidence.usecases.mistakes import mistakes_json, mistakes_of

    if not dossier:
        if as_json:
            print_json(mistakes_json("", ()))
            return
        rows = [[k.code, k.words, k.why, f"{k.mendable}: {k.mend}", k.guard] for k in MISTAKES.values()]
        table("", ["Code", "Mistake", "Why it sinks a claim", "Can it be mended", "How it is avoided"], rows, empty="")
        return
    with desk() as opened:
        title, found = mistakes_of(opened, dossier)
    if as_json:
        print_json(mistakes_json(title, found))
        return
    typer.echo(shown(title))
    code = ""
    for made in found:
        if made.code != code:
            code = made.code
            typer.echo(f"\n{made.kind.words} ({code})")
            typer.echo(f"  why it weighs: {made.kind.why}")
            typer.echo(f"  mended: {made.kind.mendable}. {made.kind.mend}")
        typer.echo(f"  - {shown(made.words)}")
        if made.despite:
            typer.echo(f"    reason given: {shown(made.despite)}")
    if not found:
        typer.echo(f"Of the {len(MISTAKES)} mistakes that are looked for, the record shows none.")
    typer.echo("\nWhat was never recorded cannot be seen here.")
