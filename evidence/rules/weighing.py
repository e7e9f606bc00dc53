"""From answers to a ratio and its words, in exact fractions. Only the limbs D, L and E weigh.

Per limb the single strongest finding present times the single worst finding absent; across limbs the product, capped.
Findings of one test are outcomes of it: one that is met leaves its siblings without weight. A branch's findings weigh only
under that branch; it is chosen by what is met, and where nothing is, the branch that fares worst stands. One measurement
record counts in one limb only. What is taken away from the supporting side never raises a result.

Every ratio is an interval. The result never falls when the ratio of one finding rises, and each finding stands in it once, so
the low end of the result is the result of the low ends, and the high end that of the high ends: no corner of the intervals
lies outside. A finding present never weighs below one, and one absent never above.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from itertools import product

from evidence.rules.assessment import Answer, LimbWeight
from evidence.rules.grades import Odds
from evidence.rules.likelihood import End, Interval, ratio_of
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
ENDS: tuple[End, ...] = ("low", "point", "high")
# The words are those of the guideline; that they end at strong support, and the rule for edges, are this project's own.
SCALE_SOURCE = (
    "Words: ENFSI guideline for evaluative reporting in forensic science (2015). Its two highest steps are left out: "
    "judgement grades cannot carry them. An exact edge takes the lower words, the low end of the ratio carries them, and "
    "ceilings hold them down whatever the ratio."
)
_ONE = Fraction(1)


@dataclass(frozen=True, kw_only=True)
class Weighable:
    """One finding as the weighing sees it. ``marks``: measurement records it rests on."""

    id: str
    limb: str
    answer: Answer
    if_true: Odds
    if_not: Odds
    branch: str = ""
    test: str = ""
    marks: frozenset[str] = frozenset()
    undisturbed: bool = False
    sure: Fraction = _ONE  # the probability that a met answer holds

    @cached_property
    def interval(self) -> Interval | None:
        """p/q where met, (1-p)/(1-q) where not met, none otherwise; each as an interval."""
        return ratio_of(self.if_true, self.if_not, self.answer, self.sure)

    def counts(self, end: End) -> Fraction:
        """What it may contribute at an end: present nothing below one, absent nothing above."""
        if self.interval is None:
            return _ONE
        return (max if self.answer == "met" else min)(self.interval.at(end), _ONE)

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
    under: str  # the branch it was weighed under: where nothing is met, the one that fares worst
    counted: frozenset[str]  # ids of the findings that count


def weigh(findings: Sequence[Weighable], *, end: End = "point", undisturbed_only: bool = False) -> Weighed:
    """The ratio of one entry at an end of the intervals.

    ``undisturbed_only``: for D only what was met in the undisturbed state counts.
    """
    pool = [f for f in findings if f.limb in WEIGHING and f.interval is not None]
    if undisturbed_only:
        pool = [f for f in pool if not (f.limb == "D" and f.answer == "met" and not _first_touch(f))]
    branches = tuple(dict.fromkeys(f.branch for f in findings if f.branch))
    if not branches:
        return _of_branch(pool, "", end)
    shown = tuple(b for b in branches if any(f.branch == b and f.answer == "met" for f in pool))
    results = [_of_branch([f for f in pool if f.branch in ("", b)], b, end) for b in shown or branches]
    if shown:
        return max(results, key=lambda w: (w.ratio, -branches.index(w.branch)))
    worst = min(results, key=lambda w: (w.ratio, branches.index(w.branch)))
    return replace(worst, branch="")


def weigh_interval(findings: Sequence[Weighable]) -> Interval:
    """The ratio of one entry with both its ends."""
    low, point, high = (weigh(findings, end=end).ratio for end in ENDS)
    return Interval(low, point, high)


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


def chance(probability: Fraction) -> str:
    """A probability for a reader: 1 in 60 below a tenth, else in per cent; never a round 0 or 100."""
    if probability < Fraction(1, 10):
        many = round(1 / probability)
        return f"1 in {many:,}".replace(",", " ")
    if probability > Fraction(99, 100):
        return f"more than {99} %" if probability < Fraction(999, 1000) else "more than 99.9 %"
    return f"{round(probability * 100)} %"


def _first_touch(finding: Weighable) -> bool:
    return finding.undisturbed and finding.counts("low") > 1


def _of_branch(pool: Sequence[Weighable], branch: str, end: End) -> Weighed:
    met_tests = {f.test for f in pool if f.test and f.answer == "met"}
    present = [f for f in pool if f.answer == "met"]
    absent = [f for f in pool if f.answer == "not met" and f.test not in met_tests]
    against = _choose(absent, end, worst=True, taken={})
    # Every adverse answer bars its record from supporting another limb, chosen or not: else one more of them could help.
    taken = {limb: frozenset().union(*(f.claims for f in absent if f.limb == limb)) for limb in WEIGHING}
    for_it = _choose(present, end, worst=False, taken=taken)
    limbs = tuple(_limb(limb, for_it.get(limb), against.get(limb), end) for limb in WEIGHING)
    exact = _ONE
    for limb in limbs:
        exact *= limb.product
    ratio = min(max(exact, 1 / CAP), CAP)
    counted = frozenset(f.id for f in (*for_it.values(), *against.values()))
    return Weighed(ratio=ratio, capped=ratio != exact, limbs=limbs, branch=branch, under=branch, counted=counted)


def _limb(limb: str, present: Weighable | None, absent: Weighable | None, end: End) -> LimbWeight:
    here = present.counts(end) if present else _ONE
    gone = absent.counts(end) if absent else _ONE
    return LimbWeight(
        limb=limb, words=LIMBS[limb], present=present.id if present else "", present_ratio=here,
        absent=absent.id if absent else "", absent_ratio=gone, product=here * gone,
    )  # fmt: skip


def _choose(
    pool: Sequence[Weighable], end: End, *, worst: bool, taken: Mapping[str, frozenset[str]]
) -> dict[str, Weighable]:
    """One finding a limb, none resting on what another limb uses: the strongest such set, or the worst."""
    options: list[list[Weighable | None]] = []
    for limb in WEIGHING:
        barred = frozenset().union(*(claims for other, claims in taken.items() if other != limb))
        mine = [f for f in pool if f.limb == limb and not f.claims & barred]
        mine.sort(key=lambda f: (f.counts(end) if worst else -f.counts(end), f.id))
        options.append([*mine, None])
    best: tuple[Fraction, int, tuple[Weighable | None, ...]] | None = None
    for place, chosen in enumerate(product(*options)):
        if not _apart(chosen):
            continue
        value = _ONE
        for f in chosen:
            value *= f.counts(end) if f else _ONE
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
