"""The table of cases against what comes out; then every case taken apart, record by record.

Expected bands were worked out by hand from the grades and ceilings before any run. Run ``python tests/cases/cases.py`` (with
``tests`` and ``tests/cases`` on the path) for the list of what came out otherwise.
"""

from collections import Counter

import pytest

from build import packs
from cases import SPEAKS_FOR, outcome, rows, summary

ROWS = rows()
IDS = [row.case for row in ROWS]


@pytest.mark.parametrize("row", ROWS, ids=IDS)
def test_the_record_says_what_the_row_says(row):
    """Guards the writer of the stories: each finding is answered as the row has it."""
    answers = {f.id: f.answer for f in outcome(row).candidate.findings}
    assert {f: answers[f] for f in row.met} == dict.fromkeys(row.met, "met")
    assert {f: answers[f] for f in row.not_met} == dict.fromkeys(row.not_met, "not met")


@pytest.mark.parametrize("row", ROWS, ids=IDS)
def test_the_band_is_the_expected_one(row):
    came = outcome(row, own=packs())
    assert came.judged == "right", (
        came.band,
        came.candidate.weight.printed,
        [c.reason for c in came.candidate.ceilings if c.holds],
    )


def test_nobody_is_accused_falsely():
    came = [outcome(row, own=packs()) for row in ROWS]
    assert summary(came)["false accusation"] == 0
    assert Counter(c.band in SPEAKS_FOR for c in came if c.row.sort.startswith("look-alike")).keys() <= {False}
