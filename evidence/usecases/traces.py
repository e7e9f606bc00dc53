"""Reading the traces of waveform records: when they are taken in, again when a person asks, and when all is rechecked."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from evidence.errors import EvidenceError, Mistake, MistakesFound, NotFound
from evidence.model.base import Record, say
from evidence.model.dossier import Dossier, Recorded
from evidence.model.exhibit import Exhibit
from evidence.model.vehicle import Vehicle
from evidence.model.waveform import Engine, Feature, NotRead, TraceReading, Waveform
from evidence.ports import Desk, FilePath, ReadTrace
from evidence.usecases.pen import need, read_dossier

_SAME = Decimal("0.1")  # of the uncertainty: what machines may differ by in their last digits


@dataclass(frozen=True, slots=True)
class Reread:
    """What came of reading a trace again."""

    label: str
    verdict: Literal["same", "differs", "other_version", "not_here"]
    words: str
    reading: TraceReading | None = None


def engine_of(vehicles: Iterable[Vehicle]) -> Engine:
    """The engine, by the vehicle records."""
    cylinders, order = None, tuple[str, ...]()
    for vehicle in vehicles:
        cylinders = vehicle.counts.get("cylinder", cylinders)
        order = vehicle.firing_order or order
    return Engine(cylinders or len(order) or None, order)


def with_reading(desk: Desk, waveform: Waveform, sha256: str | None, engine: Engine) -> Waveform:
    """The record with what the program reads from its file. ``ValueError`` where the file is no such table."""
    if not waveform.asked:
        return waveform.model_copy(update={"read": None})
    if sha256 is None:
        raise ValueError("its trace is no file, so nothing can be read from it")
    reading = desk.read_trace(desk.originals.path(sha256), waveform, engine)
    return waveform.model_copy(update={"read": reading})


def with_reading_from(desk: Desk, held: Dossier, waveform: Waveform) -> Waveform:
    """The same for a record of a dossier that is there; a file that is no such table is a mistake of the record."""
    engine = engine_of(v.value for v in held.of(Vehicle))
    try:
        return with_reading(desk, waveform, _file_of(held, waveform), engine)
    except (ValueError, OSError) as err:
        raise MistakesFound([Mistake("", 0, 0, waveform.name or waveform.title, f"its trace: {err}")]) from None


def files_of(records: Iterable[tuple[str, Record]]) -> Mapping[str, str]:
    """Subject of an exhibit -> SHA-256 of its file."""
    return {subject: r.file.sha256 for subject, r in records if isinstance(r, Exhibit) and r.file}


def read_again(desk: Desk, dossier: str, which: str) -> tuple[TraceReading | None, TraceReading]:
    """What the program read from a waveform when it was recorded, and what it reads now. Nothing is recorded."""
    with desk.ledgers.reading() as view:
        ledger = need(view, dossier)
        known = view.named(ledger, which)
        held = read_dossier(view, ledger)
    found = held.get(known.subject) if known else None
    if found is None or not isinstance(found.value, Waveform):
        raise NotFound("no such waveform in this dossier", item=which, advice="'evidence show' lists them.")
    if not found.value.asked:
        raise EvidenceError(
            "does not say what is to be read", item=found.label,
            advice="Name features under 'find' of its channels; 'evidence schema waveforms' lists them.",
        )  # fmt: skip
    now = with_reading_from(desk, held, found.value).read
    assert now is not None
    return found.value.read, now


def rereadings(dossier: Dossier, read: ReadTrace, path: Callable[[str], FilePath | None]) -> Iterator[Reread]:
    """Read every standing trace that the program read again, with the engine as it was then."""
    for recorded in dossier.of(Waveform):
        if recorded.value.read:
            yield _reread(recorded, recorded.value.read, dossier, read, path)


def _reread(
    recorded: Recorded[Waveform], old: TraceReading, dossier: Dossier, read: ReadTrace,
    path: Callable[[str], FilePath | None],
) -> Reread:  # fmt: skip
    sha256 = _file_of(dossier, recorded.value)
    there = path(sha256) if sha256 else None
    if there is None:
        return Reread(recorded.label, "not_here", "cannot be read again here: its file is not held")
    try:
        new = read(there, recorded.value, Engine(old.cylinders, old.firing_order))
    except (ValueError, OSError) as err:
        return Reread(recorded.label, "not_here", f"cannot be read again here: {err}")
    other = differences(old, new)
    if not other:
        return Reread(recorded.label, "same", "its file gives the recorded features again", new)
    what = f"its file gives other features than recorded: {'; '.join(other)}"
    if new.program == old.program:
        return Reread(recorded.label, "differs", what, new)
    return Reread(recorded.label, "other_version", f"{what} (read by {old.program}, here is {new.program})", new)


def differences(old: TraceReading, new: TraceReading) -> list[str]:
    """What two readings of one file do not agree on, in words."""
    before, after = (_by_place(r.features) for r in (old, new))
    refused_before, refused_after = (_by_place(r.not_read) for r in (old, new))
    told = []
    for place in dict.fromkeys((*before, *refused_before, *after, *refused_after)):
        was, is_ = before.get(place), after.get(place)
        if was and is_ and not _agree(was, is_):
            told.append(f"{_named(place)} {was.amount()}, now {is_.amount()}")
        elif was and not is_:
            told.append(f"{_named(place)} {was.amount()}, now not read")
        elif is_ and not was:
            told.append(f"{_named(place)} not read, now {is_.amount()}")
        elif not was and (place in refused_before) != (place in refused_after):
            told.append(f"{_named(place)} asked for once and not both times")
    return told


def _by_place(found: Sequence[Feature] | Sequence[NotRead]) -> dict[tuple[str, str, str | None], Feature]:
    return {(f.feature, f.of, f.position): f for f in found}  # type: ignore[misc]  # of a refusal only the place is used


def _named(place: tuple[str, str, str | None]) -> str:
    return " ".join(say(part) for part in place if part)


def _agree(was: Feature, is_: Feature) -> bool:
    if was.unit != is_.unit:
        return False
    slack = _SAME * Decimal(was.uncertainty or 0)
    return abs(Decimal(was.value) - Decimal(is_.value)) <= slack


def _file_of(held: Dossier, waveform: Waveform) -> str | None:
    exhibit = held.get(waveform.trace)
    file = exhibit.value.file if exhibit and isinstance(exhibit.value, Exhibit) else None
    return file.sha256 if file else None
