"""The list of marks, on both databases: always what the records themselves say, through amendments, withdrawals and rebuilds."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from evidence.claim.marks import marks_of
from evidence.errors import BeforeTheWork, PassedOver
from evidence.usecases.pen import read_dossier
from evidence.usecases.record import amend_one, open_dossier, record_one, withdraw_one
from evidence.usecases.standing import matters, matters_json

from conftest import still_desk

TODAY = dt.date(2026, 6, 10)
STEP = {"by": "party 1", "exhibits": []}


def listed(desk, ledger):
    with desk.ledgers.reading() as view:
        return sorted((m for _, m in view.marks(ledger)), key=repr), sorted(marks_of(read_dossier(view, ledger)), key=repr)


def test_the_list_says_what_the_records_say(workspace: Path) -> None:
    with still_desk(workspace) as desk:
        ledger, _ = open_dossier(desk, {"title": "Van", "name": "van"})
        record_one(desk, "van", "party", {"full_name": "Kai Rook", "roles": ["prior_repairer"]})
        order = {"side": "prior_repairer", "repairer": "party 2", "closed": "2026-03-05", "odometer_out": "128412 km",
                 "warranty_period": "12 months", "warranty_distance": "20000 km", "operations": [{"text": "gasket"}]}
        record_one(desk, "van", "work_order", order)
        record_one(desk, "van", "course_step", {**STEP, "stage": "intake", "time": "2026-05-05 09:00"})
        letter = {"sender": "party 1", "receiver": "party 2", "about": "notice", "sent": "2026-05-05", "channel": "letter", "answer_within": "2 weeks"}
        record_one(desk, "van", "correspondence", letter)
        stored, folded = listed(desk, ledger)
        assert stored == folded
        assert {m.sort for m in stored} == {"step", "due", "worked"}
        amend_one(desk, "van", "correspondence 1", {"answer_within": "3 weeks"}, "misread")
        amend_one(desk, "van", "dossier 1", {"place": "vale"}, "known now")
        withdraw_one(desk, "van", "work order 1", "wrong vehicle")
        stored, folded = listed(desk, ledger)
        assert stored == folded
        assert {m.period for m in stored} == {"3 weeks", ""}
        assert {m.sort for m in stored} == {"step", "due", "place"}
        desk.ledgers.rebuild()
        assert listed(desk, ledger)[0] == stored


def test_a_step_that_passes_over_others_is_refused_and_nothing_recorded(workspace: Path) -> None:
    with still_desk(workspace) as desk:
        ledger, _ = open_dossier(desk, {"title": "Van", "name": "van"})
        with pytest.raises(PassedOver, match="intake, undisturbed record"):
            record_one(desk, "van", "course_step", {**STEP, "stage": "notice", "time": "2026-05-05"})
        assert listed(desk, ledger) == ([], [])
        skips = ["intake: came in before this program", "undisturbed_record: already taken apart by the prior repairer"]
        record_one(desk, "van", "course_step", {**STEP, "stage": "notice", "time": "2026-05-05", "skips": skips})
        assert [m.sort for m in listed(desk, ledger)[0]] == ["skip", "skip", "step"]


def test_one_matter_is_told_as_all_are(workspace: Path) -> None:
    with still_desk(workspace) as desk:
        for name in ("one", "two"):
            open_dossier(desk, {"title": name.title(), "name": name})
            record_one(desk, name, "course_step", {**STEP, "stage": "intake", "time": "2026-05-05 09:00"})
        record_one(desk, "two", "due_date", {"what": "hearing", "day": "2026-07-01", "text": "Hearing", "source": "summons"})
        every = matters(desk, "", TODAY)
        assert [m.name for m in every] == ["one", "two"]
        assert matters_json(matters(desk, "two", TODAY))["matters"] == matters_json(every[1:])["matters"]
        assert every[1].standing.pressing.day == dt.date(2026, 7, 1)
        assert every[0].standing.pressing is None


@pytest.mark.parametrize(
    ("kind", "fields"),
    [
        ("course_step", {**STEP, "stage": "intake", "time": "2026-03-03"}),
        ("correspondence", {"sender": "party 1", "receiver": "party 2", "about": "notice", "sent": "2026-03-03", "channel": "letter"}),
        ("correspondence", {"sender": "party 1", "receiver": "party 2", "about": "demand_letter", "sent": "2026-03-03", "channel": "letter", "despite": ["wrong_respondent: known to all"]}),
        ("due_date", {"what": "hearing", "day": "2025-07-01", "text": "Hearing", "source": "summons"}),
        ("loss_item", {"head": "hire", "nature": "incidental", "text": "van", "amount": "44.00 EUR", "status": "paid", "begins": "2026-03-01", "ends": "2026-03-02"}),
    ],
)
def test_what_is_dated_before_the_earlier_work_is_refused(workspace: Path, kind: str, fields: dict[str, object]) -> None:
    with still_desk(workspace) as desk:
        open_dossier(desk, {"title": "Van", "name": "van"})
        record_one(desk, "van", "party", {"full_name": "Kai Rook", "roles": ["prior_repairer"]})
        order = {"side": "prior_repairer", "repairer": "party 2", "opened": "2026-03-04", "closed": "2026-03-05", "operations": [{"text": "gasket"}]}
        record_one(desk, "van", "work_order", order)
        with pytest.raises(BeforeTheWork, match=r"before the earlier work was begun \(Work order 1, 2026-03-04\)"):
            record_one(desk, "van", kind, fields)
        moved = {k: v.replace("2025-", "2027-").replace("2026-03-0", "2026-04-0") if isinstance(v, str) else v for k, v in fields.items()}
        assert record_one(desk, "van", kind, moved).label
        other = {"sender": "party 1", "receiver": "party 2", "about": "other", "sent": "2026-03-03", "channel": "letter"}
        assert record_one(desk, "van", "correspondence", other).label  # a letter about something else may be older
