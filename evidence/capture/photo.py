"""What a photo says of itself: when, where, with what, which way up. No pixel is decoded.

Rules enforced here (CIPA DC-008): ``DateTimeOriginal`` has no zone unless ``OffsetTimeOriginal`` gives one,
so without it the time is local and of unknown zone; the digits of ``SubSecTimeOriginal`` follow the point,
leading zeros count; GPS date and time are UTC. Position 0, 0 and an empty GPS block are no place. What
cannot be so (a year outside 1990 to 2099, a latitude of 200) is not taken and said in a note.
"""

from __future__ import annotations

import os
import re
import struct
from fractions import Fraction
from typing import TYPE_CHECKING, Any, BinaryIO, Final

from evidence.capture.picture import heard, open_head
from evidence.capture.plain_file import PARSER_FAULTS, raise_if_of_the_system
from evidence.capture.wording import one_line
from evidence.model.exhibit import Place
from evidence.model.when import When, span_of, utc_text

if TYPE_CHECKING:
    from PIL import Image

Fields = dict[str, Any]  # of FileFacts; "notes" is a list while reading

_EXIF, _GPS = 0x8769, 0x8825
_MAKE, _MODEL, _ORIENTATION, _SOFTWARE, _CHANGED = 0x010F, 0x0110, 0x0112, 0x0131, 0x0132
_TAKEN, _OFFSET, _OFFSET_TAKEN, _FRACTION, _FRACTION_TAKEN = 0x9003, 0x9010, 0x9011, 0x9290, 0x9291
_MOMENT: Final = re.compile(r"(\d{4})[:/.-](\d\d)[:/.-](\d\d)[ T](\d\d):(\d\d):(\d\d)")
_ZONE: Final = re.compile(r"[+-]\d\d:\d\d|Z")
_YEARS: Final = range(1990, 2100)
_MOST_CHUNKS: Final = 100_000
_LARGEST_EXIF: Final = 20_000_000


def read_photo(stream: BinaryIO, type_: str) -> Fields:
    """Fields of ``FileFacts`` of a JPEG, PNG, TIFF or WebP; ``stream`` stands at its start."""
    from PIL import __version__

    fields: Fields = {"reader": f"Pillow {__version__}", "notes": []}
    with heard() as told:
        try:
            exif = metadata_of(stream, type_, fields)
            if exif is not None:
                read_exif(exif, fields)
        except PARSER_FAULTS as err:
            raise_if_of_the_system(err)
            fields["notes"].append(f"metadata damaged: {one_line(err, 100) or type(err).__name__}")
    if told:
        fields["notes"].append(f"metadata damaged: {one_line(told[0], 100)}")
    if "captured" not in fields and not any("capture time" in n for n in fields["notes"]):
        fields["notes"].append("no capture time in the file")
    return fields


def read_exif_bytes(raw: bytes, fields: Fields) -> None:
    """Add what an EXIF block (as HEIC carries it) says to ``fields``."""
    from PIL import Image

    with heard() as told:
        try:
            exif = Image.Exif()
            exif.load(raw[:_LARGEST_EXIF])
            read_exif(exif, fields)
        except PARSER_FAULTS as err:
            raise_if_of_the_system(err)
            fields["notes"].append(f"metadata damaged: {one_line(err, 100) or type(err).__name__}")
    if told:
        fields["notes"].append(f"metadata damaged: {one_line(told[0], 100)}")


def read_exif(exif: Image.Exif, fields: Fields) -> None:
    """Add what the EXIF tags say to ``fields``."""
    notes = fields["notes"]
    orientation = exif.get(_ORIENTATION)
    if orientation is not None:
        if isinstance(orientation, int) and 1 <= orientation <= 8:
            fields["orientation"] = orientation
        else:
            notes.append(f"orientation {one_line(orientation, 20)} is none of 1 to 8")
    make, model = one_line(exif.get(_MAKE)), one_line(exif.get(_MODEL))
    if make or model:
        fields["device"] = model if model.lower().startswith(make.lower()) else f"{make} {model}".strip()
    if software := one_line(exif.get(_SOFTWARE)):
        fields["software"] = software
    inner = exif.get_ifd(_EXIF)
    taken = inner.get(_TAKEN)
    if moment := _moment(taken, inner.get(_FRACTION_TAKEN), inner.get(_OFFSET_TAKEN), "capture time", notes):
        fields["captured"] = moment
    if changed := _moment(exif.get(_CHANGED), inner.get(_FRACTION), inner.get(_OFFSET), "time of change", notes):
        fields["changed"] = changed
    gps = exif.get_ifd(_GPS)
    if gps:
        if place := _place(gps, notes):
            fields["place"] = place
        if gps_time := _gps_time(gps, notes):
            fields["gps_time"] = gps_time


