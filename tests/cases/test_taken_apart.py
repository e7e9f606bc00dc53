"""Laws that hold in every case: what only supports can be taken away without anything being gained by it, and so on."""

import dataclasses

import pytest
from evidence.rules.asks import Computed
from evidence.rules.assessment_json import as_json

from cases import BANDS, mechanisms, outcome, rows, written

ROWS = rows()
each_case = pytest.mark.parametrize("row", ROWS, ids=[row.case for row in ROWS])


def standing(candidate):
    """Band as a place in the order, and the low end of the ratio: neither may rise."""
    band = candidate.weight.band
    place = BANDS.index("candidate only" if band == "no statement until resolved" else band)  # neither says anything
    return -place, candidate.weight.low


def not_better(changed, before):
    (band, low), (band_before, low_before) = standing(changed), standing(before)
    return band <= band_before and low <= low_before


def label_of(case, subject):
    return case.dossier().label(subject)


def only_supports(candidate, label):
    answers = [f.answer for f in candidate.findings if label in f.records]
    rivals = [a.status for a in candidate.alternatives if label in a.records]
    clash = any(label in c.records for c in candidate.contradictions)
    return bool(answers or rivals) and not clash and set(answers) <= {"met"} and set(rivals) <= {"excluded"}


@each_case
def test_taking_away_what_only_supports_raises_nothing(row):
    case = written(row)
    before = outcome(row, case).candidate
    dossier = case.dossier()
    for subject in [s for _, s, _, _ in case.entries]:
        if only_supports(before, dossier.label(subject)):
            after = outcome(row, case.drop(subject)).candidate
            assert not_better(after, before), (subject, standing(before), standing(after))


@each_case
def test_what_answers_nothing_changes_nothing(row):
    case = written(row)
    before = as_json(_whole(row, case))
    case.observe(
        "headlamp", "integrity", "whole" if row.case else "", which="twin", state="disturbed", time="2026-02-01 10:00"
    )
    after = as_json(_whole(row, case))
    before.pop("entries"), after.pop("entries")
    assert after == before


def _whole(row, case):
    from evidence.rules.assess import assess

    from build import vocabulary
    from cases import alone

    return assess(case.dossier(), alone(row.mechanism), vocabulary())


@each_case
def test_a_lost_instrument_leaves_what_speaks_against(row):
    case = written(row)
    before = outcome(row, case).candidate
    case.entries = [
        (k, s, {**r, "serial": None, "calibrated": None, "calibration_due": None} if k == "instrument" else r, a)
        for k, s, r, a in case.entries
    ]
    case.entries = [(k, s, {n: v for n, v in r.items() if v is not None} if r else r, a) for k, s, r, a in case.entries]
    for lost in (case, case.drop("instrument-1")):
        after = outcome(row, lost).candidate
        answers = {f.id: f.answer for f in after.findings}
        assert {f.id for f in before.findings if f.answer == "not met"} <= {
            i for i, a in answers.items() if a == "not met"
        }
        assert not_better(after, before)


@each_case
def test_support_for_an_alternative_lifts_nothing(row):
    before = outcome(row).candidate
    for rival in mechanisms()[row.mechanism][1].alternatives:
        if rival.asks is None or isinstance(rival.asks, Computed) or rival.id in row.supported:
            continue
        turned = dataclasses.replace(
            row, supported=(*row.supported, rival.id), excluded=tuple(a for a in row.excluded if a != rival.id)
        )  # fmt: skip
        assert not_better(outcome(turned).candidate, before), rival.id
