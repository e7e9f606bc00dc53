"""Equal asks are one question in every entry; grades as intervals, from the entry, its range or a person with a source."""

from fractions import Fraction

import pytest
from evidence.rules.asks import Change
from evidence.rules.grades import Odds, odds_of
from evidence.rules.holdings import Holdings
from evidence.rules.hypotheses import NOT_LISTED, expected, questions, separates
from evidence.rules.keys import key_of
from evidence.rules.matching import Call, called
from evidence.rules.pack import GRADES, Finding, Mechanism
from pydantic import ValidationError

from build import COIL, coil_case, packs, vocabulary

P = GRADES
SEAT = {"observe": "ground_seat", "of": "coil-ground-eyelet", "is": ["off"]}
LAMP = {"observe": "test_lamp", "of": "coil-ground", "is": ["dark"]}
FUSE = {"observe": "fuse_state", "of": "main-fuse", "is": ["whole"]}


def finding(name, asks, grades, limb="D", **more):
    true, other = grades.split("/")
    return Finding.model_validate(
        {"id": name, "limb": limb, "kind": "observation", "statement": name, "asks": asks, "if_true": true, "if_not": other,
         "alters": False, **more}
    )  # fmt: skip


def call(name, *findings):
    pack = next(p for p in packs() if p.id == "ignition")
    base = pack.mechanisms[0]
    mechanism = base.model_copy(update={"id": name, "findings": findings, "alternatives": ()})
    return Call(mechanism=mechanism, pack=pack, why=(), by_work=True, by_complaint=False, orders=())


ONE = call("one", finding("F1", SEAT, "certain/unlikely"), finding("F2", LAMP, "expected/possible"))
TWO = call("two", finding("F7", LAMP, "unlikely/excluded"), finding("F8", FUSE, "expected/unlikely"))


def the(asks):
    return next(q for q in questions([ONE, TWO]) if q.asks == finding("F1", asks, "certain/certain").asks)


def test_equal_asks_are_one_question_whatever_entry_asks_it():
    lamp = the(LAMP)
    assert [(m, f.id) for m, f in lamp.askers] == [("one", "F2"), ("two", "F7")]
    assert [(m, f.id) for m, f in the(SEAT).askers] == [("one", "F1")]


def test_a_rival_that_asks_the_same_brings_its_own_grade():
    lamp = the(LAMP)
    assert expected(lamp, "one", "two").point == P["expected"]
    assert expected(lamp, "two", "one").point == P["unlikely"]
    assert expected(lamp, NOT_LISTED, "one").point == P["possible"]
    assert expected(lamp, NOT_LISTED, "two").point == P["excluded"]


def test_a_rival_that_does_not_ask_it_has_the_if_not_of_the_one_who_does():
    assert expected(the(SEAT), "two", "one").point == P["unlikely"]
    assert expected(the(FUSE), "one", "two").point == P["unlikely"]
    assert not separates(the(FUSE), "one", NOT_LISTED)  # neither asks it: one unknown on both sides
    assert separates(the(FUSE), "one", "two")


def test_possible_spreads_one_grade_either_way_and_nothing_else_does():
    lamp = the(LAMP)
    assert expected(lamp, NOT_LISTED, "one") == Odds(P["unlikely"], P["possible"], P["expected"])
    assert expected(lamp, "one", NOT_LISTED) == Odds.exactly(P["expected"])


def test_a_range_of_the_entry_takes_the_place_of_the_spread():
    ranged = finding("F1", SEAT, "possible/unlikely", if_true_range=["possible", "expected"])
    true, other = odds_of(ONE.pack, ranged)
    assert true == Odds(P["possible"], P["possible"], P["expected"])
    assert other == Odds.exactly(P["unlikely"])


@pytest.mark.parametrize("stated", [["expected", "possible"], ["unlikely", "unlikely"]])
def test_a_range_that_does_not_hold_its_grade_is_refused(stated):
    with pytest.raises(ValidationError, match="does not lie between"):
        finding("F1", SEAT, "possible/unlikely", if_true_range=stated)


def test_a_finding_named_in_a_change_is_the_question_it_asks():
    change = Change.model_validate({"change": "F2", "across": ["coil-ground-eyelet"], "before": "met", "after": "met"})
    other = call("three", finding("F2", FUSE, "expected/unlikely"))
    assert key_of(change, ONE.mechanism) != key_of(change, other.mechanism)
    same = call("four", finding("F2", LAMP, "certain/unlikely"))
    assert key_of(change, ONE.mechanism) == key_of(change, same.mechanism)


def test_what_rests_on_the_entry_itself_is_no_common_question():
    nobody = packs()[0].mechanisms[0].alternatives[0]
    own = nobody.model_copy(update={"asks": finding("F1", {"computed": "nobody_else"}, "certain/certain").asks})
    assert own.asks is not None
    assert key_of(own.asks, ONE.mechanism) != key_of(own.asks, TWO.mechanism)


def test_a_person_grades_with_a_source_and_the_newest_word_stands():
    case = coil_case()
    said = {"by": "party-1", "time": "2026-05-06", "mechanism": COIL, "about": "grade", "finding": "F14",
            "source": "strip reports of eleven modules, kept by the shop"}  # fmt: skip
    case.record("resolution", text="first word", if_true=["certain", "certain"], **said)
    case.record("resolution", text="better", if_true=["possible", "expected"], if_not=["excluded", "unlikely"], **said)
    calls, _ = called(Holdings(case.dossier()), packs(), vocabulary())
    mechanism: Mechanism = next(c.mechanism for c in calls if c.mechanism.id == COIL)
    graded = mechanism.finding("F14")
    assert odds_of(calls[0].pack, graded) == (
        Odds(P["possible"], P["possible"], P["expected"]),
        Odds(P["excluded"], P["excluded"], P["unlikely"]),
    )


@pytest.mark.parametrize(
    ("wrong", "message"),
    [({"source": None}, "source"), ({"finding": None}, "finding"), ({"if_true": None}, "two grades"),
     ({"if_true": ["certain", "unlikely"]}, "lower probability"), ({"about": "contradiction"}, "go with a resolution")],
)  # fmt: skip
def test_a_grade_without_source_finding_or_order_is_refused(wrong, message):
    raw = {"by": "party-1", "time": "2026-05-06", "mechanism": COIL, "about": "grade", "finding": "F14", "text": "t",
           "source": "a source", "if_true": ["possible", "expected"], **wrong}  # fmt: skip
    case = coil_case()
    case.record("resolution", **{k: v for k, v in raw.items() if v is not None})
    with pytest.raises(ValidationError, match=message):
        case.dossier()


def test_every_question_of_the_installed_packs_has_a_probability_inside_its_interval():
    calls = [Call(mechanism=m, pack=p, why=(), by_work=True, by_complaint=True, orders=()) for p in packs() for m in p.mechanisms]
    found = questions(calls)
    assert len(found) == len({q.key for q in found})
    for q in found:
        for name, _ in q.askers:
            odds = expected(q, name, NOT_LISTED)
            assert Fraction(0) < odds.low <= odds.point <= odds.high < 1
