"""``evidence waveform``: what a file holds, and what the program reads from the traces of a record."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evidence.cli.common import desk, print_json, shown, table
from evidence.errors import SourceUnusable

if TYPE_CHECKING:
    from evidence.model.waveform import TraceReading

waveform_app = typer.Typer(help="Look into waveform files, and read features from recorded ones.", no_args_is_help=True)


@waveform_app.command("look")
def look(file: Annotated[Path, typer.Argument(help="A file of delimited numbers.")]) -> None:
    """Say what columns, units and time a file holds, before it is taken in. Nothing is recorded."""
    from evidence.capture.traces.envelope import read_columns
    from evidence.capture.traces.layout import columns_of

    try:
        layout = columns_of(file)
        trace = read_columns(file, layout.names[0], layout.names, buckets=1)
    except (ValueError, OSError) as err:
        raise SourceUnusable(
            str(err), item=file.name, advice="Export the trace as text with one row a sample."
        ) from None
    signs = {";": "semicolons", "\t": "tabs", ",": "commas"}
    typer.echo(
        f"{trace.rows:,} rows from line {layout.first_row} on, {signs[layout.delimiter]} between columns, "
        f"decimal sign '{layout.decimal}'"
    )
    if trace.bad_rows:
        lines = ", ".join(map(str, trace.bad_lines)) + (" …" if trace.bad_rows > len(trace.bad_lines) else "")
        many = f"{trace.bad_rows:,} rows are no numbers (lines" if trace.bad_rows > 1 else "1 row is no numbers (line"
        typer.echo(f"{many} {lines})")
    if trace.steps_back:
        typer.echo(f"{layout.names[0]} goes back in {trace.steps_back:,} rows: as a time column it tells nothing")
    rows = [(c.name, u or "not stated", f"{c.low[0]:.6g}", f"{c.high[0]:.6g}")
            for c, u in zip(trace.channels, layout.units, strict=True)]  # fmt: skip
    table("", ("Column", "Unit", "Lowest", "Highest"), rows, empty="")


@waveform_app.command("read")
def read(
    dossier: Annotated[
        str, typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
    ],
    waveform: Annotated[str, typer.Argument(metavar="WAVEFORM", help="Short name or number, such as 'waveform 2'.")],
    reason: Annotated[
        str | None, typer.Option(help="Put what is read now into the record; both readings and the reason stay.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the reading as JSON.")] = False,
) -> None:
    """Read the features that a waveform record asks for ('find') from its file again. Without --reason nothing is recorded."""
    from evidence.usecases.record import amend_reading
    from evidence.usecases.traces import differences, read_again

    with desk() as opened:
        before, now = read_again(opened, dossier, waveform)
        other = differences(before, now) if before else []
        entered = amend_reading(opened, dossier, waveform, now, reason) if reason else None
    if as_json:
        print_json(now.model_dump(exclude_none=True))
        return
    _tell(now)
    if before is None:
        typer.echo("Nothing was read by the program when it was recorded.")
    elif other:
        typer.echo(f"The record has it otherwise, read by {before.program}: {shown('; '.join(other))}.")
    else:
        typer.echo("The record has the same.")
    if entered:
        typer.echo(f"{entered.label} amended.")


def _tell(reading: TraceReading) -> None:
    from evidence.model.base import say

    rows = [
        (say(f.feature), say(f"{f.of} {f.position or ''}").strip(), f.amount(), f.note or "") for f in reading.features
    ]
    rows += [
        (say(n.feature), say(f"{n.of} {n.position or ''}").strip(), "cannot be read", n.why) for n in reading.not_read
    ]
    table(
        f"Read by {reading.program}",
        ("Feature", "At", "Value", "How, or why not"),
        rows,
        empty="Nothing was asked for.",
    )
