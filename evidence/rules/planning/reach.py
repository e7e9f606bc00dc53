"""Whether what is still open could change what is said of a candidate: its band with every open answer at its best and worst."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from evidence.rules.asks import Computed
from evidence.rules.assessment import AlternativeResult, Answer, Ceiling
from evidence.rules.ceilings import band_of, ceilings
from evidence.rules.examine import Examined
from evidence.rules.examine import judged as judged_anew
from evidence.rules.pack import Finding
from evidence.rules.planning.asked import PAPERS, STILL_OPEN, Judged
from evidence.rules.replies import Reply


@dataclass(frozen=True)
class Reach:
    """Bands now, and with every open answer for the candidate and, where that changes nothing, against it."""

    now: str
    best: str
    worst: str
    held: tuple[str, ...]  # why the best is not better: ceilings that nothing open can lift

    @property
    def settled(self) -> str:
        """Why no open question could change the band, or an empty text."""
        if not self.now == self.best == self.worst:
            return ""
        if self.held:
            return f"It stays at “{self.now}” whatever is still answered: {'; '.join(self.held)}."
        return f"It stays at “{self.now}” whatever is still answered: nothing open weighs enough to change it."


def reach(judged: Judged, open_keys: frozenset[str]) -> Reach:
    """``open_keys``: the questions that can still be answered."""
    best, ceiling = _band(judged, open_keys, good=True)
    if best != judged.band:  # enough is known: something open can change it
        return Reach(now=judged.band, best=best, worst=judged.band, held=())
    worst, _ = _band(judged, open_keys, good=False)
    return Reach(now=judged.band, best=best, worst=worst, held=tuple(c.reason for c in ceiling if c.holds))


def _band(judged: Judged, open_keys: frozenset[str], *, good: bool) -> tuple[str, tuple[Ceiling, ...]]:
    examined = _answered(judged, open_keys, good=good)
    common: Mapping[str, Reply] = {
        name: Reply(answer="met" if good else "not met") if name in PAPERS and reply.answer in STILL_OPEN else reply
        for name, reply in judged.common.items()
    }
    if not good:  # a paper not to be had is not an adverse answer
        common = {**common, "C1": judged.common["C1"]}
    rivals = tuple(_rival(r, judged, open_keys, good=good) for r in judged.rivals)
    found = ceilings(examined, common, rivals)
    return band_of(examined.weighed.ratio, found)[0], found


def _answered(judged: Judged, open_keys: frozenset[str], *, good: bool) -> Examined:
    """The candidate as it would stand with every open answer at its best, or at its worst."""
    examined = judged.examined
    untouched = not examined.setting.touching(examined.setting.components)
    answers = {
        f.id: Reply(answer=told, undisturbed=told == "met" and (untouched or f.as_found))
        for f in examined.call.mechanism.findings
        if judged.keys[f.id] in open_keys and (told := _answer(f, judged, good=good))
    }
    if not answers:
        return examined
    replies = {**examined.every, **answers}
    low = replies if examined.low is examined.every else {**examined.low, **answers}  # one object: nobody said anything
    return judged_anew(
        examined.call, examined.setting, replies, low, examined.words,
        examined.asked,
    )  # fmt: skip


def _answer(finding: Finding, judged: Judged, *, good: bool) -> Answer | None:
    """The open answer that helps most, or hurts most; none where the grades say that neither does."""
    if judged.examined.replies[finding.id].answer not in STILL_OPEN or finding.limb == "X":
        return None
    probability = judged.examined.call.pack.probability
    true, other = probability(finding.if_true), probability(finding.if_not)
    if true == other:
        return None
    return "met" if (true > other) == good else "not met"


def _rival(rival: AlternativeResult, judged: Judged, open_keys: frozenset[str], *, good: bool) -> AlternativeResult:
    """Excluded, where all it needs can be had; supported, where something that would support it can."""
    if rival.status not in ("open", "less supported"):
        return rival
    mechanism = judged.examined.call.mechanism
    asks = judged.alternatives[rival.id].asks
    own = asks is not None and judged.keys[rival.id] in open_keys
    by_paper = asks is not None and isinstance(asks, Computed)
    needed = [f for n in rival.needs if (f := mechanism.finding(n))]
    had = [f for f in needed if judged.keys[f.id] in open_keys]
    papers = any(n in PAPERS for n in rival.needs)
    if good:
        reachable = len(had) == len(needed) and (own or by_paper or bool(needed) or papers)
        return replace(rival, status="excluded") if reachable else rival
    turned = (own and not (rival.general and rival.kind == "abuse")) or any(f.limb == "X" for f in had)
    return replace(rival, status="supported", by=rival.by or ("own test",)) if turned else rival
