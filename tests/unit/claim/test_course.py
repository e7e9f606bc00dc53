"""The course of a matter and what is due, from records as a person enters them."""

import datetime as dt

import pytest
from evidence.claim.course import course, passed_over
from evidence.claim.due import due
from evidence.claim.marks import day_of, marks_of
from evidence.claim.place import PlaceRules
from evidence.claim.standing import standing
from evidence.model.when import When
from pydantic import ValidationError

from build import coil_case

TODAY = dt.date(2026, 6, 10)


def made(case, stage, day, **more):
    return case.record("course_step", **{"stage": stage, "time": day, "by": "party-1", "exhibits": ["exhibit-1"], **more})


def matter():
    case = coil_case()
    made(case, "intake", "2026-05-05 09:00")
    made(case, "undisturbed_record", "2026-05-05 10:00")
    made(case, "notice", "2026-05-05 12:00", exhibits=[])
    return case


def letter(case, about="notice", **more):
    base = {"sender": "party-1", "receiver": "party-2", "about": about, "sent": "2026-05-05 12:00", "channel": "registered_letter"}
    return case.record("correspondence", **{**base, **more})


def test_where_it_stands_is_the_step_made_last_and_nothing_is_inferred():
    case = matter()
    case.record("outcome", result="paid", time="2026-06-09", amount="900.00 EUR")
    found = course(case.dossier())
    assert (found.here.what, found.here.label) == ("notice", "Step 3")
    assert not found.stage("paid").steps
    assert found.following == "inspection"
    made(case, "diagnosis", "2026-05-05 11:00")  # recorded last, made before
    assert course(case.dossier()).here.what == "notice"


def test_a_step_that_passes_over_others_says_which():
    case = matter()
    step = made(case, "demand", "2026-06-01")
    words = passed_over(case.dossier(), step)
    assert words == "Step 4 (demand) passes over what should come before it: diagnosis, inspection, estimate"
    skips = ["diagnosis: they own up to it", "inspection: declined in writing", "estimate: the invoice is there"]
    assert passed_over(case.change(step, skips=skips).dossier(), step) == ""
    found = course(case.change(step, skips=skips).dossier())
    assert found.stage("inspection").skipped == "declined in writing (Step 4)"
    assert found.following == "answer"


def test_a_stage_left_out_and_made_later_counts_as_made():
    case = matter()
    made(case, "estimate", "2026-05-20", skips=["diagnosis: not needed"])
    made(case, "diagnosis", "2026-05-21")
    assert course(case.dossier()).stage("diagnosis").skipped == ""
    assert course(case.dossier()).stage("diagnosis").steps


def test_closed_ends_it_at_any_time():
    case = matter()
    letter(case, until="2026-05-20")
    made(case, "closed", "2026-05-09")
    told = standing(marks_of(case.dossier()), TODAY)
    assert told.course.closed
    assert told.course.following is None
    assert told.ahead == ()


def test_a_step_without_a_paper_is_remarked():
    told = standing(marks_of(matter().dossier()), TODAY)
    assert told.remarks == ("Step 3 (notice) names no exhibit that proves it",)


@pytest.mark.parametrize("raw", ["inspection", "inspection:", "someday: why", "notice: itself"])
def test_a_skip_needs_a_stage_and_a_reason(raw):
    case = matter()
    made(case, "notice", "2026-05-06", skips=[raw])
    with pytest.raises(ValidationError):
        case.dossier()


def test_an_answer_is_due_when_the_letter_says_and_done_when_one_names_it():
    case = matter()
    asked = letter(case, answer_within="14 days")
    (one,) = [d for d in due(case.dossier()) if d.what == "answer"]
    assert (one.day, one.computed, one.done, one.note) == (dt.date(2026, 5, 19), True, "", "14 days from 2026-05-05")
    letter(case, about="response", sent="2026-05-18", answers=asked)
    (one,) = [d for d in due(case.dossier()) if d.what == "answer"]
    assert one.done == "answered by Correspondence 2"


def test_business_days_without_a_place_say_so_and_with_one_count_its_holidays():
    case = matter()
    letter(case, about="inspection_opportunity", sent="2026-05-21", answer_within="5 business days")
    (plain,) = [d for d in due(case.dossier()) if d.what == "inspection"]
    assert (plain.day, plain.note) == (dt.date(2026, 5, 28), "5 business days from 2026-05-21; without the holidays of any place")
    place = PlaceRules.model_validate({
        "format": 1, "name": "Vale", "holidays": {"days": ["2026-05-25"], "source": "calendar", "on": "2026-01-02"},
    })  # fmt: skip
    (with_place,) = [d for d in due(case.dossier(), place) if d.what == "inspection"]
    assert (with_place.day, with_place.note) == (dt.date(2026, 5, 29), "5 business days from 2026-05-21")


