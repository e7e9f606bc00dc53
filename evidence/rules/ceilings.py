"""Ceilings that no arithmetic may lift, the band that is left, and what must be resolved in writing.

Ceilings bind support, never what speaks against the mechanism.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Literal

from evidence.model.base import shorten
from evidence.rules.assessment import AlternativeResult, Ceiling, Contradiction, Weight
from evidence.rules.examine import Examined
from evidence.rules.likelihood import break_even
from evidence.rules.replies import Reply
from evidence.rules.statement import statement
from evidence.rules.weighing import (
    band_words,
    chance,
    first_touch_shown,
    level,
    other_words,
    printed,
    words,
)

_MODERATE, _WEAK, _NEITHER, _NOTHING = 2, 1, 0, -1
_AT = {_MODERATE: "moderate support", _WEAK: "weak support", _NEITHER: "no support", _NOTHING: "no statement"}
CANDIDATE_ONLY = "candidate only"
NO_STATEMENT = "no statement until resolved"
BOUNDING = ("C1", "C2", "C3")  # common findings that bound the statement

_Code = Literal[
    "undisturbed", "guarded", "link", "effect", "latency", "prior_order", "effect_before", "supported_alternative",
]  # fmt: skip


def ceilings(
    examined: Examined, common: Mapping[str, Reply], rivals: Sequence[AlternativeResult]
) -> tuple[Ceiling, ...]:
    """Every ceiling that applies, the lowest first; ``holds`` where the ratio alone would have gone higher.

    ``common`` are the replies to the common findings, those that bound at the least.
    """
    found = sorted(_ceilings(examined, common, rivals), key=lambda c: c[1])
    ratio = examined.weighed.ratio  # the low end
    reached = level(ratio) if ratio >= 1 else 0
    return tuple(
        Ceiling(
            code=code, at=CANDIDATE_ONLY if code == "prior_order" else _AT[at], reason=reason,
            holds=ratio >= 1 and (reached > at or (at == _NOTHING)),
        )
        for code, at, reason in found
    )  # fmt: skip


def _ceilings(
    examined: Examined, common: Mapping[str, Reply], rivals: Sequence[AlternativeResult]
) -> Iterator[tuple[_Code, int, str]]:
    if common["C1"].answer != "met":
        why = "; ".join(common["C1"].reasons) or "no prior work order is in hand"
        yield "prior_order", _NOTHING, f"the prior work on these parts is not in hand: {shorten(why, 240)}"
    for rival in rivals:
        if rival.status == "supported" and not rival.resolved:
            by = ", ".join("its own test" if name == "own test" else name for name in rival.by)
            yield "supported_alternative", _NOTHING, f"{rival.id} ({rival.claim}) is supported by {by}"
    if common["C2"].answer == "not met":
        yield "effect_before", _NEITHER, f"the effect was there before the prior work: {_because(common['C2'])}"
    if common["C3"].answer == "not met":
        yield "latency", _WEAK, f"the onset lies outside the latency window: {_because(common['C3'])}"
    if not first_touch_shown(examined.weighables):
        yield "undisturbed", _MODERATE, "no departure was met in the undisturbed state"
    elif level(examined.strict.ratio) < level(examined.weighed.ratio):
        at = max(_MODERATE, level(examined.strict.ratio))
        if level(examined.weighed.ratio) > at == _MODERATE:
            yield "undisturbed", at, "without the departures seen in a disturbed state no more than this is reached"
    held = [r for r in rivals if r.guarded and r.status != "excluded"]
    if held:
        names = ", ".join(f"{r.id} ({r.kind_words})" for r in held)
        yield "guarded", _MODERATE, f"not excluded: {names}"
    for code, limb, name in (("link", "L", "link"), ("effect", "E", "effect")):
        if not any(w.limb == limb and w.answer == "met" for w in examined.weighables):
            yield code, _MODERATE, f"no {name} finding is met"  # type: ignore[misc]  # both are codes


def _because(reply: Reply) -> str:
    return shorten("; ".join(reply.reasons), 240)


def weight(examined: Examined, found: Sequence[Ceiling]) -> Weight:
    """The ratio with its words, before and after the ceilings."""
    interval, low = examined.interval, examined.weighed.ratio
    band, side = band_of(low, found)
    even = (break_even(interval.high), break_even(interval.low))
    return Weight(
        ratio=interval.point, printed=printed(interval.point), low=low, low_printed=printed(low), high=interval.high,
        high_printed=printed(interval.high), capped=examined.weighed.capped, limbs=examined.weighed.limbs,
        scale_words=words(low), band=band, wordless=examined.wordless,
        wordless_printed=printed(examined.wordless), by_word=examined.by_word,
        break_even=even, break_even_words=_even_words(even), side=side,
        statement=statement(examined.call.mechanism.departure.text, interval, band),
    )  # fmt: skip


def _even_words(even: tuple[Fraction, Fraction]) -> str:
    low, high = (chance(p) for p in even)
    told = f"a chance of {low}" if low == high else f"a chance between {low} and {high}"
    return (
        f"These findings would bring this explanation to even odds for somebody who had given it {told} before he knew them. "
        "That measures the findings; it is not the probability that it happened, and not one of blame."
    )


def band_of(low: Fraction, found: Sequence[Ceiling]) -> tuple[str, Literal["mechanism", "other", "neither", "none"]]:
    """The words that the low end carries under the ceilings, and what they speak for."""
    if low < 1:
        against = level(1 / low)
        if against:
            return other_words(against), "other"
    if any(c.code == "prior_order" for c in found):
        return CANDIDATE_ONLY, "none"
    if any(c.code == "supported_alternative" for c in found):
        return NO_STATEMENT, "none"
    levels = [n for c in found for n, text in _AT.items() if c.at == text]
    reached = min([level(low) if low >= 1 else 0, *levels])
    return band_words(reached), "mechanism" if reached > 0 else "neither"


def contradictions(examined: Examined) -> tuple[Contradiction, ...]:
    """Readings that disagree, and a finding that cannot be missing but was not met; each to be resolved in writing."""
    found: list[Contradiction] = []
    for finding in examined.call.mechanism.findings:
        reply = examined.replies[finding.id]
        resolved = _resolved(examined, finding.id)
        for text, labels in reply.disagreements:
            found.append(Contradiction(about=finding.id, text=text, records=labels, resolved=resolved))
        if finding.if_true == "certain" and reply.answer == "not met":
            text = f"{finding.id} cannot be missing if the mechanism is true, and was not met: {finding.statement}"
            found.append(Contradiction(about=finding.id, text=text, records=reply.labels, resolved=resolved))
        if finding.if_true == "excluded" and reply.answer == "met":
            text = f"{finding.id} should not be there if the mechanism is true, and was met: {finding.statement}"
            found.append(Contradiction(about=finding.id, text=text, records=reply.labels, resolved=resolved))
    return tuple(found)


def _resolved(examined: Examined, finding: str) -> str:
    holdings = examined.setting.holdings
    texts = [
        f"{r.value.text} ({r.label}, {holdings.dossier.party(r.value.by)})"
        for r in holdings.resolutions.get(examined.call.mechanism.id, ())
        if r.value.about == "contradiction" and r.value.finding == finding
    ]
    return "; ".join(texts)
