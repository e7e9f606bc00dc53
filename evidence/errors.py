"""Everything that can be told to a person as "this went wrong, here is what to do".

Two families. An *error* stops the work: it derives from :class:`EvidenceError`, carries a stable code,
an exit code and advice. A *mistake* is a value: one thing wrong in what a person handed in, with its
place; intake collects all of them and raises one :class:`MistakesFound`.
Anything that is not an :class:`EvidenceError` is a bug of the program and keeps its traceback.
"""

from __future__ import annotations

import enum
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar


class ExitCode(enum.IntEnum):
    """What the shell sees. Documented in the README; never renumbered."""

    DONE = 0
    DAMAGED = 1  # a check found altered, missing or contradicting bytes
    REFUSED = 2  # bad input, wrong use, cannot be read or written: nothing was recorded
    UNFINISHED = 3  # part of the work is kept; the same command again completes it


class EvidenceError(Exception):
    """A condition that a person can mend. ``item`` names the thing it happened to."""

    code: ClassVar[str] = "E000"
    exit_code: ClassVar[ExitCode] = ExitCode.REFUSED

    def __init__(self, message: str, *, item: str = "", advice: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.item = item
        self.advice = advice

    def __str__(self) -> str:
        return f"{self.item}: {self.message}" if self.item else self.message


class NotFound(EvidenceError):
    """No such dossier, record, file or mechanism."""

    code = "E101"


class WorkspaceUnusable(EvidenceError):
    """The workspace is missing, read-only, of a newer version, or its database cannot be reached."""

    code = "E102"


class Busy(EvidenceError):
    """Another process holds the database longer than we are willing to wait."""

    code = "E103"


class NoRoom(EvidenceError):
    """The disk is full. Nothing of the step at hand was recorded."""

    code = "E104"


class ChangedMeanwhile(EvidenceError):
    """Somebody else amended the same record since it was read."""

    code = "E105"


class SourceUnusable(EvidenceError):
    """A file handed in cannot be taken: unreadable, not a plain file, or written to while being read."""

    code = "E106"


class StoreDamaged(EvidenceError):
    """Bytes in the workspace are not the bytes that were recorded."""

    code = "E107"
    exit_code = ExitCode.DAMAGED


class NewerFormat(EvidenceError):
    """Written by a newer version: hashes can be checked, meaning cannot be read."""

    code = "E108"


class BadPack(EvidenceError):
    """A rule pack or vocabulary is badly written. Every fault is in the message."""

    code = "E109"


class OutputUnusable(EvidenceError):
    """The place where a file is to be written cannot take it."""

    code = "E112"


@dataclass(frozen=True, slots=True)
class Mistake:
    """One thing wrong in what a person handed in.

    ``line`` and ``column`` count from 1; 0 means that the input has none (a command-line option).
    """

    file: str
    line: int
    column: int
    item: str  # which record and field, in the author's own names
    message: str  # what is wrong
    right: str = ""  # what would be right

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}:{self.column}: " if self.line else f"{self.file}: " if self.file else ""
        tail = f" ({self.right})" if self.right else ""
        item = f"{self.item}: " if self.item else ""
        return f"{place}{item}{self.message}{tail}"


class MistakesFound(EvidenceError):
    """What a person handed in has mistakes. All of them are listed; nothing was recorded."""

    code = "E110"

    def __init__(self, mistakes: Sequence[Mistake], *, advice: str = "") -> None:
        self.mistakes = tuple(mistakes)
        count = len(self.mistakes)
        head = f"{count} mistake{'s' if count != 1 else ''}, nothing recorded"
        super().__init__(
            head + "".join(f"\n  {m}" for m in self.mistakes),
            advice=advice or "Mend the places named and run the same command again.",
        )


class Asked(EvidenceError):
    """The work needs an answer from a person (a reason, a renaming) before anything is recorded."""

    code = "E111"


class DutyToKeep(EvidenceError):
    """A part on which a finding rests is about to be given up, and no reason is stated. Nothing was recorded."""

    code = "E118"

    def __init__(self, message: str) -> None:
        super().__init__(
            message,
            advice="Keep it; or, where it must go all the same, say why: --knowing 'REASON' (in a dossier folder: "
            "knowing: REASON). The reason stays in the record and is printed in the report.",
        )


class PassedOver(EvidenceError):
    """A step of the matter passes over stages that should come before it, without a reason. Nothing was recorded."""

    code = "E119"

    def __init__(self, message: str) -> None:
        super().__init__(
            message,
            advice="Record each of them, or say why it was left out: --skips 'STAGE: why' (in a dossier folder: "
            "skips: [{stage: STAGE, why: REASON}]). The reason stays in the record. Nothing was recorded.",
        )


class MistakeAhead(EvidenceError):
    """A step makes a mistake that sinks claims, and no reason is given. Nothing was recorded."""

    code = "E126"

    def __init__(self, message: str, code: str) -> None:
        super().__init__(
            message,
            advice=f"Leave it, or do first what is missing; or say why it is so all the same: --despite '{code}: REASON' (in a "
            f"dossier folder: despite: ['{code}: REASON']). The reason stays in the record and is printed. Nothing was recorded.",
        )


class BeforeTheWork(EvidenceError):
    """A record of the matter is dated before the earlier work was begun. Nothing was recorded."""

    code = "E122"

    def __init__(self, message: str) -> None:
        super().__init__(message, advice="Mend the date, here or on the work order. Nothing was recorded.")


class MixedCurrency(EvidenceError):
    """Lines of loss in several currencies: no total can be made of them."""

    code = "E121"

    def __init__(self, message: str) -> None:
        super().__init__(
            f"the lines of loss are in several currencies, so they have no total ({message})",
            advice="State each line in one currency, with the exchange in its basis and the paper that shows it.",
        )


class HeadBehind(EvidenceError):
    """The entries are committed, but the head line or the signed head could not be written after them."""

    code = "E113"
    exit_code = ExitCode.UNFINISHED


class KeyUnusable(EvidenceError):
    """A signing key cannot be used: open to others, unreadable, revoked, or its passphrase is wrong."""

    code = "E114"


class HeadsContradict(EvidenceError):
    """Two heads of one ledger cannot both be true: a ledger rolled back, or two histories."""

    code = "E115"
    exit_code = ExitCode.DAMAGED


class ExtraMissing(EvidenceError):
    """The work needs a library that belongs to an optional part of the installation."""

    code = "E116"


class AuthorityFailed(EvidenceError):
    """A time-stamp authority could not be reached, refused, or gave an answer that cannot stand."""

    code = "E117"
    exit_code = ExitCode.UNFINISHED


class StaysReadable(EvidenceError):
    """A file would be withheld, and the record that stays says what is in it."""

    code = "E127"


class WouldStrengthen(EvidenceError):
    """Leaving this out of a disclosure would make a conclusion stronger than the whole record makes it."""

    code = "E125"
