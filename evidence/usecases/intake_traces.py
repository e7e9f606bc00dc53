"""What an author stated, apart from what the program read; and reading the traces of a folder that is taken in."""

from __future__ import annotations

from dataclasses import replace

from evidence.errors import Mistake, MistakesFound
from evidence.model.base import Json, Record
from evidence.model.dossier import Dossier, Recorded
from evidence.model.vehicle import Vehicle
from evidence.model.waveform import Waveform
from evidence.ports import Desk, Folder
from evidence.usecases.handed_in import HandedIn
from evidence.usecases.traces import engine_of, files_of, with_reading

VIA = "intake "  # how an entry of an intake says where it comes from


def stated_part(body: Json) -> Json:
    """What an author stated: without what the program read from a file."""
    return {k: v for k, v in body.items() if k != "read"}


def was_stated(known: Recorded[Record], record: Record) -> bool:
    """Whether the newest entry of an intake says the same."""
    last = next((v for v in reversed(known.versions) if v.via.startswith(VIA)), None)
    return last is not None and stated_part(last.body) == stated_part(record.body())


def changed_elsewhere(known: Recorded[Record]) -> bool:
    """Whether anything but an intake has changed what was stated; a trace read again has not."""
    last = next((v for v in reversed(known.versions) if v.via.startswith(VIA)), None)
    if last is known.newest:
        return False
    return last is None or known.withdrawn or stated_part(known.newest.body) != stated_part(last.body)


def with_traces(desk: Desk, folder: Folder, handed: HandedIn, held: Dossier | None) -> HandedIn:
    """The folder's records, waveforms with what the program read from their files; those unchanged are not read again.

    Raises :class:`MistakesFound` for every trace that is no such table.
    """
    if not any(isinstance(s.record, Waveform) for s in handed.records):
        return handed
    before = [(r.subject, r.value) for r in held.by_subject.values() if not r.withdrawn] if held else []
    every = dict(before) | {s.subject: s.record for s in handed.records}
    engine = engine_of(r for r in every.values() if isinstance(r, Vehicle))
    files = files_of(every.items())
    records, mistakes = [], []
    for stated in handed.records:
        known = held.get(stated.subject) if held else None
        if isinstance(stated.record, Waveform) and not (known and was_stated(known, stated.record)):
            try:
                read = with_reading(desk, stated.record, files.get(stated.record.trace), engine)
            except (ValueError, OSError) as err:
                line, column = folder.locate((*stated.path, "trace"))
                mistakes.append(Mistake(folder.title, line, column, stated.name, f"its trace: {err}"))
                continue
            stated = replace(stated, record=read)
        records.append(stated)
    if mistakes:
        raise MistakesFound(mistakes)
    return replace(handed, records=tuple(records))