def place_of(latitude: Fraction, longitude: Fraction, altitude: Fraction | None, notes: list[str]) -> Place | None:
    """A position in degrees north and east and metres, or ``None`` with a note why not."""
    if abs(latitude) > 90 or abs(longitude) > 180:
        notes.append(f"position {_degrees(latitude)}, {_degrees(longitude)} does not exist on Earth; not used")
        return None
    if latitude == longitude == 0:
        notes.append("position 0, 0 in the file: the device knew none")
        return None
    height = None
    if altitude is not None and abs(altitude) < 100_000:
        height = _plain(altitude, 1)
    return Place(latitude=_degrees(latitude), longitude=_degrees(longitude), altitude=height)


def moment_of(text: str, what: str, notes: list[str]) -> When | None:
    """A moment by a device's clock, in the form that :class:`When` reads; ``None`` with a note if it cannot be so."""
    if not text[:4].isdigit() or int(text[:4]) not in _YEARS:
        notes.append(f"{what} {text} cannot be right (year outside {_YEARS[0]} to {_YEARS[-1]}); not used")
        return None
    try:
        span = span_of(text, None)
    except ValueError:
        notes.append(f"{what} {text} does not exist; not used")
        return None
    # Built from the checked text just now; checking it once more would cost as much as reading the tag.
    return When.model_construct(
        given=text, earliest=utc_text(span.earliest), latest=utc_text(span.latest), source="device_clock"
    )


def metadata_of(stream: BinaryIO, type_: str, fields: Fields) -> Image.Exif | None:
    """Note the size and return the metadata. PNG and WebP are walked part by part: the library decodes the
    whole picture on the way to metadata that stand behind it (PNG), or makes room for it (WebP)."""
    if type_ in ("image/jpeg", "image/tiff"):
        head = open_head(stream, type_)
        fields["width"], fields["height"] = head.size
        return head.getexif()
    from PIL import Image

    size, raw, ended = _png_parts(stream) if type_ in ("image/png", "image/apng") else _webp_parts(stream)
    if size:
        fields["width"], fields["height"] = size
    else:
        fields["notes"].append("damaged: no picture size in the file")
    if not ended:
        fields["notes"].append("the end of the file is missing")
    exif = Image.Exif()
    exif.load(raw)
    return exif


def _png_parts(stream: BinaryIO) -> tuple[tuple[int, int] | None, bytes, bool]:
    """Width, height, EXIF block and whether the end is there (PNG specification, chunks IHDR and eXIf)."""
    size, exif = None, b""
    at = 8
    for _ in range(_MOST_CHUNKS):
        stream.seek(at)
        head = stream.read(8)
        if len(head) < 8:
            break
        length, name = struct.unpack(">I4s", head)
        if name == b"IHDR" and length == 13:
            width, height = struct.unpack(">II", stream.read(8).ljust(8, b"\0"))
            size = (width, height) if width and height else None
        elif name == b"eXIf" and length <= _LARGEST_EXIF:
            exif = b"Exif\0\0" + stream.read(length)
        at += 12 + length
        if name == b"IEND":
            return size, exif, True
    return size, exif, False


def _webp_parts(stream: BinaryIO) -> tuple[tuple[int, int] | None, bytes, bool]:
    """Width, height, EXIF block and whether the end is there (RFC 9649: RIFF chunks VP8X, VP8L, 'VP8 ', EXIF)."""
    size, exif = None, b""
    whole = int.from_bytes(stream.read(8)[4:8], "little") + 8
    at = 12
    for _ in range(_MOST_CHUNKS):
        stream.seek(at)
        head = stream.read(8)
        if len(head) < 8:
            break
        name, length = struct.unpack("<4sI", head)
        if name == b"EXIF" and length <= _LARGEST_EXIF:
            exif = stream.read(length)
            exif = exif if exif.startswith(b"Exif\0\0") else b"Exif\0\0" + exif
        elif size is None and name in (b"VP8X", b"VP8L", b"VP8 "):
            size = _webp_size(name, stream.read(10))
        at += 8 + length + length % 2
        if at >= whole:
            break
    return size, exif, whole <= stream.seek(0, os.SEEK_END)


def _webp_size(name: bytes, body: bytes) -> tuple[int, int] | None:
    if len(body) < 10:
        return None
    if name == b"VP8X":
        return int.from_bytes(body[4:7], "little") + 1, int.from_bytes(body[7:10], "little") + 1
    if name == b"VP8L":
        bits = int.from_bytes(body[1:5], "little")
        return (bits & 0x3FFF) + 1, (bits >> 14 & 0x3FFF) + 1
    width, height = struct.unpack("<HH", body[6:10])
    return (width & 0x3FFF, height & 0x3FFF) if body[3:6] == b"\x9d\x01\x2a" else None


