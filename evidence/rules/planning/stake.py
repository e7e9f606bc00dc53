"""What an answer would tell: which explanation, whether an alternative is excluded, whether a limb or a paper is shown.

The open questions, each in bits: which of the candidates, or something not listed, with the weight that the record gives
each now; and, for each candidate by its share, every alternative not yet dealt with, every limb with nothing shown, the
common papers and, for the best supported, whether it reaches another band. Those start even, and each open part settles
its share of them. Bits of several open questions add up.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from evidence.rules.asks import Computed, parts_of
from evidence.rules.hypotheses import NOT_LISTED, Question, expected, questions
from evidence.rules.information import expected_information, scaled, settling, shares
from evidence.rules.planning.asked import PAPERS, STILL_OPEN, Asked, Judged
from evidence.rules.weighing import first_touch_shown

_BY_PAPER = {"nobody_else": "C4", "absent_before": "C2"}
_NOTHING = Decimal(0)


@dataclass(frozen=True)
class Stakes:
    """Shares of the candidates, and bits by question. ``which``: about the explanations; ``more``: about the rest."""

    share: Mapping[str, Fraction]  # mechanism, and something not listed
    which: Mapping[str, Decimal]
    more: Mapping[str, Decimal]

    def bits(self, key: str) -> Decimal:
        """What the answer is expected to tell, all open questions together."""
        return self.which.get(key, _NOTHING) + self.more.get(key, _NOTHING)


def at_stake(all_judged: Sequence[Judged], open_questions: Sequence[Asked]) -> Stakes:
    """Reckon the bits of every open question and of the common papers."""
    weights = {j.id: j.examined.interval.point for j in all_judged}
    share = shares({**weights, NOT_LISTED: Fraction(1)})
    known = {q.key: q for q in questions([j.examined.call for j in all_judged])}
    which = {a.key: _about_which(a, known.get(a.key), share) for a in open_questions}
    keys = frozenset(a.key for a in open_questions)
    more: dict[str, Decimal] = {}
    for judged in all_judged:
        for parts in _open_points(judged, keys):
            for key in sorted(parts):
                more[key] = more.get(key, _NOTHING) + scaled(settling(len(parts)), share[judged.id])
    return Stakes(share=share, which=which, more=more)


def _about_which(asked: Asked, known: Question | None, share: Mapping[str, Fraction]) -> Decimal:
    asking = [j.id for j, f in asked.findings if f.limb != "X" and not _told_already(j, f.one_test)]
    if known is None or not asking:
        return _NOTHING
    mine = tuple(dict.fromkeys(asking))
    chances = [expected(known, name, NOT_LISTED).point for name in mine]
    # Who does not ask expects what those who ask expect if they are not true; where these differ, their mean.
    chances.append(sum((expected(known, NOT_LISTED, name).point for name in mine), Fraction(0)) / len(mine))
    rest = 1 - sum((share[name] for name in mine), Fraction(0))
    return expected_information([*(share[name] for name in mine), rest], [(p, 1 - p) for p in chances])


def _told_already(judged: Judged, test: str) -> bool:
    """Whether another outcome of the same test is met: then this one weighs nothing."""
    return bool(test) and any(w.test == test and w.answer == "met" for w in judged.examined.weighables)


def _open_points(judged: Judged, keys: frozenset[str]) -> Iterator[frozenset[str]]:
    """The parts that would settle each open point of a candidate, as far as they can be had."""
    for parts in (*_of_alternatives(judged), *_of_limbs(judged), _of_band(judged)):
        if had := frozenset(p for p in parts if p in keys or p in PAPERS):
            yield had
    for name in ("C1", "C2", "C3", "C7"):
        if judged.common[name].answer in STILL_OPEN:
            yield frozenset({name})


def _of_alternatives(judged: Judged) -> Iterator[set[str]]:
    mechanism = judged.examined.call.mechanism
    for rival in judged.rivals:
        if rival.status not in ("open", "less supported"):
            continue
        alternative, parts = judged.alternatives[rival.id], set()
        if alternative.asks is not None:
            inner = parts_of(alternative.asks)
            parts |= {_BY_PAPER[a.computed] for a in inner if isinstance(a, Computed) and a.computed in _BY_PAPER}
            parts.add(judged.keys[rival.id])
        for name in rival.needs:
            finding = mechanism.finding(name)
            parts.add(judged.keys[name] if finding else name)
        yield {p for p in parts if p not in judged.common or judged.common[p].answer in STILL_OPEN}


def _of_limbs(judged: Judged) -> Iterator[set[str]]:
    examined = judged.examined
    for limb in "DLE":
        if limb == "D":
            shown = first_touch_shown(examined.weighables)
        else:
            shown = any(w.limb == limb and w.answer == "met" for w in examined.weighables)
        if not shown:
            yield {judged.keys[f.id] for f in examined.call.mechanism.findings if f.limb == limb}


def _of_band(judged: Judged) -> set[str]:
    """Findings of which each alone would give another band."""
    moving = {n for change in judged.changes if not change.of_rival for n in change.what}
    return {judged.keys[f.id] for f in judged.examined.call.mechanism.findings if f.id in moving}
