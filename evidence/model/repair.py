"""Work done on the vehicle: work orders of every side, and single interventions."""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar, Literal

from pydantic import model_validator

from evidence.model.base import (
    ComplaintTag,
    Component,
    Count,
    ExhibitRef,
    InterventionRef,
    ItemRef,
    Line,
    OperationName,
    PartyRef,
    Plain,
    Record,
    Text,
    Value,
    WorkOrderRef,
    say,
    shorten,
)
from evidence.model.course import Period
from evidence.model.despite import Despite
from evidence.model.quantity import Distance, Money
from evidence.model.when import When

Side = Literal["prior_repairer", "owner", "present_repairer", "later_repairer"]
Origin = Literal["maker_new", "other_new", "used", "rebuilt", "supplied_by_owner", "refitted"]
Kept = Literal["retained", "returned_to_owner", "returned_as_core", "scrapped", "with_prior_repairer"]


class Operation(Value):
    """A line of work. ``operation`` is the vocabulary's word, ``text`` the wording on the order."""

    operation: OperationName | None = None
    text: Line
    components: tuple[Component, ...] = ()  # disturbed beyond what the vocabulary says for the operation
    hours: Plain | None = None
    amount: Money | None = None


class Part(Value):
    """A part on the order, and what became of the old one."""

    text: Line
    number: Line | None = None
    component: Component | None = None
    quantity: Count | None = None
    origin: Origin | None = None
    amount: Money | None = None
    old_part: Kept | None = None


class WorkOrder(Record):
    """A repair: a prior repairer's, the owner's own, or the present shop's; ``side`` tells them apart."""

    kind: ClassVar[str] = "work_order"
    label: ClassVar[str] = "Work order"

    side: Side
    number: Line | None = None
    repairer: PartyRef
    opened: When | None = None
    closed: When | None = None
    odometer_in: Distance | None = None
    odometer_out: Distance | None = None
    odometer_note: Line | None = None  # why it is lower than before: instrument replaced, misread on the order
    complaint: Text | None = None  # as worded on the order
    complaint_tags: tuple[ComplaintTag, ...] = ()
    cause: Text | None = None
    correction: Text | None = None
    operations: tuple[Operation, ...] = ()
    parts: tuple[Part, ...] = ()
    total: Money | None = None
    tax: Money | None = None
    warranty_period: Period | None = None  # on the repair, as the order states it: whichever comes first
    warranty_distance: Distance | None = None
    knowing: Text | None = None  # why old parts are given up although a finding rests on them
    exhibits: tuple[ExhibitRef, ...] = ()

    @model_validator(mode="after")
    def _order(self) -> WorkOrder:
        if self.opened and self.closed and self.closed.span.latest <= self.opened.span.earliest:
            raise ValueError(f"closed {self.closed.given}, which is before it was opened ({self.opened.given})")
        if self.odometer_in and self.odometer_out and self.odometer_out.km() < self.odometer_in.km():
            raise ValueError(
                f"odometer out ({self.odometer_out.words()}) is lower than odometer in ({self.odometer_in.words()})"
            )
        return self

    @property
    def odometer_at_close(self) -> Decimal | None:
        """Kilometres when the vehicle left, as far as the order carries it."""
        reading = self.odometer_out or self.odometer_in
        return reading.km() if reading else None

    def summary(self) -> str:
        """Whose work, number and the first operations."""
        number = f" {self.number}" if self.number else ""
        return shorten(f"{say(self.side)}{number}: " + "; ".join(o.text for o in self.operations) or "no lines")


class Intervention(Record):
    """Something that was changed. Later readings belong to the state after it."""

    kind: ClassVar[str] = "intervention"
    label: ClassVar[str] = "Intervention"

    action: Literal[
        "refitted", "reconnected", "disconnected", "removed", "replaced", "opened", "cleaned", "tightened", "loosened",
        "codes_cleared", "programmed", "coded", "relearned", "filled", "drained", "charged", "jump_started", "substituted",
        "repaired", "tested_with_water", "moved",
    ]  # fmt: skip
    components: tuple[Component, ...]
    by: PartyRef
    time: When
    text: Text | None = None
    work_order: WorkOrderRef | None = None
    item: ItemRef | None = None  # what was worked on, or taken out, where that is not the vehicle itself
    after: InterventionRef | None = None
    exhibits: tuple[ExhibitRef, ...] = ()
    despite: tuple[Despite, ...] = ()  # mistakes made knowingly, each with its reason

    def summary(self) -> str:
        """What was done to what."""
        return shorten(
            f"{say(self.action)}: {', '.join(map(say, self.components))}" + (f" ({self.text})" if self.text else "")
        )
