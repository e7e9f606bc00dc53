"""Which device made what, in which order, what its clock wrote on it, and where that clock was held against the time.

Files are put to a device by the recorder's word, else by what they state; all that state the same are taken for one
device. A derived copy was made by no device.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

from evidence.model.clock import ClockReference
from evidence.model.dossier import Dossier, Recorded
from evidence.model.examination import ActuatorTest, CodeScan, Measurement, Observation
from evidence.model.exhibit import Exhibit
from evidence.model.instrument import Instrument
from evidence.model.waveform import Waveform
from evidence.model.when import TimeSpan, When, span_of

_EAST, _WEST = dt.timedelta(hours=14), dt.timedelta(hours=12)  # how far a time of unknown zone is spread
_OFFSET = re.compile(r"\s?([Zz]|[+-]\d{2}:\d{2})$", re.ASCII)
_NUMBERED = re.compile(r"([A-Za-z_\-]*)(\d{3,6})", re.ASCII)
_MICROSECOND = dt.timedelta(microseconds=1)


@dataclass(frozen=True, slots=True)
class Stamp:
    """A reading of a device's clock: as its face showed it (written as if UTC), and in UTC where it states its offset."""

    face: TimeSpan
    utc: TimeSpan | None

    @property
    def offset(self) -> dt.timedelta | None:
        """How far the face was ahead of UTC, as the device itself states."""
        return self.face.earliest - self.utc.earliest if self.utc else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """Something a device stamped with its time. ``series`` and ``number`` are those of a numbered file."""

    subject: str
    label: str
    when: When
    stamp: Stamp
    series: str = ""
    number: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A clock reference: the reading, and the span in which the true time surely lies."""

    label: str
    stamp: Stamp
    true: TimeSpan
    half_width: Fraction  # of the true time, microseconds
    series: str = ""
    number: int | None = None
    set_after: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """A camera, phone, recorder or tool."""

    name: str
    made: tuple[Made, ...]
    held: tuple[Held, ...]
    unread: tuple[str, ...] = ()  # references that state no reading of this device's clock


@dataclass(slots=True)
class _Gathered:
    name: str
    made: dict[str, Made] = field(default_factory=dict)
    files_say: set[str] = field(default_factory=set)
    held: list[Held] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)


def stamp_of(when: When) -> Stamp:
    """What a device's clock wrote, as its face showed it and as UTC where it says how far it is from that."""
    try:
        read = span_of(_OFFSET.sub("", when.given) if " / " not in when.given else when.given, None)
    except ValueError:  # second 60, which exists only in UTC
        return Stamp(when.span, when.span)
    face = TimeSpan(read.earliest + _EAST, read.latest - _WEST)
    return Stamp(face, when.span if when.zone_known else None)


def stamped(exhibit: Exhibit) -> When | None:
    """The time that the device's own clock gave it: copied by the recorder and said to be that, else as in the file."""
    if exhibit.taken and exhibit.taken.source == "device_clock":
        return exhibit.taken
    return exhibit.read.captured if exhibit.read else None


def numbered(name: str) -> tuple[str, int] | None:
    """Series and number of a file name such as ``IMG_0042.JPG``; none where digits stand elsewhere, as in a date."""
    match = _NUMBERED.fullmatch(name.rpartition("/")[2].rpartition(".")[0])
    return (match[1].casefold(), int(match[2])) if match else None


def microseconds(length: dt.timedelta) -> int:
    """A length of time as a whole number of microseconds."""
    return length // _MICROSECOND


def originals(dossier: Dossier) -> dict[str, Recorded[Exhibit]]:
    """Each standing exhibit, and for a derived copy what it was made from in the end: a copy says nothing of its own.

    A copy of what is withdrawn or not held stands for nothing and is left out.
    """
    standing = {e.subject: e for e in dossier.of(Exhibit)}
    found: dict[str, Recorded[Exhibit]] = {}
    for subject, exhibit in standing.items():
        root: Recorded[Exhibit] | None = exhibit
        while root is not None and root.value.derived_from:  # points to what was recorded earlier: no circles
            root = standing.get(root.value.derived_from)
        if root is not None:
            found[subject] = root
    return found


