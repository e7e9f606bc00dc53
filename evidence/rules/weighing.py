"""From answers to a ratio and its words, in exact fractions. Only the limbs D, L and E weigh.

Per limb the single strongest finding present times the single worst finding absent; across limbs the product, capped.
Findings of one test are outcomes of it: one that is met leaves its siblings without weight. A branch's findings weigh only
under that branch; it is chosen by what is met, and where nothing is, the branch that fares worst stands. One measurement
record counts in one limb only. What is taken away from the supporting side never raises a result.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product

from evidence.rules.assessment import Answer, LimbWeight
from evidence.rules.pack import LIMBS

CAP = Fraction(10_000)
WEIGHING = ("D", "L", "E")
# Level, lower edge (not belonging to it), words. An exact edge takes the lower band.
BANDS: tuple[tuple[int, Fraction, str], ...] = (
    (4, Fraction(1000), "strong support"),
    (3, Fraction(100), "moderately strong support"),
    (2, Fraction(10), "moderate support"),
    (1, Fraction(2), "weak support"),
)
NEITHER = "no support either way"
SCALE: tuple[tuple[str, str], ...] = (
    ("1/2 to 2", NEITHER), ("2 to 10", "weak support"), ("10 to 100", "moderate support"),
    ("100 to 1 000", "moderately strong support"), ("1 000 to 10 000", "strong support"),
    ("below 1/2", "the same words by the inverse, for some other cause"),
)  # fmt: skip
_ONE = Fraction(1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighable:
    """One finding as the weighing sees it. ``marks``: measurement records it rests on."""

    id: str
    limb: str
    answer: Answer
    if_true: Fraction
    if_not: Fraction
    branch: str = ""
    test: str = ""
    marks: frozenset[str] = frozenset()
    undisturbed: bool = False

    @property
    def ratio(self) -> Fraction | None:
        """p/q where met, (1-p)/(1-q) where not met, none otherwise."""
        if self.answer == "met":
            return self.if_true / self.if_not
        if self.answer == "not met":
            return (1 - self.if_true) / (1 - self.if_not)
        return None

    @property
    def claims(self) -> frozenset[str]:
        """What it uses up: its measurement records, and the test whose outcome it is."""
        return self.marks | ({f"test {self.test}"} if self.test else frozenset())


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """The ratio with what each limb gave, and the branch it was weighed under."""

    ratio: Fraction
    capped: bool
    limbs: tuple[LimbWeight, ...]
    branch: str  # chosen by what is met; empty where none is
    counted: frozenset[str]  # ids of the findings that count


def weigh(findings: Sequence[Weighable], *, undisturbed_only: bool = False) -> Weighed:
    """The ratio of one entry. ``undisturbed_only``: for D only what was met in the undisturbed state counts."""
    pool = [f for f in findings if f.limb in WEIGHING]
    if undisturbed_only:
        pool = [f for f in pool if not (f.limb == "D" and f.answer == "met" and not _first_touch(f))]
    branches = tuple(dict.fromkeys(f.branch for f in findings if f.branch))
    if not branches:
        return _of_branch(pool, "")
    shown = tuple(b for b in branches if any(f.branch == b and f.answer == "met" for f in pool))
    results = [(_of_branch([f for f in pool if f.branch in ("", b)], b)) for b in shown or branches]
    if shown:
        return max(results, key=lambda w: (w.ratio, -branches.index(w.branch)))
    worst = min(results, key=lambda w: (w.ratio, branches.index(w.branch)))
    return Weighed(ratio=worst.ratio, capped=worst.capped, limbs=worst.limbs, branch="", counted=worst.counted)


def first_touch_shown(findings: Iterable[Weighable]) -> bool:
    """Whether a departure was met in the undisturbed state, by a finding whose presence says something."""
    return any(f.limb == "D" and f.answer == "met" and _first_touch(f) for f in findings)


def level(ratio: Fraction) -> int:
    """Band of a ratio of one or more: 0 neither, 1 weak, 2 moderate, 3 moderately strong, 4 strong."""
    return next((n for n, edge, _ in BANDS if ratio > edge), 0)


def words(ratio: Fraction) -> str:
    """The verbal scale; below one the same words, by the inverse, for some other cause."""
    return band_words(level(ratio)) if ratio >= 1 else other_words(level(1 / ratio))


def band_words(number: int) -> str:
    """Words of a level."""
    return next((w for n, _, w in BANDS if n == number), NEITHER)


def other_words(number: int) -> str:
    """Words of a level, for some other cause."""
    return f"{band_words(number)} for some other cause" if number else NEITHER


def printed(ratio: Fraction) -> str:
    """One decimal below 100, none above: 58.8, 784, 6.0; below one as 1/17.0."""
    if ratio < 1:
        return f"1/{printed(1 / ratio)}"
    tenths = round(ratio * 10)
    if tenths >= 1000:
        return f"{round(ratio):,}".replace(",", " ")
    return f"{tenths // 10}.{tenths % 10}"


def _first_touch(finding: Weighable) -> bool:
    return finding.undisturbed and finding.if_true > finding.if_not


def _of_branch(pool: Sequence[Weighable], branch: str) -> Weighed:
    met_tests = {f.test for f in pool if f.test and f.answer == "met"}
    present = [f for f in pool if f.answer == "met"]
    absent = [f for f in pool if f.answer == "not met" and f.test not in met_tests]
    against = _choose(absent, worst=True, taken={})
    # Every adverse answer bars its record from supporting another limb, chosen or not: else one more of them could help.
    taken = {limb: frozenset().union(*(f.claims for f in absent if f.limb == limb)) for limb in WEIGHING}
    for_it = _choose(present, worst=False, taken=taken)
    limbs = tuple(_limb(limb, for_it.get(limb), against.get(limb)) for limb in WEIGHING)
    exact = _ONE
    for limb in limbs:
        exact *= limb.product
    ratio = min(max(exact, 1 / CAP), CAP)
    counted = frozenset(f.id for f in (*for_it.values(), *against.values()))
    return Weighed(ratio=ratio, capped=ratio != exact, limbs=limbs, branch=branch, counted=counted)


def _limb(limb: str, present: Weighable | None, absent: Weighable | None) -> LimbWeight:
    here = present.ratio if present and present.ratio is not None else _ONE
    gone = absent.ratio if absent and absent.ratio is not None else _ONE
    return LimbWeight(
        limb=limb, words=LIMBS[limb], present=present.id if present else "", present_ratio=here,
        absent=absent.id if absent else "", absent_ratio=gone, product=here * gone,
    )  # fmt: skip


def _choose(pool: Sequence[Weighable], *, worst: bool, taken: Mapping[str, frozenset[str]]) -> dict[str, Weighable]:
    """One finding a limb, none resting on what another limb uses: the strongest such set, or the worst."""
    options: list[list[Weighable | None]] = []
    for limb in WEIGHING:
        barred = frozenset().union(*(claims for other, claims in taken.items() if other != limb))
        mine = [f for f in pool if f.limb == limb and f.ratio is not None and not f.claims & barred]
        mine.sort(key=lambda f: (f.ratio if worst else -(f.ratio or 0), f.id))
        options.append([*mine, None])
    best: tuple[Fraction, int, tuple[Weighable | None, ...]] | None = None
    for place, chosen in enumerate(product(*options)):
        if not _apart(chosen):
            continue
        value = _ONE
        for f in chosen:
            value *= f.ratio if f and f.ratio is not None else _ONE
        if best is None or (value < best[0] if worst else value > best[0]):
            best = (value, place, chosen)
        if place == 0:
            break  # the strongest of each limb do not get in each other's way
    assert best is not None
    return {f.limb: f for f in best[2] if f}


def _apart(chosen: Sequence[Weighable | None]) -> bool:
    seen: set[str] = set()
    for f in chosen:
        if f and f.claims & seen:
            return False
        seen |= f.claims if f else frozenset()
    return True
