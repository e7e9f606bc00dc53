"""Where a matter stands: the steps that were recorded, those left out with a reason, and those of which nothing is said.

Nothing is inferred: a letter in the record is not yet a step, and a payment noted elsewhere closes nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, cast

from evidence.claim.marks import Mark, marks_of
from evidence.model.base import say
from evidence.model.course import STAGES, Stage
from evidence.model.dossier import Dossier

# What should be on record, made or left out with a reason, before a step is made. Common practice, no source.
COME_BEFORE: Final[Mapping[Stage, tuple[Stage, ...]]] = MappingProxyType({
    "undisturbed_record": ("intake",),
    "diagnosis": ("intake", "undisturbed_record"),
    "notice": ("intake", "undisturbed_record"),
    "inspection": ("notice",),
    "estimate": ("diagnosis",),
    "demand": ("undisturbed_record", "diagnosis", "notice", "inspection", "estimate"),
    "answer": ("notice",),
    "negotiation": ("notice",),
    "filed": ("demand", "answer"),
    "decided": ("filed",),
    "paid": ("estimate",),
})  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class StageState:
    """One stage: the steps that reached it, or why it was left out."""

    stage: Stage
    steps: tuple[Mark, ...]
    skipped: str = ""  # the reason, with the label of the step that gives it

    @property
    def settled(self) -> bool:
        """Whether it is on record, as made or as left out."""
        return bool(self.steps or self.skipped)


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """The stages in their usual order, and the steps in order of time."""

    stages: tuple[StageState, ...]
    steps: tuple[Mark, ...]
    worked: Mark | None = None  # the earliest prior work order, from the day on which its work began

    @property
    def here(self) -> Mark | None:
        """The step made last; ``None`` where none is recorded."""
        return self.steps[-1] if self.steps else None

    @property
    def closed(self) -> bool:
        """Whether the matter is closed."""
        return bool(self.stage("closed").steps)

    @property
    def following(self) -> Stage | None:
        """The first stage after the farthest one reached of which nothing is said; ``None`` once closed."""
        reached = [i for i, s in enumerate(self.stages) if s.steps]
        after = self.stages[max(reached, default=-1) + 1 :]
        return None if self.closed else next((s.stage for s in after if not s.settled), None)

    def stage(self, name: Stage) -> StageState:
        """The state of one stage."""
        return self.stages[STAGES.index(name)]

    def missing_before(self, name: Stage) -> tuple[Stage, ...]:
        """What should come before a step and is neither on record nor left out with a reason."""
        return tuple(s for s in COME_BEFORE.get(name, ()) if not self.stage(s).settled)

    def too_early(self, step: Mark) -> str:
        """Words on a step that is dated before the earlier work, which is what the matter is about; empty where it is not."""
        if self.worked is None or step.day >= self.worked.day:
            return ""
        order = self.worked
        return f"{step.label} ({say(step.what)}) is dated {step.day}, before the work it is about ({order.label}, {order.day})"


def course(dossier: Dossier) -> Course:
    """The course of a dossier as recorded."""
    return course_from(marks_of(dossier))


def course_from(marks: Sequence[Mark]) -> Course:
    """The course that marks tell."""
    steps = tuple(sorted((m for m in marks if m.sort == "step"), key=lambda m: (m.moment, m.number)))
    left_out = {m.what: f"{m.text} ({m.label})" for m in marks if m.sort == "skip"}
    by_stage: dict[str, list[Mark]] = {}
    for step in steps:
        by_stage.setdefault(step.what, []).append(step)
    stages = tuple(
        StageState(stage=s, steps=tuple(by_stage.get(s, ())), skipped="" if s in by_stage else left_out.get(s, ""))
        for s in STAGES
    )
    worked = min((m for m in marks if m.sort == "worked"), key=lambda m: (m.day, m.number), default=None)
    return Course(stages=stages, steps=steps, worked=worked)


def passed_over(dossier: Dossier, subject: str) -> str:
    """What a step passes over without a reason, in words; empty where nothing, and for what is no step."""
    found = course(dossier)
    step = next((m for m in found.steps if m.subject == subject), None)
    missing = found.missing_before(cast("Stage", step.what)) if step else ()
    if step is None or not missing:
        return ""
    names = ", ".join(map(say, missing))
    return f"{step.label} ({say(step.what)}) passes over what should come before it: {names}"
