"""What happened: events, and the dossier itself."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import field_validator, model_validator

from evidence.model.base import (
    AnyRef,
    ComplaintTag,
    Component,
    ExhibitRef,
    Line,
    PartyRef,
    Record,
    Slug,
    Text,
    shorten,
)
from evidence.model.clock import MICROSECONDS
from evidence.model.quantity import DecisionRule, Distance, Reading
from evidence.model.reviewing import Reviewed
from evidence.model.when import When, known_zone


class DossierOpening(Record):
    """The first thing recorded after the recorder himself: what the matter is."""

    kind: ClassVar[str] = "dossier"
    label: ClassVar[str] = "Dossier"
    filled_in: ClassVar[frozenset[str]] = frozenset({"reviews"})

    title: Line
    zone: Line | None = None  # where times without a zone were read
    complaint: Text | None = None  # in the customer's words
    complaint_tags: tuple[ComplaintTag, ...] = ()
    claimed_damage: tuple[Component, ...] = ()
    decision_rule: DecisionRule | None = None  # for every limit that states none of its own
    demonstration: bool | None = None
    place: Slug | None = None  # the place file whose ceilings, holidays and habits apply, such as harrow-vale
    reviews: Reviewed | None = None  # where this is a review of a dossier that somebody else handed over

    @field_validator("zone")
    @classmethod
    def _zone(cls, value: str | None) -> str | None:
        return known_zone(value) if value else value

    def summary(self) -> str:
        """The title."""
        return self.title


class Event(Record):
    """Something that happened, with its place in time and how it is known."""

    kind: ClassVar[str] = "event"
    label: ClassVar[str] = "Event"

    what: Literal[
        "onset", "last_shown_good", "first_shown_bad", "drive_in", "drive_out", "tow", "stop", "lamp_on", "start_attempt",
        "jump_start", "driven_on", "wash_or_rain", "collision", "refuelled", "departure_made", "damage_done", "other",
    ]  # fmt: skip
    text: Text
    time: When
    basis: Literal["seen", "measured", "document", "told", "inferred"]
    by: PartyRef | None = None
    components: tuple[Component, ...] = ()
    odometer: Distance | None = None
    caused_by: tuple[AnyRef, ...] = ()
    exhibits: tuple[ExhibitRef, ...] = ()

    def summary(self) -> str:
        """What happened."""
        return shorten(self.text)


class TimeRelation(Record):
    """What is known of when one record's doing lay against another's, where their own times do not say it.

    ``before`` and ``after`` may say how far apart at least and at most; ``within`` is at most so far apart on either
    side; ``during`` is between the two times of the other (an order's opening and closing), or inside its one.
    """

    kind: ClassVar[str] = "time_relation"
    label: ClassVar[str] = "Time relation"

    what: AnyRef
    relation: Literal["before", "after", "within", "during"]
    other: AnyRef
    least: Reading | None = None  # apart
    most: Reading | None = None
    text: Text
    basis: Literal["seen", "measured", "document", "told", "inferred"]
    by: PartyRef | None = None
    exhibits: tuple[ExhibitRef, ...] = ()

    @model_validator(mode="after")
    def _whole(self) -> TimeRelation:
        for length in (self.least, self.most):
            if length and (length.unit not in MICROSECONDS or length.number < 0):
                raise ValueError(f"{length.words()} is no length of time; write it such as '20 min', '3 h' or '2 d'")
        if self.what == self.other:
            raise ValueError("names one record twice; a time relation speaks of two")
        if self.relation == "within" and (self.most is None or self.least is not None):
            raise ValueError("'within' says at most how far apart: write 'most: 20 min', and no 'least'")
        if self.relation == "during" and (self.least or self.most):
            raise ValueError("'during' takes no 'least' and no 'most'; 'before' and 'after' do")
        if self.least and self.most and apart(self.least) > apart(self.most):
            raise ValueError(f"at least {self.least.words()} is more than at most {self.most.words()}")
        return self

    def summary(self) -> str:
        """The words given."""
        return shorten(self.text)


def apart(length: Reading) -> int:
    """A length of time, whole microseconds."""
    return int(length.number * MICROSECONDS[length.unit])
