"""Moments as spans: what was written, and the earliest and latest instant it can mean.

A minute is a span of a minute, a date a span of that day, a local time of unknown zone a span that is
26 hours wider (UTC+14 to UTC-12). Nothing is ever taken as UTC that does not say so. Times inside a
daylight-saving gap are refused; times inside a fold keep both readings.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal, cast

from pydantic import ValidationInfo, field_validator, model_validator
from whenever import Instant, PlainDateTime, SkippedTime, TimeZoneNotFoundError, ZonedDateTime

from evidence.model.base import Line, Value

TimeSource = Literal["device_clock", "document", "statement", "recorder"]

_LOCAL = re.compile(
    r"(?P<y>\d{4})-(?P<mo>\d{2})(?:-(?P<d>\d{2})(?:[Tt ](?P<h>\d{2}):(?P<mi>\d{2})(?::(?P<s>\d{2})(?:\.(?P<f>\d{1,6}))?)?"
    r"\s?(?P<off>[Zz]|[+-]\d{2}:\d{2})?)?)?",
    re.ASCII,
)
_OFFSET = re.compile(r"([Zz]|[+-]\d{2}:\d{2})$", re.ASCII)
_SHAPE = "write 2026-03-02, 2026-03-02 14:30, 2026-03-02T14:30:05+01:00, 2026-03, or two of them with ' / ' between"
_WIDEST_EAST = dt.timedelta(hours=14)
_WIDEST_WEST = dt.timedelta(hours=12)


@dataclass(frozen=True, slots=True)
class TimeSpan:
    """An instant known to lie between two instants (both aware, UTC)."""

    earliest: dt.datetime
    latest: dt.datetime

    def __post_init__(self) -> None:
        if self.latest < self.earliest:
            raise ValueError("ends before it starts")

    @property
    def middle(self) -> dt.datetime:
        """Half way, for drawing only."""
        return self.earliest + (self.latest - self.earliest) / 2

    @property
    def width(self) -> dt.timedelta:
        """How uncertain it is."""
        return self.latest - self.earliest


def utc_text(moment: dt.datetime) -> str:
    """RFC 3339 text in UTC ending in Z, microseconds only when there are some."""
    text = moment.astimezone(dt.UTC).isoformat()
    return text.removesuffix("+00:00") + "Z"


def from_utc_text(text: str) -> dt.datetime:
    """Read what :func:`utc_text` wrote; anything else is refused."""
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d{1,6})?Z", text):
        raise ValueError(f"{text!r} is not a UTC moment ending in Z")
    return dt.datetime.fromisoformat(text)


def span_of(text: str, zone: str | None) -> TimeSpan:
    """Read one or two moments as a person writes them; ``zone`` applies where no offset is written."""
    parts = [p.strip() for p in text.split(" / ")]
    if len(parts) > 2:
        raise ValueError(f"{text!r} is not a time; {_SHAPE}")
    spans = [_single(p, zone) for p in parts]
    if spans[-1].latest <= spans[0].earliest:
        raise ValueError(f"{text!r} ends before it starts")
    return TimeSpan(spans[0].earliest, spans[-1].latest)


def _single(text: str, zone: str | None) -> TimeSpan:
    match = _LOCAL.fullmatch(text)
    if not match:
        raise ValueError(f"{text!r} is not a time; {_SHAPE}")
    got = match.groupdict()
    leap = got["s"] == "60"
    try:
        start = dt.datetime(  # noqa: DTZ001 - a wall-clock reading, given its zone below
            int(got["y"]), int(got["mo"]), int(got["d"] or 1), int(got["h"] or 0), int(got["mi"] or 0),
            59 if leap else int(got["s"] or 0), int((got["f"] or "0").ljust(6, "0")),
        )  # fmt: skip
        if leap:
            start = _after_leap_second(start, got["off"])
        end = start + _resolution(start, got)
    except (ValueError, OverflowError) as err:
        raise ValueError(f"{text!r} is not a date and time that exists ({err})") from None
    try:
        return _placed(text, got, start, end, zone)
    except OverflowError:
        raise ValueError(f"{text!r} lies outside the years that can be reckoned with") from None


def _placed(text: str, got: dict[str, str | None], start: dt.datetime, end: dt.datetime, zone: str | None) -> TimeSpan:
    """The span of a wall-clock reading: at its own offset, in ``zone``, or anywhere on earth."""
    if got["off"]:
        return TimeSpan(_at_offset(start, got["off"]), _at_offset(end, got["off"]))
    if zone is None:
        return TimeSpan(start.replace(tzinfo=dt.UTC) - _WIDEST_EAST, end.replace(tzinfo=dt.UTC) + _WIDEST_WEST)
    if got["h"] is None:  # a whole day or month: its midnight may fall into a gap, which is no mistake
        return TimeSpan(_zoned(start, zone, "compatible"), _zoned(end, zone, "compatible"))
    return TimeSpan(_in_zone(start, zone, text), max(_zoned(end, zone, "later"), _in_zone(start, zone, text)))


def _after_leap_second(moment: dt.datetime, offset: str | None) -> dt.datetime:
    """Second 60 (RFC 3339 section 5.7) as the first of the next minute; it stands at the end of June or December UTC."""
    utc = _at_offset(moment, offset) if offset else moment
    if not offset or (utc.hour, utc.minute) != (23, 59) or (utc.month, utc.day) not in ((6, 30), (12, 31)):
        raise ValueError("no leap second can be there")
    return moment + dt.timedelta(seconds=1)


def _resolution(start: dt.datetime, got: dict[str, str | None]) -> dt.timedelta:
    if got["d"] is None:
        following = start.replace(day=28) + dt.timedelta(days=4)
        return following.replace(day=1) - start
    if got["h"] is None:
        return dt.timedelta(days=1)
    if got["s"] is None:
        return dt.timedelta(minutes=1)
    fraction = got["f"]
    return dt.timedelta(microseconds=10 ** (6 - len(fraction))) if fraction else dt.timedelta(seconds=1)


def _at_offset(moment: dt.datetime, offset: str) -> dt.datetime:
    if offset in "Zz":
        return moment.replace(tzinfo=dt.UTC)
    hours, minutes = int(offset[1:3]), int(offset[4:6])
    if hours > 14 or minutes > 59:
        raise ValueError(f"{offset} is not an offset from UTC")
    shift = dt.timedelta(hours=hours, minutes=minutes)
    aware = moment.replace(tzinfo=dt.UTC)
    return aware - shift if offset[0] == "+" else aware + shift


def _in_zone(moment: dt.datetime, zone: str, text: str) -> dt.datetime:
    """The earlier of the readings in ``zone``; a time the clocks skipped is refused."""
    try:
        PlainDateTime(moment).assume_tz(zone, disambiguation="raise")
    except SkippedTime:
        raise ValueError(
            f"{text!r} does not exist in {zone}: the clocks went forward over it; write it with its offset from UTC"
        ) from None
    except ValueError:
        pass  # a repeated time: the span covers both readings
    return _zoned(moment, zone, "earlier")


def _zoned(moment: dt.datetime, zone: str, disambiguation: Literal["earlier", "later", "compatible"]) -> dt.datetime:
    zoned: ZonedDateTime = PlainDateTime(moment).assume_tz(zone, disambiguation=disambiguation)
    return zoned.to_instant().to_stdlib()


def local_day(moment: dt.datetime, zone: str) -> dt.date:
    """The day that a moment falls on in a zone (IANA name)."""
    return Instant(moment).to_tz(zone).date().to_stdlib()


def known_zone(zone: str) -> str:
    """Return ``zone`` if the time-zone database has it, else raise ``ValueError``."""
    try:
        ZonedDateTime(2026, 1, 1, tz=zone)
    except (TimeZoneNotFoundError, ValueError):
        raise ValueError(f"{zone!r} is not a time zone of the IANA database, such as Europe/Lisbon") from None
    return zone


def _own_offsets(given: str) -> bool:
    """Whether every moment in the text says its own offset from UTC."""
    return all(_OFFSET.search(part.strip()) for part in given.split(" / "))


class When(Value):
    """A moment as given, with the span it stands for. A person writes only the text."""

    given: Line
    earliest: Line
    latest: Line
    zone: Line | None = None
    source: TimeSource | None = None
    note: Line | None = None

    @model_validator(mode="before")
    @classmethod
    def _read(cls, raw: Any, info: ValidationInfo) -> Any:
        if isinstance(raw, (dt.datetime, dt.date)):
            raw = raw.isoformat()
        if isinstance(raw, str):
            raw = {"given": raw}
        context = cast("dict[str, Any]", info.context or {})
        if isinstance(raw, dict) and "earliest" in raw and "written" in context:
            raise ValueError("the earliest and latest instant are computed; write the time as it was given")
        if not isinstance(raw, dict) or "earliest" in raw or "given" not in raw:
            return raw
        given = str(raw["given"]).strip()
        zone = raw.get("zone") or context.get("zone")
        span = span_of(given, known_zone(zone) if zone else None)
        read: dict[str, Any] = {
            **raw,
            "given": given,
            "earliest": utc_text(span.earliest),
            "latest": utc_text(span.latest),
        }
        if zone and not _own_offsets(given):
            read["zone"] = zone
        return read

    @field_validator("earliest", "latest")
    @classmethod
    def _utc(cls, value: str) -> str:
        from_utc_text(value)
        return value

    @cached_property
    def span(self) -> TimeSpan:
        """Earliest and latest instant."""
        return TimeSpan(from_utc_text(self.earliest), from_utc_text(self.latest))

    @property
    def zone_known(self) -> bool:
        """False when the text was a local time of unknown zone."""
        return bool(self.zone) or _own_offsets(self.given)

    def words(self) -> str:
        """As printed: the text as given, and the zone or a word that it is unknown."""
        if self.zone:
            return f"{self.given} ({self.zone})"
        return self.given if self.zone_known else f"{self.given} (local, zone unknown)"
