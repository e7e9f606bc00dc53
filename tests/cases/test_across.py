"""Every case put to all packs at once: the record of one mechanism must not come out as another.

Two entries that share a departure (an output nut left loose is a stud nut left loose) may both gain a little by it, so a true
case may lend another entry weak support and no more; a look-alike or an incomplete case lends none.
"""

import pytest
from evidence.rules.assess import assess
from story import Story

from build import packs, vocabulary
from cases import SPEAKS_FOR, mechanisms, rows

ROWS = rows()


@pytest.mark.parametrize("row", ROWS, ids=[row.case for row in ROWS])
def test_the_record_of_one_mechanism_does_not_come_out_as_another(row):
    name, _, sort = row.case.partition("/")
    found = assess(Story(mechanisms()[name][1], row).written().dossier(), packs(), vocabulary())
    others = {c.mechanism: c.weight.band for c in found.candidates if c.mechanism != name}
    assert others, "nothing else was called up: the case says nothing about the others"
    allowed = {"weak support"} if sort.startswith("true") else set()
    assert {m: band for m, band in others.items() if band in SPEAKS_FOR and band not in allowed} == {}