def devices_of(dossier: Dossier) -> tuple[Device, ...]:
    """Every device that stamped an exhibit or reading, and every one whose clock was held against the time."""
    found: dict[str, _Gathered] = {}
    for exhibit in dossier.of(Exhibit):
        _place_exhibit(exhibit, found)
    instruments = {i.subject: f"{i.label}, {i.value.description}" for i in dossier.of(Instrument)}
    for subject, name in instruments.items():
        made = _by_instrument(dossier, subject)
        if made:
            found[subject] = _Gathered(name, made)
    for reference in dossier.of(ClockReference):
        gathered = _gathered_for(reference.value, found, instruments)
        if held := _held(reference, gathered):
            gathered.held.append(held)
        else:
            gathered.unread.append(reference.label)
    return tuple(
        Device(name=g.name, made=tuple(g.made.values()), held=tuple(g.held), unread=tuple(g.unread))
        for g in found.values()
    )  # fmt: skip


def _word(text: str) -> str:
    return " ".join(text.split()).casefold()


def _place_exhibit(exhibit: Recorded[Exhibit], found: dict[str, _Gathered]) -> None:
    v = exhibit.value
    by_file = v.read.device if v.read else None
    name, when = v.device or by_file, stamped(v)
    if not name or v.derived_from or when is None:
        return
    gathered = found.setdefault(_word(name), _Gathered(name))
    series, number = (numbered(v.file.name) if v.file else None) or ("", None)
    gathered.made[exhibit.subject] = Made(
        subject=exhibit.subject, label=exhibit.label, when=when, stamp=stamp_of(when), series=series, number=number
    )
    if by_file:
        gathered.files_say.add(_word(by_file))


def _by_instrument(dossier: Dossier, subject: str) -> dict[str, Made]:
    """Records that carry the time of the instrument they were read with, and say so."""
    made: dict[str, Made] = {}
    for cls in (CodeScan, Observation, Measurement, ActuatorTest, Waveform):
        for r in dossier.of(cls):
            time = r.value.time
            if r.value.instrument == subject and time and time.source == "device_clock":
                made[r.subject] = Made(subject=r.subject, label=r.label, when=time, stamp=stamp_of(time))
    return made


def _gathered_for(value: ClockReference, found: dict[str, _Gathered], instruments: dict[str, str]) -> _Gathered:
    """The device a reference speaks of: by the recorder's word for it, else by what files of one device state."""
    if value.instrument:
        return found.setdefault(
            value.instrument, _Gathered(instruments.get(value.instrument, "an instrument not held"))
        )
    word = _word(value.device or "")
    stating = [g for key, g in found.items() if key != word and word in g.files_say]
    if word not in found and len(stating) == 1:
        return stating[0]
    return found.setdefault(word, _Gathered(value.device or ""))


def _held(reference: Recorded[ClockReference], gathered: _Gathered) -> Held | None:
    value = reference.value
    own = next((gathered.made[e] for e in value.exhibits if e in gathered.made), None)
    stamp = stamp_of(value.clock_showed) if value.clock_showed else own.stamp if own else None
    if stamp is None:
        return None
    return Held(
        label=reference.label, stamp=stamp, true=value.true_time.span, half_width=value.half_width,
        series=own.series if own else "", number=own.number if own else None, set_after=bool(value.clock_set_after),
    )  # fmt: skip


def in_number_order(made: Iterable[Made]) -> list[tuple[Made, Made]]:
    """Neighbours in the numbering of one series, near enough that the counter did not start anew in between."""
    numbered_ones = sorted((m for m in made if m.number is not None), key=lambda m: (m.series, m.number, m.label))
    return [
        (a, b) for a, b in pairwise(numbered_ones)
        if a.series == b.series and a.number is not None and b.number is not None and 0 < b.number - a.number <= 1000
    ]  # fmt: skip
