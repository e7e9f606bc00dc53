"""``evidence loss``: the loss statement of a dossier."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated

import typer

from evidence.cli.common import desk, print_json, shown, table

if TYPE_CHECKING:
    from evidence.claim.loss.statement import LossLine, LossStatement


def loss(
    dossier: Annotated[
        str, typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
    ],
    place: Annotated[str, typer.Option(help="The place whose ceiling applies; default: that of the dossier.")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False,
) -> None:
    """Show the loss: lines, every total by nature, the low and the high reading, and what each line rests on."""
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
    s = found.statement
    for part in (_lines, _totals, _links, _responsible):
        part(s)
        typer.echo()
    for words in _notes(s):
        typer.echo(shown(words))


def _lines(s: LossStatement) -> None:
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
        text = v.text + (f"\n{v.why}" if v.why else "") + (f"\n{line.out}" if line.out else "")
        rows.append([line.label, say(v.nature), text, ", ".join(filter(None, notes)), _amount(s, line)])
    table("", ["Line", "Nature", "What", "Status", "Amount"], rows, empty="")


def _amount(s: LossStatement, line: LossLine) -> str:
    """What counts of a line; in brackets where it does not."""
    if line.item.percent:
        return f"{line.item.percent} %"
    sign = "-" if line.item.nature == "deduction" else ""
    return f"{sign}{s.printed(line.adds)}" if line.counted else f"({sign}{s.printed(line.net)})"


def _totals(s: LossStatement) -> None:
    from evidence.claim.loss.telling import READINGS, steps
    from evidence.model.base import say

    rows = [
        [
            say(nature), *(s.printed(x.by_nature.get(nature, s.temporary * 0)) for x in (s.low, s.claimed, s.high)),
            s.printed(s.documented_by_nature.get(nature, s.temporary * 0)),
            s.printed(amount - s.documented_by_nature.get(nature, s.temporary * 0)),
        ]
        for nature, amount in s.by_nature.items()
    ]  # fmt: skip
    whole = [
        *(s.printed(x.gross) for x in (s.low, s.claimed, s.high)),
        s.printed(s.documented),
        s.printed(s.undocumented),
    ]
    rows.append(["together", *whole])
    table("Lines with their tax, by nature", ["", *READINGS, "Claimed, with paper", "Without"], rows, empty="")
    typer.echo()
    told = [[step.words, *(s.printed(a) for a in step.amounts)] for step in steps(s)]
    table("From the lines to the total", ["", *READINGS], told, empty="")


def _links(s: LossStatement) -> None:
    from evidence.claim.loss.carrying import carried
    from evidence.model.kinds import enumerated

    rows = []
    for group in carried(s):
        link = group.link
        met = "\n".join(f"{c.id} ({c.limb}): {enumerated(c.records)}" for c in link.carriers)
        words = link.words if link.linked else f"no link on record, so apart: {link.words}"
        what = (
            ["as above", "all those above", "all those above"]
            if group.as_above
            else [words, met, enumerated(link.exhibits)]
        )
        rows.append([enumerated(group.lines), *what])
    table("What carries it", ["Lines", "Rests on", "Findings met, with their records", "Exhibits"], rows, empty="")


def _responsible(s: LossStatement) -> None:
    from evidence.claim.loss.carrying import responsible_told

    rows = [
        [head, lines, s.printed(whole), who, still_open] for head, lines, whole, who, still_open in responsible_told(s)
    ]
    columns = ["Head", "Lines", "With its tax", "Who, and by what", "Not excluded"]
    table("Who could be responsible for what; nobody is given a share", columns, rows, empty="")


def _notes(s: LossStatement) -> Iterator[str]:
    from evidence.claim.loss.telling import core_told, deductions, rules_told

    for off in deductions(s):
        yield f"taken off{', disputed' if off.disputed else ''}: {off.label} ({off.text}): {off.how}"
        yield from (f"  said against it: {words}" for words in (off.objection,) if words)
        yield from (f"  habit of the place: {words}" for words in (s.habit,) if words and off.betterment)
    yield from (f"left out, counted already: {t.words}" for t in s.twice)
    if any(t.others for t in s.twice):
        yield "  To choose the other, 'evidence record amend' it with '--set claimed=yes'; where both stand, with"
        yield """  --set 'beside=["LINE: why"]', LINE being the short name or number of the other."""
    yield from (f"repair and value: {words}" for words in (rules_told(s),) if words)
    yield from (f"core: {words}" for words in (core_told(s),) if words)
    yield from (f"tax {t.rate} % on {s.printed(t.on)} is {s.printed(t.tax)}: {t.source}" for t in s.taxes)
    if s.apart:
        yield f"no link on record: {s.printed(s.apart)} with their tax, which stand in the totals"
    if s.temporary:
        yield f"for a time only: {s.printed(s.temporary)}, which leaves {s.printed(s.claimed.total - s.temporary)}"
    yield from (f"driven on: {words}" for words in s.driven_on)
    yield from (f"look at this: {fault}" for fault in s.faults)
    yield from (f"ceiling: {words}" for words in (s.ceiling,) if words)
    yield "Whether and what anyone owes is not decided here. No legal advice."
