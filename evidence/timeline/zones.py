"""What a time zone's rules make of a moment or of a clock's face (IANA database)."""

from __future__ import annotations

import datetime as dt
from typing import Literal

from whenever import Instant, PlainDateTime, RepeatedTime, SkippedTime


def offset_at(zone: str, moment: dt.datetime) -> dt.timedelta:
    """How far clocks in ``zone`` are ahead of UTC at an instant."""
    local = Instant(moment).to_tz(zone).to_plain().to_stdlib()
    return local.replace(tzinfo=dt.UTC) - moment.astimezone(dt.UTC).replace(fold=0)


def times_shown(face: dt.datetime, zone: str) -> Literal["once", "twice", "never"]:
    """How often a right clock in ``zone`` shows what stands on this face (its own time zone is not looked at)."""
    try:
        PlainDateTime(face.replace(tzinfo=None)).assume_tz(zone, disambiguation="raise")
    except RepeatedTime:
        return "twice"
    except SkippedTime:
        return "never"
    return "once"
