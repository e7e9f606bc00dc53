"""Remarks on packs that can be used: what is asked in words only, settles nothing, costs nobody knows what, or warns of nothing.

A fault refuses a pack (:mod:`evidence.rules.reading`); a remark does not.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import combinations

from evidence.errors import Mistake
from evidence.rules.asks import OF_ANSWERS, Change, Computed
from evidence.rules.keys import key_of
from evidence.rules.pack import Alternative, Finding, Mechanism, Pack
from evidence.rules.vocabulary import Vocabulary
from evidence.rules.weighing import WEIGHING, level

# A system whose work can hurt someone needs its caution in every entry, and so does work on anything of these parts.
_OF_SYSTEM = {
    "hybrid": "HV", "high voltage": "HV", "restraint": "SRS", "fuel": "FUEL", "diesel": "FUEL", "refrigerant": "REFR",
    "ignition": "SPARK", "charging": "BATT", "electrical": "BATT", "engine": "ROT", "lubrication": "LIFT", "cooling": "HOT",
    "exhaust": "HOT", "forced induction": "HOT", "brakes": "LIFT", "wheels": "LIFT", "steering": "LIFT",
}  # fmt: skip
_OF_PART = {
    "hv-system": "HV", "restraint-system": "SRS", "refrigerant": "REFR", "fuel-line": "FUEL", "fuel-tank": "FUEL",
    "fuel-rail": "FUEL", "high-pressure-line": "PRESS", "coolant": "HOT", "coolant-hose": "HOT",
}  # fmt: skip


def lint(pack: Pack, vocabulary: Vocabulary, *, file: str = "") -> tuple[Mistake, ...]:
    """What one pack says less well than it should."""
    found = [
        Mistake(file, 0, 0, f"{m.id}, {key}", message, right)
        for m in pack.mechanisms
        for check in (_asks, _costs, _cautions, _hands, _weight)
        for key, message, right in check(m, pack, vocabulary)
    ]
    used = {s for m in pack.mechanisms for s in m.sources}
    unused = [
        Mistake(file, 0, 0, f"{pack.id}, sources", f"{s!r} is cited by no entry") for s in pack.sources if s not in used
    ]
    return (*found, *unused)


def alike(packs: Sequence[Pack]) -> tuple[Mistake, ...]:
    """Pairs of mechanisms that could be called up together and that no answer to what either asks could tell apart.

    Told apart is a pair when, with every answer as one of the two would have it, its ratio leaves "no support either way".
    """
    every = [(m, _questions(m, pack)) for pack in packs for m in pack.mechanisms]
    return tuple(
        Mistake(
            "",
            0,
            0,
            f"{one.id}, findings",
            f"no evidence could tell it from {other.id}",
            "ask what only one of them leaves",
        )
        for (one, mine), (other, theirs) in combinations(every, 2)
        if _together(one, other) and not (level(_most(mine, theirs)) or level(_most(theirs, mine)))
    )


_Remarks = Iterator[tuple[str, str, str]]  # key, message, what would be right
_Grades = tuple[str, Fraction, Fraction]  # limb, if true, if not


def _asks(m: Mechanism, _pack: Pack, _vocabulary: Vocabulary) -> _Remarks:
    """What only a person's binding could answer, or what nothing typed settles."""
    for f in m.findings:
        if f.asks is None:
            yield f.id, "asks nothing in typed form, so only a person's binding can answer it", ""
        for ask in f.parts:
            if isinstance(ask, Computed) and ask.computed in OF_ANSWERS:
                yield f.id, f"asks {ask.computed!r}, which rests on the answers themselves", "ask it in an alternative"
    for a in m.alternatives:
        if a.asks is None and not a.excluded_by:
            yield a.id, "nothing typed settles it", "add 'asks' or 'excluded_by'"


