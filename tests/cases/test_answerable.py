"""Every finding and every alternative of every pack can be answered both ways by records that a person could write."""


import pytest
from evidence.rules.asks import AllOf, Computed
from evidence.rules.assess import assess
from evidence.rules.rivals import goes_to_share
from story import Row, Story

from build import vocabulary
from cases import alone, mechanisms

ENTRIES = sorted(mechanisms())


def candidate(name, row):
    found = assess(Story(mechanisms()[name][1], row).written().dossier(), alone(name), vocabulary(), firmness=False)
    return next(c for c in found.candidates if c.mechanism == name)


@pytest.mark.parametrize("name", ENTRIES)
def test_findings(name):
    for finding in mechanisms()[name][1].findings:
        for wanted in ("met", "not met"):
            row = Row(f"{name}/one", **{wanted.replace(" ", "_"): (finding.id,)})
            (found,) = (f for f in candidate(name, row).findings if f.id == finding.id)
            assert found.answer == wanted, (name, finding.id, found.reasons, found.near)


def by_the_frame(ask):
    """What rests on other answers, or on who was there, which never shows that he did it."""
    parts = ask.every if isinstance(ask, AllOf) else [ask]
    return ask is None or any(isinstance(p, Computed) and p.computed not in ("days", "distance") for p in parts)


@pytest.mark.parametrize("name", ENTRIES)
def test_alternatives(name):
    for alternative in mechanisms()[name][1].alternatives:
        if by_the_frame(alternative.asks):
            continue
        for wanted in ("excluded", "supported"):
            row = Row(f"{name}/one", **{wanted: (alternative.id,)})
            (found,) = (a for a in candidate(name, row).alternatives if a.id == alternative.id)
            shown = ("excluded", "less supported") if wanted == "excluded" else ("supported",)
            if wanted == "supported" and alternative.kind == "abuse" and goes_to_share(alternative.asks):
                shown = ("open",)  # driving on, or an offer declined: share of fault, whatever the answer
            assert found.status in shown, (name, alternative.id, found.status, found.reasons)
