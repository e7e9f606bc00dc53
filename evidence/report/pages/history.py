"""What happened when: the timeline, the work orders of every side, the interventions and the states they opened."""

from __future__ import annotations

from typing import Any

from evidence.model.base import say, shorten
from evidence.model.dossier import Recorded
from evidence.model.examination import ActuatorTest, CodeScan, Measurement, Observation, Taken
from evidence.model.exhibit import Exhibit
from evidence.model.happening import Event, TimeRelation
from evidence.model.kinds import enumerated
from evidence.model.people import Correspondence, CustodyTransfer, OwnerDeclaration
from evidence.model.repair import Intervention, WorkOrder
from evidence.model.waveform import Waveform
from evidence.model.when import TimeSpan, When
from evidence.report.blocks import (
    Block,
    Bullets,
    Column,
    Facts,
    Happening,
    Heading,
    Para,
    Row,
    Section,
    Table,
    Timeline,
)
from evidence.report.given import ReportInput
from evidence.report.phrasing import NOT_STATED, first_up, joined, or_not_stated, sentence
from evidence.report.tables import Cell, records
from evidence.report.words import SIDES, labels, parts, title, when
from evidence.timeline.clocks import Clocks
from evidence.timeline.stated import stated
from evidence.timeline.tightened import tighten

_LANES = {
    "prior_repairer": "prior repair",
    "owner": "owner",
    "present_repairer": "present shop",
    "later_repairer": "later repair",
}
_SHOP, _EVENT, _PAPER = "present shop", "event", "letters, calls, custody"


def timeline(given: ReportInput) -> Section:
    """The picture, then the events with how each is known."""
    dossier = given.dossier
    happenings = _happenings(given)
    blocks: list[Block] = []
    if happenings:
        blocks.append(
            Para(
                "Each bar spans the earliest and the latest instant that the record allows; a wide bar is an uncertain "
                "time, not a long event. Times of devices are put right where their clocks have a reference, and made "
                "tighter where other records leave less room. "
                "Pauses without any record are cut out of the axis. Times in UTC.",
                tone="small",
            )
        )
        blocks.append(Timeline(tuple(happenings)))
    else:
        blocks.append(Para("Nothing with a time is recorded.", tone="muted"))
    leading = next(iter(given.assessment.candidates), None)
    if leading and leading.order.sentence:
        blocks.append(Para(sentence(leading.order.sentence), head=f"Order in time. {leading.title}."))
    blocks += records(
        dossier,
        Event,
        [
            (Column("What", 3.4), lambda r: f"{first_up(r.value.what)}: {r.value.text}"),
            (Column("When", 2.3), lambda r: when(dossier, r.value.time)),
            (Column("How known", 1.2), lambda r: say(r.value.basis)),
            (Column("By", 1.5), lambda r: dossier.party(r.value.by)),
            (Column("Led to by, exhibits", 2.2), lambda r: joined(
                [labels(dossier, r.value.caused_by), r.value.odometer and r.value.odometer.words(),
                 labels(dossier, r.value.exhibits)])),
        ],
        heading="Events",
        none="No event recorded.",
    )  # fmt: skip
    blocks += _relations(given)
    return Section("Timeline of cause and effect", tuple(blocks), new_page=True)


def _relations(given: ReportInput) -> tuple[Block, ...]:
    dossier = given.dossier
    columns: list[tuple[Column, Cell[TimeRelation]]] = [
        (Column("What", 1.6), lambda r: dossier.label(r.value.what)),
        (Column("Lay", 1.5), lambda r: joined(
            [r.value.relation, r.value.least and f"at least {r.value.least.words()}", r.value.most and f"at most {r.value.most.words()}"])),
        (Column("What other", 1.6), lambda r: dossier.label(r.value.other)),
        (Column("Text", 2.8), lambda r: r.value.text),
        (Column("How known, by, exhibits", 2), lambda r: joined(
            [say(r.value.basis), r.value.by and dossier.party(r.value.by), labels(dossier, r.value.exhibits)])),
    ]  # fmt: skip
    return records(dossier, TimeRelation, columns, heading="What is known of the order", none="")


