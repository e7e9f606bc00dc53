"""``evidence loss``: the loss statement of a dossier."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from evidence.cli.common import desk, print_json, shown, table

if TYPE_CHECKING:
    from evidence.claim.loss.statement import LossStatement


def loss(
    dossier: Annotated[
        str, typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
    ],
    place: Annotated[str, typer.Option(help="The place whose ceiling applies; default: that of the dossier.")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False,
) -> None:
    """Show the loss: lines, totals by nature, the low and the high reading, and what each line rests on."""
    from evidence.usecases.loss import loss_json, loss_of

    with desk() as opened:
        found = loss_of(opened, dossier, place)
    if as_json:
        print_json(loss_json(found))
        return
    typer.echo(shown(found.title))
    if found.statement is None:
        typer.echo("No loss item is recorded. 'evidence record loss-item' records one.")
        return
    _tell(found.statement)


def _tell(s: LossStatement) -> None:
    from evidence.model.base import say

    rows = []
    for line in s.lines:
        v = line.item
        notes = [
            say(v.status),
            "disputed" if v.disputed else "",
            "comes back" if v.temporary else "",
            "" if line.documented else "no paper",
        ]
        counted = f"{v.percent} %" if v.percent else s.printed(line.net)
        rows.append(
            [
                line.label,
                say(v.nature),
                v.text,
                ", ".join(filter(None, notes)),
                counted if line.counted else f"({counted})",
            ]
        )
    table("", ["Line", "Nature", "What", "Status", "Amount"], rows, empty="")
    for nature, amount in sorted(s.by_nature.items()):
        typer.echo(f"{say(nature)}, with its tax: {s.printed(amount)}")
    for words, of in (("lowest reading", s.low), ("claimed", s.claimed), ("highest reading", s.high)):
        steps = [f"lines with tax {s.printed(of.gross)}"]
        if of.by_value and of.value is not None:
            steps.append(
                f"the value before less salvage, {s.printed(of.value)}, takes the place of the repair, {s.printed(of.repair)}"
            )
        taken = (("wear", sum((w for _, w in of.wear), of.credits * 0) + of.tax_on_wear), ("deductions", of.credits),
                 ("share of fault", of.fault), ("payments", of.payments))  # fmt: skip
        steps += [f"less {name} {s.printed(amount)}" for name, amount in taken if amount]
        typer.echo(f"{words}: {s.printed(of.total)} ({', '.join(steps)})")
    typer.echo(f"backed by a paper: {s.printed(s.documented)}; not: {s.printed(s.undocumented)}")
    if s.temporary:
        typer.echo(f"for a time only: {s.printed(s.temporary)}")
    if s.unlinked:
        typer.echo("No link on record, so shown apart:")
        for line in s.unlinked:
            typer.echo(f"  {line.label}: {shown(line.link.words)}")
    for fault in s.faults:
        typer.echo(f"look at this: {shown(fault)}")
    if s.over_ceiling:
        typer.echo(f"above the ceiling: {shown(s.over_ceiling)}")
    typer.echo("Whether and what anyone owes is not decided here. No legal advice.")
