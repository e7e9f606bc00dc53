"""``evidence clocks`` and ``evidence timeline``: the clocks of a dossier's devices, and when everything was."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from evidence.cli.common import desk, dossier_in, is_bundle, print_json, shown, table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from evidence.timeline.tightened import Clash, Tight
    from evidence.usecases.clocks import ClockReport
    from evidence.usecases.timeline import TimelineReport

_DOSSIER = typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
_OR_BUNDLE = typer.Argument(metavar="DOSSIER", help="Short name of a dossier of the workspace, or a bundle.")
_JSON = typer.Option("--json", help="Print as JSON.")


def clocks(dossier: Annotated[str, _OR_BUNDLE], as_json: Annotated[bool, _JSON] = False) -> None:
    """Show how far each device's clock was off, what was put right by that, and what is missing."""
    from evidence.usecases.clocks import clock_report, clocks_of

    if is_bundle(dossier):
        found = clock_report(dossier_in(dossier))
    else:
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


def timeline(
    dossier: Annotated[str, _DOSSIER],
    why: Annotated[
        str, typer.Option(metavar="RECORD", help="Tell why this record lies where it does, such as 'event 2'.")
    ] = "",
    mechanism: Annotated[str, typer.Option(help="Suppose this mechanism's window as well.")] = "",
    everything: Annotated[
        bool, typer.Option("--all", help="Also what is no tighter than its own record says.")
    ] = False,
    as_json: Annotated[bool, _JSON] = False,
) -> None:
    """Show the tightest time of everything that all records together allow, or which of them cannot all be true."""
    from evidence.usecases.timeline import timeline_json, timeline_of

    with desk() as opened:
        found = timeline_of(opened, dossier, which=why, mechanism=mechanism)
    if as_json:
        print_json(timeline_json(found))
    elif why:
        _tell_why(found.asked)
    else:
        _tell_timeline(found, everything=everything)


def _tell_timeline(found: TimelineReport, *, everything: bool) -> None:
    from evidence.model.kinds import enumerated
    from evidence.timeline.tightened import between_words

    typer.echo(shown(found.title))
    _tell_clashes(found.facts.clashes, "CANNOT ALL BE TRUE")
    moments = found.facts.moments
    narrowed = sum(t.narrowed for t in moments)
    if moments:
        typer.echo(f"{len(moments)} moments, {narrowed} of them made tighter by other records than their own")
    rows = []
    for t in moments if everything else [t for t in moments if t.narrowed or t.set_aside]:
        given = t.moment.given
        stated = between_words(given.earliest, given.latest) if given else "not stated"
        tightest = between_words(t.earliest, t.latest) if t.narrowed else "as stated"
        by = "set aside: contradicts others" if t.set_aside else enumerated(t.by)
        rows.append([t.moment.key, t.moment.what, stated, tightest, by])
    if rows or not moments:
        columns = ["Moment", "What", "Stated", "Tightest", "Narrowed by"]
        table("", columns, rows, empty="Nothing with a time is recorded.")
    if not found.supposed:
        return
    typer.echo("\nNot on record. If it is taken to be so that")
    for line in found.supposed:
        typer.echo(f"  - {shown(line)}")
    _tell_clashes(found.misfits, "DOES NOT GO WITH THE RECORD")
    table(
        "", ["then", "Tightest"],
        [[t.moment.key, between_words(t.earliest, t.latest)] for t in found.further],
        empty="then nothing becomes any tighter.",
    )  # fmt: skip


def _tell_clashes(clashes: Sequence[Clash], head: str) -> None:
    for clash in clashes:
        typer.echo(f"\n{head}: {', '.join(clash.records)}")
        for step in clash.steps:
            typer.echo(f"  {shown(step)}")
    if clashes:
        typer.echo(
            "If any one of them were otherwise, the others could be true. Nothing they say of time is used below.\n"
        )


def _tell_why(asked: Sequence[Tight]) -> None:
    from evidence.timeline.tightened import between_words, steps

    if not asked:
        typer.echo("This record has no place in time.")
    for t in asked:
        typer.echo(f"{t.moment.key}: {shown(t.moment.what)}")
        if t.set_aside:
            typer.echo("  contradicts other records, so it stands as it states itself; 'evidence timeline' says which")
        typer.echo(f"  {between_words(t.earliest, t.latest)}")
        for head, bounds in (("not before, because", reversed(t.since)), ("not after, because", t.until)):
            lines = list(steps(bounds))
            typer.echo(f"  {head}" if lines else f"  {head.split(',')[0]}: nothing on record says")
            for line in lines:
                typer.echo(f"    {shown(line)}")
