"""Commands that show what is recorded and check it."""

from __future__ import annotations

from typing import Annotated

import typer

from evidence.cli.common import desk, print_json, progress, shown, stop, table
from evidence.errors import ExitCode

_DOSSIER = typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
_JSON = typer.Option("--json", help="Print as JSON.")


def dossiers(
    query: Annotated[str, typer.Argument(help="Only dossiers in which these words occur.")] = "",
    vehicle: Annotated[str, typer.Option(help="Only with this in description, plate or VIN of the vehicle.")] = "",
    since: Annotated[str, typer.Option(help="Only with an entry since this date.")] = "",
    as_json: Annotated[bool, _JSON] = False,
) -> None:
    """List dossiers; with words, those in whose records they occur."""
    from evidence.usecases.looking import list_dossiers

    with desk() as opened:
        rows = list_dossiers(opened, query, vehicle=vehicle, since=since)
    if as_json:
        print_json(
            [
                {
                    "id": r.id, "name": r.name, "title": r.title, "vehicle": r.vehicle, "entries": r.entries,
                    "exhibits": r.exhibits, "opened_at": f"{r.opened_at:%Y-%m-%dT%H:%M:%SZ}",
                    "changed_at": f"{r.changed_at:%Y-%m-%dT%H:%M:%SZ}", "demonstration": r.demonstration,
                }
                for r in rows
            ]
        )  # fmt: skip
        return
    table(
        "", ["Dossier", "Title", "Vehicle", "Exhibits", "Entries", "Last entry (UTC)"],
        [
            [r.name, r.title, r.vehicle, str(r.exhibits), str(r.entries), f"{r.changed_at:%Y-%m-%d %H:%M}"]
            for r in rows
        ],
        empty="No dossier matches." if query or vehicle or since else "No dossier yet. 'evidence intake FOLDER' takes one in.",
    )  # fmt: skip


def show(
    dossier: Annotated[str, _DOSSIER],
    record: Annotated[str, typer.Argument(help="A record by short name or number, such as 'exhibit 7'.")] = "",
    find: Annotated[str, typer.Option(help="Only records in which these words occur.")] = "",
    as_json: Annotated[bool, _JSON] = False,
) -> None:
    """Show a dossier: all its records in order, or one with everything that was said of it."""
    from evidence.usecases.looking import detail, overview

    with desk() as opened:
        if record:
            _show_one(detail(opened, dossier, record), as_json=as_json)
            return
        found = overview(opened, dossier, find)
    if as_json:
        print_json({"id": found.id, "title": found.title, "records": [vars_of(r) for r in found.records]})
        return
    typer.echo(shown(found.title))
    table(
        "", ["Record", "Short name", "What", "State"],
        [[r.label, r.name, r.summary, r.state] for r in found.records],
        empty="No record matches.",
    )  # fmt: skip


def vars_of(row: object) -> dict[str, object]:
    """The fields of a slotted value."""
    return {name: getattr(row, name) for name in row.__slots__}  # type: ignore[attr-defined]


def _show_one(found: object, *, as_json: bool) -> None:
    from evidence.usecases.clocks import moved_json
    from evidence.usecases.looking import Detail

    assert isinstance(found, Detail)
    if as_json:
        print_json(
            {
                "label": found.label,
                "subject": found.subject,
                "withdrawn": found.withdrawn,
                "body": found.body,
                "history": list(found.history),
                "signs": list(found.signs),
                **({"clock": moved_json(found.clock)} if found.clock else {}),
            }
        )
        return
    typer.echo(f"{found.label}  {shown(found.summary)}" + ("  (withdrawn)" if found.withdrawn else ""))
    table("", ["", ""], [[name, text] for name, text in found.rows], empty="")
    for line in found.history:
        typer.echo(shown(line))
    for line in found.signs:
        typer.echo(f"sign in the file: {shown(line)} ('evidence photos' says what it can mean)")
    for line in found.used_by:
        typer.echo(f"rests on it: {shown(line)}")


def entries(dossier: Annotated[str, _DOSSIER], as_json: Annotated[bool, _JSON] = False) -> None:
    """Show the ledger: every entry with its time, author, kind and hash."""
    from evidence.usecases.looking import ledger_lines

    with desk() as opened:
        lines = ledger_lines(opened, dossier)
    if as_json:
        print_json([vars_of(line) for line in lines])
        return
    table(
        "", ["Entry", "Recorded (UTC)", "By", "What", "Reason", "Leaf hash"],
        [[str(x.seq), x.recorded_at, x.recorded_by, x.what, x.reason, x.leaf[:16]] for x in lines],
        empty="No entry.",
    )  # fmt: skip


def recheck(
    dossier: Annotated[str, typer.Argument(help="Only this dossier; default: the whole workspace.")] = "",
    as_json: Annotated[bool, _JSON] = False,
) -> None:
    """Recompute every hash of ledgers and files and hold them against the head file."""
    from evidence.bootstrap import is_writable
    from evidence.cli.common import workspace_folder
    from evidence.usecases.recheck import recheck as run_recheck

    with desk() as opened, progress() as report:
        result = run_recheck(opened, dossier or None, report, mend=is_writable(workspace_folder()))
    if as_json:
        print_json(
            {
                "sound": result.sound,
                "ledgers": [
                    {
                        "id": v.ledger, "title": v.title, "entries": v.entries, "root": v.root.hex(), "files": v.files,
                        "bytes": v.size, "head": v.head, "faults": [str(f) for f in v.faults], "remarks": list(v.remarks),
                    }
                    for v in result.ledgers
                ],
                "faults": [str(f) for f in result.faults],
                "remarks": list(result.remarks),
            }
        )  # fmt: skip
    else:
        for v in result.ledgers:
            typer.echo(
                f"{shown(v.title)}: {v.entries} entries, {v.files} file{'s' if v.files != 1 else ''}, {v.size} bytes read; head {v.head}"
            )
            for fault in v.faults:
                typer.echo(f"  FAULT {fault}")
            for remark in v.remarks:
                typer.echo(f"  remark: {remark}")
        for fault in result.faults:
            typer.echo(f"FAULT {fault}")
        for remark in result.remarks:
            typer.echo(f"remark: {remark}")
        typer.echo(
            "Every hash is as recorded. A whole workspace put back to an earlier day would not show here; "
            "a head that somebody else holds would."
            if result.sound else "Not as recorded: see the faults above. Change nothing; keep a copy of the folder as it is."
        )  # fmt: skip
    if not result.sound:
        stop(ExitCode.DAMAGED)
