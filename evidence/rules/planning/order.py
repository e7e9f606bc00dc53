"""The order of work, and what an altering test waits for.

What the next disturbance would destroy comes first, then papers, then what alters nothing, then the rest. Within each the
step comes first that is expected to tell most about the open questions per minute of work. An altering test is not
offered while a non-altering question of the same entry has neither a result nor a stated reason, while it would destroy
what another entry still asks, or while consent or notice is missing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from evidence.rules.capture_plan import STAGES, CaptureStep, Stage
from evidence.rules.holdings import Holdings
from evidence.rules.planning.asked import Asked, Judged
from evidence.rules.planning.papers import papers, permissions
from evidence.rules.planning.reach import Reach
from evidence.rules.planning.stake import Stakes
from evidence.rules.planning.steps import Frame, checklists, of_general, of_paper, of_permission, of_question
from evidence.rules.planning.telling import listed

_SLIGHT = Decimal("0.05")
_TELLS = Decimal("0.01")  # bits below which an answer does not separate the explanations


@dataclass(frozen=True)
class Built:
    """A step with the question behind it, where there is one."""

    step: CaptureStep
    asked: Asked | None = None

    @property
    def rank(self) -> tuple[Decimal, Decimal, Decimal]:
        """Most bits per minute first; then most bits, then least work; then as the packs have it, for sorting is stable."""
        return (-self.step.per_minute, -self.step.bits, self.step.minutes)


def sorted_out(asked: Sequence[Asked], stakes: Stakes, reaches: Mapping[str, Reach]) -> tuple[list[Asked], list[Asked]]:
    """Questions whose answer could change something, and those whose answer could not.

    While an altering test of an entry is worth making, its non-altering questions stay: they come before it.
    """
    worth = {a.key for a in asked if _tells(a, stakes, reaches)}
    altering = {j.id for a in asked if a.alters and a.key in worth for j in a.askers}
    worth |= {a.key for a in asked if not a.alters and any(j.id in altering for j in a.askers)}
    return [a for a in asked if a.key in worth], [a for a in asked if a.key not in worth]


def _tells(asked: Asked, stakes: Stakes, reaches: Mapping[str, Reach]) -> bool:
    moves = stakes.bits(asked.key) > 0 and any(not reaches[j.id].settled for j in asked.askers)
    return moves or stakes.which.get(asked.key, Decimal(0)) >= _TELLS


def ordered(
    all_judged: Sequence[Judged], worth: Sequence[Asked], reaches: Mapping[str, Reach], holdings: Holdings, frame: Frame
) -> tuple[Built, ...]:
    """In the order of work; what altering tests wait for is told with them."""
    unsettled = [j for j in all_judged if not reaches[j.id].settled]
    by_stage: dict[Stage, list[Built]] = {stage: [] for stage in STAGES}
    for asked in worth:
        if asked.stage != "papers" and not asked.general:
            by_stage[asked.stage].append(Built(of_question(asked, frame), asked))
    for stage, same in _general(worth):
        by_stage[stage].append(Built(of_general(same, frame), same[0]))
    by_stage["papers"] = [Built(of_paper(p, frame)) for p in papers(unsettled, worth)]
    for steps in by_stage.values():
        steps.sort(key=lambda b: b.rank)
    by_stage["papers"].sort(
        key=lambda b: not any("C1" in a.numbers for a in b.step.asked_by)
    )  # without it nothing is said
    altering = [b.asked for b in by_stage["altering"] if b.asked]
    lacking = list(permissions(holdings)) if altering else []
    waiting_for = list({j.id: j for a in altering for j in a.askers}.values())
    by_stage["papers"] += [Built(of_permission(p, waiting_for, frame)) for p in lacking]
    by_stage["untouched"][:0] = [Built(step) for step in checklists(unsettled, frame)]
    built = [b for stage in STAGES for b in by_stage[stage]]
    most = max((b.step.bits for b in built), default=Decimal(0))
    numbered = [
        replace(b, step=replace(b.step, place=place, slight=_slight(b.step, most))) for place, b in enumerate(built, 1)
    ]
    why = [p.lacking for p in lacking]
    told = [replace(b, step=replace(b.step, waiting=_waiting(b, numbered, why))) for b in numbered]
    return _run_up(sorted(told, key=lambda b: bool(b.step.waiting)))


def _general(worth: Sequence[Asked]) -> list[tuple[Stage, list[Asked]]]:
    """General alternatives that are asked of each entry's own parts, together by number and stage."""
    found: dict[tuple[Stage, str], list[Asked]] = {}
    for asked in worth:
        if asked.general and asked.stage != "papers":
            found.setdefault((asked.stage, asked.general), []).append(asked)
    return [(stage, same) for (stage, _), same in found.items()]


def _waiting(built: Built, all_built: Sequence[Built], lacking: Sequence[str]) -> tuple[str, ...]:
    """Why an altering test is not offered yet."""
    asked = built.asked
    if asked is None or not asked.alters:
        return ()
    mine = {j.id for j in asked.askers}
    before = [b for b in all_built if b.asked and not b.asked.alters]
    own = [b.step.place for b in before if b.asked and mine & b.asked.unread]
    others = [
        b.step.place for b in before
        if b.asked and b.step.stage in ("untouched", "as_found") and not b.step.slight and b.step.place not in own
        and _destroys(asked, b.asked)
    ]  # fmt: skip
    told = []
    if own:
        told.append(f"{_numbered(own)} {'has' if len(own) == 1 else 'have'} neither a result nor a stated reason")
    if others:
        told.append(f"it would take away what {_numbered(others)} still {'asks' if len(others) == 1 else 'ask'}")
    return (*told, *lacking)


def _destroys(altering: Asked, asked: Asked) -> bool:
    """Whether making the altering test is work on the components that the other asks about as found."""
    setting = altering.askers[0].examined.setting
    return any(setting.related(one, other) for one in altering.touched for other in asked.touched)


def _slight(step: CaptureStep, most: Decimal) -> bool:
    """Whether it tells little beside the best. What is lost by any touch, and papers, are never told as slight."""
    return step.stage not in ("untouched", "papers") and step.bits < most * _SLIGHT


def _numbered(places: Sequence[int]) -> str:
    return f"step {places[0]}" if len(places) == 1 else f"steps {listed(map(str, places))}"


def _run_up(built: Sequence[Built]) -> tuple[Built, ...]:
    """Numbered, with the minutes run up. Only altering tests wait, and they stand last: no number told has changed."""
    running, placed = Decimal(0), []
    for place, b in enumerate(built, 1):
        running += b.step.minutes
        placed.append(replace(b, step=replace(b.step, place=place, running=running)))
    return tuple(placed)
