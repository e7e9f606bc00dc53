"""What to capture next, as a list to work through at the vehicle."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from decimal import Decimal
from typing import Annotated

import typer

from evidence.cli.common import desk, print_json, shown
from evidence.rules.capture_plan import STAGES, CapturePlan, CaptureStep, Gone

_BOX = "[ ]"


def plan(
    dossier: Annotated[
        str, typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
    ],
    brief: Annotated[bool, typer.Option("--brief", help="Only the steps, one line each.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False,
) -> None:
    """What to capture next for all explanations together: what is lost first, and what tells most per minute of work."""
    from evidence.usecases.plan import plan_dossier

    with desk() as opened:
        found = plan_dossier(opened, dossier)
    if as_json:
        from evidence.rules.assessment_json import plan_as_json

        print_json(plan_as_json(found.title, found.entries, found.plan))
        return
    typer.echo(shown(found.title))
    _print(found.plan, brief=brief)


def _print(found: CapturePlan, *, brief: bool) -> None:
    if found.steps:
        _paragraph(f"What to capture next: {_total(found)}. {found.verdict}")
    else:
        _paragraph(found.verdict)
    if not found.explanations:
        return
    _heading("Explanations to be told apart, with what the record gives them so far")
    for one in found.explanations:
        _paragraph(f"{one.title}: {one.band}", indent=f"  {one.letter:>2}  ")
        if one.settled and not brief:
            _paragraph(one.settled, indent="      ")
    if not brief:
        _before(found)
    for stage, title in STAGES.items():
        if steps_now := found.offered(stage):
            _heading(title)
            for step in steps_now:
                _line(step) if brief or step.slight else _step(step)
    if found.waiting:
        _heading("Not offered yet: tests that change or use up the state")
        for step in found.waiting:
            _line(step) if brief or step.slight else _step(step)
    if not brief:
        _after(found)


def _total(found: CapturePlan) -> str:
    """What the steps take that tell something, and apart from them what the others would."""
    count = len(found.steps) - len(found.slight)
    told = f"{count} step{'s' if count != 1 else ''}, {_minutes(found.minutes_first)}"
    more = (
        f"; {len(found.slight)} more that tell little as things stand, {_minutes(found.minutes - found.minutes_first)}"
    )
    return told + (more if found.slight else "")


def _before(found: CapturePlan) -> None:
    if found.warned:
        _heading("Mistakes that can still be avoided")
        for warned in found.warned:
            _paragraph(f"{warned.text} {warned.why}", indent="  - ")
    if found.cautions:
        _heading("Cautions: the maker's procedure, local codes and licensed practice rule over everything here")
        for name, text in found.cautions:
            _paragraph(f"{name}: {text}", indent="  - ")
        for note in found.safety_notes:
            _paragraph(note, indent="  - ")


def _after(found: CapturePlan) -> None:
    if found.keep:
        _heading("Keep until the dispute is settled")
        for text in found.keep:
            _paragraph(text, indent="  - ")
    _gone("Open, and no answer would change anything", found.idle)
    _gone("Cannot be had any more", found.lost)
    typer.echo("")
    for note in found.notes:
        _paragraph(note)


def _gone(title: str, points: Sequence[Gone]) -> None:
    if points:
        _heading(title)
    for point in points:
        _paragraph(f"{point.what} ({_letters(point)}): {point.why}", indent="  - ")


def _letters(point: Gone | CaptureStep) -> str:
    return ", ".join(a.letter for a in point.asked_by)


def _line(step: CaptureStep) -> None:
    with_what = f", {step.instrument}" if step.instrument not in ("", "papers") else ""
    _paragraph(f"{step.what} ({_minutes(step.minutes)}{with_what})", indent=f"{_BOX} {step.place:2}. ")


def _step(step: CaptureStep) -> None:
    once = " [can be done only once: on video, or by two people]" if step.one_shot else ""
    _paragraph(step.what + once, indent=f"{_BOX} {step.place:2}. ")
    usual = "" if step.minutes_stated else ", the usual"
    worth = f"; {step.bits.quantize(Decimal('0.01'))} bits" if step.bits else ""
    _under(f"For {_letters(step)}; {_minutes(step.minutes)}{usual}, {_minutes(step.running)} so far{worth}")
    for name, text in (
        ("How", step.how), ("With", step.instrument.removeprefix("papers")), ("If so", step.if_met), ("If not", step.if_not),
        ("In between", step.between), ("What it does", step.effect), ("On record so far", step.read_so_far),
        ("Invite, by notice first", "; ".join(step.invite)), ("Keep", "; ".join(step.keep)),
        ("Caution", ", ".join(name for name, _ in step.cautions)), ("Wait", "; ".join(step.waiting)),
    ):  # fmt: skip
        if text:
            _under(f"{name}: {text}")
    for line in step.lines:
        _paragraph(line, indent=f"        {_BOX} ")


def _under(text: str) -> None:
    _paragraph(text, indent="        ")


def _minutes(minutes: Decimal) -> str:
    return f"{minutes.normalize():f} min" if minutes < 60 else f"{int(minutes) // 60} h {int(minutes) % 60:02d} min"


def _heading(text: str) -> None:
    typer.echo("")
    typer.secho(shown(text), bold=True)


def _paragraph(text: str, *, indent: str = "") -> None:
    typer.echo(textwrap.fill(shown(text), width=118, initial_indent=indent, subsequent_indent=" " * len(indent)))
