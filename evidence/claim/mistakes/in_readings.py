"""Mistakes in what was read and pictured: clocks, distances, instruments, conditions, twins, files."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from evidence.claim.mistakes.ground import Made, at, nowhere, taken
from evidence.model.base import say
from evidence.model.clock import ClockReference
from evidence.model.dossier import Dossier
from evidence.model.examination import CodeScan, Measurement
from evidence.model.exhibit import Exhibit
from evidence.model.happening import Event
from evidence.model.instrument import Instrument
from evidence.model.kinds import enumerated
from evidence.model.repair import WorkOrder
from evidence.model.vehicle import OdometerReading
from evidence.model.waveform import Waveform
from evidence.rules.assessment import Assessment
from evidence.timeline.states import sure_before

# What these read depends on the load and on what runs. Common practice, no source.
_UNDER_LOAD: Final = ("voltage", "current", "pressure", "signal")
_COVERED = re.compile(r"^1 of (\d+) ")


def no_time_base(dossier: Dossier) -> Iterator[Made]:
    """Pictures timed by a clock that nobody checked; readings with no time at all."""
    timed = [
        e.label for e in dossier.of(Exhibit) if e.value.read and e.value.read.captured and not e.value.derived_from
    ]
    if timed and not dossier.of(ClockReference):
        yield nowhere(
            "no_time_base",
            f"No clock was held against a reference; by their devices alone are timed: {enumerated(timed)}.",
        )
    for record in taken(dossier):
        if record.value.time is None and not record.value.exhibits:
            yield at(record, "no_time_base", f"{record.label} says not when.")


def no_odometer(dossier: Dossier) -> Iterator[Made]:
    """No reading at the prior work, at the first sign, or now."""
    for order in dossier.of(WorkOrder):
        if order.value.side == "prior_repairer" and order.value.odometer_at_close is None:
            yield at(order, "no_odometer", f"{order.label} (prior work) carries no odometer reading.")
    for event in dossier.of(Event):
        if event.value.what == "onset" and event.value.odometer is None:
            yield at(event, "no_odometer", f"{event.label} (first sign) carries no odometer reading.")
    if not dossier.of(OdometerReading):
        yield nowhere("no_odometer", "No odometer reading of the present shop is on record.")


def instrument_unproven(dossier: Dossier) -> Iterator[Made]:
    """Numbers read with an instrument that is not named, or that nobody shows to be right."""
    nameless = [r for r in taken(dossier) if isinstance(r.value, Measurement | Waveform) and r.value.instrument is None]
    for record in nameless:
        yield at(record, "instrument_unproven", f"{record.label} says not with what.")
    used = {r.value.instrument for r in taken(dossier) if isinstance(r.value, Measurement | Waveform)}
    for instrument in dossier.of(Instrument):
        v = instrument.value
        lacks = [
            words
            for words, held in (
                ("a serial number", v.serial),
                ("a calibration or check", v.calibrated or v.checked_against),
            )
            if not held
        ]
        if instrument.subject in used and lacks:
            yield at(
                instrument,
                "instrument_unproven",
                f"{instrument.label} ({v.description}) is without {' and '.join(lacks)}.",
            )


def reading_unrepeatable(dossier: Dossier) -> Iterator[Made]:
    """A reading that hangs on load or running, and says neither."""
    for record in dossier.of(Measurement):
        v = record.value
        if v.quantity.startswith(_UNDER_LOAD) and not v.conditions and not v.circumstances:
            yield at(
                record, "reading_unrepeatable", f"{record.label} ({v.summary()}) says nothing of load or conditions."
            )


def one_part_only(dossier: Dossier, assessment: Assessment) -> Iterator[Made]:
    """A finding answered from one of several like parts."""
    by_label = {r.label: r for r in dossier.by_subject.values()}
    told: set[str] = set()
    for candidate in assessment.candidates:
        for finding in candidate.findings:
            record = by_label.get(finding.records[0]) if finding.records else None
            only = _COVERED.match(finding.coverage)
            if record and only and int(only.group(1)) > 1 and record.subject not in told:
                told.add(record.subject)
                yield at(record, "one_part_only", f"{record.label} covers {finding.coverage}.")


def picture_stripped(dossier: Dossier) -> Iterator[Made]:
    """A photo whose file holds neither time nor device; a read-out of which only a picture is kept."""
    shots = {e.subject: e for e in dossier.of(Exhibit)}
    for shot in shots.values():
        read = shot.value.read
        if read and read.media == "photo" and not (read.captured or read.device or shot.value.derived_from):
            yield at(
                shot,
                "picture_stripped",
                f"The file of {shot.label} ({shot.value.summary()}) holds neither time nor device.",
            )
    for scan in dossier.of(CodeScan):
        media = {e.value.read.media for s in scan.value.exhibits if (e := shots.get(s)) and e.value.read}
        if media == {"photo"}:
            yield at(scan, "picture_stripped", f"Of {scan.label} only a picture is kept, not the file.")


def picture_altered(dossier: Dossier) -> Iterator[Made]:
    """A photo that says of itself that it was changed, and names no original."""
    for shot in dossier.of(Exhibit):
        read = shot.value.read
        if not read or read.media != "photo" or shot.value.derived_from or not (read.captured and read.changed):
            continue
        if sure_before(read.captured.span, read.changed.span):
            by = f" by {say(read.software)}" if read.software else ""
            yield at(shot, "picture_altered", f"{shot.label} was taken {read.captured.given} and changed {read.changed.given}{by}; it "
                     "names no original.")  # fmt: skip
