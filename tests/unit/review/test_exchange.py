"""Marks and answers, each from its own ledger, laid beside the dossier."""

from __future__ import annotations

import pytest
from evidence.errors import NotFound
from evidence.model.dossier import fold
from evidence.model.kinds import KINDS
from evidence.model.reviewing import ReviewMark
from evidence.review.exchange import find_target, sheet, targets
from evidence.rules.assess import assess
from pydantic import ValidationError

from build import COIL, Case, packs, shown_case, vocabulary


def review_case():
    case = Case()
    case.record("party", full_name="Tilda Marsh", roles=["adjuster"])
    case.record("dossier", title="Review")
    return case


def marked(case, on, name, verdict, text=None, **more):
    return case.record("review_mark", by="party-1", time="2026-06-02", on=on, name_of=name, mark=verdict, text=text, **{"mechanism": COIL, **more})


def beside(dossier_case, review):
    dossier = dossier_case.dossier()
    return sheet(dossier, assess(dossier, packs(), vocabulary()), review.dossier())


def test_everything_that_can_be_marked_is_on_the_sheet_once():
    found = beside(shown_case(), review_case())
    keys = [line.key for line in found.lines()]
    assert len(keys) == len(set(keys))
    assert {k[0] for k in keys} == {"conclusion", "finding", "alternative", "element"}
    dossier = shown_case().dossier()
    known = targets(dossier, assess(dossier, packs(), vocabulary()))
    assert set(keys) | {("record", "", r.label) for r in dossier.by_subject.values()} == set(known)


def test_the_newest_mark_counts_and_the_older_ones_stay():
    review = review_case()
    marked(review, "finding", "F1", "questioned", "Who saw it?")
    marked(review, "finding", "F1", "accepted")
    (line,) = [x for x in beside(shown_case(), review).lines() if x.marks]
    assert line.mark == "accepted"
    assert [(m.number, m.old) for m in line.marks] == [(2, False), (1, True)]
    assert not beside(shown_case(), review).waiting()


def test_a_withdrawn_mark_is_gone_from_the_sheet():
    review = review_case()
    marked(review, "finding", "F1", "questioned", "Who saw it?")
    assert not [x for x in beside(shown_case(), review.drop("review_mark-1")).lines() if x.marks]


def test_answers_are_found_by_ledger_and_number():
    review, case = review_case(), shown_case()
    marked(review, "alternative", "A1", "rejected", "No report.")
    marked(review, "finding", "F1", "questioned", "Who saw it?")
    base = {"by": "party-1", "time": "2026-06-03", "text": "I did."}
    case.record("review_answer", review="test-ledger", mark="2", records=["observation-1"], **base)
    case.record("review_answer", review="another-ledger", mark="1", **base)
    found = beside(case, review)
    assert [(line.name, m.number) for line, m in found.waiting()] == [("A1", 1)]
    (answered,) = [m for x in found.lines() for m in x.marks if m.answers]
    assert (answered.number, answered.answers[0].by, answered.answers[0].records) == (2, "Ann Teal", ("Observation 1",))


def test_marks_on_records_and_on_what_is_gone_stand_at_the_end():
    review = review_case()
    marked(review, "record", "Observation 1", "questioned", "Which bank?", mechanism=None)
    marked(review, "finding", "F1", "accepted", mechanism="some-other-mechanism")
    part = beside(shown_case(), review).parts[-1]
    assert {(line.name, line.state) for line in part.lines} == {("Observation 1", "recorded"), ("F1", "not in this version")}


@pytest.mark.parametrize(("on", "mechanism", "name", "said"), [
    ("finding", "", "F99", "no such finding"), ("finding", "ign-coil-ground-lef-off", "F1", "did you mean 'ign-coil-ground-left-off'"),
    ("record", "", "Exhibit 99", "no such record"), ("element", "", "cuase", "did you mean 'cause'"),
])  # fmt: skip
def test_what_is_not_there_cannot_be_marked(on, mechanism, name, said):
    dossier = shown_case().dossier()
    with pytest.raises(NotFound, match=said):
        find_target(dossier, assess(dossier, packs(), vocabulary()), on, mechanism, name)


def test_a_dossier_that_calls_nothing_up_has_no_finding_to_mark():
    dossier = review_case().dossier()
    judged = assess(dossier, packs(), vocabulary())
    with pytest.raises(NotFound, match="there is no finding to mark"):
        find_target(dossier, judged, "finding", "", "F1")
    assert find_target(dossier, judged, "record", "", "party 1") == ("record", "", "Party 1")


@pytest.mark.parametrize(("fields", "said"), [
    ({"on": "finding", "name_of": "F1", "mark": "accepted"}, "names its mechanism"),
    ({"on": "finding", "mechanism": COIL, "mark": "accepted"}, "names it; add 'name_of'"),
    ({"on": "conclusion", "mechanism": COIL, "mark": "questioned"}, "a question is asked in words"),
    ({"on": "record", "name_of": "Exhibit 1", "mark": "rejected"}, "needs its reason"),
])  # fmt: skip
def test_a_mark_says_on_what_and_why(fields, said):
    with pytest.raises(ValidationError, match=said):
        ReviewMark.handed_in({"by": "party-1", "time": "2026-06-02", **fields}, {})


def test_an_opening_without_a_review_reads_as_before():
    assert KINDS["dossier"].stored({"title": "x"}).reviews is None
    assert fold("l", []).size == 0
