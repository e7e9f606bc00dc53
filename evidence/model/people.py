"""Who: persons and firms, and what they told, agreed to and wrote."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import model_validator

from evidence.model.base import (
    AnyRef,
    Component,
    ExhibitRef,
    ItemRef,
    Line,
    PartyRef,
    Record,
    Slug,
    Text,
    Value,
    say,
    shorten,
)
from evidence.model.course import Period
from evidence.model.despite import Despite
from evidence.model.quantity import Distance, Money
from evidence.model.when import When

Role = Literal[
    "owner", "driver", "present_repairer", "prior_repairer", "later_repairer", "technician", "adjuster", "insurer",
    "witness", "carrier", "storage", "laboratory", "parts_supplier", "advisor",
]  # fmt: skip

Fate = Literal["returned_to_owner", "returned_as_core", "scrapped"]

# How expected a finding is, from what cannot be missing to what should not be there.
Grade = Literal["certain", "expected", "possible", "unlikely", "excluded"]


class Party(Record):
    """A person or firm with a part in the matter."""

    kind: ClassVar[str] = "party"
    label: ClassVar[str] = "Party"

    full_name: Line
    roles: tuple[Role, ...] = ()
    firm: Line | None = None
    legal_name: Line | None = None
    registration: Line | None = None
    address: Text | None = None
    contact: Line | None = None
    qualification: Line | None = None
    interest: Line | None = None

    def summary(self) -> str:
        """Name, firm and roles."""
        firm = f", {self.firm}" if self.firm else ""
        roles = f" ({', '.join(map(say, self.roles))})" if self.roles else ""
        return f"{self.full_name}{firm}{roles}"


class CallNote(Record):
    """A telephone call, in the caller's words."""

    kind: ClassVar[str] = "call_note"
    label: ClassVar[str] = "Call note"

    caller: PartyRef
    taken_by: PartyRef | None = None
    time: When
    words: Text
    last_work: Text | None = None
    attempts: Text | None = None
    advice_given: Text | None = None
    exhibits: tuple[ExhibitRef, ...] = ()

    def summary(self) -> str:
        """The caller's words, cut."""
        return shorten(f"“{self.words}”")


class Consent(Record):
    """What the owner allows, separately for each thing."""

    kind: ClassVar[str] = "consent"
    label: ClassVar[str] = "Consent"

    given_by: PartyRef
    given_to: PartyRef | None = None
    to: Literal["diagnose", "altering_tests", "share_data", "contact_prior_repairer", "retain_parts", "repair"]
    granted: bool
    limit: Money | None = None
    channel: Literal["signed_paper", "message", "telephone", "in_person"]
    time: When
    scope: Text | None = None
    exhibits: tuple[ExhibitRef, ...] = ()

    def summary(self) -> str:
        """What was allowed or refused."""
        limit = f" up to {self.limit.words()}" if self.limit else ""
        return f"{'allowed' if self.granted else 'refused'}: {say(self.to)}{limit}, by {say(self.channel)}"


class Statement(Value):
    """One answer of a declaration."""

    topic: Literal[
        "own_work", "accessory", "other_repairer", "start_attempt", "jump_start", "use_since", "first_sign", "warning_lamp",
        "driven_on", "washed_or_flooded", "condition_before", "parts_supplied",
    ]  # fmt: skip
    answer: Literal["none", "some", "unknown"]
    components: tuple[Component, ...] = ()
    time: When | None = None
    text: Text | None = None


class OwnerDeclaration(Record):
    """The owner's account, taken before the findings are shown to him."""

    kind: ClassVar[str] = "owner_declaration"
    label: ClassVar[str] = "Owner declaration"

    given_by: PartyRef
    taken_by: PartyRef | None = None
    time: When
    before_findings_shown: bool
    signed: bool
    statements: tuple[Statement, ...]
    text: Text | None = None
    exhibits: tuple[ExhibitRef, ...] = ()

    def summary(self) -> str:
        """How it was taken."""
        when = "before" if self.before_findings_shown else "after"
        return f"{len(self.statements)} answers, {'signed' if self.signed else 'not signed'}, taken {when} findings were shown"


class Opinion(Record):
    """What somebody concludes, kept apart from what was seen and measured."""

    kind: ClassVar[str] = "opinion"
    label: ClassVar[str] = "Opinion"

    by: PartyRef
    time: When
    text: Text
    basis: tuple[AnyRef, ...]
    qualification: Line
    interest: Line
    limits: Text | None = None
    second_reader: PartyRef | None = None
    exhibits: tuple[ExhibitRef, ...] = ()

    def summary(self) -> str:
        """The opinion, cut."""
        return shorten(self.text)


