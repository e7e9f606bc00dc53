"""The calendar file against RFC 5545, read back by the library that did not write it by hand, and by its line rules."""

import datetime as dt
from dataclasses import replace

from evidence.claim.day_file import day_file
from evidence.claim.due import Due
from icalendar import Calendar

STAMP = dt.datetime(2026, 6, 10, 8, 30, tzinfo=dt.UTC)
OPEN = Due(day=dt.date(2026, 7, 1), what="answer", words="Answer due: notice; a, b\\c", record="Correspondence 1", note="14 days from 2026-06-17")


def test_one_event_a_day_with_an_alarm_for_each_reminder():
    done = Due(day=dt.date(2026, 7, 2), what="answer", words="Answer due", record="Correspondence 2", done="answered")
    calendar = Calendar.from_ical(day_file([("Van ü", OPEN), ("Van ü", done)], STAMP, "evidence 1"))
    (event,) = calendar.walk("VEVENT")
    assert calendar["version"] == "2.0"
    assert event.decoded("dtstart") == dt.date(2026, 7, 1)
    assert event.decoded("dtend") == dt.date(2026, 7, 2)
    assert str(event["summary"]) == "Answer due: notice; a, b\\c (Van ü)"
    assert [a.decoded("trigger") for a in event.walk("VALARM")] == [dt.timedelta(days=-14), dt.timedelta(days=-3)]


def test_lines_are_folded_and_ended_as_the_standard_says():
    """RFC 5545, section 3.1: lines end in CRLF and are at most 75 octets long."""
    raw = day_file([("T" * 300, OPEN)], STAMP, "evidence 1")
    lines = raw.split(b"\r\n")
    assert lines[-1] == b""
    assert b"\n" not in b"".join(lines)
    assert max(map(len, lines)) <= 75
    for needed in (b"UID:", b"DTSTAMP:20260610T083000Z", b"PRODID:"):  # sections 3.6 and 3.6.1
        assert sum(line.startswith(needed) for line in lines) == 1


def test_same_days_same_bytes():
    assert day_file([("Van", OPEN)], STAMP, "x") == day_file([("Van", OPEN)], STAMP, "x")


def uids(raw):
    return [str(e["uid"]) for e in Calendar.from_ical(raw).walk("VEVENT")]


def test_an_event_keeps_its_name_when_its_day_moves_and_no_two_share_one():
    """RFC 5545, section 3.8.4.7: the identifier is globally unique and persistent."""
    base = {"words": "w", "record": "Loss item 1"}
    dues = [Due(day=dt.date(2026, 7, n), what=what, subject=subject, **base) for n, (what, subject) in enumerate([("core_return", "a" * 32), ("storage", "a" * 32), ("storage", "b" * 32)], 1)]
    first = uids(day_file([("Van", d) for d in dues], STAMP, "x"))
    assert len(set(first)) == 3
    moved = [replace(d, day=d.day + dt.timedelta(days=40), words="otherwise", record="Loss item 9") for d in dues]
    assert uids(day_file([("Another title", d) for d in moved], STAMP + dt.timedelta(days=9), "y")) == first


def test_what_has_no_day_or_is_done_is_no_event():
    assert uids(day_file([("Van", replace(OPEN, day=None)), ("Van", replace(OPEN, done="answered"))], STAMP, "x")) == []
