"""Commands by which a dossier folder gets into the record."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from evidence.cli.common import desk, print_json, progress, shown, tell_warnings
from evidence.cli.telling_heads import head_json, head_line


def intake(
    folder: Annotated[Path, typer.Argument(help="Folder with dossier.yaml, photos, papers and traces.")],
    reason: Annotated[str, typer.Option(help="Why something stated before is changed; stays in the record.")] = "",
    renamed: Annotated[
        list[str] | None, typer.Option(metavar="NEW=OLD", help="This short name is what was called OLD until now.")
    ] = None,
    added: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="This short name is another thing, no renaming.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Take in a dossier folder: all or nothing; the same folder twice records nothing new."""
    from evidence.capture.sources import open_handed
    from evidence.usecases.intake import Answers, intake_folder

    answers = Answers(reason=reason, renamed=_pairs(renamed or []), added=frozenset(added or []))
    with desk() as opened, progress() as report:
        result = intake_folder(opened, open_handed(folder), answers, report)
    if as_json:
        print_json(
            {
                "dossier": result.dossier, "id": result.ledger, "recorded": list(result.recorded),
                "amended": list(result.amended), "unchanged": result.unchanged, "gone": list(result.gone),
                "notes": list(result.notes), "head": head_json(result.head),
            }
        )  # fmt: skip
        return
    typer.echo(
        f"{result.dossier}: {len(result.recorded)} recorded, {len(result.amended)} amended, {result.unchanged} unchanged"
    )
    for line in result.amended:
        typer.echo(f"  amended  {shown(line)}")
    for line in result.gone:
        typer.echo(f"  not in the folder any more, kept in the record: {shown(line)}")
    for line in result.notes:
        typer.echo(f"  note: {shown(line)}")
    tell_warnings(result.warnings)
    typer.echo(f"  {head_line(result.head)}")


def _pairs(texts: list[str]) -> dict[str, str]:
    pairs = {}
    for text in texts:
        new, sign, old = text.partition("=")
        if not sign or not new or not old:
            raise typer.BadParameter(f"{text!r}: write NEW=OLD", param_hint="--renamed")
        pairs[new] = old
    return pairs
