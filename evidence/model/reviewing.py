"""What a reviewer says of a dossier that he received, and what the shop answers: each in a ledger of its own side."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import model_validator

from evidence.model.base import AnyRef, Count, ExhibitRef, Line, PartyRef, Record, Slug, Text, Value, say, shorten
from evidence.model.when import When

Target = Literal["conclusion", "finding", "alternative", "element", "record"]
Verdict = Literal["accepted", "questioned", "rejected"]


class Reviewed(Value):
    """Which dossier a review speaks of, as it was received: the ledger and its head at that time."""

    ledger: Line
    title: Line
    entries: Count
    root: Line  # base64, as in a head
    bundle: ExhibitRef  # the file that was received
    verified: Text  # what the check of the bundle said
    signer: Line | None = None  # fingerprint of the key that signed it


class ReviewMark(Record):
    """A reviewer's mark on one thing of the dossier under review. A later mark on the same thing goes before an earlier one.

    ``name_of`` is the id of a finding or alternative, the name of an element, or a record's label in the reviewed dossier.
    """

    kind: ClassVar[str] = "review_mark"
    label: ClassVar[str] = "Review mark"
    filled_in: ClassVar[frozenset[str]] = frozenset({"entries"})

    by: PartyRef
    time: When
    on: Target
    mechanism: Slug | None = None
    name_of: Line | None = None
    mark: Verdict
    text: Text | None = None  # the question, or the reason
    records: tuple[AnyRef, ...] = ()  # the reviewer's own, that bear it out
    exhibits: tuple[ExhibitRef, ...] = ()
    entries: Count | None = None  # of the reviewed ledger when the mark was made

    @model_validator(mode="after")
    def _whole(self) -> ReviewMark:
        if self.mark != "accepted" and not self.text:
            raise ValueError(
                "a question is asked in words; add 'text'" if self.mark == "questioned"
                else "a rejection needs its reason; add 'text'"
            )  # fmt: skip
        if self.on != "record" and not self.mechanism:
            raise ValueError(f"a mark on a {self.on} names its mechanism; add 'mechanism'")
        if self.on != "conclusion" and not self.name_of:
            raise ValueError(f"a mark on a {self.on} names it; add 'name_of'")
        return self

    @property
    def target(self) -> tuple[str, str, str]:
        """What the mark is on: kind, mechanism, name."""
        return (self.on, self.mechanism or "", self.name_of or "")

    def target_words(self) -> str:
        """What the mark is on, for a sentence."""
        named = self.name_of or "the conclusion"
        return named if self.on == "record" else f"{named} of {say(self.mechanism or '')}"

    def summary(self) -> str:
        """Mark, target, question or reason."""
        return shorten(f"{self.mark}: {self.target_words()}" + (f": {self.text}" if self.text else ""))


class ReviewAnswer(Record):
    """The shop's answer to one mark of a review that it received."""

    kind: ClassVar[str] = "review_answer"
    label: ClassVar[str] = "Review answer"

    by: PartyRef
    time: When
    review: Line  # ledger of the review
    mark: Count  # number of the review mark in it
    text: Text
    records: tuple[AnyRef, ...] = ()  # that bear the answer out
    exhibits: tuple[ExhibitRef, ...] = ()

    def summary(self) -> str:
        """Which mark, and the answer."""
        return shorten(f"to review mark {self.mark}: {self.text}")
