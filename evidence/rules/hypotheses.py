"""What is asked of the record by all candidates together, and how expected each answer is under each of them.

Equal asks are one question, whatever entry asks it. Under a rival a finding has the rival's own grade where the rival asks
the same, else the finding's ``if not``. An ask that names a finding of its entry, or rests on the entry's own components and
answers, is equal to another only where that is equal too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from evidence.rules.asks import AllOf, AnyOf, Change, Computed, parts_of, question
from evidence.rules.common import general_alternatives
from evidence.rules.criteria import Closed
from evidence.rules.grades import Odds, odds_of
from evidence.rules.matching import Call
from evidence.rules.pack import Alternative, Finding, Mechanism

__all__ = ["NOT_LISTED", "Odds", "Question", "expected", "key_of", "questions", "separates"]

NOT_LISTED = "something not listed"
# Computed asks that say the same of every entry: they rest on the dossier alone.
_OF_THE_DOSSIER = frozenset({"days", "distance", "instruments_known", "standard_cited"})
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
                key = key_of(finding.asks, mechanism)
                asks.setdefault(key, finding.asks)
                askers.setdefault(key, []).append((mechanism.id, finding))
                odds.setdefault(key, {}).setdefault(mechanism.id, odds_of(call.pack, finding))
        for alternative in (*mechanism.alternatives, *general_alternatives(mechanism.components)):
            if alternative.asks is not None:
                key = key_of(alternative.asks, mechanism)
                asks.setdefault(key, alternative.asks)
                rivals.setdefault(key, []).append((mechanism.id, alternative))
    return tuple(
        Question(
            key=key, asks=ask, askers=tuple(askers.get(key, ())), alternatives=tuple(rivals.get(key, ())),
            odds=odds.get(key, {}),
        )
        for key, ask in asks.items()
    )  # fmt: skip


def key_of(ask: Closed, mechanism: Mechanism) -> str:
    """The text by which an ask of an entry is equal to another."""
    whole = _spelled_out(ask, mechanism)
    own = any(isinstance(p, Computed) and p.computed not in _OF_THE_DOSSIER for p in parts_of(whole))
    return question(whole) + (f" of {mechanism.id}" if own else "")


def _spelled_out(ask: Closed, mechanism: Mechanism) -> Closed:
    """The ask with findings that it names by id put in full."""
    if isinstance(ask, Change):
        told = {k: _named(v, mechanism) for k, v in (("change", ask.change), ("cured", ask.cured)) if v is not None}
        return ask.model_copy(update=told)
    if isinstance(ask, AllOf):
        return ask.model_copy(update={"every": tuple(_spelled_out(a, mechanism) for a in ask.every)})
    if isinstance(ask, AnyOf):
        return ask.model_copy(update={"one": tuple(_spelled_out(a, mechanism) for a in ask.one)})
    return ask


def _named(part: Closed | str, mechanism: Mechanism) -> Closed | str:
    if not isinstance(part, str):
        return part
    finding = mechanism.finding(part)
    return finding.asks if finding and finding.asks else part


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
