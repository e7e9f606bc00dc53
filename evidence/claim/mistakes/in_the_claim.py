"""Mistakes in keeping, in hearing the owner, in the loss, and in what was not done in time."""

from __future__ import annotations

from collections.abc import Iterator

from evidence.claim.mistakes.ground import Made, at, nowhere, taken
from evidence.model.base import say
from evidence.model.course import DueDate
from evidence.model.dossier import Dossier
from evidence.model.happening import Event
from evidence.model.loss import LossItem
from evidence.model.people import OwnerDeclaration
from evidence.model.repair import WorkOrder
from evidence.rules.assessment import Assessment
from evidence.rules.keeping import given_up
from evidence.timeline.custody import chains, faults_of


def part_let_go(dossier: Dossier) -> Iterator[Made]:
    """Parts scrapped, returned as a core or to the owner, or said not to be kept."""
    for record in dossier.by_subject.values():
        for thing in () if record.withdrawn else given_up(dossier, record):
            yield at(record, "part_let_go", f"{record.label}: {thing.what} was {thing.how}.", thing.knowing)


def custody_gap(dossier: Dossier) -> Iterator[Made]:
    """What cannot fit in a chain of custody, or is not on record."""
    by_label = {r.label: r for r in dossier.by_subject.values()}
    for fault in faults_of(chains(dossier)):
        if record := by_label.get(fault.records[0]):
            yield at(record, "custody_gap", fault.sentence)


def owner_unheard(dossier: Dossier) -> Iterator[Made]:
    """Findings on record and no declaration of the owner from before they were shown to him."""
    declared = dossier.of(OwnerDeclaration)
    if not declared and any(True for _ in taken(dossier)):
        yield nowhere("owner_unheard", "Findings are on record, and no declaration of the owner is.")
    if declared and not any(d.value.before_findings_shown for d in declared):
        yield at(declared[0], "owner_unheard", f"{declared[0].label} was taken after findings had been shown.")


def driven_on(dossier: Dossier) -> Iterator[Made]:
    """The vehicle was driven on after a warning, by whoever said so."""
    for event in dossier.of(Event):
        if event.value.what == "driven_on":
            yield at(event, "driven_on", f"{event.label}: {event.value.summary()}")
    for declaration in dossier.of(OwnerDeclaration):
        if any(s.topic == "driven_on" and s.answer == "some" for s in declaration.value.statements):
            yield at(declaration, "driven_on", f"{declaration.label} says that it was driven on.")


def cost_unexplained(dossier: Dossier) -> Iterator[Made]:
    """Hire, loss of use or storage without a word on why it took that long."""
    for item in dossier.of(LossItem):
        if item.value.head in ("hire", "loss_of_use", "storage") and not item.value.why:
            yield at(
                item,
                "cost_unexplained",
                f"{item.label} ({say(item.value.head)}: {item.value.text}) says not why it took that long.",
            )


def one_lump_sum(dossier: Dossier) -> Iterator[Made]:
    """An order of the present shop with a total and no sum on any of its lines."""
    for order in dossier.of(WorkOrder):
        sums = [*(x.amount for x in order.value.operations), *(x.amount for x in order.value.parts)]
        if order.value.side == "present_repairer" and order.value.total and len(sums) > 1 and not any(sums):
            yield at(
                order,
                "one_lump_sum",
                f"{order.label} has one sum, {order.value.total.words()}, for {len(sums)} lines.",
            )


def rivals_untested(_dossier: Dossier, assessment: Assessment) -> Iterator[Made]:
    """An explanation that the record speaks for, while those that guard against it are still open."""
    for candidate in assessment.candidates:
        untested = [a for a in candidate.alternatives if a.guarded and a.status == "open" and not a.resolved]
        if candidate.weight.side == "mechanism" and untested:
            names = ", ".join(f"“{a.claim}”" for a in untested)
            yield nowhere("rivals_untested", f"“{candidate.title}” is supported, and still open are: {names}.")


def day_missed(dossier: Dossier) -> Iterator[Made]:
    """A last day that had passed, undone, when the record was last written to."""
    for due in dossier.of(DueDate):
        v = due.value
        if (
            v.what in ("limitation", "filing", "hearing")
            and v.done is None
            and dossier.last_at
            and v.day.span.latest < dossier.last_at
        ):
            yield at(
                due, "day_missed", f"{due.label} ({v.text}) was due on {v.day.given}; nothing says that it was done."
            )
