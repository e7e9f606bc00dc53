"""The command that hands a dossier over."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evidence.cli.common import desk, progress, shown, tell_warnings, workspace_folder
from evidence.cli.telling_heads import in_fours

if TYPE_CHECKING:
    from evidence.handing_over import MadeBundle


def disclose(
    dossier: Annotated[
        str, typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
    ],
    out: Annotated[str, typer.Option("-o", "--out", help="The bundle: FILE.zip, or a new folder, DIR/ with a slash.")],
    at: Annotated[str, typer.Option(help="Date of the report in it, UTC; default: the time of the last entry.")] = "",
    withhold: Annotated[
        list[str] | None, typer.Option(help="Leave out this record, such as 'call note 2'; may be given again.")
    ] = None,
    withhold_file: Annotated[
        list[str] | None,
        typer.Option(help="Leave out the file of this exhibit; its record stays. May be given again."),
    ] = None,
    text_stays: Annotated[
        list[str] | None,
        typer.Option(help="The receiver may read what the record says of this withheld file: its text, its position."),
    ] = None,
) -> None:
    """Make a disclosure bundle: what a receiver needs to check the dossier and to run its assessment again.

    What would make a conclusion stronger by its absence cannot be left out. A file whose record says what is in it is left
    out with the record, or with --text-stays. The same command again goes on where it was interrupted.
    """
    from evidence.handing_over import write_bundle
    from evidence.review.disclosing import Choice

    choice = Choice(records=tuple(withhold or ()), files=tuple(withhold_file or ()), text_stays=tuple(text_stays or ()))
    with desk() as opened, progress() as shower:
        made = write_bundle(
            opened, workspace_folder(), dossier, choice, Path(out), shower, at=at, unpacked=out.endswith("/")
        )
    _tell(out, made)


def _tell(out: str, made: MadeBundle) -> None:
    from evidence.bundle.receiver_notes import withheld_in_words
    from evidence.review.left_readable import uncovered

    typer.echo(f"{out}: {made.files} files, {made.size:,} bytes")
    for sentence in withheld_in_words(made.found) or ("Nothing was withheld.",):
        typer.echo(f"  {shown(sentence)}")
    for readable in made.found.readable:
        typer.echo(f"  The record of {readable.label}, which is shown, says of its file:")
        typer.echo(shown(readable.words(), lines=True))
    tell_warnings(
        [
            f"{copy} has areas blacked out, and its original, {original}, is in the bundle as it is. If those areas are not "
            f"for the receiver: --withhold '{original.lower()}'"
            for copy, original in uncovered(made.found.shown, made.found.withheld_files)
        ]
    )
    if not made.fingerprint:
        typer.echo(f"  NOT SIGNED: {shown(made.problem)}")
    if made.report.unsigned:
        typer.echo(f"  The PDF in it carries no signature of its own: {shown(made.report.unsigned)}")
    for note in made.report.notes:
        typer.echo(f"  {shown(note)}")
    tell_by_another_way(made)


def tell_by_another_way(made: MadeBundle) -> None:
    """What the receiver is to be told, so that he can confirm signer and head."""
    from evidence.record.handed import line_of

    typer.echo("Tell the receiver this by another way than the bundle goes, by telephone or on paper:")
    if made.fingerprint:
        typer.echo(f"  key   {in_fours(made.fingerprint)}")
    typer.echo(f"  head  {line_of(made.found.head)}")
