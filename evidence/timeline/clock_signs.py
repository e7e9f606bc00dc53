"""What the times in files say against each other: facts, each with what it does not show. Nobody is accused of anything.

Told are zones mixed within a shoot, a face that stands in a fold or a gap of the dossier's zone, a time that falls
while the numbering runs on, and times of one file that disagree with each other.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from evidence.model.dossier import Dossier, Recorded
from evidence.model.exhibit import Exhibit
from evidence.model.kinds import enumerated
from evidence.model.when import When
from evidence.timeline.clock_words import length, offset_words, zone_of
from evidence.timeline.clocks import Clocks, Correction, DeviceClock
from evidence.timeline.devices import Made, microseconds, stamp_of
from evidence.timeline.zones import times_shown

SignKind = Literal["mixed_zones", "repeated_hour", "skipped_hour", "time_falls", "times_disagree", "satellite_time"]
# A satellite time in a file is that of the last fix, which may be a minute old and more (common practice, no source).
_OLD_FIX = dt.timedelta(minutes=2)
_LAST_FIX = "The satellite time in a file is that of the last fix, which may be older than the picture."
_NOTICEABLE = dt.timedelta(seconds=2)  # two fields of one file that one clock wrote


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """A fact about times, the records that carry it, and its limits."""

    kind: SignKind
    records: tuple[str, ...]  # labels
    text: str
    limits: str

    def words(self) -> str:
        """Both in one line."""
        return f"{enumerated(self.records)}: {self.text}. {self.limits}"


def signs(dossier: Dossier, clocks: Clocks) -> tuple[Sign, ...]:
    """Every sign of a dossier, device by device, then file by file."""
    found: list[Sign] = []
    devices = {id(c.device): c.device for c in clocks.clocks}
    for device in devices.values():
        found += _mixed_zones(device.name, device.made)
    for clock in clocks.clocks:
        found += _falls(clock)
    if clocks.zone:
        found += _folds_and_gaps([m for d in devices.values() for m in d.made], clocks.zone)
    own = [e for e in dossier.of(Exhibit) if e.value.read and not e.value.derived_from]
    found += _satellites(own, clocks)
    for exhibit in own:
        found += _one_file(exhibit, clocks)
    return tuple(found)


def _mixed_zones(device: str, made: Iterable[Made]) -> Iterator[Sign]:
    """Files of one device and day that state different offsets, or of which some state one and some none."""
    days: dict[str, dict[str, list[str]]] = {}
    for m in made:
        offset = m.stamp.offset
        words = "no offset" if offset is None else offset_words(int(offset.total_seconds()) // 60)
        days.setdefault(m.when.given[:10], {}).setdefault(words, []).append(m.label)
    for day, offsets in days.items():
        if len(offsets) > 1:
            told = "; ".join(f"{enumerated(labels)} {words}" for words, labels in offsets.items())
            yield Sign(
                kind="mixed_zones", records=tuple(x for labels in offsets.values() for x in labels),
                text=f"{device} states more than one zone on {day}: {told}",
                limits="A device that takes its zone from the network changes it at a border; a program may add one later.",
            )  # fmt: skip


def _falls(clock: DeviceClock) -> Iterator[Sign]:
    for fall in clock.settings.falls:
        by = length(microseconds(fall.by))
        hour = abs(fall.by - dt.timedelta(hours=1)) < dt.timedelta(minutes=10)
        yield Sign(
            kind="time_falls", records=(fall.before.label, fall.after.label),
            text=f"the numbering of {clock.device.name} runs on, the time falls by {by} or more "
                 f"({fall.before.when.given}, then {fall.after.when.given})",
            limits="The clock was set back in between"
                   + (" (an hour is what the end of summer time takes)" if hour else "")
                   + ", or the files were renumbered or come from two devices of one type.",
        )  # fmt: skip


def _folds_and_gaps(made: Iterable[Made], zone: str) -> Iterator[Sign]:
    twice: list[Made] = []
    never: list[Made] = []
    for m in made:
        shown = "once" if m.stamp.utc else times_shown(m.stamp.face.earliest, zone)
        (twice if shown == "twice" else never if shown == "never" else []).append(m)
    if twice:
        yield Sign(
            kind="repeated_hour", records=tuple(m.label for m in twice),
            text=f"{twice[0].when.given} came twice in {zone}: the clocks went back over it",
            limits="The file states no offset, so either may be meant; a reference for this clock can decide it.",
        )  # fmt: skip
    if never:
        yield Sign(
            kind="skipped_hour", records=tuple(m.label for m in never),
            text=f"{never[0].when.given} did not exist in {zone}: the clocks went forward over it",
            limits="The device's clock was set to another zone, or had not been moved.",
        )  # fmt: skip


def _one_file(exhibit: Recorded[Exhibit], clocks: Clocks) -> Iterator[Sign]:
    read = exhibit.value.read
    assert read is not None
    if read.captured and read.container_time:
        yield from _differ(exhibit, read.captured, read.container_time, "the container's time of creation",
                           "Some devices write their local time there as if it were UTC.")  # fmt: skip
    if read.captured and read.changed and _earlier(read.changed, read.captured):
        yield Sign(
            kind="times_disagree", records=(exhibit.label,),
            text=f"changed {read.changed.given}, which is before it was captured ({read.captured.given})",
            limits="One of the two was written by a clock that was wrong, in another zone, or by a program.",
        )  # fmt: skip
    yield from _recorders_word(exhibit, clocks)


def _recorders_word(exhibit: Recorded[Exhibit], clocks: Clocks) -> Iterator[Sign]:
    """What the recorder says of the capture, against the device's clock: put right, or as it stands."""
    taken, read = exhibit.value.taken, exhibit.value.read
    c = clocks.corrections.get(exhibit.subject)
    captured = read.captured if read else None
    if taken and captured and c is None:
        apart = max(taken.span.earliest - captured.span.latest, captured.span.earliest - taken.span.latest)
        if apart > _NOTICEABLE:
            yield Sign(
                kind="times_disagree", records=(exhibit.label,),
                text=f"taken {taken.words()} by the recorder's word, captured {captured.words()} by the device's clock: "
                     f"{length(microseconds(apart))} apart or more",
                limits="The device's clock is held against no reference, so either may be wrong; the rules use the recorder's word.",
            )  # fmt: skip
    if (
        taken
        and c
        and c.when != taken
        and (taken.span.latest < c.after.earliest or c.after.latest < taken.span.earliest)
    ):
        yield Sign(
            kind="times_disagree", records=(exhibit.label, *c.references),
            text=f"taken {taken.words()} by the recorder's word, which the camera's clock, put right, does not bear out",
            limits="The recorder may have written the time later or rounded it; the rules use the recorder's word.",
        )  # fmt: skip


