"""What a reading would mean, in words: which explanations gain or lose, and which alternatives it would settle."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

from evidence.model.base import shorten
from evidence.rules.asks import Computed, Document, Feature, Measure, Observe, Read, Taken
from evidence.rules.criteria import Closed
from evidence.rules.pack import Finding
from evidence.rules.planning.asked import Asked, Judged

_STRONG = Fraction(5)
_NAMED, _CLAIM = 3, 90
_EITHER = "Either way it leaves the explanations where they are."


def meaning(asked: Asked, letters: Mapping[str, str]) -> tuple[str, str, str]:
    """If the answer is as asked, if it is not, and in between."""
    gains, losses = _of_findings(asked.findings, letters)
    helped, hurt = _of_exclusions(asked, letters)
    own_helped, own_hurt = _of_own_tests(asked, letters)
    met = _sentences([*gains, *helped, *own_helped])
    not_met = _sentences([*losses, *hurt, *own_hurt])
    return met or _EITHER, not_met or _EITHER, _between(asked.parts)


def _of_findings(findings: Sequence[tuple[Judged, Finding]], letters: Mapping[str, str]) -> tuple[list[str], list[str]]:
    """By the grades of those who ask; exclusions speak of alternatives, not of the mechanism."""
    met: dict[str, list[str]] = {}
    not_met: dict[str, list[str]] = {}
    for judged, finding in findings:
        if finding.limb == "X":
            continue
        probability = judged.examined.call.pack.probability
        true, other = Fraction(probability(finding.if_true)), Fraction(probability(finding.if_not))
        for told, ratio in ((met, true / other), (not_met, (1 - true) / (1 - other))):
            if verb := _moved(ratio):
                told.setdefault(verb, []).append(letters[judged.id])
    return _told(met), _told(not_met)


def _moved(ratio: Fraction) -> str:
    if ratio == 1:
        return ""
    if ratio > 1:
        return "points strongly to" if ratio >= _STRONG else "points to"
    return "speaks strongly against" if 1 / ratio >= _STRONG else "speaks against"


def _told(moved: Mapping[str, Sequence[str]]) -> list[str]:
    return [f"{verb} {listed(dict.fromkeys(names))}" for verb, names in sorted(moved.items(), reverse=True)]


def _of_exclusions(asked: Asked, letters: Mapping[str, str]) -> tuple[list[str], list[str]]:
    """Findings on which alternatives rest: met they help to exclude them; a failed exclusion supports them."""
    met: dict[str, list[str]] = {}
    not_met: dict[str, list[str]] = {}
    for judged, finding in asked.findings:
        for rival in judged.rivals:
            if finding.id in rival.needs and rival.status != "excluded":
                met.setdefault(rival.claim, []).append(letters[judged.id])
                if finding.limb == "X":
                    not_met.setdefault(rival.claim, []).append(letters[judged.id])
    return _claims("helps to exclude", met), _claims("supports", not_met)


def _of_own_tests(asked: Asked, letters: Mapping[str, str]) -> tuple[list[str], list[str]]:
    met: dict[str, list[str]] = {}
    part: dict[str, list[str]] = {}
    not_met: dict[str, list[str]] = {}
    for judged, alternative in asked.alternatives:
        rival = next(r for r in judged.rivals if r.id == alternative.id)
        whole = not any(n in judged.examined.replies for n in rival.needs)
        (met if whole else part).setdefault(rival.claim, []).append(letters[judged.id])
        if not (rival.general and rival.kind == "abuse"):
            not_met.setdefault(rival.claim, []).append(letters[judged.id])
    return [*_claims("excludes", met), *_claims("helps to exclude", part)], _claims("supports", not_met)


def _claims(verb: str, told: Mapping[str, Sequence[str]]) -> list[str]:
    if not told:
        return []
    names = [f"“{shorten(claim, _CLAIM)}” ({listed(dict.fromkeys(of))})" for claim, of in told.items()]
    more = len(names) - _NAMED
    return [f"{verb} {listed([*names[:_NAMED], f'{more} more'] if more > 0 else names)}"]


def _between(parts: Sequence[Closed]) -> str:
    told = []
    if any(isinstance(p, (Measure, Feature)) for p in parts):
        told.append("inside the uncertainty of the reading nothing moves: repeat it, or use a finer instrument")
    if any(isinstance(p, Taken) and p.over for p in parts):
        told.append("open until every part is covered")
    if any(isinstance(p, (Observe, Read)) for p in parts):
        told.append("not to be seen or read is no answer: note what was in the way")
    if any(isinstance(p, (Document, Computed)) for p in parts):
        told.append("not stated stays open: ask in writing")
    return _sentences(told or ["the same test before and after is needed: one of them alone leaves it open"])


def listed(parts: Iterable[str]) -> str:
    """A, B and C."""
    items = list(parts)
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}" if items else ""


def _sentences(parts: Sequence[str]) -> str:
    joined = "; ".join(parts)
    return f"{joined[:1].upper()}{joined[1:]}." if joined else ""
