"""The table of cases against what comes out; then every case taken apart, record by record.

Expected bands were worked out by hand from the grades and ceilings before any run. Run ``python tests/cases/cases.py`` (with
``tests`` and ``tests/cases`` on the path) for the list of what came out otherwise.
"""

import pytest
from evidence.rules.assess import assess

from build import packs, vocabulary
from cases import BANDS, SPEAKS_FOR, came, mechanisms, outcome, rows, written

ROWS = rows()
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
    """Guards the writer of the stories: each finding is answered as the row has it. What is to be done next is reckoned too."""
    answers = {f.id: f.answer for f in outcome(row, firmness=True).candidate.findings}
    assert {f: answers[f] for f in row.met} == dict.fromkeys(row.met, "met")
    assert {f: answers[f] for f in row.not_met} == dict.fromkeys(row.not_met, "not met")


@pytest.mark.parametrize("row", ROWS, ids=IDS)
def test_the_band_is_the_expected_one_among_all_mechanisms_and_no_other_is_accused(row):
    """All packs are put to the record at once.

    Two entries that share a departure (an output nut left loose is a stud nut left loose) may both gain a little by it, so a
    true case may lend another entry weak support and no more; a look-alike or an incomplete case lends none.
    """
    found = assess(written(row).dossier(), packs(), vocabulary(), firmness=False)
    own = came(row, found)
    assert own.judged == "right", (
        own.band,
        own.candidate.weight.printed,
        [c.reason for c in own.candidate.ceilings if c.holds],
    )
    assert not (row.sort.startswith("look-alike") and own.band in SPEAKS_FOR)  # nobody is accused falsely
    others = {c.mechanism: c.weight.band for c in found.candidates if c is not own.candidate}
    assert others, "nothing else was called up: the case says nothing about the others"
    allowed = {"weak support"} if row.sort.startswith("true") else set()
    assert {m: band for m, band in others.items() if band in SPEAKS_FOR and band not in allowed} == {}
