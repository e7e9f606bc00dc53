"""Days that are due as an iCalendar file (RFC 5545), with an alarm for each reminder; any calendar program can take it in."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable

from evidence.claim.due import REMIND_BEFORE, Due

_CAUTION = "From the record of a dossier. No legal advice: check the day with the source named there."


def day_file(titled: Iterable[tuple[str, Due]], stamp: dt.datetime, product: str) -> bytes:
    """One all-day event for each open day; ``titled`` are dossier title and day. Same input, same bytes.

    The name of an event stays the same when its day moves, so that a calendar program replaces it.
    """
    from icalendar import Alarm, Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", f"-//{product}//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    for title, due in titled:
        if due.day is None or due.done:
            continue
        event = Event()
        event.add("uid", hashlib.sha256(f"{due.subject}/{due.what}".encode()).hexdigest()[:32])
        event.add("dtstamp", stamp)
        event.add("dtstart", due.day)
        event.add("dtend", due.day + dt.timedelta(days=1))  # the first day after it, RFC 5545 section 3.6.1
        event.add("summary", f"{due.words} ({title})")
        event.add("description", "\n".join(filter(None, (due.record, due.note, _CAUTION))))
        event.add("transp", "TRANSPARENT")
        for before in REMIND_BEFORE:
            alarm = Alarm()
            alarm.add("action", "DISPLAY")
            alarm.add("description", due.words)
            alarm.add("trigger", dt.timedelta(days=-before))
            event.add_component(alarm)
        calendar.add_component(event)
    return bytes(calendar.to_ical())
