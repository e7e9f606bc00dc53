"""Candidates against each other on one record, held against exact enumeration of a network of causes."""

from fractions import Fraction
from itertools import product

import pytest
from evidence.rules.asks import Observe
from evidence.rules.examine import judged
from evidence.rules.grades import Odds
from evidence.rules.hypotheses import NOT_LISTED
from evidence.rules.likelihood import Interval
from evidence.rules.pack import GRADES, Finding
from evidence.rules.replies import Reply
from evidence.rules.versus import APART, MOST, Contender, contenders, pair, separating, versus
from evidence.rules.weighing import CAP, weigh_interval

from build import coil_case, packs

P = GRADES


def finding(name, seen, grades, limb="D", **more):
    true, other = grades.split("/")
    return Finding.model_validate(
        {"id": name, "limb": limb, "kind": "observation", "statement": name, "if_true": true, "if_not": other, "alters": False,
         "asks": {"observe": seen, "of": "coil-ground-eyelet", "is": ["off"]}, **more}
    )  # fmt: skip


def entry(name, answers, *findings, marks=None):
    from evidence.rules.circumstances import Setting
    from evidence.rules.holdings import Holdings
    from evidence.rules.matching import Call

    from build import vocabulary

    pack = next(p for p in packs() if p.id == "ignition")
    mechanism = pack.mechanisms[0].model_copy(
        update={"id": name, "title": name, "findings": findings, "alternatives": ()}
    )
    call = Call(mechanism=mechanism, pack=pack, why=(), by_work=True, by_complaint=True, orders=())
    setting = Setting(holdings=Holdings(coil_case().dossier()), vocabulary=vocabulary(), components=mechanism.components)
    replies = {f.id: Reply(answer=answers.get(f.id, "not measured")) for f in findings}
    return Contender(judged(call, setting, replies, replies, {}))


def test_the_seen_is_a_closed_question():
    assert isinstance(finding("F1", "ground-seat", "certain/unlikely").asks, Observe)


def test_under_a_rival_that_asks_the_same_it_is_the_rivals_grade_that_counts():
    one = entry("one", {"F1": "met"}, finding("F1", "seat", "certain/unlikely"))
    other = entry("other", {"F9": "met"}, finding("F9", "seat", "expected/excluded"))
    assert pair(one, other) == Interval(*[P["certain"] / P["expected"]] * 3)  # not .98/.1
    assert pair(other, one) == Interval(*[P["expected"] / P["certain"]] * 3)


def test_what_only_one_asks_has_its_if_not_under_the_other():
    one = entry("one", {"F1": "met"}, finding("F1", "seat", "certain/unlikely"))
    other = entry("other", {"F9": "met"}, finding("F9", "fuse", "expected/excluded", limb="E"))
    assert pair(one, other).point == (P["certain"] / P["unlikely"]) / (P["expected"] / P["excluded"])


def test_equal_grades_say_nothing_between_the_two():
    one = entry("one", {"F1": "met"}, finding("F1", "seat", "possible/excluded"))
    other = entry("other", {"F9": "met"}, finding("F9", "seat", "possible/unlikely"))
    assert pair(one, other) == Interval()
    assert versus(one.examined, [one, other])[1].words == APART


def test_a_limb_counts_once_for_and_once_against():
    """Two departures seen, one for each explanation, in the limb D of both: the strongest for it, the worst against it."""
    one = entry("one", {"F1": "met", "F2": "met"}, finding("F1", "seat", "certain/unlikely"), finding("F2", "lamp", "expected/unlikely"))
    other = entry("other", {"F8": "met", "F9": "met"}, finding("F8", "fuse", "expected/unlikely"), finding("F9", "tap", "certain/unlikely"))
    assert pair(one, other).point == Fraction(98, 10) / Fraction(98, 10)


