"""What a capture plan says: plain frozen values in the order of work, explanations named by letter.

Bits and shares order the work and mean nothing else: they are no finding, and nothing of them belongs in a claim.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

# untouched: lost by any touch. as found: lost by the first repair of these parts. papers: asked for, not examined.
# lasting: can be had later too. altering: changes or uses up the state.
Stage = Literal["untouched", "as_found", "papers", "lasting", "altering"]
STAGES: dict[Stage, str] = {
    "untouched": "Before anything is touched",
    "as_found": "As found: before anything is put right, cleaned, cleared or exchanged",
    "papers": "Papers and questions",
    "lasting": "Then, without changing the state",
    "altering": "Last: tests that change or use up the state",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """One candidate as the plan sees it."""

    letter: str  # A, B, ... AA
    mechanism: str
    title: str
    share: Decimal  # of the weight with which the plan reckons; steers the order, says nothing else
    band: str  # what the record gives it now, in words
    settled: str  # why no open question could change that, or empty


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedBy:
    """An entry that asks, and by which of its findings, common findings and alternatives."""

    letter: str
    mechanism: str
    numbers: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CaptureStep:
    """One thing to capture: one question, whoever asks it."""

    place: int  # 1, 2, 3 ...
    stage: Stage
    asked_by: tuple[AskedBy, ...]
    what: str
    lines: tuple[str, ...]  # what a list consists of
    how: str  # the typed question in words: points, circumstances, limit; empty where no steps may be given
    read_so_far: str  # undecided as yet, and why
    instrument: str  # the class, in words
    minutes: Decimal
    minutes_stated: bool  # by the pack; else the usual for its kind
    running: Decimal  # minutes up to this step and with it
    bits: Decimal
    per_minute: Decimal
    slight: bool  # it tells little beside the best step, as things stand
    if_met: str
    if_not: str
    between: str
    effect: str  # of a paper
    one_shot: bool
    alters: bool
    undisturbed: bool
    invite: tuple[str, ...]
    waiting: tuple[str, ...]  # why it is not offered yet
    request_only: bool  # high voltage, restraints: the finding is asked for, no steps are given
    keep: tuple[str, ...]
    cautions: tuple[tuple[str, str], ...]  # short name and text


@dataclass(frozen=True, slots=True, kw_only=True)
class Gone:
    """What cannot be had any more, and why."""

    asked_by: tuple[AskedBy, ...]
    what: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Warned:
    """A mistake of the trade that can still be avoided."""

    text: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CapturePlan:
    """What to do next for all candidates together."""

    explanations: tuple[Explanation, ...]
    steps: tuple[CaptureStep, ...]
    idle: tuple[Gone, ...]  # open, and no answer would change anything
    lost: tuple[Gone, ...]
    warned: tuple[Warned, ...]
    keep: tuple[str, ...]  # entry by entry, by letter
    cautions: tuple[tuple[str, str], ...]
    safety_notes: tuple[str, ...]  # the entries' own, by letter
    verdict: str  # whether further tests matter, in a sentence or two
    matters: bool
    minutes: Decimal  # of all steps
    notes: tuple[str, ...]

    def offered(self, stage: Stage) -> tuple[CaptureStep, ...]:
        """Steps of a stage that may be done now."""
        return tuple(s for s in self.steps if s.stage == stage and not s.waiting)

    @property
    def slight(self) -> tuple[CaptureStep, ...]:
        """Steps that tell little beside the best, as things stand."""
        return tuple(s for s in self.steps if s.slight)

    @property
    def minutes_first(self) -> Decimal:
        """Minutes of the others."""
        return sum((s.minutes for s in self.steps if not s.slight), Decimal(0))

    @property
    def waiting(self) -> tuple[CaptureStep, ...]:
        """Steps that are not offered yet."""
        return tuple(s for s in self.steps if s.waiting)
