"""The conclusion in plain words for an owner: what is shown, what is not, what holds it, and what the numbers are."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from evidence.model.kinds import enumerated
from evidence.rules.assessment import (
    AlternativeResult,
    Ceiling,
    Contradiction,
    FindingResult,
    OrderInTime,
    Versus,
    Weight,
)
from evidence.rules.versus import APART

GRADES_NOTE = (
    "The ratio rests on judgement grades that were agreed beforehand for every case alike. They were not measured and are "
    "taken from no publication; they keep a weak case from looking strong."
)
MEANING_NOTE = (
    "The words speak of how well the findings fit this mechanism against some other cause. They are not the probability "
    "that anyone is to blame, and nothing here is legal advice."
)

_NAMED = 5  # alternatives told by name in the paragraph; all stand in the table


def conclude(
    title: str, weight: Weight, ceilings: Sequence[Ceiling], findings: Sequence[FindingResult],
    rivals: Sequence[AlternativeResult], contradictions: Sequence[Contradiction], order: OrderInTime,
    pairs: Sequence[Versus],
) -> str:  # fmt: skip
    """A short paragraph; every sentence can be traced to the parts of the candidate."""
    sentences = [_head(title, weight, ceilings)]
    if weight.side != "none":
        holding = [c for c in ceilings if c.holds]
        if holding and weight.side in ("mechanism", "neither"):
            sentences.append(f"It is held there because {_joined(c.reason for c in holding)}.")
    sentences += _shown(findings)
    if order.answer == "met":
        sentences.append(f"In time: {order.sentence}.")
    sentences += _beside(pairs)
    sentences += _still_open(rivals)
    unresolved = [c for c in contradictions if not c.resolved]
    if unresolved:
        sentences.append(f"To be resolved in writing: {_joined(dict.fromkeys(c.about for c in unresolved))}.")
    return " ".join(sentences)


def _head(title: str, weight: Weight, ceilings: Sequence[Ceiling]) -> str:
    if weight.side == "none":
        blocking = next(c for c in ceilings if c.code in ("prior_order", "supported_alternative"))
        if blocking.code == "prior_order":
            return f"Candidate only, not shown: {blocking.reason}. Nothing is said for “{title}” until it is."
        others = [c.reason for c in ceilings if c.code == "supported_alternative"]
        return f"Not shown: {_joined(others)}. Nothing is said for “{title}” until a person resolves this in writing."
    if weight.side == "other":
        return (
            f"Not shown: the findings speak for some other cause than “{title}” ({weight.band}, {_ratio(weight)}; "
            "judgement grades, not measured)."
        )
    if weight.side == "neither":
        return f"Not shown: the findings answered so far give no support either way for “{title}” ({_ratio(weight)})."
    return f"The findings give {weight.band} to “{title}” ({_ratio(weight)}; judgement grades, not measured)."


def _ratio(weight: Weight) -> str:
    """The number that carries the words first."""
    if weight.low == weight.ratio:
        return f"ratio {weight.low_printed}"
    return f"ratio at least {weight.low_printed}, which carries the words, and {weight.printed} by the grades as they stand"


def _beside(pairs: Sequence[Versus]) -> list[str]:
    """Other known mechanisms that the same findings do not tell it from, or that they fit better."""
    listed = [p for p in pairs if p.mechanism]
    better = [f"“{p.title}”" for p in listed if p.words.endswith("for the other")]
    alike = [f"“{p.title}”" for p in listed if p.words == APART]
    told: list[str] = []
    if better:
        told.append(f"The same findings fit {_joined(better[:_NAMED])} better.")
    if alike:
        more = [f"{len(alike) - _NAMED} more"] if len(alike) > _NAMED else []
        told.append(f"They do not tell it apart from {_joined([*alike[:_NAMED], *more])}.")
    return told


def _still_open(rivals: Sequence[AlternativeResult]) -> list[str]:
    """The guarded ones and the entry's own by name; the rest is counted."""
    still = sorted((r for r in rivals if r.status == "open"), key=lambda r: (not r.guarded, r.general))
    if not still:
        return []
    named = [f"{r.id} ({r.claim})" for r in still[:_NAMED]]
    more = len(still) - len(named)
    return [f"Still open: {_joined([*named, f'{more} more'] if more else named)}."]


def _shown(findings: Sequence[FindingResult]) -> list[str]:
    """One sentence a limb that is met, and one for those that are not."""
    told: list[str] = []
    missing: list[str] = []
    for limb, name in (("D", "the departure"), ("L", "the link to the damage"), ("E", "the effect")):
        met = [f for f in findings if f.limb == limb and f.answer == "met"]
        if met:
            shown = _joined(f"{f.id} ({enumerated(f.records)})" if f.records else f.id for f in met)
            told.append(f"For {name}: {shown}.")
        else:
            missing.append(name)
    if missing:
        told.append(f"Nothing is met for {_joined(missing)}.")
    if against := [f.id for f in findings if f.answer == "not met" and f.limb in "DLE"]:
        told.append(f"Looked for and not met: {_joined(against)}.")
    return told


def _joined(parts: Iterable[str]) -> str:
    items = list(parts)
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}"
