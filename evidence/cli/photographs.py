"""The command that tells what the files of photos say of themselves and of each other."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path
from typing import Annotated

import typer

from evidence.cli.common import desk, dossier_in, is_bundle, print_json, progress, shown, table


def photos(
    dossier: Annotated[
        str, typer.Argument(metavar="DOSSIER", help="Short name of a dossier of the workspace, or a bundle.")
    ],
    exhibit: Annotated[str, typer.Argument(help="Only signs about this exhibit, such as 'exhibit 7'.")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False,
) -> None:
    """Signs of alteration or reuse in the photos' files: facts, each with what it can mean and what it cannot show."""
    from evidence.model.kinds import enumerated
    from evidence.usecases.photos import photo_signs, signs_about

    if is_bundle(dossier):
        from evidence.received_photos import signs_in_bundle

        held = dossier_in(dossier)
        with progress() as shower:
            found = signs_about(signs_in_bundle(Path(dossier), held, shower), held, exhibit)
    else:
        with desk() as opened, progress() as shower:
            found = photo_signs(opened, dossier, shower, exhibit=exhibit)
    if as_json:
        print_json(
            [
                {
                    "code": s.code, "title": s.title, "sentence": s.sentence, "exhibits": list(s.exhibits),
                    "can_also_mean": s.innocent, "cannot_show": s.limit, "elsewhere": list(s.elsewhere),
                }
                for s in found
            ]
        )  # fmt: skip
        return
    table(
        "", ["Sign", "Exhibits"], [[s.title, enumerated(s.exhibits)] for s in found],
        empty="No sign found. That does not show that a photo is genuine.",
    )  # fmt: skip
    for title, group in groupby(found, key=lambda s: s.title):
        signs = list(group)
        typer.echo(f"\n{title}")
        for sign in signs:
            typer.echo(f"  {shown(sign.sentence)}")
            for other in sign.elsewhere:
                typer.echo(f"    in this workspace: {shown(other)}")
        typer.echo(f"  Can also mean: {signs[0].innocent}")
        typer.echo(f"  Cannot show: {signs[0].limit}")
    if found:
        typer.echo(
            "\nEach is a fact about files, not an accusation; a photo without one is not thereby shown to be genuine."
        )
