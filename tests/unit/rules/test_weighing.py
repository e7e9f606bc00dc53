"""Ratio and words. The bands are those of the ENFSI guideline for evaluative reporting (2015); the edge rule is our own."""

from fractions import Fraction

import pytest
from evidence.rules.grades import Odds
from evidence.rules.pack import GRADES
from evidence.rules.weighing import Weighable, level, printed, weigh, words


def finding(name, limb, grades="certain/unlikely", answer="met", **more):
    if_true, if_not = (Odds.exactly(GRADES[g]) for g in grades.split("/"))
    return Weighable(id=name, limb=limb, answer=answer, if_true=if_true, if_not=if_not, **more)


EYELET = finding("F1", "D", "certain/unlikely", undisturbed=True)
MODULE_DIED = finding("F12", "L", "certain/possible")
NO_SIGNAL = finding("F4", "E", "certain/possible")
MELTED = finding("F14", "L", "possible/excluded")
SOME_ONLY = finding("F13", "E", "possible/unlikely")


def test_worked_58_8():
    weighed = weigh([EYELET, MODULE_DIED, NO_SIGNAL])
    assert weighed.ratio == Fraction(98, 10) * Fraction(245, 100) ** 2
    assert printed(weighed.ratio) == "58.8"
    assert words(weighed.ratio) == "moderate support"


def test_worked_784():
    weighed = weigh([EYELET, MODULE_DIED, NO_SIGNAL, MELTED, SOME_ONLY])
    assert weighed.ratio == 784
    assert printed(weighed.ratio) == "784"
    assert words(weighed.ratio) == "moderately strong support"
    assert weighed.counted == {"F1", "F14", "F13"}


def test_worked_6_0():
    weighed = weigh([MODULE_DIED, NO_SIGNAL])
    assert printed(weighed.ratio) == "6.0"
    assert words(weighed.ratio) == "weak support"


@pytest.mark.parametrize(  # the table of ratios that follow from the grades, as printed with them
    ("grades", "present", "absent"),
    [
        ("certain/excluded", "49", "0.020"), ("certain/unlikely", "9.8", "0.022"), ("certain/possible", "2.5", "0.033"),
        ("certain/expected", "1.2", "0.10"), ("expected/excluded", "40", "0.20"), ("expected/unlikely", "8.0", "0.22"),
        ("expected/possible", "2.0", "0.33"), ("possible/excluded", "20", "0.61"), ("possible/unlikely", "4.0", "0.67"),
        ("possible/possible", "1.0", "1.0"),
    ],
)  # fmt: skip
def test_table_of_ratios(grades, present, absent):
    met, gone = finding("F", "D", grades), finding("F", "D", grades, "not met")
    assert float(met.interval.point) == pytest.approx(float(present), rel=0.025)
    assert float(gone.interval.point) == pytest.approx(float(absent), rel=0.06)


def test_nothing_looked_for_gives_no_ratio():
    unanswered = [
        finding(f"F{n}", "D", answer=a) for n, a in enumerate(["not measured", "undecided", "not applicable"])
    ]
    assert weigh(unanswered).ratio == 1


def test_exclusions_do_not_weigh():
    assert weigh([finding("F3", "X"), finding("F8", "X", answer="not met")]).ratio == 1


@pytest.mark.parametrize(
    ("edge", "number"), [("2", 0), ("10", 1), ("100", 2), ("1000", 3), ("10000", 4), ("2.001", 1), ("1000.1", 4)]
)
def test_an_edge_takes_the_lower_band(edge, number):
    assert level(Fraction(edge)) == number


def test_below_one_speaks_for_some_other_cause():
    assert words(Fraction(1, 2)) == "no support either way"
    assert words(Fraction(1, 11)) == "moderate support for some other cause"
    assert printed(Fraction(1, 17)) == "1/17.0"


def test_capped_at_ten_thousand():
    strong = [finding(f"F{i}", limb, "certain/excluded") for i, limb in enumerate("DLE")]
    assert weigh(strong).ratio == 10_000
    assert weigh(strong).capped
    gone = [finding(f"F{i}", limb, "certain/excluded", "not met") for i, limb in enumerate("DLE")]
    assert weigh(gone).ratio == Fraction(1, 10_000)


def test_a_met_outcome_leaves_its_siblings_without_weight():
    sibling = finding("F13", "E", "possible/unlikely", "not met", test="coil-control")
    met = finding("F4", "E", "certain/possible", test="coil-control")
    assert weigh([met, sibling]).ratio == Fraction(245, 100)
    assert weigh([met, finding("F13", "E", "possible/unlikely", "not met")]).ratio < Fraction(245, 100)


def test_one_test_weighs_once_across_limbs():
    link = finding("F10", "L", "certain/possible", test="coil-control")
    effect = finding("F4", "E", "certain/unlikely", test="coil-control")
    assert weigh([link, effect]).ratio == Fraction(98, 10)


def test_one_measurement_counts_in_one_limb():
    record = frozenset({"m1"})
    departure = finding("F2", "D", "certain/unlikely", marks=record)
    effect = finding("F4", "E", "certain/possible", marks=record)
    assert weigh([departure, effect]).ratio == Fraction(98, 10)
    other = finding("F5", "E", "expected/possible", marks=frozenset({"m2"}))
    assert weigh([departure, effect, other]).ratio == Fraction(98, 10) * 2


def test_what_speaks_against_is_counted_before_what_supports():
    record = frozenset({"m1"})
    against = finding("F2", "D", "certain/unlikely", "not met", marks=record)
    effect = finding("F4", "E", "certain/possible", marks=record)
    assert weigh([against, effect]).ratio == Fraction(2, 90)


def test_a_branch_is_chosen_by_what_is_met():
    off = finding("F1", "D", "certain/unlikely", branch="off")
    loose = finding("F2", "D", "certain/unlikely", "not met", branch="loose")
    weighed = weigh([off, loose])
    assert (weighed.branch, weighed.ratio) == ("off", Fraction(98, 10))
    nothing_met = weigh([finding("F1", "D", "expected/possible", "not met", branch="off"), loose])
    assert (nothing_met.branch, nothing_met.ratio) == ("", Fraction(2, 90))


def test_above_moderate_only_the_undisturbed_state_counts_for_the_departure():
    later = finding("F2", "D", "certain/excluded")
    assert weigh([later, EYELET]).ratio == 49
    assert weigh([later, EYELET], undisturbed_only=True).ratio == Fraction(98, 10)
    assert weigh([later], undisturbed_only=True).ratio == 1
