"""Two versions of one dossier, side by side."""

from __future__ import annotations

import pytest
from evidence.errors import EvidenceError
from evidence.model.dossier import Dossier
from evidence.review.compare import compare
from evidence.rules.assess import assess

from build import Case, coil_case, packs, shown_case, vocabulary


def versions(before, after):
    pair = before.dossier(), after.dossier()
    return compare(*pair, tuple(assess(d, packs(), vocabulary()) for d in pair))


def labels(changes):
    return [c.label for c in changes]


def test_the_same_twice_differs_in_nothing():
    assert versions(shown_case(), shown_case()).nothing


def test_what_is_added_is_named_and_what_it_did_to_the_findings():
    before, after = coil_case(), coil_case()
    after.declare()
    after.observe("coil-ground-eyelet", "ground_seat", "off", position="1")
    found = versions(before, after)
    assert labels(found.added) == ["Owner declaration 1", "Observation 1"]
    assert (found.amended, found.withdrawn, found.withheld, found.shown) == ((), (), (), ())
    coil = next(c for c in found.findings if c.mechanism == "ign-coil-ground-left-off")
    assert "band: no support either way → weak support" in coil.lines
    assert any(line.startswith("F1: not measured → met") for line in coil.lines)
    assert any(line.startswith("G1: open → excluded") for line in coil.lines)
    assert "element departure: complete now" in coil.lines


def test_an_amendment_is_told_field_by_field_in_words_with_its_reason():
    before = shown_case()
    after = before.change("observation-1", seen="loose", text="turns by hand", exhibits=["exhibit-1"])
    (changed,) = versions(before, after).amended
    assert changed.label == "Observation 1"
    told = {f.field: (f.was, f.now) for f in changed.fields}
    assert told == {
        "seen": ("off", "loose"),
        "text": ("ground_seat off", "turns by hand"),
        "exhibits": ("not stated", "Exhibit 1"),
    }


def test_a_withdrawal_is_told_and_takes_the_finding_with_it():
    found = versions(shown_case(), shown_case().drop("observation-1"))
    assert labels(found.withdrawn) == ["Observation 1"]
    assert not found.amended
    assert any("F1: met → not measured" in line for c in found.findings for line in c.lines)


def hidden(case, subject):
    return Case([(k, s, None if s == subject else r, a) for k, s, r, a in case.entries])


def test_what_was_shown_and_is_withheld_now_and_the_other_way_round():
    whole, part = shown_case(), hidden(shown_case(), "observation-1")
    assert labels(versions(whole, part).withheld) == ["Observation 1"]
    assert labels(versions(part, whole).shown) == ["Observation 1"]
    assert not versions(part, whole).added


def test_a_contradiction_that_appears_and_one_that_is_resolved():
    before = shown_case()
    torn = Case(before.entries)
    torn.observe("coil-ground-eyelet", "ground_seat", "seated-clean", position="1")
    lines = [line for c in versions(before, torn).findings for line in c.lines]
    assert any(line.startswith("new contradiction") for line in lines)
    mended = Case(torn.entries)
    mended.record("resolution", by="party-1", time="2026-05-07", mechanism="ign-coil-ground-left-off", about="contradiction", finding="F1", records=["observation-1"], text="It was the other bank.")
    lines = [line for c in versions(torn, mended).findings for line in c.lines]
    assert any(line.startswith("contradiction about F1 resolved: It was the other bank.") for line in lines)


def test_the_later_one_first_and_two_dossiers_are_refused():
    before, after = coil_case().dossier(), shown_case().dossier()
    judged = tuple(assess(d, packs(), vocabulary()) for d in (after, before))
    with pytest.raises(EvidenceError, match="the first is the later one"):
        compare(after, before, judged)
    other = Dossier(ledger="other", size=after.size, last_at=after.last_at, by_subject=after.by_subject)
    with pytest.raises(EvidenceError, match="two different dossiers"):
        compare(before, other, judged)
