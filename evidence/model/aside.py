"""What is kept beside a dossier and never goes out with it: talk about settling, and what the shop learned.

Both live in a second ledger of the dossier, in the same entries. No report, paper or bundle reads it. Keeping offers apart
from proof follows the idea of US Fed. R. Evid. 408; rules differ from place to place.
"""

from __future__ import annotations

from typing import ClassVar, Final, Literal

from evidence.model.base import Line, Record, Text, say, shorten
from evidence.model.course import Stage
from evidence.model.despite import MistakeCode
from evidence.model.people import Party
from evidence.model.quantity import Money
from evidence.model.when import When

_SUFFIX: Final = "-aside"


class SettlementTalk(Record):
    """An offer, an answer to one, or a talk about settling."""

    kind: ClassVar[str] = "settlement_talk"
    label: ClassVar[str] = "Settlement talk"

    what: Literal["offer", "counter_offer", "acceptance", "refusal", "talk"] = "talk"
    time: When
    by: Line  # who spoke or wrote, in words: nothing here points into the dossier
    to: Line | None = None
    channel: Literal["letter", "message", "telephone", "in_person"] | None = None
    amount: Money | None = None
    text: Text

    def summary(self) -> str:
        """What it was, the sum, and the words."""
        amount = f" of {self.amount.words()}" if self.amount else ""
        return shorten(f"{say(self.what)}{amount}: {self.text}")


class Lesson(Record):
    """What was missing at a stage of the matter, and what the shop will do otherwise."""

    kind: ClassVar[str] = "lesson"
    label: ClassVar[str] = "Lesson"

    stage: Stage
    missing: tuple[Line, ...]  # each thing by itself, so that they can be counted: "odometer photo"
    mistake: MistakeCode | None = None
    text: Text | None = None

    def summary(self) -> str:
        """Stage and what was missing."""
        return shorten(f"{say(self.stage)}: {', '.join(self.missing)}")


# What a second ledger may hold; the first party in it is whoever records.
ASIDE: Final[dict[str, type[Record]]] = {cls.kind: cls for cls in (Party, SettlementTalk, Lesson)}


def aside_of(ledger: str) -> str:
    """The second ledger of a dossier."""
    return ledger + _SUFFIX


def beside(ledger: str) -> str:
    """The dossier that a second ledger belongs to; empty for a ledger that is none."""
    return ledger.removesuffix(_SUFFIX) if ledger.endswith(_SUFFIX) else ""
