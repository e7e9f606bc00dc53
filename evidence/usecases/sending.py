"""A letter that a person has sent: the paper as it went out and the proof of it become exhibits, named by the letter's record.

The program sends nothing; what is recorded is somebody's word and the files that stand behind it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pydantic import ValidationError

from evidence.errors import MistakesFound
from evidence.model.base import Json
from evidence.model.dossier import Dossier
from evidence.model.exhibit import Exhibit
from evidence.model.kinds import label_of
from evidence.model.mistakes import mistakes_of
from evidence.model.people import Correspondence
from evidence.ports import Desk, Source, Writer
from evidence.usecases.authoring import words_context
from evidence.usecases.heeding import heed
from evidence.usecases.pen import Pen, need, read_dossier, recorder_party
from evidence.usecases.record import take_one
from evidence.usecases.review import writer_party


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """Labels of what was recorded, and what the guards say to it."""

    letters: tuple[str, ...]
    exhibits: tuple[tuple[str, str, bool], ...]  # label, SHA-256, whether it was taken in now
    warnings: tuple[str, ...]


def record_sent(desk: Desk, dossier: str, letters: Sequence[Json], files: Sequence[tuple[Source, str]]) -> Sent:
    """Record a letter that went out, all or nothing: its ``files`` with their captions, and what it was.

    ``letters`` are fields of correspondence with subjects as sender and receiver; one paper may be several things, such
    as notice and offer to inspect. Raises :class:`MistakesFound` before any file is stored.
    """
    with desk.ledgers.reading() as view:
        held = read_dossier(view, need(view, dossier))
        sizes = view.stored_sizes()
    records = [_validated(desk, held, fields) for fields in letters]
    taken = [(take_one(desk, source, sizes), caption) for source, caption in files]
    with desk.ledgers.writing() as work:
        ledger = need(work, dossier)
        work.state(ledger)  # from here on nobody else writes to it
        known = {e.value.file.sha256: e for e in read_dossier(work, ledger).of(Exhibit) if e.value.file}
        pen = _pen(desk, work, ledger)
        subjects, told = [], []
        for file, caption in taken:
            assert file.file
            if same := known.get(file.file.sha256):
                subjects.append(same.subject)
                told.append((same.label, file.file.sha256, False))
                continue
            subjects.append(desk.ids.subject())
            numbered = pen.record(Exhibit(caption=caption, file=file.file, read=file.facts), subjects[-1])
            told.append((label_of(*numbered), file.file.sha256, True))
        shown = {"exhibits": tuple(subjects)}
        labels = [label_of(*pen.record(r.model_copy(update=shown), desk.ids.subject())) for r in records]
        warned = heed(desk, work, pen)
        pen.put_down()
        work.commit()
    return Sent(letters=tuple(labels), exhibits=tuple(told), warnings=warned)


def _validated(desk: Desk, held: Dossier, fields: Json) -> Correspondence:
    context = words_context(desk, held.opening.zone or desk.zone, lambda subject, _kinds: subject)
    try:
        return Correspondence.handed_in(fields, context)
    except ValidationError as err:
        found = mistakes_of(err, Correspondence, file="", item=Correspondence.label)
        raise MistakesFound(found, advice="Mend the options named and run the command again.") from None


def _pen(desk: Desk, work: Writer, ledger: str) -> Pen:
    """A pen for the workspace's recorder, who is recorded as a party first where he is not yet."""
    own = writer_party(work, ledger, desk.recorder.full_name)
    if own:
        return Pen(desk, work, ledger, recorded_by=own, via="command")
    own = desk.ids.subject()
    pen = Pen(desk, work, ledger, recorded_by=own, via="command")
    pen.record(recorder_party(desk), own)
    return pen