def _happenings(given: ReportInput) -> list[Happening]:
    dossier = given.dossier
    times = tighten(stated(dossier))
    found: list[Happening] = []

    def add(recorded: Recorded[Any], moment: When | None, text: str, lane: str, until: When | None = None) -> None:
        if moment is not None:
            tight = times.of(recorded.label)
            span = tight.span if tight and tight.span else moment.span
            last = until.span.latest if until and until.span.latest > span.latest else span.latest
            causes = tuple(dossier.label(s) for s in getattr(recorded.value, "caused_by", ()))
            found.append(Happening(recorded.label, shorten(text, 90), TimeSpan(span.earliest, last), lane, causes))

    for order in dossier.of(WorkOrder):
        w = order.value
        work = "; ".join(o.text for o in w.operations) or "work not itemised"
        add(order, w.opened or w.closed, work, _LANES[w.side], w.closed)
    for event in dossier.of(Event):
        add(event, event.value.time, event.value.text, _EVENT)
    for change in dossier.of(Intervention):
        add(change, change.value.time, change.value.summary(), _SHOP)
    spoken: tuple[Recorded[Any], ...] = (*dossier.of(OwnerDeclaration), *dossier.of(CustodyTransfer))
    for item in spoken:
        add(item, item.value.time, item.value.summary(), _PAPER)
    for letter in dossier.of(Correspondence):
        add(letter, letter.value.sent, letter.value.summary(), _PAPER)
    found += _examination(given)
    ranks = {"Work order": 0, "Event": 1}
    return sorted(found, key=lambda h: (h.span.earliest, ranks.get(h.key.rsplit(" ", 1)[0], 2), h.span.latest))


def _examination(given: ReportInput) -> list[Happening]:
    """Readings, observations and pictures of one state and one day are one line; a read-out of codes is its own."""
    dossier = given.dossier
    clocks = Clocks.of(dossier)
    found = [
        Happening(r.label, shorten(r.value.summary(), 90), clocks.span(r.subject, r.value.time), _SHOP)
        for r in dossier.of(CodeScan) if r.value.time
    ]  # fmt: skip
    taken: list[tuple[Recorded[Any], When | None]] = []
    kinds: tuple[type[Any], ...] = (Observation, Measurement, ActuatorTest, Waveform)
    for cls in kinds:
        taken += [(r, r.value.time) for r in dossier.of(cls)]
    for e in dossier.of(Exhibit):
        if e.value.read and e.value.read.media in ("photo", "video") and not e.value.derived_from:
            taken.append((e, e.value.taken or e.value.read.captured))
    days: dict[tuple[str, str], list[tuple[Recorded[Any], TimeSpan]]] = {}
    for recorded, time in taken:
        if time and recorded.value.state:
            days.setdefault((recorded.value.state, time.given[:10]), []).append(
                (recorded, clocks.span(recorded.subject, time))
            )
    return found + [_one_day(state, items) for (state, _day), items in days.items()]


def _one_day(state: str, items: list[tuple[Recorded[Any], TimeSpan]]) -> Happening:
    span = TimeSpan(min(s.earliest for _, s in items), max(s.latest for _, s in items))
    words = {"undisturbed": "as found, untouched", "disturbed": "disturbed", "after_repair": "after repair"}
    counts: dict[str, int] = {}
    for recorded, _span in items:
        counts[recorded.kind] = counts.get(recorded.kind, 0) + 1
    said = ", ".join(f"{n} {say('picture' if k == 'exhibit' else k)}{'s' if n > 1 else ''}" for k, n in counts.items())
    return Happening(items[0][0].label, f"{words.get(state, state)}: {said}", span, _SHOP)


def work_orders(given: ReportInput) -> Section:
    """Every work order, told apart by whose work it was."""
    dossier = given.dossier
    orders = dossier.all_of(WorkOrder)
    blocks: list[Block] = []
    if not any(o.value.side == "prior_repairer" and not o.withdrawn for o in orders):
        blocks.append(
            Para("No work order of a prior repairer is recorded. Without one, nothing can be said about prior work.")
        )
    for side, words in SIDES.items():
        for order in [o for o in orders if o.value.side == side]:
            blocks += _order(given, order, words)
    return Section("Work orders", tuple(blocks))


