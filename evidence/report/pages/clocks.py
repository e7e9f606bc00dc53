"""Clocks: what each device's clock was held against, how far it was off, and every time before and after."""

from __future__ import annotations

from evidence.model.base import say
from evidence.model.clock import ClockReference
from evidence.model.kinds import enumerated
from evidence.report.blocks import Block, Bullets, Column, Heading, Para, Row, Section, Table
from evidence.report.given import ReportInput
from evidence.report.phrasing import first_up, joined
from evidence.report.tables import records
from evidence.report.words import clock, labels
from evidence.timeline.clock_signs import signs
from evidence.timeline.clock_telling import spread, told
from evidence.timeline.clocks import Clocks


def clocks(given: ReportInput) -> Section | None:
    """None where no device stamped anything and no reference is recorded."""
    dossier = given.dossier
    found = Clocks.of(dossier)
    if not found.clocks and not dossier.all_of(ClockReference):
        return None
    blocks: list[Block] = [
        Para("A device's clock is evidence like any other: it is held against a time known from elsewhere, and the times it "
             "wrote are put right by that. Spans are wide enough for everything the references leave open. A clock without a "
             "reference stands as it is.", tone="small")
    ]  # fmt: skip
    blocks += records(
        dossier,
        ClockReference,
        [
            (Column("Device", 1.7), lambda r: r.value.device or labels(dossier, [r.value.instrument])),
            (Column("Its clock showed", 1.9), lambda r: clock(dossier, r.value.clock_showed) if r.value.clock_showed else "as in its file"),
            (Column("Right time", 2.2), lambda r: f"{clock(dossier, r.value.true_time)} ± {r.value.uncertainty.words()}"),
            (Column("Known from", 2.2), lambda r: joined([first_up(say(r.value.source)), r.value.source_text, r.value.note])),
            (Column("By, exhibits", 2), lambda r: joined(
                [dossier.party(r.value.by) if r.value.by else None, labels(dossier, r.value.exhibits),
                 "set right after" if r.value.clock_set_after else None])),
        ],
        heading="Clock references",
        none="No clock reference is recorded.",
    )  # fmt: skip
    blocks += _errors(found)
    blocks += _before_and_after(given, found)
    if noted := signs(dossier, found):
        blocks += [Heading("What the times in files say against each other"), Bullets(tuple(s.words() for s in noted))]
    return Section("Clocks of cameras and tools", tuple(blocks))


def _errors(found: Clocks) -> list[Block]:
    rows = []
    for line in told(found):
        known = joined([line.error or "not known", *(f"{label} {words}" for label, words in line.residuals)])
        open_still = "\n".join(first_up(t) + "." for t in (*line.faults, *line.missing))
        rows.append(
            Row((line.device, enumerated(line.records) or "nothing here", known, line.drift or "not known", open_still))
        )
    columns = (Column("Device", 1.6), Column("It stamped", 1.8), Column("Its clock was", 2.3), Column("Drift", 1.9),
               Column("Open, or contradicted", 3))  # fmt: skip
    return [Heading("How far each clock was off"), Table(columns, tuple(rows))] if rows else []


def _before_and_after(given: ReportInput, found: Clocks) -> list[Block]:
    rows = [
        Row(
            (
                c.label,
                clock(given.dossier, c.when),
                spread(c.before),
                spread(c.after),
                joined([enumerated(c.references), *c.notes]),
            )
        )
        for c in found.corrections.values()
    ]
    columns = (
        Column("Record", 1.2),
        Column("Device's clock", 2),
        Column("Before", 2.5),
        Column("After", 2.5),
        Column("By", 2.4),
    )
    return [Heading("Times before and after"), Table(columns, tuple(rows))] if rows else []
