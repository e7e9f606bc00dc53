"""The course of a matter, from the first call to payment or closure, and the dates that a person sets for it."""

from __future__ import annotations

import re
from typing import Annotated, Any, ClassVar, Final, Literal, get_args

from pydantic import AfterValidator, Field, model_validator

from evidence.model.base import AnyRef, ExhibitRef, Line, PartyRef, Record, Text, Value, say, shorten
from evidence.model.despite import Despite
from evidence.model.when import When

Stage = Literal[
    "intake", "undisturbed_record", "diagnosis", "notice", "inspection", "estimate", "demand", "answer", "negotiation",
    "filed", "decided", "paid", "closed",
]  # fmt: skip

STAGES: Final[tuple[Stage, ...]] = get_args(Stage)

_PERIOD = re.compile(r"([1-9][0-9]{0,3}) (business days?|days?|weeks?|months?|years?)")

_LONGEST = {"business day": 26_000, "day": 36_500, "week": 5_200, "month": 1_200, "year": 100}  # a hundred years


def _period(value: str) -> str:
    found = _PERIOD.fullmatch(value)
    if found and int(found[1]) > _LONGEST[found[2].rstrip("s")]:
        raise ValueError(f"{value!r} is longer than a hundred years")
    if not found:
        raise ValueError(
            f"{value!r} is not a period; write it such as '14 days', '10 business days', '6 weeks' or '12 months'"
        )
    return value


# A period as a paper states it. Where it ends is worked out by :mod:`evidence.claim.calendar`.
Period = Annotated[str, AfterValidator(_period), Field(max_length=30)]


class Skipped(Value):
    """A stage that was left out, and why. A person may write ``inspection: they declined in writing``."""

    stage: Stage
    why: Text

    @model_validator(mode="before")
    @classmethod
    def _written(cls, raw: Any) -> Any:
        if not isinstance(raw, str):
            return raw
        stage, colon, why = raw.partition(":")
        if not colon:
            raise ValueError(
                f"{raw!r} gives no reason; write 'STAGE: why', such as 'inspection: they declined in writing'"
            )
        return {"stage": stage.strip(), "why": why.strip()}


class CourseStep(Record):
    """A step of the matter, with what proves it. What was said in settlement talks does not belong here."""

    kind: ClassVar[str] = "course_step"
    label: ClassVar[str] = "Step"

    stage: Stage
    time: When
    by: PartyRef
    text: Line | None = None
    about: tuple[AnyRef, ...] = ()  # the records it speaks of: a letter, a work order, an outcome
    skips: tuple[Skipped, ...] = ()  # stages before it that were left out
    despite: tuple[Despite, ...] = ()  # mistakes made knowingly, each with its reason
    exhibits: tuple[ExhibitRef, ...] = ()

    @model_validator(mode="after")
    def _skips(self) -> CourseStep:
        if any(s.stage == self.stage for s in self.skips):
            raise ValueError(f"{say(self.stage)} is the step itself; it cannot be left out as well")
        return self

    def summary(self) -> str:
        """The stage and a word on it."""
        return shorten(say(self.stage) + (f": {self.text}" if self.text else ""))


class DueDate(Record):
    """A day by which something must be done, as a person read it in a law, an order or a letter: nothing is computed."""

    kind: ClassVar[str] = "due_date"
    label: ClassVar[str] = "Due date"

    what: Literal[
        "limitation", "filing", "hearing", "answer", "inspection", "core_return", "storage", "payment", "other"
    ]
    day: When
    text: Line
    source: Line  # where the day comes from: the section of a law, a letter, the court's note
    read_on: When | None = None  # when the source was looked at
    by: PartyRef | None = None
    done: When | None = None  # when it was done, or no longer mattered
    exhibits: tuple[ExhibitRef, ...] = ()

    def summary(self) -> str:
        """What is due, and the day."""
        return shorten(f"{self.text}: {self.day.given}")
