"""Remarks on packs that can be used: none on those that come with the program, and each kind on a pack that earns it."""

import pytest
from evidence.capture.marked_yaml import load_marked
from evidence.rules.lint import alike, lint
from evidence.rules.reading import parse_pack

from build import packs, vocabulary

VOCABULARY = vocabulary()
PACKS = packs()

GOOD = """
id: mine
version: "1"
title: Mine
sources:
  CP: {text: "Common practice, no source", status: common_practice}
mechanisms:
- id: cool-cap-left-off
  title: Cap left off
  system: cooling
  complaints: [coolant-loss]
  prior_operations: [coolant-change]
  components: [coolant-cap]
  departure: {code: part-omitted, text: cap left off}
  chain: [cap off, coolant lost]
  findings:
  - {id: F1, limb: D, kind: observation, statement: cap off, if_true: certain, if_not: unlikely, alters: false, minutes: "5", instrument: senses,
     asks: {observe: part_place, of: coolant-cap, state: undisturbed, is: ["off"]}}
  - {id: F2, limb: L, kind: observation, statement: trail from the neck, if_true: expected, if_not: unlikely, alters: false, minutes: "5", instrument: senses,
     asks: {observe: leak_origin, of: coolant-cap, is: [here]}}
  - {id: F3, limb: E, kind: measurement, statement: coolant short, if_true: expected, if_not: possible, alters: true, minutes: "15", instrument: measuring-cup,
     asks: {measure: volume, of: coolant, when: [cold], is: {op: ">", value: "1", unit: L}}}
  - {id: F4, limb: X, kind: observation, statement: hose whole, if_true: expected, if_not: possible, alters: false, minutes: "5", instrument: senses,
     asks: {observe: integrity, of: coolant-hose, lasting: true, is: [whole]}}
  alternatives:
  - {id: A1, kind: wear, claim: the hose split, test: hose looked at, standing_result: whole, minutes: "5", instrument: senses, excluded_by: [F4]}
  capture: {before: [neck], after: [level]}
  retain: [cap]
  latency: {days: ["0", "10"], km: ["0", "500"]}
  loss_items: [coolant]
  safety: {codes: [HOT]}
  sources: [CP]
"""


def pack(text):
    return parse_pack(load_marked(text, "mine.yaml").data, file="mine.yaml", vocabulary=VOCABULARY)


def remarks(text):
    return [str(m) for m in lint(pack(text), VOCABULARY)]


def test_the_packs_that_come_with_the_program_earn_no_remark():
    assert [str(m) for p in PACKS for m in lint(p, VOCABULARY)] == []
    assert [str(m) for m in alike(PACKS)] == []


def test_a_pack_that_says_what_it_should_earns_none():
    assert remarks(GOOD) == []


EARNED = [
    ('     asks: {observe: leak_origin, of: coolant-cap, is: [here]}}', "}", "F2: asks nothing in typed form"),
    ("excluded_by: [F4]}", "}", "A1: nothing typed settles it"),
    ("excluded_by: [F4]}", "asks: {observe: symptom, of: engine, is: [gone]}}", "F4: is an exclusion that no alternative names"),
    ('alters: true, minutes: "15", ', "alters: true, ", "F3: does not say its minutes"),
    ("standing_result: whole, minutes: \"5\", instrument: senses, ", "standing_result: whole, minutes: \"5\", ", "A1: does not say its instrument"),
    ("codes: [HOT]", "codes: []", "safety: work on the system 'cooling' needs the caution HOT"),
    ("components: [coolant-cap]", "components: [coolant-cap, fuel-line]", "safety: work on the fuel line needs the caution FUEL"),
    ("components: [coolant-cap]", "components: [coolant-cap, sunroof]", "components: none of the prior operations has hands on 'sunroof'"),
    ("if_true: expected, if_not: possible, alters: true", "if_true: possible, if_not: possible, alters: true", "F3: separates nothing"),
    ("if_true: expected, if_not: possible, alters: true", "if_true: unlikely, if_not: possible, alters: true", "F3: is less expected"),
    ("alters: true, minutes", "alters: true, kept_for: the extent, minutes", "F3: separates, so it needs no 'kept_for'"),
    ("{observe: leak_origin, of: coolant-cap, is: [here]}", "{computed: cured}", "F2: asks 'cured', which rests on the answers"),
    ("  CP: {text", "  XX: {text: \"A text\", status: seen}\n  CP: {text", "mine, sources: 'XX' is cited by no entry"),
]  # fmt: skip


@pytest.mark.parametrize(("good", "less", "told"), EARNED, ids=[e[2][:44] for e in EARNED])
def test_what_says_less_than_it_should_is_told(good, less, told):
    assert GOOD.count(good) >= 1
    found = remarks(GOOD.replace(good, less, 1))
    assert [r for r in found if told in r], found


EQUAL = GOOD.replace("if_true: expected, if_not: possible, alters: true", "if_true: possible, if_not: possible, alters: true")


def test_what_separates_nothing_may_stay_for_a_reason():
    assert len(remarks(EQUAL)) == 1
    assert remarks(EQUAL.replace("alters: true, minutes", "alters: true, kept_for: the extent of the loss, minutes")) == []


def test_what_an_alternative_asks_too_settles_something():
    asks = "{measure: volume, of: coolant, when: [cold], is: {op: \">\", value: \"1\", unit: L}}"
    also = "  - {id: A2, kind: unrelated, claim: no loss at all, test: level, standing_result: short, minutes: \"5\", instrument: senses, asks: " + asks + "}\n"
    assert remarks(EQUAL.replace("  capture:", also + "  capture:")) == []


def twin(**changes):
    other = GOOD.replace("id: mine", "id: theirs").replace("cool-cap-left-off", "cool-cap-left-loose")
    for good, less in changes.values():
        assert good in other
        other = other.replace(good, less, 1)
    return pack(other)


def test_two_entries_that_ask_the_same_with_the_same_grades_are_told():
    (found,) = alike([pack(GOOD), twin()])
    assert "cool-cap-left-off, findings: no evidence could tell it from cool-cap-left-loose" in str(found)


def test_another_grade_or_another_question_tells_two_entries_apart():
    graded = twin(a=("if_true: certain, if_not: unlikely", "if_true: unlikely, if_not: unlikely"))
    assert alike([pack(GOOD), graded]) == ()
    asked = twin(a=("is: [\"off\"]", "is: [displaced]"))
    assert alike([pack(GOOD), asked]) == ()


def test_a_difference_too_small_for_any_words_is_none():
    nearly = twin(a=('version: "1"\n', 'version: "1"\ngrades: {expected: "0.78"}\n'))
    assert len(alike([pack(GOOD), nearly])) == 1
    further = twin(a=('version: "1"\n', 'version: "1"\ngrades: {expected: "0.5"}\n'))
    assert alike([pack(GOOD), further]) == ()


def test_entries_that_nothing_calls_up_together_need_no_telling_apart():
    elsewhere = twin(
        a=("complaints: [coolant-loss]", "complaints: [overheating]"),
        b=("prior_operations: [coolant-change]", "prior_operations: [heater-core]"),
    )
    assert alike([pack(GOOD), elsewhere]) == ()
