"""The table of cases against what comes out; then every case taken apart, record by record.

Expected bands were worked out by hand from the grades and ceilings before any run. Run ``python tests/cases/cases.py`` (with
``tests`` and ``tests/cases`` on the path) for the list of what came out otherwise.
"""

from collections import Counter
from functools import cache

import pytest

from build import packs
from cases import BANDS, SPEAKS_FOR, mechanisms, outcome, rows, summary

ROWS = rows()


@cache
def among_all(row):
    """What comes out of the row beside all other mechanisms."""
    return outcome(row, own=packs())


IDS = [row.case for row in ROWS]


def test_the_table_is_whole():
    assert len(set(IDS)) == len(IDS)
    assert len(ROWS) >= 150
    sorts = {(r.mechanism, r.sort.rstrip("0123456789-").split("-with")[0]) for r in ROWS}
    missing = [m for m in mechanisms() for sort in ("true", "look-alike", "incomplete") if (m, sort) not in sorts]
    assert missing == []
    assert all(band in BANDS for row in ROWS for band in row.expect)


@pytest.mark.parametrize("row", ROWS, ids=IDS)
def test_the_record_says_what_the_row_says(row):
    """Guards the writer of the stories: each finding is answered as the row has it."""
    answers = {f.id: f.answer for f in outcome(row).candidate.findings}
    assert {f: answers[f] for f in row.met} == dict.fromkeys(row.met, "met")
    assert {f: answers[f] for f in row.not_met} == dict.fromkeys(row.not_met, "not met")


@pytest.mark.parametrize("row", ROWS, ids=IDS)
def test_the_band_is_the_expected_one(row):
    came = among_all(row)
    assert came.judged == "right", (
        came.band,
        came.candidate.weight.printed,
        [c.reason for c in came.candidate.ceilings if c.holds],
    )


def test_nobody_is_accused_falsely():
    came = [among_all(row) for row in ROWS]
    assert summary(came)["false accusation"] == 0
    assert Counter(c.band in SPEAKS_FOR for c in came if c.row.sort.startswith("look-alike")).keys() <= {False}
