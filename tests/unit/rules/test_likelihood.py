"""Ratios, uncertain answers and break-even, held against exact enumeration of published networks."""

from fractions import Fraction
from itertools import product

import pytest
from evidence.rules.grades import Odds
from evidence.rules.likelihood import Interval, break_even, ratio_of, uncertain

from exact import ASIA, BURGLARY, SPRINKLER

ALL = (
    (SPRINKLER, {"S": True}, {"W": True}, 0.4297636),
    (SPRINKLER, {"R": True}, {"W": True}, 0.7079277),
    (SPRINKLER, {"S": True}, {"W": True, "R": True}, 0.1944990),
    (SPRINKLER, {"C": True}, {"W": True}, 0.5757997),
    (BURGLARY, {"B": True}, {"J": True, "M": True}, 0.2841718),
    (BURGLARY, {"B": True}, {"A": True}, 0.3735512),
    (BURGLARY, {"B": True}, {"A": True, "E": True}, 0.0032684),
    (ASIA, {"T": True}, {"V": True, "D": True}, 0.0877510),
    (ASIA, {"L": True}, {"V": True, "D": True}, 0.0995251),
    (ASIA, {"O": True}, {"V": True, "D": True}, 0.8114021),
    (ASIA, {"T": True}, {"V": True, "D": True, "X": True}, 0.391712),
    (ASIA, {"L": True}, {"V": True, "D": True, "X": True}, 0.444271),
    (ASIA, {"O": True}, {"V": True, "D": True, "X": True}, 0.628822),
)


def exactly(p):
    return Odds.exactly(Fraction(p))


def updated(prior, ratio):
    """Prior odds times the ratio, back to a probability."""
    odds = prior / (1 - prior) * ratio
    return odds / (1 + odds)


def test_odds_form():
    # prior 1 %, P(+|A) 0.9, P(+|not A) 0.09: ratio 10, posterior 0.0917431
    ratio = ratio_of(exactly("0.9"), exactly("0.09"), "met")
    assert ratio == Interval(Fraction(10), Fraction(10), Fraction(10))
    assert float(updated(Fraction(1, 100), ratio.point)) == pytest.approx(0.0917431, abs=5e-8)


@pytest.mark.parametrize(("network", "cause", "findings", "published"), ALL)
def test_the_ratio_of_findings_turns_the_prior_into_the_published_posterior(network, cause, findings, published):
    # everything found is one finding of the cause: its two probabilities by enumeration, the ratio by the program
    contrary = {k: not v for k, v in cause.items()}
    others = {k: v for k, v in findings.items() if k not in ("W", "D", "X", "J", "M", "A")}  # V, R, E: known beforehand
    read = {k: v for k, v in findings.items() if k not in others}
    ratio = ratio_of(
        exactly(network.probability(read, {**cause, **others})), exactly(network.probability(read, {**contrary, **others})), "met"
    )  # fmt: skip
    posterior = updated(network.probability(cause, others), ratio.point)
    assert float(posterior) == pytest.approx(published, abs=6e-7)
    assert posterior == network.probability(cause, findings)


@pytest.mark.parametrize(("network", "cause", "findings", "published"), ALL)
def test_break_even_is_the_prior_at_which_the_findings_leave_even_odds(network, cause, findings, published):
    contrary = {k: not v for k, v in cause.items()}
    ratio = ratio_of(exactly(network.probability(findings, cause)), exactly(network.probability(findings, contrary)), "met")
    assert updated(break_even(ratio.point), ratio.point) == Fraction(1, 2)
    prior = network.probability(cause)
    assert (prior > break_even(ratio.point)) == (network.probability(cause, findings) > Fraction(1, 2))


def test_an_uncertain_answer_is_virtual_evidence():
    """Two witnesses of the alarm, whom nobody can ask again, weigh as an alarm that is only probable.

    Pearl's virtual evidence: likelihoods .9 x .7 against .05 x .01 for the alarm; Jeffrey's s is their share.
    """
    sure = Fraction("0.63") / (Fraction("0.63") + Fraction("0.0005"))
    on, off = (BURGLARY.probability({"A": True}, {"B": b}) for b in (True, False))
    ratio = ratio_of(exactly(on), exactly(off), "met", sure)
    assert float(updated(Fraction("0.001"), ratio.point)) == pytest.approx(0.2841718, abs=5e-8)
    assert updated(Fraction("0.001"), ratio.point) == BURGLARY.probability({"B": True}, {"J": True, "M": True})
    assert uncertain(on, sure) / uncertain(off, sure) == ratio.point


def test_explaining_away_is_the_pair_of_rivals():
    # burglary against earthquake by the alarm alone: .94 / .29 where only one of them happened
    one, other = (BURGLARY.probability({"A": True}, g) for g in ({"B": True, "E": False}, {"B": False, "E": True}))
    ratio = ratio_of(exactly(one), exactly(other), "met").point
    given = BURGLARY.probability({"B": True, "E": False}, {"A": True}) / BURGLARY.probability({"B": False, "E": True}, {"A": True})
    prior = BURGLARY.probability({"B": True, "E": False}) / BURGLARY.probability({"B": False, "E": True})
    assert ratio * prior == given


@pytest.mark.parametrize("answer", ["undecided", "not measured", "not applicable"])
def test_no_answer_no_ratio(answer):
    assert ratio_of(exactly("0.98"), exactly("0.1"), answer) is None


def test_an_uncertain_answer_never_gives_more_than_the_plain_one_and_an_adverse_one_keeps_its_weight():
    wide = Odds(Fraction(1, 10), Fraction(4, 10), Fraction(8, 10))
    for true, other in ((exactly("0.98"), wide), (wide, exactly("0.02")), (exactly("0.8"), exactly("0.1"))):
        plain, adverse = ratio_of(true, other, "met"), ratio_of(true, other, "not met")
        for tenths in range(5, 11):
            soft = ratio_of(true, other, "met", Fraction(tenths, 10))
            assert all(a <= b for a, b in zip(soft, plain, strict=True))
            assert ratio_of(true, other, "not met", Fraction(tenths, 10)) == adverse
        assert ratio_of(true, other, "met", Fraction(1, 2)).point == 1


@pytest.mark.parametrize("answer", ["met", "not met"])
@pytest.mark.parametrize("sure", ["1", "0.95", "0.8"])
def test_the_ends_are_the_extremes_over_the_corners(answer, sure):
    spans = [("0.1", "0.4", "0.8"), ("0.02", "0.1", "0.4"), ("0.8", "0.98", "0.98"), ("0.4", "0.4", "0.4")]
    for true, other in product((Odds(*map(Fraction, s)) for s in spans), repeat=2):
        if true == other:
            continue
        found = ratio_of(true, other, answer, Fraction(sure))
        corners = [
            ratio_of(Odds.exactly(p), Odds.exactly(q), answer, Fraction(sure)).point
            for p, q in product((true.low, true.high), (other.low, other.high))
            if p != q
        ] + ([Fraction(1)] if {true.low, true.high} & {other.low, other.high} else [])
        assert (found.low, found.high) == (min(corners), max(corners))


def test_equal_grades_are_one_unknown_and_say_nothing():
    wide = Odds(Fraction(1, 10), Fraction(4, 10), Fraction(8, 10))
    assert ratio_of(wide, wide, "met") == ratio_of(wide, wide, "not met") == Interval()