def _moment(stamp: object, fraction: object, offset: object, what: str, notes: list[str]) -> When | None:
    text = one_line(stamp, 60)
    if not text.strip(" :0-"):
        return None
    match = _MOMENT.match(text)
    if not match:
        notes.append(f"{what} {text!r} is not a date and time; not used")
        return None
    zone = one_line(offset, 20)
    if rest := text[match.end() :].strip():
        if _ZONE.fullmatch(rest):  # some programs write the offset into the time itself
            zone = rest
        else:
            notes.append(f"{what} is followed by {rest!r}, which is not used")
    y, mo, d, h, mi, s = match.groups()
    moment = f"{y}-{mo}-{d}T{h}:{mi}:{s}"
    digits = one_line(fraction, 20)
    if digits.isascii() and digits.isdigit():
        moment += f".{digits[:6]}"
    if zone and zone.strip(" :"):
        if _ZONE.fullmatch(zone):
            moment += zone
        else:
            notes.append(f"offset {zone!r} of the {what} is none; the zone stays unknown")
    return moment_of(moment, what, notes)


def _place(gps: Any, notes: list[str]) -> Place | None:
    latitude, longitude = _angle(gps.get(2)), _angle(gps.get(4))
    if latitude is None or longitude is None:
        if any(_finite(v) for v in (gps.get(2), gps.get(4))):
            said = one_line(gps.get(2), 40), one_line(gps.get(4), 40)
            notes.append(f"position {said[0]!r}, {said[1]!r} is not in degrees, minutes and seconds; not used")
        return None
    north, east = one_line(gps.get(1))[:1].upper(), one_line(gps.get(3))[:1].upper()
    if north not in ("N", "S") or east not in ("E", "W"):
        notes.append("position without north or south, east or west; not used")
        return None
    altitude = _exact(gps.get(6))
    below = gps.get(5) in (1, b"\x01", 3, b"\x03")
    return place_of(
        -latitude if north == "S" else latitude,
        -longitude if east == "W" else longitude,
        -altitude if altitude is not None and below else altitude,
        notes,
    )


def _gps_time(gps: Any, notes: list[str]) -> When | None:
    date, clock = one_line(gps.get(29), 30), gps.get(7)
    match = re.match(r"(\d{4})[:/-](\d\d)[:/-](\d\d)", date)
    if not match or not isinstance(clock, tuple) or len(clock) != 3:
        return None
    parts = [_exact(c) for c in clock]
    if any(p is None or not 0 <= p < 61 for p in parts):
        notes.append("GPS time is not a time; not used")
        return None
    hour, minute, second = (p or Fraction(0) for p in parts)
    if hour.denominator != 1 or minute.denominator != 1:
        notes.append("GPS time is not a time; not used")
        return None
    whole, rest = divmod(second, 1)
    fraction = f".{int(rest * 1000):03d}" if rest else ""
    text = f"{'-'.join(match.groups())}T{int(hour):02d}:{int(minute):02d}:{int(whole):02d}{fraction}Z"
    return moment_of(text, "GPS time", notes)


def _angle(value: object) -> Fraction | None:
    """Degrees from degrees, minutes and seconds."""
    if not isinstance(value, tuple) or len(value) != 3:
        return None
    pairs = [_ratio(part) for part in value]
    if any(below == 0 for _, below in pairs):
        return None
    (d, d_of), (m, m_of), (s, s_of) = pairs
    return Fraction(
        d * m_of * s_of * 3600 + m * d_of * s_of * 60 + s * d_of * m_of, d_of * m_of * s_of * 3600
    )  # one fraction, not five: this runs for every photo


def _finite(value: object) -> bool:
    """Whether anything stands there but the "no number" that cameras write while they have no position."""
    parts = value if isinstance(value, tuple) else (value,)
    return any(part is not None and _ratio(part)[1] != 0 for part in parts)


def _exact(value: object) -> Fraction | None:
    """An EXIF rational as a fraction; 0/0, infinity and what is no number give ``None``."""
    above, below = _ratio(value)
    return Fraction(above, below) if below else None


def _ratio(value: Any) -> tuple[int, int]:
    """Numerator and denominator; 0 below for what is no number."""
    try:
        return int(value.numerator), int(value.denominator)
    except (ValueError, TypeError, ArithmeticError, AttributeError):
        pass
    try:
        return float(value).as_integer_ratio()
    except (ValueError, TypeError, ArithmeticError):
        return 0, 0


def _degrees(value: Fraction) -> str:
    return _plain(value, 7)


def _plain(value: Fraction, places: int) -> str:
    """Plain decimal text, rounded half to even; a :class:`Decimal` would do it at three times the cost."""
    scaled = round(value * 10**places)
    whole, rest = divmod(abs(scaled), 10**places)
    tail = f"{rest:0{places}d}".rstrip("0")
    return ("-" if scaled < 0 else "") + f"{whole}" + (f".{tail}" if tail else "")
