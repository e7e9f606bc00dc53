"""Times as spans: RFC 3339, zones of the IANA database, dates, months, intervals, and zones that nobody knows."""

from __future__ import annotations

import datetime as dt

import pytest
from evidence.model.when import TimeSpan, When, from_utc_text, known_zone, span_of, utc_text
from pydantic import ValidationError

SECOND, MINUTE, DAY = dt.timedelta(seconds=1), dt.timedelta(minutes=1), dt.timedelta(days=1)


def utc(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text).replace(tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("text", "earliest", "width"),
    [
        ("1985-04-12T23:20:50.52Z", "1985-04-12T23:20:50.52", SECOND / 100),
        ("1996-12-19T16:39:57-08:00", "1996-12-20T00:39:57", SECOND),
        ("1990-12-31T23:59:60Z", "1991-01-01T00:00:00", SECOND),
        ("1990-12-31T15:59:60-08:00", "1991-01-01T00:00:00", SECOND),
        ("1937-01-01T12:00:27.87+00:20", "1937-01-01T11:40:27.87", SECOND / 100),
        ("1985-04-12t23:20:50z", "1985-04-12T23:20:50", SECOND),
        ("2024-01-01T00:00:00-00:00", "2024-01-01T00:00:00", SECOND),
        ("2024-01-01 00:00:00 +01:00", "2023-12-31T23:00:00", SECOND),
        ("2024-02-29T12:30Z", "2024-02-29T12:30:00", MINUTE),
    ],
)
def test_moments_of_rfc_3339(text: str, earliest: str, width: dt.timedelta) -> None:
    """RFC 3339 sections 5.6 to 5.8; a span is as wide as the text's resolution. The zone of the dossier has no say."""
    for zone in (None, "Asia/Tokyo"):
        assert span_of(text, zone) == TimeSpan(utc(earliest), utc(earliest) + width)


@pytest.mark.parametrize(
    "text",
    [
        "2023-02-29", "2023-02-29T00:00:00Z", "2024-13-01", "2024-1-1T00:00:00Z", "2024-01-01T00:00:00+24:00", "2024-01-01T00:00:00+15:00",
        "2024-W01-1", "20240101T000000Z", "2024-01-01T24:00:00Z", "2024-01-01T12:60Z", "2024-06-15T23:59:60Z", "2024-12-31T23:59:60",
        "2024-01-01T00:00:00.1234567Z", "2024", "01.02.2024", "2/1/2024", "yesterday", "", "2024-01-01T00Z", "2024-01-01Z", "٢٠٢٤-01-01",
        "0001-01-01", "9999-12-31", "2024-01-01 / 2024-01-02 / 2024-01-03", "2024-01-01 /2024-01-02", " / ",
    ],
)  # fmt: skip
def test_what_is_no_time_is_refused_in_words(text: str) -> None:
    with pytest.raises(ValueError, match=r"is not a time; write 2026-03-02|is not a date and time that exists|is not an offset from UTC|outside the years"):
        span_of(text, None)


@pytest.mark.parametrize(
    ("text", "zone", "moments"),
    [
        ("2024-11-03 01:30", "America/New_York", ["2024-11-03T05:30", "2024-11-03T06:30"]),
        ("2024-10-27 02:30", "Europe/Berlin", ["2024-10-27T00:30", "2024-10-27T01:30"]),
        ("2024-04-07 01:45", "Australia/Lord_Howe", ["2024-04-06T14:45", "2024-04-06T15:15"]),
        ("2024-03-10 02:30", "Africa/Casablanca", ["2024-03-10T01:30", "2024-03-10T02:30"]),
        ("2024-03-10 02:30", "America/Phoenix", ["2024-03-10T09:30", "2024-03-10T09:30"]),
        ("2024-07-01 12:00", "Europe/Lisbon", ["2024-07-01T11:00", "2024-07-01T11:00"]),
        ("2024-01-01 12:00", "Europe/Lisbon", ["2024-01-01T12:00", "2024-01-01T12:00"]),
    ],
)
def test_a_time_in_a_zone_and_one_that_was_there_twice(text: str, zone: str, moments: list[str]) -> None:
    """IANA time-zone database, as zoneinfo with tzdata 2026 reads it."""
    assert span_of(text, zone) == TimeSpan(utc(moments[0]), utc(moments[1]) + MINUTE)


@pytest.mark.parametrize(
    ("text", "zone"),
    [
        ("2024-03-10 02:30", "America/New_York"), ("2024-03-31 02:30", "Europe/Berlin"), ("2024-10-06 02:15", "Australia/Lord_Howe"),
        ("2018-11-04 00:30", "America/Sao_Paulo"),
    ],
)  # fmt: skip
def test_a_time_that_the_clocks_skipped_is_refused(text: str, zone: str) -> None:
    with pytest.raises(ValueError, match=f"'{text}' does not exist in {zone}: the clocks went forward over it; write it with its offset from UTC"):
        span_of(text, zone)
    assert span_of(f"{text} -03:00", zone).width == MINUTE


