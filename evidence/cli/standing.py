"""``evidence status`` and ``evidence place``: where matters stand, what is due, and what a person looked up about a place."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evidence.cli.common import desk, print_json_rows, shown, table, workspace_folder
from evidence.errors import EvidenceError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from evidence.claim.due import Due
    from evidence.usecases.standing import Matter

place_app = typer.Typer(
    no_args_is_help=True, rich_markup_mode=None, help="What holds at a place: a file that you fill in and date."
)


def status(
    dossier: Annotated[
        str, typer.Argument(metavar="[DOSSIER]", help="Short name of the dossier; left out: all of them.")
    ] = "",
    place: Annotated[
        str, typer.Option(help="The place whose holidays and habits apply; default: that of the dossier.")
    ] = "",
    on: Annotated[str, typer.Option(metavar="DAY", help="Tell it as of this day; default: today.")] = "",
    calendar: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Also write what is due as an iCalendar file (RFC 5545).")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False,
) -> None:
    """Show where a matter stands, what is due next, and what blocks the next step."""
    from evidence.store.memory import uncollected
    from evidence.usecases.standing import matters, matters_json

    with uncollected():
        with desk() as opened:
            now = opened.clock.now()
            today = _day(on) or opened.today()
            found = matters(opened, dossier, today, place)
        if calendar:
            _write_calendar(calendar, found, now)
        if as_json:
            print_json_rows(matters_json(found), "matters")
        elif dossier:
            _tell_one(found[0])
        else:
            _tell_all(found)


def _day(text: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text) if text else None
    except ValueError as err:
        raise EvidenceError("is not a day; write it such as 2026-06-30", item=text) from err


def _write_calendar(file: Path, found: Sequence[Matter], now: dt.datetime) -> None:
    from evidence import __version__
    from evidence.claim.day_file import day_file
    from evidence.report.writing import whole_file

    titled = [(m.title, d) for m in found for d in m.standing.ahead]
    with whole_file(file) as stream:
        stream.write(day_file(titled, now.replace(microsecond=0), f"evidence {__version__}"))
    typer.echo(f"{len(titled)} days written to {file}", err=True)


def _tell_all(found: Sequence[Matter]) -> None:
    from evidence.model.base import say
    from evidence.usecases.standing import here_words

    rows = []
    for matter in found:
        told = matter.standing
        coming = told.pressing
        rows.append([
            matter.name, here_words(told), say(told.course.following or "closed"),
            f"{_when(coming, told.today)}\n{coming.words}" if coming else "nothing", "\n".join(told.blocked),
        ])  # fmt: skip
    table("", ["Dossier", "Stands at", "Next step", "Due", "In the way"], rows, empty="No dossier is open yet.")
    for problem in dict.fromkeys(m.place_problem for m in found if m.place_problem):
        typer.echo(f"note: told without the place: {shown(problem)}")
    for place in {id(m.place): m.place for m in found if m.place}.values():
        for words in place.stale(found[0].standing.today):
            typer.echo(f"note: {shown(place.name)}, {shown(words)}")


def _tell_one(matter: Matter) -> None:
    from evidence.model.base import say
    from evidence.usecases.standing import here_words

    told = matter.standing
    typer.echo(shown(matter.title))
    typer.echo(f"Stands at: {here_words(told)}")
    if told.course.following:
        typer.echo(f"Next step: {say(told.course.following)}")
    for words in told.blocked:
        typer.echo(f"In the way: {shown(words)}")
    rows = []
    for state in told.course.stages:
        how = "\n".join(f"{m.day[:10]} {m.text} ({m.label})".replace("  ", " ") for m in state.steps)
        rows.append([say(state.stage), how or (f"left out: {state.skipped}" if state.skipped else "not recorded")])
    table("", ["Stage", "On record"], rows, empty="")
    table(
        "", ["Day", "What", "From", "How it is known"],
        [[_when(d, told.today), d.words, d.record, "; ".join(filter(None, (d.note, d.done)))] for d in told.dues],
        empty="Nothing is due by the record.",
    )  # fmt: skip
    if matter.place_problem:
        typer.echo(f"note: told without the place: {shown(matter.place_problem)}")
    for remark in told.remarks:
        typer.echo(f"note: {shown(remark)}")
    if matter.place:
        typer.echo(f"Place: {shown(matter.place.name)}" + (" (fictional)" if matter.place.fictional else ""))
        for name, entry in matter.place.entries:
            typer.echo(f"  {name}: {shown(entry.age_words(told.today))}")
    typer.echo("The program computes no law. Days that a law sets are fields that a person fills in; check them there.")


def _when(due: Due | None, today: dt.date) -> str:
    if due is None or due.day is None:
        return "by distance"
    left = due.days_left(today) or 0
    if due.done:
        return due.day.isoformat()
    days = "1 day" if abs(left) == 1 else f"{abs(left)} days"
    ago = "today" if left == 0 else f"in {days}" if left > 0 else f"OVERDUE by {days}"
    return f"{due.day.isoformat()}, {ago}"


@place_app.command("new")
def new(name: Annotated[str, typer.Argument(help="Name of the place, such as harrow-vale.")]) -> None:
    """Write an empty place file into the workspace, to be filled in with sources and days."""
    from evidence.capture.place_files import new_place

    typer.echo(f"fill in and date: {new_place(workspace_folder(), name)}")


@place_app.command("show")
def show(name: Annotated[str, typer.Argument(help="Name of the place.")]) -> None:
    """Show what is filled in for a place, from which source, and how old it is."""
    with desk() as opened:
        rules, today = opened.place(name), opened.today()
    typer.echo(shown(rules.name) + (" (fictional)" if rules.fictional else ""))
    rows = [[what, _words_of(entry), entry.age_words(today)] for what, entry in rules.entries]
    table("", ["What", "As filled in", "Source"], rows, empty="Nothing is filled in yet; nothing is assumed.")
    for words in rules.stale(today):
        typer.echo(f"note: {shown(words)}")


def _words_of(entry: object) -> str:
    from evidence.claim.place import Ceiling, Holidays, Tax, Words

    if isinstance(entry, Ceiling):
        return entry.amount.words()
    if isinstance(entry, Words):
        return entry.text
    if isinstance(entry, Tax):
        return f"{entry.rate} %" + (
            "" if entry.on_labour is None else " on parts and labour" if entry.on_labour else " on parts"
        )
    assert isinstance(entry, Holidays)
    where = f"{entry.country} {entry.subdivision or ''}".strip() if entry.country else ""
    return ", ".join(filter(None, (where, f"{len(entry.days)} days listed" if entry.days else "")))
