"""Bits, held against a published table and against plain enumeration; the production functions, nothing beside them."""

from decimal import Decimal
from fractions import Fraction
from math import isclose, log2, prod

import pytest
from evidence.rules.information import entropy, expected_information, per_minute, settling, shares
from hypothesis import given
from hypothesis import strategies as st

# The 14-case weather table of Quinlan, Induction of Decision Trees, Machine Learning 1 (1986); also Mitchell, Machine
# Learning (1997), table 3.2: play yes 9, no 5. Cases by (outlook, temperature, humidity, wind), yes or no.
WEATHER = [
    ("sunny", "hot", "high", "weak", "no"), ("sunny", "hot", "high", "strong", "no"),
    ("overcast", "hot", "high", "weak", "yes"), ("rain", "mild", "high", "weak", "yes"),
    ("rain", "cool", "normal", "weak", "yes"), ("rain", "cool", "normal", "strong", "no"),
    ("overcast", "cool", "normal", "strong", "yes"), ("sunny", "mild", "high", "weak", "no"),
    ("sunny", "cool", "normal", "weak", "yes"), ("rain", "mild", "normal", "weak", "yes"),
    ("sunny", "mild", "normal", "strong", "yes"), ("overcast", "mild", "high", "strong", "yes"),
    ("overcast", "hot", "normal", "weak", "yes"), ("rain", "mild", "high", "strong", "no"),
]  # fmt: skip


def weather(column):
    """Weights of yes and no, and the outcomes of one attribute under each."""
    words = sorted({case[column] for case in WEATHER})
    weights, outcomes = [], []
    for play in ("yes", "no"):
        mine = [case[column] for case in WEATHER if case[-1] == play]
        weights.append(len(mine))
        outcomes.append([Fraction(mine.count(word), len(mine)) for word in words])
    return weights, outcomes


def test_entropy_of_nine_and_five():
    assert entropy([9, 5]) == Decimal("0.940286")


@pytest.mark.parametrize(
    ("column", "bits"), [(0, "0.246750"), (2, "0.151836"), (3, "0.048127"), (1, "0.029223")],
    ids=["outlook", "humidity", "wind", "temperature"],
)  # fmt: skip
def test_information_of_the_weather_table(column, bits):
    assert expected_information(*weather(column)) == Decimal(bits)


def test_ends():
    assert entropy([1]) == entropy([3, 0]) == 0
    assert entropy([1, 1]) == 1
    assert entropy([2, 2, 2, 2]) == 2
    yes, no = (Fraction(1), Fraction(0)), (Fraction(0), Fraction(1))
    assert expected_information([1, 1], [yes, no]) == 1
    assert expected_information([1, 1], [yes, yes]) == 0


def bits(p):
    return -sum(x * log2(x) for x in p if x)


def by_enumeration(weights, outcomes):
    """Entropy before less the mean entropy after, every outcome and hypothesis written out, in floating point."""
    total = sum(weights)
    before = [float(w / total) for w in weights]
    after = 0.0
    for o in range(len(outcomes[0])):
        joint = [b * float(row[o]) for b, row in zip(before, outcomes, strict=True)]
        if whole := sum(joint):
            after += whole * bits([j / whole for j in joint])
    return bits(before) - after


chances = st.fractions(min_value=0, max_value=1, max_denominator=100)
tests = st.integers(1, 7).flatmap(
    lambda n: st.tuples(
        st.lists(st.fractions(min_value=Fraction(1, 50), max_value=50, max_denominator=60), min_size=n, max_size=n),
        st.lists(chances.map(lambda p: (p, 1 - p)), min_size=n, max_size=n),
    )
)


@given(tests)
def test_expected_information_is_what_enumeration_gives(test):
    weights, outcomes = test
    assert isclose(float(expected_information(weights, outcomes)), by_enumeration(weights, outcomes), abs_tol=1e-6)


@given(tests, st.randoms(use_true_random=False))
def test_order_and_scale_of_the_hypotheses_change_nothing(test, random):
    weights, outcomes = test
    pairs = list(zip(weights, outcomes, strict=True))
    random.shuffle(pairs)
    again = expected_information([w * 7 for w, _ in pairs], [row for _, row in pairs])
    assert again == expected_information(weights, outcomes)


@given(tests)
def test_no_test_tells_more_than_it_has_outcomes_or_than_is_open(test):
    weights, outcomes = test
    found = expected_information(weights, outcomes)
    assert 0 <= found <= min(Decimal(1), entropy(weights)) + Decimal("0.000002")


@pytest.mark.parametrize("parts", [1, 2, 3, 5])
def test_one_part_of_many_by_enumeration(parts):
    each = 0.5 ** (1 / parts)
    rows = [[(n >> i) & 1 for i in range(parts)] for n in range(2**parts)]
    chance = {tuple(row): prod(each if x else 1 - each for x in row) for row in rows}
    after = 0.0
    for first in (0, 1):
        seen = sum(p for row, p in chance.items() if row[0] == first)
        all_met = sum(p for row, p in chance.items() if row[0] == first and all(row)) / seen
        after += seen * bits([all_met, 1 - all_met])
    assert isclose(float(settling(parts)), 1 - after, abs_tol=1e-6)


def test_the_more_parts_the_less_each_settles():
    told = [settling(n) for n in range(1, 12)]
    assert told[0] == 1
    assert told == sorted(told, reverse=True)
    assert told[-1] > 0


@given(st.dictionaries(st.text(min_size=1, max_size=3), st.fractions(min_value=Fraction(1, 10_000), max_value=10_000), min_size=1))
def test_shares_add_up_to_one(weights):
    found = shares(weights)
    assert sum(found.values()) == 1
    assert all(s >= 0 for s in found.values())
    assert list(found) == list(weights)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: entropy([]), lambda: entropy([0, 0]), lambda: entropy([1, -1]), lambda: settling(0),
        lambda: expected_information([1, 1], [(Fraction(1),)]), lambda: expected_information([1], [(Fraction(1, 2),)]),
        lambda: per_minute(Decimal(1), Fraction(0)),
    ],
)  # fmt: skip
def test_what_is_no_distribution_is_refused(wrong):
    with pytest.raises(ValueError):
        wrong()


def test_bits_per_minute():
    assert per_minute(Decimal("0.5"), Fraction(10)) == Decimal("0.050000")
    assert per_minute(Decimal("0.5"), Fraction(3)) == Decimal("0.166667")