def test_a_whole_day_lasts_as_long_as_it_lasted() -> None:
    """23, 25 and 24 hours in New York (IANA); a day whose midnight is skipped (São Paulo) is a day all the same."""
    hours = {d: span_of(d, "America/New_York").width / dt.timedelta(hours=1) for d in ("2024-03-10", "2024-11-03", "2024-06-01")}
    assert hours == {"2024-03-10": 23, "2024-11-03": 25, "2024-06-01": 24}
    assert span_of("2018-11-04", "America/Sao_Paulo").earliest == utc("2018-11-04T03:00")


@pytest.mark.parametrize(("month", "days"), [("2024-02", 29), ("2023-02", 28), ("2024-12", 31), ("2024-04", 30), ("1900-02", 28)])
def test_a_month_is_all_its_days(month: str, days: int) -> None:
    assert span_of(month, "UTC") == TimeSpan(utc(f"{month}-01"), utc(f"{month}-01") + days * DAY)


@pytest.mark.parametrize("text", ["2024-03-02", "2024-03-02 14:30", "2024-03-02 14:30:05", "2024-03", "2024-03-02 14:30:05.25"])
def test_a_local_time_of_unknown_zone_is_26_hours_wider_and_never_utc(text: str) -> None:
    known, unknown = span_of(text, "UTC"), span_of(text, None)
    assert unknown.width - known.width == dt.timedelta(hours=26)
    assert known.earliest - unknown.earliest == dt.timedelta(hours=14)  # UTC+14 is there first
    assert unknown.latest - known.latest == dt.timedelta(hours=12)  # UTC-12 is there last


def test_an_interval_reaches_from_the_first_to_the_end_of_the_second() -> None:
    assert span_of("2024-03-02 / 2024-03-04", "UTC") == TimeSpan(utc("2024-03-02"), utc("2024-03-05"))
    assert span_of("2024-03-02 14:00Z / 2024-03-02 15:00Z", None) == TimeSpan(utc("2024-03-02T14:00"), utc("2024-03-02T15:01"))
    with pytest.raises(ValueError, match=r"'2024-03-04 / 2024-03-03' ends before it starts"):
        span_of("2024-03-04 / 2024-03-03", "UTC")
    with pytest.raises(ValueError, match="ends before it starts"):
        TimeSpan(utc("2024-03-02"), utc("2024-03-01"))


def test_what_is_stored_keeps_the_reading_as_given() -> None:
    when = When.model_validate("2024-07-01 12:00", context={"zone": "Europe/Lisbon"})
    assert when.model_dump(exclude_none=True) == {
        "given": "2024-07-01 12:00", "earliest": "2024-07-01T11:00:00Z", "latest": "2024-07-01T11:01:00Z", "zone": "Europe/Lisbon",
    }  # fmt: skip
    assert When.model_validate(when.model_dump(exclude_none=True)) == when
    assert when.words() == "2024-07-01 12:00 (Europe/Lisbon)"


@pytest.mark.parametrize(
    ("given", "zone", "known", "words"),
    [
        ("2024-07-01 12:00", None, False, "2024-07-01 12:00 (local, zone unknown)"),
        ("2024-07-01 12:00Z", "Europe/Lisbon", True, "2024-07-01 12:00Z"),
        ("2024-07-01T12:00+01:00", None, True, "2024-07-01T12:00+01:00"),
        ("2024-07-01 12:00 / 2024-07-01 13:00Z", None, False, "2024-07-01 12:00 / 2024-07-01 13:00Z (local, zone unknown)"),
        ("2024-07-01", "Asia/Tokyo", True, "2024-07-01 (Asia/Tokyo)"),
    ],
)
def test_what_is_said_of_the_zone(given: str, zone: str | None, known: bool, words: str) -> None:
    when = When.model_validate(given, context={"zone": zone})
    assert (when.zone_known, when.words()) == (known, words)


def test_a_zone_of_its_own_goes_before_the_dossiers() -> None:
    when = When.model_validate({"given": "2024-07-01 12:00", "zone": "Asia/Tokyo"}, context={"zone": "Europe/Lisbon"})
    assert when.earliest == "2024-07-01T03:00:00Z"


@pytest.mark.parametrize("zone", ["Europe/Atlantis", "", "Europe", "../../etc/passwd", "CET+1", "x" * 300, "a\0b", "\ud800"])
def test_a_zone_that_is_none_is_refused(zone: str) -> None:
    with pytest.raises(ValueError, match="is not a time zone of the IANA database, such as Europe/Lisbon"):
        known_zone(zone)


@pytest.mark.parametrize("text", ["2024-01-01T00:00:00+00:00", "2024-01-01T00:00Z", "2024-01-01 00:00:00Z", "2024-13-01T00:00:00Z", "2024-01-01T00:00:00.0000001Z", ""])
def test_a_stored_moment_is_utc_and_ends_in_z(text: str) -> None:
    with pytest.raises(ValueError):
        from_utc_text(text)
    with pytest.raises(ValidationError):
        When.model_validate({"given": "x", "earliest": text, "latest": "2024-01-01T00:00:00Z"})


@pytest.mark.parametrize("text", ["2024-01-01T00:00:00Z", "2024-01-01T00:00:00.500000Z", "0001-01-01T00:00:00Z"])
def test_moments_are_read_as_written(text: str) -> None:
    assert utc_text(from_utc_text(text)) == text
