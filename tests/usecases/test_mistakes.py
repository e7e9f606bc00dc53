"""A step that makes a mistake is refused until a reason is given; the reason stays in the record and is printed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from evidence.claim.mistakes.made import ASKED
from evidence.errors import MistakeAhead
from evidence.ports import Desk
from evidence.usecases.looking import detail
from evidence.usecases.mistakes import mistakes_json, mistakes_of
from evidence.usecases.record import amend_one, open_dossier, record_one

from conftest import still_desk

NAME = "van"
STEP = {"action": "refitted", "components": ["coil-ground-eyelet"], "time": "2026-05-06 09:00"}
REASONS = ["put_right_unseen: the owner stood in the rain", "no_notice: the owner could not wait"]


@pytest.fixture
def shop(workspace: Path) -> Iterator[Desk]:
    with still_desk(workspace) as desk:
        open_dossier(desk, {"title": "A van", "name": NAME, "zone": "Europe/Lisbon"})
        record_one(
            desk, NAME, "party", {"name": "old-mill", "full_name": "Old Mill Garage", "roles": ["prior_repairer"]}
        )
        operations = [{"text": "valve cover resealed", "operation": "valve-cover"}]
        record_one(
            desk,
            NAME,
            "work_order",
            {"side": "prior_repairer", "repairer": "old-mill", "closed": "2026-05-02", "operations": operations},
        )
        yield desk


def test_a_step_is_refused_until_each_mistake_has_its_reason(shop: Desk) -> None:
    with pytest.raises(MistakeAhead, match=r"before any record of it as found") as err:
        record_one(shop, NAME, "intervention", {**STEP, "by": "party 1"})
    assert "no_notice" in str(err.value)
    assert "--despite 'put_right_unseen: REASON'" in err.value.advice
    with pytest.raises(MistakeAhead) as err:
        record_one(shop, NAME, "intervention", {**STEP, "by": "party 1", "despite": REASONS[:1]})
    assert "put_right_unseen" not in str(err.value)
    entered = record_one(shop, NAME, "intervention", {**STEP, "by": "party 1", "despite": REASONS})
    assert entered.label == "Intervention 1"  # nothing of the refused ones was recorded
    assert [w.splitlines()[1] for w in entered.warnings] == [
        f"Recorded all the same: {r.split(': ')[1]}" for r in REASONS
    ]
    assert detail(shop, NAME, "intervention 1").body["despite"][1] == {
        "mistake": "no_notice",
        "why": "the owner could not wait",
    }


def test_what_was_recorded_knowingly_is_not_asked_again_and_listed(shop: Desk) -> None:
    record_one(shop, NAME, "intervention", {**STEP, "by": "party 1", "despite": REASONS})
    assert amend_one(shop, NAME, "intervention 1", {"text": "scraped bare"}, "said more").warnings == ()
    title, found = mistakes_of(shop, NAME)
    told = {m["mistake"]: m for m in mistakes_json(title, found)["made"]}
    assert told["no_notice"]["reason"] == "the owner could not wait"
    assert told["no_notice"]["record"] == "Intervention 1"
    assert told["no_odometer"]["reason"] is None


def test_an_amendment_that_makes_a_mistake_is_asked_about(shop: Desk) -> None:
    letter = {"sender": "party 1", "receiver": "old-mill", "about": "other", "sent": "2026-05-05", "channel": "letter"}
    record_one(shop, NAME, "correspondence", letter)
    with pytest.raises(MistakeAhead, match="evidence talk"):
        amend_one(
            shop, NAME, "correspondence 1", {"text": "Without prejudice: half, and we are quits."}, "added its words"
        )


@pytest.mark.parametrize(
    ("kind", "fields", "code"),
    [
        ("intervention", {"action": "codes_cleared", "components": ["engine-control-module"], "by": "party 1", "time": "2026-05-06"}, "codes_cleared"),
        ("module_identity", {"module": "engine-control-module", "which": "coded_replacement", "coding": "not_coded", "time": "2026-05-06"}, "uncoded_module"),
        ("correspondence", {"sender": "party 1", "receiver": "old-mill", "about": "demand_letter", "sent": "2026-05-08", "channel": "letter"}, "wrong_respondent"),
        ("course_step", {"stage": "negotiation", "time": "2026-05-09", "by": "party 1", "text": "They offered to pay half.", "skips": ["notice: by telephone"]}, "talk_among_evidence"),
    ],
)  # fmt: skip
def test_each_kind_of_step_is_asked_about(shop: Desk, kind: str, fields: dict, code: str) -> None:
    with pytest.raises(MistakeAhead, match=code):
        record_one(shop, NAME, kind, fields)
    assert record_one(shop, NAME, kind, {**fields, "despite": [f"{code}: it was so"]}).warnings[0].endswith("it was so")


SEEN = {"of": "coil-ground-eyelet", "aspect": "ground_seat", "seen": "off", "state": "undisturbed", "time": "2026-05-05 09:00", "position": "1", "text": "off its stud"}
SCAN = {"before_clearing": True, "time": "2026-05-05 09:30", "modules": [{"module": "engine-control-module", "result": "none_stored"}]}
NOTICE = {"sender": "party 1", "receiver": "old-mill", "about": "notice", "sent": "2026-05-05", "channel": "letter"}
READING = {"quantity": "voltage", "of": "battery", "value": "12.6", "unit": "V", "conditions": ["key-on"], "time": "2026-05-06 10:00"}
ELSE = {"action": "replaced", "components": ["engine-control-module"], "by": "party 1", "time": "2026-05-06 11:00"}
CLEARED = {"action": "codes_cleared", "components": ["engine-control-module"], "by": "party 1", "time": "2026-05-06"}
DEMAND = {"sender": "party 1", "receiver": "old-mill", "about": "demand_letter", "sent": "2026-05-08", "channel": "letter"}
MODULE = {"module": "engine-control-module", "which": "coded_replacement", "time": "2026-05-06"}
FIRST = ("intervention", {**STEP, "by": "party 1", "despite": REASONS})

# code -> (what is recorded before both, the step that is asked about, what sets it right: more before it or other words in it)
TWINS = {
    "put_right_unseen": ([("correspondence", NOTICE)], ("intervention", {**STEP, "by": "party 1"}), [("observation", SEEN)], {}),
    "no_notice": ([("observation", SEEN)], ("intervention", {**STEP, "by": "party 1"}), [("correspondence", NOTICE)], {}),
    "codes_cleared": ([], ("intervention", CLEARED), [("code_scan", SCAN)], {}),
    "several_changes": ([("correspondence", NOTICE), FIRST], ("intervention", {**ELSE, "despite": REASONS[:1]}), [("measurement", READING)], {}),
    "uncoded_module": ([], ("module_identity", {**MODULE, "coding": "not_coded"}), [], {"coding": "coded"}),
    "talk_among_evidence": ([], ("correspondence", {**NOTICE, "text": "They offered to pay half."}), [], {"text": "They asked for pictures."}),
    "wrong_respondent": ([], ("correspondence", DEMAND), [], {}),
}  # fmt: skip


@pytest.mark.parametrize("code", ASKED)
def test_a_step_set_right_is_recorded_without_a_question(shop: Desk, code: str) -> None:
    before, (kind, fields), more, other = TWINS[code]
    for record in before:
        record_one(shop, NAME, *record)
    with pytest.raises(MistakeAhead, match=rf"\[{code}\]"):
        record_one(shop, NAME, kind, fields)
    for record in more:
        record_one(shop, NAME, *record)
    if code == "wrong_respondent":
        amend_one(shop, NAME, "party 2", {"legal_name": "Old Mill Ltd", "address": "1 Mill Lane"}, "asked the registry")
    entered = record_one(shop, NAME, kind, {**fields, **other})
    assert [w for w in entered.warnings if f"[{code}]" in w] == []
    _, found = mistakes_of(shop, NAME)
    assert code not in {m.code for m in found}
