"""What is asked of the record by all candidates together, and how expected each answer is under each of them.

Equal asks are one question, whatever entry asks it. Under a rival a finding has the rival's own grade where the rival asks
the same, else the finding's ``if not``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from evidence.rules.criteria import Closed
from evidence.rules.grades import Odds
from evidence.rules.matching import Call
from evidence.rules.pack import Alternative, Finding

NOT_LISTED = "something not listed"
_EVEN = Odds.exactly(Fraction(1, 2))


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question of the record, with everyone who asks it."""

    key: str  # equal keys are one question
    asks: Closed
    askers: tuple[tuple[str, Finding], ...]  # mechanism id and finding
    alternatives: tuple[tuple[str, Alternative], ...]  # alternatives that ask the same, the general ones included
    odds: Mapping[str, tuple[Odds, Odds]] = field(default_factory=dict)  # mechanism id -> if true, if not


def questions(calls: Sequence[Call]) -> tuple[Question, ...]:
    """Every question of the called-up entries, in order of first asking."""
    asks: dict[str, Closed] = {}
    askers: dict[str, list[tuple[str, Finding]]] = {}
    rivals: dict[str, list[tuple[str, Alternative]]] = {}
    odds: dict[str, dict[str, tuple[Odds, Odds]]] = {}
    for call in calls:
        mechanism = call.mechanism
        for finding in mechanism.findings:
            if finding.asks is not None:
                key = call.keys[finding.id]
                asks.setdefault(key, finding.asks)
                askers.setdefault(key, []).append((mechanism.id, finding))
                odds.setdefault(key, {}).setdefault(mechanism.id, call.odds[finding.id])
        for alternative in call.alternatives:
            if alternative.asks is not None:
                key = call.keys[alternative.id]
                asks.setdefault(key, alternative.asks)
                rivals.setdefault(key, []).append((mechanism.id, alternative))
    return tuple(
        Question(
            key=key, asks=ask, askers=tuple(askers.get(key, ())), alternatives=tuple(rivals.get(key, ())),
            odds=odds.get(key, {}),
        )
        for key, ask in asks.items()
    )  # fmt: skip


def expected(question: Question, hypothesis: str, against: str) -> Odds:
    """How probable it is that the question is answered met if ``hypothesis`` holds, where that is held against ``against``.

    Both are mechanism ids or :data:`NOT_LISTED`. Where neither asks the question, it has the ``if not`` of the first who
    does; where no finding asks it (an alternative's own test), nothing is known and it is even: equal for both, either way.
    """
    for asker, end in ((hypothesis, 0), (against, 1)):
        if asker in question.odds:
            return question.odds[asker][end]
    return next((pair[1] for pair in question.odds.values()), _EVEN)


def separates(question: Question, hypothesis: str, against: str) -> bool:
    """Whether an answer tells the two apart: equal intervals are one unknown and say nothing."""
    return expected(question, hypothesis, against) != expected(question, against, hypothesis)
