"""``evidence opportunity``: who could have made each departure found."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from evidence.cli.common import desk, print_json, shown, table

if TYPE_CHECKING:
    from evidence.rules.opportunity import Holder, Opportunity, Window

_DOSSIER = typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
_JSON = typer.Option("--json", help="Print as JSON.")


def opportunity(dossier: Annotated[str, _DOSSIER], as_json: Annotated[bool, _JSON] = False) -> None:
    """Show for each departure found who had the vehicle or worked on the part in its window, and what would exclude him."""
    from evidence.usecases.opportunity import opportunity_of, report_json

    with desk() as opened:
        found = opportunity_of(opened, dossier)
    if as_json:
        print_json(report_json(found))
        return
    typer.echo(shown(found.title))
    if not found.found:
        typer.echo("No departure is shown yet, so there is no window to hold anybody against.")
    for one in found.found:
        _tell(one)


def _tell(one: Opportunity) -> None:
    typer.echo(f"\n{shown(one.departure.what.capitalize())}: {shown(one.departure.title)}")
    if one.window:
        _tell_window(one.window)
        table(
            "",
            ["Who", "Part", "Of the window", "By", "Stands", "Because, or what would close it"],
            [_row(h) for h in one.holders],
            empty="",
        )
    typer.echo(shown(one.statement))
    for line in one.missing:
        typer.echo(f"  missing: {shown(line)}")


def _tell_window(window: Window) -> None:
    from evidence.timeline.tightened import between_words

    for head, side in (("last shown in order", window.good), ("first shown otherwise", window.bad)):
        if side:
            told = " (by a person's word)" if side.told else ""
            when = between_words(side.at.earliest, side.at.latest)
            typer.echo(f"  {head}: {side.record}, {when}{told}: {shown(side.words)}")
        else:
            typer.echo(f"  {head}: nothing on record; shares are of the time since {window.start:%Y-%m-%d %H:%M} UTC,")
            typer.echo("    when somebody is first on record as having it")


def _row(holder: Holder) -> list[str]:
    from evidence.model.kinds import enumerated
    from evidence.rules.opportunity import share_words

    by = "\n".join(f"{enumerated(p.records)}: {p.text}" if p.records else p.text for p in holder.by)
    because = [f"{p.text} ({enumerated(p.records)})" if p.records else p.text for p in holder.because]
    return [holder.name, holder.part, share_words(holder), by, holder.standing, "\n".join((*because, *holder.closes))]
