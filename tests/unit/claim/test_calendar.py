"""Periods against worked days. Months: dateutil's published behaviour (a day the month lacks becomes its last).

Business days: numpy's busday functions with the US federal holidays of the holidays library.
"""

import datetime as dt

import holidays
import pytest
from evidence.claim.calendar import business_days_after, end_of, months_after, rolled
from hypothesis import given
from hypothesis import strategies as st

US = frozenset(holidays.country_holidays("US", years=range(2023, 2026)))
D = dt.date
DAYS = st.dates(D(1970, 1, 1), D(2100, 12, 31))


@pytest.mark.parametrize(
    ("start", "months", "end"),
    [
        ("2024-01-31", 1, "2024-02-29"), ("2023-01-31", 1, "2023-02-28"), ("2024-02-29", 12, "2025-02-28"),
        ("2024-03-31", -1, "2024-02-29"), ("2023-10-31", 6, "2024-04-30"), ("2024-08-31", 18, "2026-02-28"),
    ],
)  # fmt: skip
def test_months_by_the_calendar(start, months, end):
    assert months_after(D.fromisoformat(start), months) == D.fromisoformat(end)


def test_months_are_added_from_the_first_day_not_one_by_one():
    assert months_after(months_after(D(2024, 1, 31), 1), 1) == D(2024, 3, 29)
    assert end_of(D(2024, 1, 31), "2 months") == D(2024, 3, 31)


@given(DAYS, st.integers(-600, 600))
def test_months_agree_with_dateutil(day, months):
    from dateutil.relativedelta import relativedelta

    try:
        expected = day + relativedelta(months=months)
    except ValueError:
        return
    assert months_after(day, months) == expected


@pytest.mark.parametrize(
    ("start", "count", "end"), [("2024-07-03", 5, "2024-07-11"), ("2024-11-27", 10, "2024-12-12")]
)
def test_business_days_leave_out_weekends_and_holidays(start, count, end):
    assert business_days_after(D.fromisoformat(start), count, US) == D.fromisoformat(end)


@pytest.mark.parametrize(
    ("start", "period", "last", "moved"),
    [("2024-06-20", "14 days", "2024-07-04", "2024-07-05"), ("2024-08-02", "30 days", "2024-09-01", "2024-09-03")],
)
def test_a_last_day_that_is_free_moves_to_the_next_business_day(start, period, last, moved):
    end = end_of(D.fromisoformat(start), period, US)
    assert (end, rolled(end, US)) == (D.fromisoformat(last), D.fromisoformat(moved))


@given(DAYS, st.integers(1, 60), st.frozensets(DAYS, max_size=20))
def test_business_days_are_counted_one_by_one(day, count, free):
    left, at = count, day
    while left:
        at += dt.timedelta(days=1)
        left -= at.weekday() < 5 and at not in free
    assert business_days_after(day, count, free) == at


def test_weeks_and_years():
    assert end_of(D(2026, 5, 14), "6 weeks") == D(2026, 6, 25)
    assert end_of(D(2024, 2, 29), "1 year") == D(2025, 2, 28)
    assert end_of(D(2026, 5, 14), "1 day") == D(2026, 5, 15)
