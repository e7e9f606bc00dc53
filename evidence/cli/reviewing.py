"""Commands of whoever looks at a dossier critically: its weak points, two versions side by side, a review of a bundle."""

from __future__ import annotations

import textwrap
from typing import Annotated

import typer

from evidence.cli.common import desk, print_json, shown

_JSON = typer.Option("--json", help="Print as JSON.")


def challenge(
    dossier: Annotated[
        str, typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
    ],
    brief: Annotated[bool, typer.Option("--brief", help="One line for each.")] = False,
    as_json: Annotated[bool, _JSON] = False,
) -> None:
    """Every weakness that an opponent would raise, the one that hurts most first, each with what would answer it."""
    from evidence.review.challenge import RANKING
    from evidence.review.challenges import as_json as plain
    from evidence.usecases.challenge import challenge_dossier

    with desk() as opened:
        title, found = challenge_dossier(opened, dossier)
    if as_json:
        print_json(plain(found, title))
        return
    typer.echo(shown(title))
    if not found:
        typer.echo("Nothing that these rules know of can be raised against it. That is not the same as nothing.")
    for one in found:
        if brief:
            _paragraph(f"{one.said}. {one.sentence}", f"{one.place:3}. ")
            continue
        typer.echo("")
        typer.secho(f"{one.place:3}. {one.said}", bold=True)
        _paragraph(one.sentence, "     ")
        _paragraph(one.hurts, "     ")
        for line in one.answer.split("\n"):
            _paragraph(line, "     Answer: ")
        if one.exhibits:
            from evidence.model.kinds import enumerated

            _paragraph(enumerated(one.exhibits), "     Exhibits: ")
    if found:
        typer.echo("")
        _paragraph(RANKING)


def _paragraph(text: str, indent: str = "") -> None:
    typer.echo(textwrap.fill(shown(text), width=118, initial_indent=indent, subsequent_indent=" " * len(indent)))