def test_an_offer_to_inspect_no_longer_waits_once_the_inspection_is_settled():
    case = matter()
    letter(case, about="inspection_opportunity", until="2026-05-20")
    made(case, "diagnosis", "2026-05-21", skips=["inspection: they wrote that they will not come"])
    (one,) = [d for d in due(case.dossier()) if d.what == "inspection"]
    assert one.done == "inspection left out: they wrote that they will not come (Step 4)"


def test_the_warranty_of_the_earlier_work_ends_by_time_or_distance():
    case = coil_case()
    case = case.change("work_order-1", warranty_period="12 months", warranty_distance="20000 km")
    order = case.dossier().get("work_order-1").value
    (one,) = [d for d in due(case.dossier()) if d.what == "warranty"]
    closed = day_of(order.closed)
    assert one.day == closed.replace(year=closed.year + 1)
    limit = order.odometer_at_close + 20000
    assert f"or at {limit:.0f} km, whichever comes first" in one.note
    case.record("odometer_reading", reading=f"{limit + 5:.0f} km", time="2026-05-05 08:00", basis="photographed", by="party-1")
    (one,) = [d for d in due(case.dossier()) if d.what == "warranty"]
    assert one.note.endswith(f"at {limit + 5:.0f} km by the last reading: passed")
    assert one.done == "ended by distance"


def test_a_warranty_by_distance_alone_has_no_day_and_no_reminder():
    case = coil_case().change("work_order-1", warranty_distance="20000 km")
    (one,) = [d for d in due(case.dossier()) if d.what == "warranty"]
    assert (one.day, one.reminders, one.done) == (None, (), "")
    assert "whichever comes first" in one.note


def test_a_hundred_years_are_counted_and_a_start_too_late_for_them_is_told():
    """A period is at most a hundred years long; the calendar of the program ends with the year 9999."""
    case = matter()
    case.record("due_date", what="other", day="9998-12-30", text="far off", source="paper")
    letter(case, about="demand_letter", sent="1999-03-01", answer_within="100 years")
    (far,) = [d for d in due(case.dossier()) if d.what == "answer"]
    assert far.day == dt.date(2099, 3, 2)  # 2099-03-01 is a Sunday
    late = letter(case, about="demand_letter", sent="9800-03-01", answer_within="14 days")
    (told,) = [d for d in due(case.dossier()) if d.subject == late]
    assert (told.day, told.note, told.reminders) == (None, "14 days from 9800-03-01, too far off to be counted", ())
    assert [d.day for d in due(case.dossier()) if d.what == "other"] == [dt.date(9998, 12, 30)]
    letter(case, about="demand_letter", sent="2026-03-01", answer_within="101 years")
    with pytest.raises(ValidationError, match="longer than a hundred years"):
        case.dossier()


def test_a_step_dated_before_the_work_it_is_about_is_remarked():
    """Two records that were right each for itself: the order was entered after the step."""
    case = matter()
    told = standing(marks_of(case.dossier()), TODAY)
    assert not [r for r in told.remarks if "before the work" in r]
    worked = next(m for m in marks_of(case.dossier()) if m.sort == "worked")
    early = (dt.date.fromisoformat(worked.day) - dt.timedelta(days=1)).isoformat()
    made(case, "diagnosis", early)
    remarks = standing(marks_of(case.dossier()), TODAY).remarks
    assert f"Step 4 (diagnosis) is dated {early}, before the work it is about ({worked.label}, {worked.day})" in remarks
    made(case, "inspection", worked.day)
    assert len([r for r in standing(marks_of(case.dossier()), TODAY).remarks if "before the work" in r]) == 1


def test_holidays_are_known_as_far_as_a_long_period_reaches():
    """Vacanza's holidays, new year of 2031: a Wednesday; 1,200 business days reach over four years and more."""
    case = matter()
    place = PlaceRules.model_validate({
        "format": 1, "name": "Vale", "holidays": {"country": "PT", "source": "calendar", "on": "2026-01-02"},
    })  # fmt: skip
    letter(case, about="inspection_opportunity", sent="2026-01-02", answer_within="1200 business days")
    (one,) = [d for d in due(case.dossier(), place) if d.what == "inspection"]
    from holidays import country_holidays

    free = country_holidays("PT", years=range(2026, 2033))
    day, left = dt.date(2026, 1, 2), 1200
    while left:
        day += dt.timedelta(days=1)
        left -= day.weekday() < 5 and day not in free
    assert day.year > 2029
    assert one.day == day


def test_the_last_day_of_a_time_as_written():
    def when(text):
        return When.model_validate({"given": text, "zone": "Europe/Lisbon"}, context={"written": True})

    assert day_of(when("2026-05-05 23:59")) == dt.date(2026, 5, 5)
    assert day_of(when("2026-05-05 / 2026-05-07")) == dt.date(2026, 5, 7)
    assert day_of(when("2026-05")) == dt.date(2026, 5, 31)


def test_days_of_the_matter_go_before_days_of_the_tools():
    case = matter()
    case.record("instrument", description="scope", calibration_due="2026-05-01", calibrated="2025-05-01")
    letter(case, until="2026-07-01")
    assert standing(marks_of(case.dossier()), TODAY).pressing.what == "answer"
