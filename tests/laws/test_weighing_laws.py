"""Laws of the weighing, on arbitrary entries: what is taken from the supporting side never raises a result."""

from dataclasses import replace
from fractions import Fraction

from evidence.rules.grades import Odds
from evidence.rules.pack import GRADES
from evidence.rules.weighing import CAP, Weighable, weigh
from hypothesis import given
from hypothesis import strategies as st

ORDER = list(GRADES)
pairs = st.tuples(st.sampled_from(ORDER), st.sampled_from(ORDER)).filter(lambda p: GRADES[p[0]] >= GRADES[p[1]])


@st.composite
def entries(draw):
    count = draw(st.integers(1, 7))
    found = []
    for n in range(count):
        if_true, if_not = draw(pairs)
        found.append(
            Weighable(
                id=f"F{n}",
                limb=draw(st.sampled_from("DLEX")),
                answer=draw(st.sampled_from(["met", "not met", "undecided", "not measured", "not applicable"])),
                if_true=Odds.exactly(GRADES[if_true]),
                if_not=Odds.exactly(GRADES[if_not]),
                branch=draw(st.sampled_from(["", "", "off", "loose"])),
                test=draw(st.sampled_from(["", "", "t1", "t2"])),
                marks=draw(st.frozensets(st.sampled_from(["m1", "m2", "m3"]), max_size=2)),
                undisturbed=draw(st.booleans()),
            )
        )
    return found


@given(entries(), st.data())
def test_taking_support_away_never_raises(findings, data):
    met = [i for i, f in enumerate(findings) if f.answer == "met"]
    if not met:
        return
    i = data.draw(st.sampled_from(met))
    weaker = data.draw(st.sampled_from(["undecided", "not measured", "not met"]))
    less = [*findings[:i], replace(findings[i], answer=weaker), *findings[i + 1 :]]
    for only in (False, True):
        assert weigh(less, undisturbed_only=only).ratio <= weigh(findings, undisturbed_only=only).ratio


@given(entries(), st.data())
def test_losing_the_undisturbed_state_never_raises(findings, data):
    i = data.draw(st.integers(0, len(findings) - 1))
    less = [*findings[:i], replace(findings[i], undisturbed=False), *findings[i + 1 :]]
    assert weigh(less, undisturbed_only=True).ratio <= weigh(findings, undisturbed_only=True).ratio


@given(entries())
def test_what_answers_nothing_changes_nothing(findings):
    answered = [f for f in findings if f.answer in ("met", "not met")]
    assert weigh(answered).ratio == weigh(findings).ratio or any(f.branch for f in findings)


@given(entries(), st.randoms(use_true_random=False))
def test_order_does_not_matter(findings, random):
    shuffled = list(findings)
    random.shuffle(shuffled)
    assert weigh(shuffled).ratio == weigh(findings).ratio


@given(entries())
def test_the_result_stays_between_the_caps_and_is_exact(findings):
    ratio = weigh(findings).ratio
    assert 1 / CAP <= ratio <= CAP
    assert isinstance(ratio, Fraction)


@given(entries(), st.data())
def test_a_further_adverse_answer_never_raises(findings, data):
    open_ones = [i for i, f in enumerate(findings) if f.answer in ("undecided", "not measured")]
    if not open_ones:
        return
    i = data.draw(st.sampled_from(open_ones))
    more = [*findings[:i], replace(findings[i], answer="not met"), *findings[i + 1 :]]
    assert weigh(more).ratio <= weigh(findings).ratio
