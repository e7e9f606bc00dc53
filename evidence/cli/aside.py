"""``evidence talk`` and ``evidence lesson``: what is kept beside a dossier and never goes out with it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from evidence.cli.common import desk, shown, table
from evidence.errors import EvidenceError

if TYPE_CHECKING:
    from evidence.model.aside import Lesson, SettlementTalk

_NEVER = (
    "Kept apart from the evidence (follows the idea of US Fed. R. Evid. 408; rules differ by place): no report, paper or "
    "bundle carries it. It lies in this workspace and in copies of it. No legal advice."
)
_WITHDRAW = typer.Option(metavar="NUMBER", help="Withdraw the line of this number; it stays listed.")
_REASON = typer.Option(help="Why it is withdrawn.")


def talk(
    dossier: Annotated[str, typer.Argument(metavar="DOSSIER", help="Short name of the dossier.")],
    text: Annotated[str, typer.Option(help="What was said or written; left out: list the talks.")] = "",
    time: Annotated[str, typer.Option(help="When, such as '2026-06-20 10:15'.")] = "",
    by: Annotated[str, typer.Option(help="Who said it.")] = "",
    to: Annotated[str, typer.Option(help="To whom.")] = "",
    what: Annotated[str, typer.Option(help="offer | counter_offer | acceptance | refusal | talk.")] = "",
    channel: Annotated[str, typer.Option(help="letter | message | telephone | in_person.")] = "",
    amount: Annotated[str, typer.Option(help="A sum, such as '900.00 EUR'.")] = "",
    withdraw: Annotated[int, _WITHDRAW] = 0,
    reason: Annotated[str, _REASON] = "",
) -> None:
    """Note an offer or a talk about settling in the dossier's second ledger, or list them."""
    from evidence.model.aside import SettlementTalk

    fields = {"text": text, "time": time, "by": by, "to": to, "what": what, "channel": channel, "amount": amount}
    if _written(dossier, SettlementTalk, fields, withdraw, reason):
        return
    rows = []
    for label, withdrawn, v in _lines(dossier, SettlementTalk):
        who = f"{v.by} to {v.to}" if v.to else v.by
        rows.append([label, v.time.given, who, v.amount.words() if v.amount else "", v.text + withdrawn])
    table("", ["Line", "When", "Who", "Sum", "What was said"], rows, empty="No talk about settling is noted.")
    typer.echo(_NEVER)


def lesson(
    dossier: Annotated[
        str, typer.Argument(metavar="[DOSSIER]", help="Short name; left out: what all lessons count.")
    ] = "",
    stage: Annotated[str, typer.Option(help="The stage at which it was missing, such as intake.")] = "",
    missing: Annotated[list[str] | None, typer.Option(help="What was missing; may be given again.")] = None,
    mistake: Annotated[str, typer.Option(help="Code of the mistake, as 'evidence mistakes' lists them.")] = "",
    text: Annotated[str, typer.Option(help="What will be done otherwise.")] = "",
    withdraw: Annotated[int, _WITHDRAW] = 0,
    reason: Annotated[str, _REASON] = "",
) -> None:
    """Note what was missing in a dossier, or count it by stage over all dossiers."""
    from evidence.model.aside import Lesson
    from evidence.model.base import say
    from evidence.usecases.aside import missing_by_stage, noted

    fields = {"stage": stage, "missing": missing, "mistake": mistake, "text": text}
    if not dossier and (withdraw or any(fields.values())):
        raise EvidenceError(
            "a lesson is noted in one dossier", advice="Name it: evidence lesson DOSSIER --stage … --missing …"
        )
    if _written(dossier, Lesson, fields, withdraw, reason):
        return
    if dossier:
        rows = [
            [label, say(v.stage), ", ".join(v.missing), (v.text or "") + gone]
            for label, gone, v in _lines(dossier, Lesson)
        ]
        table("", ["Line", "Stage", "What was missing", "What will be done"], rows, empty="No lesson is noted.")
    else:
        with desk() as opened:
            counted = missing_by_stage(noted(opened, "", Lesson))
        rows = [[say(stage), what, str(count)] for stage, what, count in counted]
        table("", ["Stage", "What was missing", "Lessons"], rows, empty="No lesson is noted in any dossier.")
    typer.echo(_NEVER)


def _written(
    dossier: str, cls: type[SettlementTalk | Lesson], fields: dict[str, Any], withdraw: int, reason: str
) -> bool:
    """Whether something was to be written, which is done then."""
    from evidence.usecases.aside import note, take_back

    given = {name: value for name, value in fields.items() if value}
    if not given and not withdraw:
        return False
    with desk() as opened:
        label = take_back(opened, dossier, cls, withdraw, reason) if withdraw else note(opened, dossier, cls, given)
    typer.echo(f"{label}: {'withdrawn' if withdraw else 'noted in the second ledger'}")
    return True


def _lines(dossier: str, cls: type[SettlementTalk | Lesson]) -> list[tuple[str, str, Any]]:
    """Label, a word that it is withdrawn, and the record, of every line of a kind."""
    from evidence.usecases.aside import noted

    with desk() as opened:
        found = noted(opened, dossier, cls)
    told = []
    for line in found:
        label = f"{cls.label} {line.record.number}"
        told.append((shown(label), " (withdrawn)" if line.record.withdrawn else "", line.record.value))
    return told
