"""How papers tell an explanation: its findings, alternatives, weight and limits, in their own language.

The texts of the rule packs are messages of the catalogue ``rules``. A number such as ``F3`` in them stands for a finding or an
alternative that no reader of a paper knows by number; the first clause of that one stands in its place.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Final

from evidence.model.base import shorten
from evidence.report.papers.language import message
from evidence.report.papers.paper import PaperInput
from evidence.report.papers.records import numbered
from evidence.rules.assessment import AlternativeResult, Candidate, Ceiling, Contradiction, FindingResult, PlanStep
from evidence.rules.likelihood import Interval
from evidence.rules.statement import statement

_NUMBER: Final = re.compile(r"\b[A-Z]\d{1,2}\b")
_CEILINGS: Final[Mapping[str, str]] = MappingProxyType({
    "prior_order": message("The earlier work on these parts is not in hand."),
    "supported_alternative": message("The record supports another cause: %(what)s."),
    "effect_before": message("The effect was there before the earlier work."),
    "latency": message("The first sign lies outside the time or distance in which this shows."),
    "undisturbed": message("No departure is shown in the undisturbed state, or not enough of it."),
    "guarded": message("Not ruled out: %(what)s."),
    "link": message("No finding links the departure to the damage."),
    "effect": message("No finding shows the effect."),
})  # fmt: skip


def rule_text(given: PaperInput, candidate: Candidate | None, text: str) -> str:
    """A text of the rules in the paper's language, with what its numbers stand for."""
    t = given.words
    names: dict[str, str] = {}
    if candidate:
        names |= {f.id: f.statement for f in candidate.findings}
        names |= {a.id: a.claim for a in candidate.alternatives}
    said = t(text)
    if said == text:  # a plan begins some of its steps with a capital letter
        small = text[:1].lower() + text[1:]
        said = capital(t(small)) if t(small) != small else text
    return _NUMBER.sub(lambda m: f"({_clause(t(names[m[0]]))})" if m[0] in names else m[0], said)


def _clause(text: str) -> str:
    return shorten(re.split("[;:,]", text)[0], 70)


def finding(given: PaperInput, candidate: Candidate, found: FindingResult) -> str:
    """What a finding states, with a capital letter."""
    return capital(rule_text(given, candidate, found.statement))


def claim(given: PaperInput, candidate: Candidate, rival: AlternativeResult) -> str:
    """What is said of another cause."""
    return rule_text(given, candidate, rival.claim)


def step(given: PaperInput, candidate: Candidate, planned: PlanStep) -> str:
    """What to capture next."""
    return capital(rule_text(given, candidate, planned.what))


def weight(given: PaperInput, candidate: Candidate) -> str:
    """What the findings weigh, with both propositions named."""
    t, w = given.words, candidate.weight
    interval = Interval(low=w.low, point=w.ratio, high=w.high)
    return statement(candidate.departure, interval, w.band, t, t.printed)


def weight_shortly(given: PaperInput, candidate: Candidate) -> str:
    """The same in one line: the words, what they are given to, the ratio."""
    t, w = given.words, candidate.weight
    return t(
        "The findings give %(band)s to this: %(title)s. By judgement grades, the ratio lies between %(low)s and %(high)s; the low end "
        "carries the words.",
        band=t(w.band), title=rule_text(given, candidate, candidate.title), low=t.printed(w.low_printed), high=t.printed(w.high_printed),
    )  # fmt: skip


def not_shown(given: PaperInput) -> str:
    """That the record speaks for no explanation, and which one it says most of."""
    t, best = given.words, given.argued
    told = t("Not shown: the record supports none of the explanations that the rules know. That is a full answer.")
    if best is None:
        return told
    return f"{told} " + t("The explanation looked at most closely: %(what)s.", what=rule_text(given, best, best.title))


def ceiling(given: PaperInput, candidate: Candidate, held: Ceiling) -> str:
    """Why no more is said than is said."""
    wanted = [a for a in candidate.alternatives if a.status == "supported" and not a.resolved]
    if held.code == "guarded":
        wanted = [a for a in candidate.alternatives if a.guarded and a.status != "excluded"]
    told = "; ".join(claim(given, candidate, a) for a in wanted)
    message_of = given.words(_CEILINGS[held.code])
    return message_of % {"what": told} if "%(what)s" in message_of else message_of


def contradiction(given: PaperInput, candidate: Candidate, found: Contradiction) -> str:
    """What the record says two things of, with the records that say them."""
    about = next((f for f in candidate.findings if f.id == found.about), None)
    what = finding(given, candidate, about) if about else given.words("the record contradicts itself")
    return f"{what} [{numbered(given, found.records)}]" if found.records else what


def status(given: PaperInput, rival: AlternativeResult) -> str:
    """How another cause stands: excluded, less supported, open, supported."""
    return given.words.word(rival.status)


def capital(text: str) -> str:
    """The text with a capital letter in front."""
    return text[:1].upper() + text[1:] if text[1:2].islower() or text[1:2] == " " else text


def points(given: PaperInput, candidate: Candidate, answers: Iterable[str]) -> list[str]:
    """The findings that have one of these answers, as they are stated."""
    wanted = set(answers)
    return [finding(given, candidate, f) for f in candidate.findings if f.answer in wanted]