def _order(given: ReportInput, order: Recorded[WorkOrder], side: str) -> list[Block]:
    dossier, w = given.dossier, order.value
    rows = [
        ("Repairer", dossier.party(w.repairer)),
        ("Opened, closed", f"{when(dossier, w.opened)}; {when(dossier, w.closed)}"),
        ("Odometer in, out", (f"{w.odometer_in.words() if w.odometer_in else NOT_STATED}; "
                             f"{w.odometer_out.words() if w.odometer_out else NOT_STATED}")),
        ("Complaint as worded", or_not_stated(w.complaint)),
        ("Cause as worded", or_not_stated(w.cause)),
        ("Correction as worded", or_not_stated(w.correction)),
        ("Total, tax", f"{w.total.words() if w.total else NOT_STATED}; {w.tax.words() if w.tax else NOT_STATED}"),
        ("Exhibits", labels(dossier, w.exhibits) or "none"),
    ]  # fmt: skip
    if w.side != "prior_repairer":  # what is not stated weighs only where the prior work is at stake
        rows = [r for r in rows if r[1] not in (NOT_STATED, "none", f"{NOT_STATED}; {NOT_STATED}")]
    if status := title(order).partition("\n")[2]:
        rows.insert(0, ("Correction", status))
    blocks: list[Block] = [
        Heading(f"{side}: {order.label}" + (f", number {w.number}" if w.number else "")),
        Facts(tuple(rows), key=order.label, faded=order.withdrawn),
    ]
    if w.operations:
        lines = tuple(
            Row((o.text, joined([say(o.operation) if o.operation else None, parts(o.components)]),
                 o.hours or "–", o.amount.words() if o.amount else "–"))
            for o in w.operations
        )  # fmt: skip
        columns = (Column("Labour line as worded", 3.4), Column("Operation, further components", 2.6),
                   Column("Hours", 0.7, "right"), Column("Amount", 1.1, "right"))  # fmt: skip
        blocks.append(Table(columns, lines))
    if w.parts:
        part_columns = (Column("Part as worded", 2.7), Column("Number", 1.4), Column("Qty", 0.5, "right"),
                   Column("Origin", 1.1), Column("Old part", 1.3), Column("Amount", 1.1, "right"))  # fmt: skip
        blocks.append(Table(part_columns, tuple(
            Row((joined([p.text, p.component and say(p.component)]), p.number or "–", str(p.quantity) if p.quantity is not None else "–",
                 say(p.origin) if p.origin else NOT_STATED, say(p.old_part) if p.old_part else NOT_STATED,
                 p.amount.words() if p.amount else "–")) for p in w.parts)))  # fmt: skip
    return blocks


def interventions(given: ReportInput) -> Section:
    """What was changed, in order; each opens a new state to which later readings belong."""
    dossier = given.dossier
    blocks: list[Block] = [
        Para("Every intervention opens a new state of the vehicle. Readings and pictures belong to the state in which "
             "they were taken; those named as found were taken before the first one.", tone="small")
    ]  # fmt: skip
    blocks += records(
        dossier,
        Intervention,
        [
            (Column("Done", 1.3), lambda r: first_up(r.value.action)),
            (Column("To what", 2.2), lambda r: parts(r.value.components)),
            (Column("By", 1.6), lambda r: dossier.party(r.value.by)),
            (Column("When", 2.2), lambda r: when(dossier, r.value.time)),
            (Column("Text", 2.4), lambda r: r.value.text or ""),
            (Column("After, order, exhibits", 1.8), lambda r: joined(
                [labels(dossier, [r.value.after]), labels(dossier, [r.value.work_order]), labels(dossier, r.value.exhibits)])),
        ],
        none="No intervention is recorded: as far as the record goes, the vehicle is as it was found.",
    )  # fmt: skip
    after: dict[str, list[str]] = {}
    for cls in (Observation, Measurement, CodeScan, ActuatorTest, Waveform):
        for r in dossier.of(cls):
            if isinstance(r.value, Taken) and r.value.after:
                after.setdefault(dossier.label(r.value.after), []).append(r.label)
    if after:
        blocks.append(Heading("Readings in the states that followed"))
        blocks.append(Bullets(tuple(f"After {label}: {enumerated(items)}" for label, items in after.items())))
    return Section("Interventions and states", tuple(blocks))
