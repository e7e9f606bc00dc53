"""The capture plan of a dossier, all candidates together, and the part of it that concerns one of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from evidence.rules.capture_plan import AskedBy, CapturePlan, CaptureStep, Explanation, Gone
from evidence.rules.holdings import Holdings
from evidence.rules.planning.asked import Asked, Judged, Missed, gathered
from evidence.rules.planning.guards import warnings
from evidence.rules.planning.order import Built, ordered, sorted_out
from evidence.rules.planning.papers import to_invite
from evidence.rules.planning.reach import Reach, reach
from evidence.rules.planning.stake import Stakes, at_stake
from evidence.rules.planning.steps import Frame, asked_by, cautions_of, safety_notes, to_keep
from evidence.rules.planning.telling import listed
from evidence.rules.vocabulary import Vocabulary

_NOT_A_FINDING = (
    "Candidates start even, beside something that is not listed. Bits and minutes steer the order and say nothing else: "
    "they are no finding, and nothing of them belongs in a claim."
)
NOTES = (
    _NOT_A_FINDING,
    "Minutes are working time once the place is reached: common practice, no source.",
)
_NO_QUESTION = (
    "No known consequence is called up, so there is no question to put: the record has no prior work order and no complaint "
    "that one speaks of."
)
_ENOUGH = (
    "Further tests no longer matter: no question that can still be answered could change what is said of an explanation or "
    "separate one from another."
)


@dataclass(frozen=True)
class Planned:
    """The plan, and the questions behind its steps."""

    plan: CapturePlan
    built: tuple[Built, ...]


def capture_plan(all_judged: Sequence[Judged], holdings: Holdings, vocabulary: Vocabulary) -> Planned:
    """What to do next for all candidates together; they are lettered in the order given."""
    letters = {j.id: _letters(n) for n, j in enumerate(all_judged)}
    asked, missed = gathered(all_judged)
    stakes = at_stake(all_judged, asked)
    reaches = {j.id: reach(j, frozenset(a.key for a in asked)) for j in all_judged}
    worth, idle = sorted_out(asked, stakes, reaches)
    frame = Frame(letters=letters, stakes=stakes, vocabulary=vocabulary, invited=to_invite(holdings))
    built = ordered(all_judged, worth, reaches, holdings, frame)
    steps = tuple(b.step for b in built)
    keep = to_keep(all_judged, letters)
    verdict, matters = _verdict(all_judged, reaches, letters, steps)
    plan = CapturePlan(
        explanations=tuple(_explanation(j, letters, stakes, reaches[j.id]) for j in all_judged), steps=steps,
        idle=tuple(Gone(asked_by=_askers(a, letters), what=a.what, why=_idle(a, stakes)) for a in idle),
        lost=_lost(missed, letters), warned=warnings(all_judged, worth, holdings), keep=keep,
        cautions=cautions_of(all_judged, vocabulary), safety_notes=safety_notes(all_judged, letters), verdict=verdict, matters=matters,
        minutes=steps[-1].running if steps else Decimal(0), notes=NOTES,
    )  # fmt: skip
    return Planned(plan, built)


def _letters(number: int) -> str:
    """A to Z, then AA, AB ..."""
    text = ""
    while number >= 0:
        text = chr(ord("A") + number % 26) + text
        number = number // 26 - 1
    return text


def _askers(asked: Asked, letters: Mapping[str, str]) -> tuple[AskedBy, ...]:
    return asked_by([(j, x.id) for j, x in asked.entries], letters)


def _explanation(judged: Judged, letters: Mapping[str, str], stakes: Stakes, reached: Reach) -> Explanation:
    share = stakes.share[judged.id]
    return Explanation(
        letter=letters[judged.id], mechanism=judged.id, title=judged.examined.call.mechanism.title,
        share=(Decimal(share.numerator) / Decimal(share.denominator)).quantize(Decimal("0.0001")), band=reached.now,
        settled=reached.settled,
    )  # fmt: skip


def _verdict(
    all_judged: Sequence[Judged], reaches: Mapping[str, Reach], letters: Mapping[str, str], steps: Sequence[CaptureStep]
) -> tuple[str, bool]:
    """Whether further tests matter, in a sentence or two."""
    if not all_judged:
        return _NO_QUESTION, False
    if not steps:
        return _ENOUGH, False
    done = [letters[j.id] for j in all_judged if reaches[j.id].settled]
    if done:
        told = "no question that is still open could change what is said; what follows is for the others, or separates them"
        return f"For {listed(done)} {told}.", True
    return "What follows can still change what is said.", True


def _lost(missed: Sequence[Missed], letters: Mapping[str, str]) -> tuple[Gone, ...]:
    """Each question once."""
    found: dict[tuple[str, str], list[Missed]] = {}
    for one in missed:
        found.setdefault((one.key, one.why), []).append(one)
    return tuple(
        Gone(asked_by=asked_by([(m.judged, m.number) for m in same], letters), what=same[0].what, why=why)
        for (_, why), same in found.items()
    )


def _idle(asked: Asked, stakes: Stakes) -> str:
    if stakes.bits(asked.key) == 0:
        return "either answer is as much to be expected under one explanation as under another, and no open point rests on it"
    return "neither answer could change what is said of the explanations that ask it"
