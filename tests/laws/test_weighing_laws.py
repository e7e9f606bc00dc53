"""Laws of the weighing, on arbitrary entries: what is taken from the supporting side never raises a result.

Grades are intervals here, answers may be only probable; each law holds at both ends and at the grades as they stand.
"""

from dataclasses import replace
from fractions import Fraction
from itertools import islice, product

from evidence.rules.grades import ORDER, Odds
from evidence.rules.pack import GRADES
from evidence.rules.weighing import CAP, ENDS, WEIGHING, Weighable, weigh, weigh_interval
from hypothesis import given, settings
from hypothesis import strategies as st

SURE = st.sampled_from([Fraction(1), Fraction(1), Fraction(95, 100), Fraction(8, 10)])


@st.composite
def intervals(draw):
    low, point, high = sorted(draw(st.integers(0, 4)) for _ in range(3))
    return Odds(*(GRADES[ORDER[n]] for n in (low, point, high)))


@st.composite
def grades(draw):
    """As expected if true as if not, or more so, by the grades as they stand; the intervals may cross."""
    pair = sorted((draw(intervals()), draw(intervals())), key=lambda o: o.point)
    return pair[1], pair[0]


@st.composite
def entries(draw, most=7):
    found = []
    for n in range(draw(st.integers(1, most))):
        if_true, if_not = draw(grades())
        found.append(
            Weighable(
                id=f"F{n}",
                limb=draw(st.sampled_from("DLEX")),
                answer=draw(st.sampled_from(["met", "not met", "undecided", "not measured", "not applicable"])),
                if_true=if_true,
                if_not=if_not,
                branch=draw(st.sampled_from(["", "", "off", "loose"])),
                test=draw(st.sampled_from(["", "", "t1", "t2"])),
                marks=draw(st.frozensets(st.sampled_from(["m1", "m2", "m3"]), max_size=2)),
                undisturbed=draw(st.booleans()),
                sure=draw(SURE),
            )
        )
    return found


def put(findings, i, **changes):
    return [*findings[:i], replace(findings[i], **changes), *findings[i + 1 :]]


def never_above(less, more):
    for end in ENDS:
        for only in (False, True):
            assert weigh(less, end=end, undisturbed_only=only).ratio <= weigh(more, end=end, undisturbed_only=only).ratio


@given(entries(), st.data())
def test_taking_support_away_never_raises(findings, data):
    met = [i for i, f in enumerate(findings) if f.answer == "met"]
    if not met:
        return
    i = data.draw(st.sampled_from(met))
    never_above(put(findings, i, answer=data.draw(st.sampled_from(["undecided", "not measured", "not met"]))), findings)


@given(entries(), st.data())
def test_a_less_sure_answer_never_raises(findings, data):
    i = data.draw(st.integers(0, len(findings) - 1))
    never_above(put(findings, i, sure=min(findings[i].sure, data.draw(SURE))), findings)


@given(entries(), st.data())
def test_losing_the_undisturbed_state_never_raises(findings, data):
    i = data.draw(st.integers(0, len(findings) - 1))
    never_above(put(findings, i, undisturbed=False), findings)


@given(entries())
def test_what_answers_nothing_changes_nothing(findings):
    answered = [f for f in findings if f.answer in ("met", "not met")]
    assert weigh_interval(answered) == weigh_interval(findings) or any(f.branch for f in findings)


@given(entries(), st.randoms(use_true_random=False))
def test_order_does_not_matter(findings, random):
    shuffled = list(findings)
    random.shuffle(shuffled)
    assert weigh_interval(shuffled) == weigh_interval(findings)


@given(entries())
def test_the_result_stays_between_the_caps_in_order_and_exact(findings):
    found = weigh_interval(findings)
    assert 1 / CAP <= found.low <= found.point <= found.high <= CAP
    assert all(isinstance(r, Fraction) for r in found)


@given(entries(), st.data())
def test_a_further_adverse_answer_never_raises(findings, data):
    open_ones = [i for i, f in enumerate(findings) if f.answer in ("undecided", "not measured")]
    if open_ones:
        never_above(put(findings, data.draw(st.sampled_from(open_ones)), answer="not met"), findings)


@given(entries(), st.data())
def test_a_wider_grade_widens_the_result_and_never_lifts_its_low_end(findings, data):
    i = data.draw(st.integers(0, len(findings) - 1))
    if findings[i].if_true == findings[i].if_not:
        return
    widest = Odds(GRADES["excluded"], findings[i].if_true.point, GRADES["certain"])
    if widest == findings[i].if_not:
        return
    wide = weigh_interval(put(findings, i, if_true=widest))
    found = weigh_interval(findings)
    assert wide.low <= found.low
    assert wide.point == found.point
    assert wide.high >= found.high


@given(entries())
def test_an_adverse_answer_keeps_its_full_weight_at_the_low_end(findings):
    """One that is not met, alone in its limb and by itself, weighs as its worst corner, however sure anything else is."""
    for f in findings:
        if f.answer == "not met" and f.limb in WEIGHING and f.if_true != f.if_not:
            alone = weigh([replace(f, branch="")], end="low").ratio
            assert alone == max(min((1 - f.if_true.high) / (1 - f.if_not.low), Fraction(1)), 1 / CAP)


@settings(max_examples=60, deadline=None)
@given(entries(most=4))
def test_the_ends_are_the_extremes_over_every_corner_of_the_grades(findings):
    """Exhaustive: every finding at every corner of its two intervals, weighed with exact grades.

    Equal intervals are one unknown and stay out; a corner where both grades meet gives one, as a finding at rest does.
    """
    weighing = [f for f in findings if f.limb in WEIGHING and f.answer in ("met", "not met") and f.if_true != f.if_not]
    corners = [list(product({f.if_true.low, f.if_true.high}, {f.if_not.low, f.if_not.high})) for f in weighing]
    rest = [f for f in findings if f not in weighing]
    ratios = [
        weigh([*rest, *(replace(f, if_true=Odds.exactly(p), if_not=Odds.exactly(q)) for f, (p, q) in zip(weighing, chosen, strict=True))]).ratio
        for chosen in islice(product(*corners), 256)
    ]  # fmt: skip
    found = weigh_interval(findings)
    assert (found.low, found.high) == (min(ratios), max(ratios))