def _costs(m: Mechanism, _pack: Pack, _vocabulary: Vocabulary) -> _Remarks:
    """A plan orders tests by what they cost and says what to fetch."""
    entries: tuple[Finding | Alternative, ...] = (*m.findings, *m.alternatives)
    for entry in entries:
        for key, value in (("minutes", entry.minutes), ("instrument", entry.instrument)):
            if value is None:
                yield entry.id, f"does not say its {key}", f"add {key!r}"


def _cautions(m: Mechanism, _pack: Pack, vocabulary: Vocabulary) -> _Remarks:
    needed = {code: f"work on the system {m.system!r}" for word, code in _OF_SYSTEM.items() if word in m.system}
    for part, code in _OF_PART.items():
        if any(vocabulary.within(c, part) for c in m.components):
            needed.setdefault(code, f"work on the {vocabulary.title(part)}")
    for code, why in needed.items():
        if code not in m.safety.codes:
            yield "safety", f"{why} needs the caution {code}", f"add {code} to 'codes'"


def _hands(m: Mechanism, _pack: Pack, vocabulary: Vocabulary) -> _Remarks:
    """Components that none of the prior operations touches."""
    if m.prior_operations == ("any-operation",):
        return
    touched = {c for o in m.prior_operations if o in vocabulary.operations for c in vocabulary.disturbed_by(o)}
    for c in m.components:
        if not any(vocabulary.within(c, t) or vocabulary.within(t, c) for t in touched):
            yield "components", f"none of the prior operations has hands on {c!r}", ""


def _weight(m: Mechanism, pack: Pack, _vocabulary: Vocabulary) -> _Remarks:
    """Findings that weigh the wrong way round, separate nothing, range without a source, or are exclusions of nothing."""
    named = {i for a in m.alternatives for i in a.excluded_by}
    asked = {key_of(a.asks, m) for a in m.alternatives if a.asks}
    bases = {a.change for f in m.findings for a in f.parts if isinstance(a, Change) and isinstance(a.change, str)}
    for f in m.findings:
        if f.limb == "X":
            if f.id not in named:
                yield f.id, "is an exclusion that no alternative names in 'excluded_by'", ""
            continue
        if pack.probability(f.if_true) < pack.probability(f.if_not):
            yield f.id, "is less expected if the mechanism is true than if not", ""
        settles = f.id in named or f.id in bases or (f.asks is not None and key_of(f.asks, m) in asked)
        equal = f.if_true == f.if_not and f.if_true_range == f.if_not_range
        if equal and not settles and not f.kept_for:
            yield f.id, "separates nothing: as much to be expected either way", "say in 'kept_for' why it is asked"
        sourced = any(pack.sources[s].status in ("verified", "seen") for s in m.sources)
        if (f.if_true_range or f.if_not_range) and not sourced:
            yield f.id, "gives a range of grades, but the entry names no source for it", ""
        if f.kept_for and not equal:
            yield f.id, "separates, so it needs no 'kept_for'", ""


def _questions(m: Mechanism, pack: Pack) -> dict[str, _Grades]:
    """What the findings that weigh ask, with their grades as probabilities."""
    return {
        key_of(f.asks, m) if f.asks else f"{m.id} {f.id}": (
            f.limb,
            pack.probability(f.if_true),
            pack.probability(f.if_not),
        )
        for f in m.findings
        if f.limb in WEIGHING
    }


def _together(one: Mechanism, other: Mechanism) -> bool:
    return bool(set(one.complaints) & set(other.complaints) or set(one.prior_operations) & set(other.prior_operations))


def _most(one: dict[str, _Grades], other: dict[str, _Grades]) -> Fraction:
    """The most that answers could speak for the first against the second: the strongest question of each limb."""
    best = dict.fromkeys(WEIGHING, Fraction(1))
    for key in one.keys() | other.keys():
        limb = (one.get(key) or other[key])[0]
        here = one[key][1] if key in one else other[key][2]
        there = other[key][1] if key in other else one[key][2]
        best[limb] = max(best[limb], here / there, (1 - here) / (1 - there))
    return best["D"] * best["L"] * best["E"]
