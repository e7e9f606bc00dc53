"""What a challenge costs: the assessment of the record as it stands against that of the record as it would stand.

No scores. A challenge that takes records away is held against the record without them; one that the assessment counts
already is held against the record with the weakness mended, or read off the ceiling, alternative or element that it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from evidence.review.challenge import Harm, Raised, rank
from evidence.review.grounds import Grounds
from evidence.rules.assessment import Candidate
from evidence.rules.ceilings import CANDIDATE_ONLY, NO_STATEMENT
from evidence.rules.weighing import BANDS, NEITHER, band_words, level, other_words

_LEVELS: dict[str, int] = {
    **{words: number for number, _, words in BANDS}, NEITHER: 0, CANDIDATE_ONLY: 0, NO_STATEMENT: 0,
    **{other_words(number): -number for number, _, _ in BANDS},
}  # fmt: skip  # without a statement there is no support to lose
_GONE = "not called up any more"
_CEILINGS = {"moderate support": 2, "weak support": 1, "no support": 0, "no statement": 0, CANDIDATE_ONLY: 0}


def harm_of(raised: Raised, grounds: Grounds) -> Harm:
    """The worst that the challenge does to any candidate that leads."""
    found = [Harm()]
    now = {c.mechanism: c for c in grounds.leading}
    if raised.without:
        found += _compared(now, grounds.judged_again(raised.without()), counted=False)
    if raised.mended:
        found += _compared(grounds.judged_again(raised.mended()), now, counted=True)
    for candidate in grounds.leading:
        if raised.mechanism in ("", candidate.mechanism):
            found += _said_by(raised, candidate)
    return min(found, key=lambda h: rank(h, raised.code))


def _compared(better: Mapping[str, Candidate], worse: Mapping[str, Candidate], *, counted: bool) -> list[Harm]:
    return [_between(one, worse.get(mechanism), counted=counted) for mechanism, one in better.items()]


def _between(better: Candidate, worse: Candidate | None, *, counted: bool) -> Harm:
    level_now = _LEVELS[better.weight.band]
    if worse is None:
        return Harm(
            counted=counted, mechanism=better.title, better=better.weight.band, worse=_GONE, steps=max(level_now, 0),
            findings=tuple(f.id for f in better.findings if f.answer == "met"),
        )  # fmt: skip
    met = {f.id for f in (*worse.findings, *worse.common) if f.answer == "met"}
    complete = {e.name for e in worse.elements if e.complete}
    dealt = {a.id for a in worse.alternatives if a.status == "excluded"}
    return Harm(
        counted=counted, mechanism=better.title, better=better.weight.band, worse=worse.weight.band,
        steps=max(level_now - _LEVELS[worse.weight.band], 0),
        elements=tuple(e.name for e in better.elements if e.complete and e.name not in complete),
        alternatives=tuple(a.id for a in better.alternatives if a.status == "excluded" and a.id not in dealt),
        findings=tuple(f.id for f in (*better.findings, *better.common) if f.answer == "met" and f.id not in met),
        factor=max(better.weight.low / worse.weight.low, Fraction(1)),
    )  # fmt: skip


def _said_by(raised: Raised, candidate: Candidate) -> list[Harm]:
    """What the assessment says already of a ceiling, an alternative, an element."""
    found: list[Harm] = []
    band = candidate.weight.band
    if raised.ceiling and any(c.code == raised.ceiling for c in candidate.ceilings):
        free = _without_ceiling(candidate, raised.ceiling)
        found.append(
            Harm(
                counted=True, mechanism=candidate.title, better=band_words(free), worse=band,
                steps=max(free - _LEVELS[band], 0),
            )
        )  # fmt: skip
    if raised.alternatives:
        found.append(
            Harm(
                mechanism=candidate.title, better=band, worse=NO_STATEMENT, steps=max(_LEVELS[band], 0),
                supported=raised.alternatives,
            )
        )  # fmt: skip
    if raised.element and any(e.name == raised.element and not e.complete for e in candidate.elements):
        found.append(Harm(counted=True, mechanism=candidate.title, better=band, worse=band, elements=(raised.element,)))
    return found


def _without_ceiling(candidate: Candidate, code: str) -> int:
    """The level that would be reached were it not for the ceilings of this code."""
    ratio = candidate.weight.low
    others = [_CEILINGS[c.at] for c in candidate.ceilings if c.code != code]
    return min([level(ratio) if ratio >= 1 else 0, *others])


def hurts(harm: Harm, *, named: bool) -> str:
    """The cost in words; ``named`` where several candidates lead and the one hit hardest must be named."""
    if harm == Harm(counted=harm.counted, mechanism=harm.mechanism, better=harm.better, worse=harm.worse):
        return "No band, element or alternative moves with it; it goes to weight and credibility."
    parts: list[str] = []
    what = f"“{harm.mechanism}”" if named else "the band"
    if harm.steps and harm.counted:
        parts.append(f"it holds {what} at {harm.worse}; without it {harm.better} would be reached")
    elif harm.steps:
        parts.append(f"{what} would fall from {harm.better} to {harm.worse}")
    elif not harm.counted:
        parts.append(f"{what} stays where it is")
    still = "not" if harm.counted else "no longer"
    if harm.elements:
        parts.append(f"{_and(harm.elements)} {'is' if len(harm.elements) == 1 else 'are'} {still} complete")
    if harm.alternatives:
        parts.append(f"{_and(harm.alternatives)} {'is' if len(harm.alternatives) == 1 else 'are'} {still} dealt with")
    if harm.supported:
        parts.append(f"{_and(harm.supported)} would be supported")
    if harm.findings:
        parts.append(f"{_and(harm.findings)} {'is' if len(harm.findings) == 1 else 'are'} {still} met")
    if harm.factor > 1:
        parts.append(f"the ratio {'is held down' if harm.counted else 'falls'} by a factor of {_number(harm.factor)}")
    text = "; ".join(parts)
    return ("Counted already: " if harm.counted else "If it succeeds: ") + text + "."


def _and(words: tuple[str, ...]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _number(factor: Fraction) -> str:
    return f"{float(factor):.3g}"
