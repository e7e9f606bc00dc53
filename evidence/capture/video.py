"""What a film says of itself: length, size, when and where it was made. Read by the limited child process."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path
from typing import Any, Final

from evidence.capture.limited import available, run_limited
from evidence.capture.photo import moment_of, place_of

# ISO 6709 Annex H, as phones write it: +44.8504+034.9766+029.1/
_POINT: Final = re.compile(r"([+-]\d{1,3}(?:\.\d+)?)([+-]\d{1,3}(?:\.\d+)?)([+-]\d+(?:\.\d+)?)?.*")
_STAMP: Final = re.compile(
    r"(\d{4}-\d\d-\d\d)[T ](\d\d:\d\d:\d\d)(\.\d+)?\s*(Z|[+-]\d\d:?\d\d)?"
)  # RFC 3339 with and without the colon
_UNSET: Final = ("1904-01-01", "1970-01-01")  # zero of the container's clock


def read_video(path: Path) -> dict[str, Any]:
    """Fields of ``FileFacts`` of a film or sound recording; without the extra ``media`` a note says so."""
    if not available("av"):
        return {"notes": ["film not read: that needs the extra 'media'"]}
    answer = run_limited("film_facts", path)
    if answer.problem:
        return {"notes": [f"film not read: {answer.problem}"]}
    notes: list[str] = []
    facts = answer.facts
    fields: dict[str, Any] = {"reader": facts["reader"], "notes": notes}
    if "microseconds" in facts:
        seconds, rest = divmod(int(facts["microseconds"]), 1_000_000)
        fields["duration"] = f"{seconds}.{rest // 1000:03d}"
    else:
        notes.append("no length in the file")
    if facts.get("width") and facts.get("height"):
        fields["width"], fields["height"] = int(facts["width"]), int(facts["height"])
    _told(facts.get("metadata", {}), fields, notes)
    return fields


def _told(metadata: dict[str, str], fields: dict[str, Any], notes: list[str]) -> None:
    """What the container's text fields say. Makers put their own prefix before the same last word."""
    last = {key.rsplit(".", 1)[-1].casefold(): value for key, value in metadata.items()}
    local, container = last.get("creationdate", ""), last.get("creation_time", "")
    match = _STAMP.match(local or container or last.get("date") or "")
    if match and match[1] not in _UNSET:
        if moment := moment_of(_moment(match), "capture time", notes):
            fields["captured"] = moment
    elif not match:
        notes.append("no capture time in the file")
    else:
        notes.append("the recording device's clock was not set: no capture time")
    beside = _STAMP.match(container) if local else None
    if beside and beside[1] not in _UNSET and (moment := moment_of(_moment(beside), "container's time", notes)):
        fields["container_time"] = moment
    device = " ".join(" ".join((last.get("make", ""), last.get("model", ""))).split())
    if device.isprintable() and device:
        fields["device"] = device[:200]
    point = _POINT.fullmatch(last.get("iso6709", "") or last.get("location", ""))
    if point:
        altitude = Fraction(point[3]) if point[3] else None
        if place := place_of(Fraction(point[1]), Fraction(point[2]), altitude, notes):
            fields["place"] = place


def _moment(match: re.Match[str]) -> str:
    zone = match[4] or ""
    if zone and zone != "Z" and ":" not in zone:
        zone = f"{zone[:3]}:{zone[3:]}"
    fraction = (match[3] or "")[:7].rstrip("0").rstrip(".")
    return f"{match[1]}T{match[2]}{fraction}{zone}"
