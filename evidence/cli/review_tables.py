"""Challenges, reviews and comparisons as text for a terminal, and as plain data."""

from __future__ import annotations

import dataclasses
import textwrap
from collections.abc import Sequence
from typing import Any

import typer

from evidence.cli.common import shown
from evidence.model.kinds import enumerated
from evidence.review.challenge import RANKING, Challenge
from evidence.review.compare import Comparison, RecordChange
from evidence.review.exchange import Line, Marked, Sheet


def print_challenges(title: str, found: Sequence[Challenge], *, brief: bool) -> None:
    """The list, worst first."""
    typer.echo(shown(title))
    if not found:
        _paragraph("Nothing that these rules know of can be raised against it. That is not the same as nothing.")
        return
    for one in found:
        if brief:
            _paragraph(f"{one.said}. {one.sentence}", f"{one.place:3}. ")
            continue
        typer.echo("")
        typer.secho(f"{one.place:3}. {one.said}", bold=True)
        _paragraph(one.sentence, "     ")
        _paragraph(one.hurts, "     ")
        for line in one.answer.split("\n"):
            _paragraph(line, "     Answer: ")
        if one.exhibits:
            _paragraph(enumerated(one.exhibits), "     Exhibits: ")
    typer.echo("")
    _paragraph(RANKING)


def print_sheet(sheet: Sheet, *, full: bool) -> None:
    """The review beside the dossier: every candidate that carries a mark, and the first."""
    typer.secho(shown(sheet.title), bold=True)
    counted = ", ".join(f"{sheet.count(w)} {w}" for w in ("accepted", "questioned", "rejected"))
    typer.echo(f"{sheet.entries} entries: {counted}, {len(sheet.waiting())} waiting for an answer")
    for number, part in enumerate(sheet.parts):
        lines = [line for line in part.lines if full or line.marks]
        if not lines and number:
            continue
        typer.echo("")
        typer.secho(shown(part.title), bold=True)
        if not lines:
            typer.echo("  no mark yet; --all lists what can be marked")
        for line in lines:
            _line(line)
    typer.echo("")
    print_waiting(sheet)


def _line(line: Line) -> None:
    mark = line.mark or "-"
    _paragraph(f"{line.statement} [{line.state}]", f"  {mark:10} {line.name:4} ")
    for one in line.marks:
        told = "before: " if one.old else ""
        _paragraph(f"{told}{_mark(one)}", "             ")
        for given in one.answers:
            named = f" ({enumerated(given.records)})" if given.records else ""
            _paragraph(f"{given.text}{named}", f"             {given.label}, {given.by}: ")


def _mark(mark: Marked) -> str:
    text = f": {mark.text}" if mark.text else ""
    records = f" (see {enumerated(mark.records)} of the review)" if mark.records else ""
    return f"mark {mark.number}, {mark.mark}{text}{records}"


def print_waiting(sheet: Sheet) -> None:
    """The questions and rejections without an answer."""
    waiting = sheet.waiting()
    if not waiting:
        typer.echo("Nothing waits for an answer.")
        return
    typer.echo("Waiting for an answer:")
    for line, mark in waiting:
        _paragraph(f"{mark.mark}, {line.name}: {mark.text}", f"  {mark.number:3}. ")


def print_comparison(found: Comparison, *, continues: bool) -> None:
    """What differs, records first, then what that did to the findings."""
    typer.secho(shown(found.title), bold=True)
    if continues:
        typer.echo(f"from {found.before} to {found.after} entries; the later one continues the earlier")
    else:
        _paragraph(
            f"TWO HISTORIES: the first {found.before} entries of the later one are not those of the earlier. "
            "One of the two was changed after it was sent; keep both files."
        )
    for title, changes in (
        ("Added", found.added), ("Amended", found.amended), ("Withdrawn", found.withdrawn),
        ("Shown before, withheld now", found.withheld), ("Withheld before, shown now", found.shown),
    ):  # fmt: skip
        if changes:
            typer.echo(f"{title}:")
        for change in changes:
            _change(change)
    if found.findings:
        typer.echo("What that did to the findings:")
    for candidate in found.findings:
        _paragraph(candidate.title, "  ")
        for line in candidate.lines:
            _paragraph(line, "    - ")
    if found.nothing:
        typer.echo("Nothing that is shown differs.")


def _change(change: RecordChange) -> None:
    _paragraph(f"{change.label}: {change.summary}", "  ")
    for field in change.fields:
        _paragraph(f"{field.field}: {field.was} → {field.now}", "      ")
    for reason in change.reasons:
        _paragraph(f"reason: {reason}", "      ")


def sheet_json(sheet: Sheet) -> dict[str, Any]:
    """The review as plain data, ``format`` 1."""
    return {"format": 1, **dataclasses.asdict(sheet), "waiting": [m.number for _, m in sheet.waiting()]}


def comparison_json(found: Comparison) -> dict[str, Any]:
    """A comparison as plain data, ``format`` 1."""
    return {"format": 1, **dataclasses.asdict(found)}


def _paragraph(text: str, indent: str = "") -> None:
    typer.echo(textwrap.fill(shown(text), width=118, initial_indent=indent, subsequent_indent=" " * len(indent)))
