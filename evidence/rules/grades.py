"""How expected a finding is, as an interval of probabilities: from its grade, a range given with a source, or a person's.

Without a range ``possible`` spreads one grade either way, because nobody can tell "about as often as not" to better than
that; the other grades do not spread. A pack gives a range under a source of its own, a person with the source he names.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from evidence.model.dossier import Recorded
from evidence.model.people import Grade, Resolution
from evidence.rules.pack import GRADE_WORDS, GRADES, Finding, Mechanism, Pack

ORDER: tuple[Grade, ...] = ("excluded", "unlikely", "possible", "expected", "certain")  # from the least probable
assert set(ORDER) == set(GRADES)


@dataclass(frozen=True, slots=True)
class Odds:
    """A probability as an interval: 0 < low <= point <= high < 1, exact."""

    low: Fraction
    point: Fraction
    high: Fraction

    @classmethod
    def exactly(cls, probability: Fraction) -> Odds:
        """An interval of one point."""
        return cls(probability, probability, probability)

    @property
    def turned(self) -> Odds:
        """The probability of the contrary."""
        return Odds(1 - self.high, 1 - self.point, 1 - self.low)


def odds_of(pack: Pack, finding: Finding) -> tuple[Odds, Odds]:
    """How expected the finding is if the mechanism is true, and if it is not, by the probabilities of its pack."""
    return (
        _odds(pack, finding.if_true, finding.if_true_range),
        _odds(pack, finding.if_not, finding.if_not_range),
    )


def _odds(pack: Pack, grade: Grade, stated: tuple[Grade, Grade] | None) -> Odds:
    low, high = stated or (("unlikely", "expected") if grade == "possible" else (grade, grade))
    ends = sorted((pack.probability(low), pack.probability(grade), pack.probability(high)))
    return Odds(ends[0], pack.probability(grade), ends[2])  # a pack's own probabilities may cross


def grade_words(finding: Finding, *, if_true: bool) -> str:
    """A grade as a reader has it, with its range where one is given."""
    grade, stated = (
        (finding.if_true, finding.if_true_range) if if_true else (finding.if_not, finding.if_not_range)
    )  # fmt: skip
    words = GRADE_WORDS[grade]
    if stated and stated != (grade, grade):
        return f"{words} (between {GRADE_WORDS[stated[0]]} and {GRADE_WORDS[stated[1]]})"
    return words


def regraded(mechanism: Mechanism, resolutions: Sequence[Recorded[Resolution]]) -> Mechanism:
    """The entry with the grades that persons gave in writing and with a source; the newest word stands."""
    stated = {r.value.finding: r.value for r in resolutions if r.value.about == "grade"}
    if not stated:
        return mechanism
    findings = tuple(_regraded(f, stated[f.id]) if f.id in stated else f for f in mechanism.findings)
    return mechanism.model_copy(update={"findings": findings})


def _regraded(finding: Finding, said: Resolution) -> Finding:
    changed: dict[str, object] = {}
    if said.if_true:
        changed |= {"if_true": _inside(finding.if_true, said.if_true), "if_true_range": said.if_true}
    if said.if_not:
        changed |= {"if_not": _inside(finding.if_not, said.if_not), "if_not_range": said.if_not}
    return finding.model_copy(update=changed)


def _inside(grade: Grade, stated: tuple[Grade, Grade]) -> Grade:
    """The entry's grade where the range holds it, else the end that lies nearest."""
    low, high = (ORDER.index(g) for g in stated)
    return ORDER[min(max(ORDER.index(grade), low), high)]