class Correspondence(Record):
    """A letter, message or call between the sides, with proof of dispatch or receipt."""

    kind: ClassVar[str] = "correspondence"
    label: ClassVar[str] = "Correspondence"
    filled_in: ClassVar[frozenset[str]] = frozenset({"review"})

    sender: PartyRef
    receiver: PartyRef
    about: Literal[
        "notice", "preservation_letter", "inspection_opportunity", "cure_opportunity", "record_request", "demand_letter",
        "response", "estimate", "reservation_of_rights", "other",
    ]  # fmt: skip
    sent: When
    received: When | None = None
    channel: Literal["letter", "registered_letter", "message", "telephone", "in_person", "form"]
    text: Text | None = None
    answers: AnyRef | None = None
    answer_within: Period | None = None  # the time given to answer, or to come and see, from the day it was sent
    until: When | None = None  # or the last day itself
    exhibits: tuple[ExhibitRef, ...] = ()
    review: Line | None = None  # ledger of the review that it brought
    despite: tuple[Despite, ...] = ()  # mistakes made knowingly, each with its reason

    @model_validator(mode="after")
    def _order(self) -> Correspondence:
        if self.received and self.received.span.latest <= self.sent.span.earliest:
            raise ValueError(f"received {self.received.given}, which is before it was sent ({self.sent.given})")
        return self

    def summary(self) -> str:
        """What it was and how it went out."""
        return shorten(f"{say(self.about)} by {say(self.channel)}" + (f": {self.text}" if self.text else ""))


class Outcome(Record):
    """How it ended, or a step of it."""

    kind: ClassVar[str] = "outcome"
    label: ClassVar[str] = "Outcome"

    result: Literal[
        "paid",
        "part_paid",
        "refused",
        "withdrawn",
        "judgment",
        "settled",
        "repaired_by_prior_repairer",
        "closed",
    ]
    time: When
    by: PartyRef | None = None
    amount: Money | None = None
    reasons: Text | None = None
    exhibits: tuple[ExhibitRef, ...] = ()

    def summary(self) -> str:
        """Result and sum."""
        return say(self.result) + (f", {self.amount.words()}" if self.amount else "")


class Resolution(Record):
    """A person's written answer where the rules ask for one: a contradiction, a *not applicable*, an alternative, a grade.

    ``about`` says what it settles; ``finding`` or ``alternative`` is the id in the mechanism's entry. A grade states how
    expected the finding is if the mechanism is true, if it is not, or both, each as two grades with the lower
    probability first, and names the source it rests on.
    """

    kind: ClassVar[str] = "resolution"
    label: ClassVar[str] = "Resolution"

    by: PartyRef
    time: When
    mechanism: Slug
    about: Literal["contradiction", "not_applicable", "alternative", "other_intervention_cannot_matter", "grade"]
    finding: Line | None = None
    alternative: Line | None = None
    if_true: tuple[Grade, Grade] | None = None
    if_not: tuple[Grade, Grade] | None = None
    source: Text | None = None
    records: tuple[AnyRef, ...] = ()
    text: Text

    @model_validator(mode="after")
    def _grade(self) -> Resolution:
        graded = self.if_true or self.if_not
        if self.about != "grade":
            if graded or self.source:
                raise ValueError("'if_true', 'if_not' and 'source' go with a resolution about a grade")
            return self
        if not (graded and self.finding and self.source):
            raise ValueError(
                "a grade needs the finding, 'if_true' or 'if_not' with two grades, and the 'source' it rests on"
            )
        order = ["excluded", "unlikely", "possible", "expected", "certain"]
        for stated in (self.if_true, self.if_not):
            if stated and order.index(stated[0]) > order.index(stated[1]):
                raise ValueError(f"{stated[0]}, {stated[1]}: the lower probability comes first")
        return self

    def summary(self) -> str:
        """What was settled and how."""
        return shorten(f"{say(self.about)} {self.finding or self.alternative or ''}: {self.text}")


class Binding(Record):
    """A person says that a record does, or does not, answer a finding, and why."""

    kind: ClassVar[str] = "binding"
    label: ClassVar[str] = "Binding"

    by: PartyRef
    time: When
    record: AnyRef
    mechanism: Slug
    finding: Line
    binds: bool
    reason: Text

    def summary(self) -> str:
        """What was bound or unbound."""
        return shorten(
            f"{'answers' if self.binds else 'does not answer'} {self.mechanism} {self.finding}: {self.reason}"
        )


class CustodyTransfer(Record):
    """One hand-over of the vehicle, a part, a device or a file, or an act of its holder (a seal opened, a bag changed).

    ``container`` and ``seal`` are those in which it went on; ``seal_opened`` is the seal that was broken for it.
    """

    kind: ClassVar[str] = "custody_transfer"
    label: ClassVar[str] = "Custody transfer"

    item: ItemRef
    released_by: PartyRef
    received_by: PartyRef  # the same as released_by where the holder himself opened or packed it
    time: When  # when it was let go of
    received: When | None = None  # when it was taken, if not at once: left in a yard, sent by post
    place: Line
    purpose: Line
    condition: Line | None = None
    container: Line | None = None
    seal: Line | None = None
    seal_opened: Line | None = None
    odometer: Distance | None = None
    both_signed: bool | None = None
    fate: Fate | None = None  # it leaves the keeping for good
    knowing: Text | None = None  # why, although a finding rests on it
    exhibits: tuple[ExhibitRef, ...] = ()

    @model_validator(mode="after")
    def _order(self) -> CustodyTransfer:
        if self.received and self.received.span.latest <= self.time.span.earliest:
            raise ValueError(f"received {self.received.given}, which is before it was released ({self.time.given})")
        return self

    def summary(self) -> str:
        """Where and why."""
        return shorten(f"{self.purpose}, {self.place}")
