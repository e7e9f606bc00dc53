"""``evidence mistakes``: what sinks claims, and what of it a dossier shows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from evidence.cli.common import desk, print_json, shown

if TYPE_CHECKING:
    from evidence.rules.mistakes import Kind


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
        for kind in MISTAKES.values():
            _head(kind)
            typer.echo(f"  avoided: {kind.guard}")
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
            _head(made.kind)
        typer.echo(f"  - {shown(made.words)}")
        if made.despite:
            typer.echo(f"    reason given: {shown(made.despite)}")
    if not found:
        typer.echo(f"Of the {len(MISTAKES)} mistakes that are looked for, the record shows none.")
    typer.echo("\nWhat was never recorded cannot be seen here.")


def _head(kind: Kind) -> None:
    typer.echo(f"\n{kind.words} ({kind.code})")
    typer.echo(f"  why it weighs: {kind.why}")
    typer.echo(f"  {kind.mending()}")
