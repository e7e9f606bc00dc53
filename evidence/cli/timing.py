"""``evidence clocks``: what is known of the clocks of a dossier's devices."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from evidence.cli.common import desk, print_json, shown, table

if TYPE_CHECKING:
    from evidence.usecases.clocks import ClockReport

_DOSSIER = typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
_JSON = typer.Option("--json", help="Print as JSON.")


def clocks(dossier: Annotated[str, _DOSSIER], as_json: Annotated[bool, _JSON] = False) -> None:
    """Show how far each device's clock was off, what was put right by that, and what is missing."""
    from evidence.usecases.clocks import clocks_of

    with desk() as opened:
        found = clocks_of(opened, dossier)
    if as_json:
        print_json(_json(found))
        return
    _tell(found)


def _json(found: ClockReport) -> dict[str, Any]:
    from evidence.usecases.clocks import moved_json

    return {
        "format": 1,
        "title": found.title,
        "devices": [
            {
                "device": d.device, "references": list(d.references), "records": list(d.records), "error": d.error,
                "drift": d.drift, "residuals": dict(d.residuals), "faults": list(d.faults), "missing": list(d.missing),
            }
            for d in found.devices
        ],
        "corrected": [moved_json(m) for m in found.moved],
        "signs": [
            {"kind": s.kind, "records": list(s.records), "text": s.text, "limits": s.limits} for s in found.signs
        ],
    }  # fmt: skip


def _tell(found: ClockReport) -> None:
    from evidence.model.kinds import enumerated
    from evidence.timeline.clock_telling import spread

    typer.echo(shown(found.title))
    if not found.devices:
        typer.echo("No device stamped anything here with its time, and no clock reference is recorded.")
    for line in found.devices:
        typer.echo(f"\n{shown(line.device)}")
        for name, text in (
            ("stamped", enumerated(line.records)), ("references", enumerated(line.references)), ("error", line.error),
            ("drift", line.drift), *((f"  {label}", words) for label, words in line.residuals),
            *(("FAULT", f) for f in line.faults), *(("missing", m) for m in line.missing),
        ):  # fmt: skip
            if text:
                typer.echo(f"  {name}: {shown(text)}")
    if found.moved:
        typer.echo("\nPut right; the rules use the time after:")
        table(
            "", ["Record", "Device's clock", "Before (UTC)", "After (UTC)", "By"],
            [
                [m.label, m.when.words(), spread(m.before), spread(m.after), "\n".join([enumerated(m.references), *m.notes])]
                for m in found.moved
            ],
            empty="",
        )  # fmt: skip
    if found.signs:
        typer.echo("\nWhat the times in files say against each other:")
    for sign in found.signs:
        typer.echo(f"  {shown(sign.words())}")
