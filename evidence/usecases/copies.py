"""Annotated and redacted copies: making one as a new exhibit, and doing its operations again to see that they give it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from pydantic import ValidationError

from evidence.errors import EvidenceError, Mistake, MistakesFound, NotFound, SourceUnusable
from evidence.model.base import Json
from evidence.model.copies import CopyForm, Operation, told_briefly
from evidence.model.dossier import Dossier, Recorded
from evidence.model.exhibit import Exhibit
from evidence.model.mistakes import mistakes_of
from evidence.ports import Copier, Desk, FilePath, Source
from evidence.usecases.pen import need, read_dossier
from evidence.usecases.record import Entered, record_one

_LIMITS = (
    "the original and whatever is blacked out here stay in the workspace; what its record says in words "
    "(text of a document, place) is not blacked out with it"
)


@dataclass(frozen=True, slots=True)
class Replay:
    """What came of doing a copy's operations again."""

    label: str
    verdict: Literal["same", "same_pixels", "differs", "not_here"]
    words: str


def make_copy(
    desk: Desk, dossier: str, which: str, operations: Sequence[Any], form: CopyForm | None, fields: Json
) -> Entered:
    """Draw a copy of an exhibit and record it as a new one. ``fields`` are further fields of the exhibit."""
    with desk.ledgers.reading() as view:
        ledger = need(view, dossier)
        known = view.named(ledger, which)
        held = read_dossier(view, ledger)
    found = held.get(known.subject) if known else None
    if found is None or not isinstance(found.value, Exhibit):
        raise NotFound("no such exhibit in this dossier", item=which, advice="'evidence show' lists them.")
    original = found.value
    done = _validated(operations)
    if found.withdrawn or original.file is None or original.read is None:
        raise EvidenceError("is withdrawn" if found.withdrawn else "has no file to copy", item=found.label)
    if original.derived_from:
        raise EvidenceError(
            "is a derived copy itself", item=found.label,
            advice=f"Make the copy from {held.label(original.derived_from)}, with all operations together.",
        )  # fmt: skip
    path = desk.originals.path(original.file.sha256)
    with desk.copier.draw(path, original.read, done, form) as drawn:
        if drawn.made.source != original.file.sha256:
            raise EvidenceError(
                "the stored original is not as it was recorded", item=found.label, advice="Run 'evidence recheck'."
            )
        name = f"exhibit-{found.number:04}-copy.{'png' if drawn.made.form == 'png' else 'jpg'}"
        given = {
            "derived_from": which, **fields, "operations": [o.model_dump(exclude_none=True) for o in done],
        }  # fmt: skip
        source = Source(drawn.path, name, None, drawn.size)
        entered = record_one(desk, dossier, Exhibit.kind, given, source, made=drawn.made)
    told = f"derived from {found.label}: {told_briefly(done)}"
    return Entered(label=entered.label, summary=told, notes=(_LIMITS,))


def replays(dossier: Dossier, copier: Copier, path: Callable[[str], FilePath | None]) -> Iterator[Replay]:
    """Do the operations of every standing copy that the program made again.

    ``path`` gives the file of a SHA-256, or None where it is not held: an original may have been withheld.
    """
    for copy in dossier.of(Exhibit):
        if copy.value.made and copy.value.file:
            yield _replay(copy, dossier, copier, path)


def _replay(
    copy: Recorded[Exhibit], dossier: Dossier, copier: Copier, path: Callable[[str], FilePath | None]
) -> Replay:
    made, file = copy.value.made, copy.value.file
    assert made
    assert file
    source = dossier.get(copy.value.derived_from or "")
    original = source.value if source and isinstance(source.value, Exhibit) else None
    there = path(made.source)
    if original is None or original.read is None or there is None:
        return Replay(copy.label, "not_here", "cannot be replayed here: its original is not held")
    try:
        with copier.draw(there, original.read, copy.value.operations, made.form) as drawn:
            again, digest = drawn.made, drawn.sha256
    except (SourceUnusable, OSError) as err:
        return Replay(copy.label, "not_here", f"cannot be replayed here: its original {err}")
    if digest == file.sha256:
        return Replay(copy.label, "same", "its operations give this file again, byte for byte")
    if again.source != made.source:
        return Replay(
            copy.label, "not_here", "cannot be replayed here: the file of its original is not the one recorded"
        )
    if again.program == made.program:
        return Replay(copy.label, "differs", "is not what its recorded operations give, with the same versions")
    if again.pixels == made.pixels:
        return Replay(copy.label, "same_pixels", "its operations give the recorded pixels; encoded by another version")
    return Replay(copy.label, "not_here", f"cannot be replayed here: made with {made.program}, here is {again.program}")


def _validated(operations: Sequence[Any]) -> tuple[Operation, ...]:
    """Every mistake in the operations at once; "other" is for copies made elsewhere."""
    done: list[Operation] = []
    mistakes: list[Mistake] = []
    for number, raw in enumerate(operations, 1):
        try:
            done.append(Operation.model_validate(raw, extra="forbid"))
        except ValidationError as err:
            mistakes += mistakes_of(err, Operation, file="", item=f"operation {number}")
        else:
            if done[-1].do == "other":
                mistakes.append(Mistake("", 0, 0, f"operation {number}", "was done elsewhere and cannot be done here"))
    if mistakes:
        raise MistakesFound(mistakes, advice="Mend what is named and run the command again.")
    if not [o for o in done if o.do != "page"]:
        raise EvidenceError(
            "nothing to draw", advice="Give at least one of --arrow, --circle, --text, --black-out or --file."
        )
    return tuple(done)
