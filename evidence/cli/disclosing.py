"""The command that hands a dossier over."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from evidence.cli.common import desk, progress, workspace_folder


def disclose(
    dossier: Annotated[
        str, typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
    ],
    out: Annotated[Path, typer.Option("-o", "--out", help="The bundle to write, a zip file.")],
    withhold: Annotated[
        list[str] | None, typer.Option(help="Leave out this record, such as 'call note 2'; may be given again.")
    ] = None,
    withhold_file: Annotated[
        list[str] | None, typer.Option(help="Leave out the file of this exhibit; its record stays.")
    ] = None,
) -> None:
    """Make a disclosure bundle: everything that a receiver needs to check the dossier and to run its assessment again."""
    from evidence.bootstrap import write_bundle
    from evidence.review.disclosing import Choice

    choice = Choice(records=tuple(withhold or ()), files=tuple(withhold_file or ()))
    with desk() as opened, progress() as shower:
        made = write_bundle(opened, workspace_folder(), dossier, choice, out, shower)
    typer.echo(
        f"{out}: {made.files} files, {made.size} bytes, {made.withheld} records withheld; head at {made.head.size} entries"
    )
