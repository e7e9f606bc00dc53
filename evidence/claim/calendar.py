"""Calendar arithmetic of periods: months by the calendar, business days without the holidays of a place.

Months and years are added to the day itself, and a day that the month does not have becomes its last one. A period is counted
from the day after the day that starts it, so that a period of days ends that many days later.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from typing import cast

NO_DAYS: frozenset[dt.date] = frozenset()


def end_of(start: dt.date, period: str, holidays: Collection[dt.date] = NO_DAYS) -> dt.date:
    """The last day of ``period`` (such as ``14 days``, see :data:`evidence.model.course.Period`) that ``start`` begins."""
    number, unit = period.split(" ", 1)
    count = int(number)
    if unit.startswith("business"):
        return business_days_after(start, count, holidays)
    if unit.startswith("month"):
        return months_after(start, count)
    if unit.startswith("year"):
        return months_after(start, 12 * count)
    return start + dt.timedelta(days=count * (7 if unit.startswith("week") else 1))


def months_after(start: dt.date, months: int) -> dt.date:
    """The same day so many months later, or the last of that month. Add from the first day, never month by month."""
    from whenever import Date

    return Date.parse_iso(start.isoformat()).add(months=months).to_stdlib()


def business_days_after(start: dt.date, count: int, holidays: Collection[dt.date] = NO_DAYS) -> dt.date:
    """The ``count``-th day after ``start`` that is neither Saturday, Sunday nor a holiday."""
    import numpy as np

    free = np.array(sorted(holidays), dtype="datetime64[D]")
    return cast("dt.date", np.busday_offset(np.datetime64(start), count, roll="backward", holidays=free).item())


def rolled(day: dt.date, holidays: Collection[dt.date] = NO_DAYS) -> dt.date:
    """``day``, or the next business day where it is a Saturday, a Sunday or a holiday."""
    import numpy as np

    free = np.array(sorted(holidays), dtype="datetime64[D]")
    return cast("dt.date", np.busday_offset(np.datetime64(day), 0, roll="forward", holidays=free).item())