def _satellites(exhibits: Iterable[Recorded[Exhibit]], clocks: Clocks) -> Iterator[Sign]:
    """Satellite time against camera time; files of one device that tell the same are told together."""
    zones: dict[tuple[str, int], list[tuple[str, Fraction]]] = {}
    for exhibit in exhibits:
        read = exhibit.value.read
        if read is None or read.captured is None or read.gps_time is None:
            continue
        stamp = stamp_of(read.captured)
        shift = Fraction(microseconds(read.gps_time.span.middle - (stamp.utc or stamp.face).middle))
        correction = clocks.corrections.get(exhibit.subject)
        zone = None if stamp.utc else zone_of(shift, 0)
        if correction and correction.when == read.captured:
            yield from _beside_references(correction, read.gps_time)
        elif zone is not None:
            device = exhibit.value.device or read.device or "a device that is not named"
            zones.setdefault((device, zone), []).append((exhibit.label, shift + zone * 60_000_000))
        elif stamp.utc is None or abs(shift) > microseconds(_OLD_FIX):
            text = (
                f"satellite time {read.gps_time.given} and the camera's {read.captured.given} are {length(shift)} apart"
            )
            yield Sign(kind="satellite_time", records=(exhibit.label,), text=text, limits=_LAST_FIX)
    for (device, zone), files in zones.items():
        rests = sorted(rest for _, rest in files)
        apart = " to ".join(dict.fromkeys(_beside(r) for r in (rests[0], rests[-1])))
        text = f"the satellite time fits {device} on {offset_words(zone)}, {apart}"
        yield Sign(kind="satellite_time", records=tuple(label for label, _ in files), text=text, limits=_LAST_FIX)


def _beside(rest: Fraction) -> str:
    return f"{length(rest)} {'behind' if rest > 0 else 'ahead of'} it"


def _beside_references(correction: Correction, gps: When) -> Iterator[Sign]:
    """A fix may be old, so a satellite time may lie well before; after the picture it cannot lie."""
    after = correction.after
    if gps.span.earliest > after.latest + _NOTICEABLE or gps.span.latest < after.earliest - _OLD_FIX:
        yield Sign(
            kind="satellite_time", records=(correction.label, *correction.references),
            text=f"the satellite time {gps.given} lies outside the time that the references give", limits=_LAST_FIX,
        )  # fmt: skip


def _differ(exhibit: Recorded[Exhibit], captured: When, other: When, what: str, limits: str) -> Iterator[Sign]:
    apart = max(other.span.earliest - captured.span.latest, captured.span.earliest - other.span.latest)
    # Where a zone is not known its span reaches over all zones: what lies outside of that is apart in every one.
    if apart > _NOTICEABLE:
        known = captured.zone_known and other.zone_known
        by = length(microseconds(other.span.middle - captured.span.middle if known else apart))
        yield Sign(
            kind="times_disagree", records=(exhibit.label,),
            text=f"captured {captured.given}, but {what} is {other.given}: {by} apart" + ("" if known else " or more, in any zone"),
            limits=limits,
        )  # fmt: skip


def _earlier(first: When, second: When) -> bool:
    """Whether ``first`` is surely earlier, by the face where both are faces of one clock."""
    one, two = stamp_of(first), stamp_of(second)
    if one.utc and two.utc:
        return one.utc.latest + _NOTICEABLE <= two.utc.earliest
    return one.utc is None and two.utc is None and one.face.latest + _NOTICEABLE <= two.face.earliest