def test_what_speaks_against_the_other_speaks_for_this_one():
    one = entry("one", {}, finding("F1", "seat", "certain/unlikely"))
    other = entry("other", {"F9": "not met"}, finding("F9", "fuse", "certain/unlikely"))
    assert pair(one, other).point == (1 - P["unlikely"]) / (1 - P["certain"])


def test_something_not_listed_is_the_entry_by_itself():
    one = entry("one", {"F1": "met"}, finding("F1", "seat", "possible/excluded"))
    row = versus(one.examined, [one])[0]
    assert (row.mechanism, row.title) == ("", NOT_LISTED)
    assert (row.low, row.ratio, row.high) == tuple(weigh_interval(one.examined.weighables)) == (5, 20, 40)
    assert row.words == "weak support for this one"


def test_only_those_with_anything_answered_take_part_and_no_more_than_a_handful():
    silent = entry("silent", {}, finding("F1", "seat", "certain/unlikely"))
    many = [entry(f"m{n:02}", {"F1": "met"}, finding("F1", f"seat-{n}", "certain/unlikely")) for n in range(MOST + 5)]
    found = contenders([silent.examined, *(m.examined for m in many)])
    assert len(found) == MOST
    assert silent.mechanism not in {c.mechanism for c in found}
    assert len(versus(silent.examined, found)) == 1


def test_a_finding_that_separates_nothing_is_marked_until_a_rival_expects_it_otherwise():
    idle = finding("F2", "lamp", "expected/expected", limb="E")
    one = entry("one", {"F1": "met", "F2": "met"}, finding("F1", "seat", "certain/unlikely"), idle)
    assert separating(one.examined, [one]) == {"F1"}
    other = entry("other", {"F9": "met"}, finding("F9", "lamp", "excluded/excluded", limb="E"))
    assert separating(one.examined, [one, other]) == {"F1", "F2"}


@pytest.mark.parametrize("met", list(product(("met", "not met"), repeat=3)))
def test_the_pair_is_the_exact_odds_where_the_findings_are_independent(met):
    """Three questions in three limbs, one shared: the posterior odds of two causes with even priors, by enumeration.

    Common practice, no source: with one finding a limb, given the cause independent, the product rule is exact.
    """
    shared, own, others = met
    one = entry(
        "one", {"F1": shared, "F2": own}, finding("F1", "seat", "expected/unlikely"), finding("F2", "lamp", "certain/unlikely", limb="E"),
    )  # fmt: skip
    other = entry(
        "other", {"F1": shared, "F3": others}, finding("F1", "seat", "unlikely/excluded"),
        finding("F3", "fuse", "expected/unlikely", limb="L"),
    )  # fmt: skip
    tables = {  # P(yes) of each question under each cause, written out
        "one": {"seat": P["expected"], "lamp": P["certain"], "fuse": P["unlikely"]},
        "other": {"seat": P["unlikely"], "lamp": P["unlikely"], "fuse": P["expected"]},
    }
    seen = {"seat": shared == "met", "lamp": own == "met", "fuse": others == "met"}
    joint = {}
    for cause, table in tables.items():
        joint[cause] = Fraction(1, 2)
        for question, yes in seen.items():
            joint[cause] *= table[question] if yes else 1 - table[question]
    assert pair(one, other).point == joint["one"] / joint["other"]
    assert pair(one, other).low >= 1 / CAP


def test_an_interval_of_a_pair_holds_every_corner():
    one = entry("one", {"F1": "met", "F2": "not met"}, finding("F1", "seat", "possible/excluded"), finding("F2", "lamp", "expected/possible", limb="E"))
    other = entry("other", {"F9": "met"}, finding("F9", "seat", "unlikely/excluded"))
    found = pair(one, other)
    wide = Odds(P["unlikely"], P["possible"], P["expected"])
    corners = [
        max(p / P["unlikely"], Fraction(1)) * min((1 - P["expected"]) / (1 - q), Fraction(1))
        for p, q in product((wide.low, wide.high), repeat=2)
    ]
    assert (found.low, found.high) == (min(corners), max(corners))
