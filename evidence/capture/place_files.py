"""Place files: what a person looked up about a place, in ``places/NAME.yaml`` of a workspace, shared between its dossiers."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import Final

from pydantic import ValidationError

from evidence.capture.marked_yaml import decoded, load_marked
from evidence.claim.place import PlaceRules, no_place
from evidence.errors import EvidenceError, MistakesFound, SourceUnusable
from evidence.model.base import nearest
from evidence.model.mistakes import mistakes_of

FOLDER: Final = "places"

# What `evidence place new` writes: every field there is, none of them filled in.
EMPTY: Final = """\
# What holds at a place. The program knows no law: fill in what you looked up, with the text it stands in and the day.
# Leave out what you do not know; nothing is assumed. This is no legal advice.
format: 1
name: {name}
# small_claims_ceiling: {{amount: 0000.00 XXX, source: "act and section", on: YYYY-MM-DD}}
# limitation: {{text: "how long, from which day", source: "act and section", on: YYYY-MM-DD}}
# betterment: {{text: "whether and how a deduction is made for new parts", source: "", on: YYYY-MM-DD}}
# notice: {{text: "what must be sent before a claim is filed", source: "", on: YYYY-MM-DD}}
# tax: {{rate: 0, on_labour: false, source: "", on: YYYY-MM-DD}}
# holidays: {{country: XX, subdivision: "", source: "", on: YYYY-MM-DD}}   # or days: [YYYY-MM-DD, ...]
"""


def read_place(file: Path) -> PlaceRules:
    """Read a place file. Raises :class:`MistakesFound` with line and column of everything wrong."""
    try:
        text = decoded(file.read_bytes(), file.name)
    except OSError as err:
        raise SourceUnusable(f"the place file cannot be read: {err.strerror}", item=str(file)) from err
    marked = load_marked(text, file.name)
    try:
        return PlaceRules.model_validate(marked.data, extra="forbid", strict=False)
    except ValidationError as err:
        raise MistakesFound(mistakes_of(err, PlaceRules, file=file.name, item="place", locate=marked.locate)) from err


def place_of(folder: Path, name: str) -> PlaceRules:
    """The place of a name in a workspace."""
    file = _file(folder, name)
    if not file.is_file():
        known = sorted(f.stem for f in (folder / FOLDER).glob("*.yaml")) if (folder / FOLDER).is_dir() else []
        return no_place(f"{name}{nearest(name, known)}")
    return read_place(file)


def new_place(folder: Path, name: str) -> Path:
    """Write an empty place file; one that is there is left as it is. Raises :class:`EvidenceError`."""
    file = _file(folder, name)
    try:
        file.parent.mkdir(exist_ok=True)
        with file.open("x", encoding="utf-8") as out:
            out.write(EMPTY.format(name=name))
    except FileExistsError as err:
        raise EvidenceError("a file of this place is there already; it was left as it is", item=str(file)) from err
    except OSError as err:
        with suppress(OSError):
            file.unlink()  # an empty file would stand in the way of the next try
        raise EvidenceError(
            f"the place file cannot be written: {err.strerror}", item=str(file), advice="Mend that and run it again."
        ) from err
    return file


def _file(folder: Path, name: str) -> Path:
    if not name or any(c in name for c in "/\\.") or not name.isascii():
        raise EvidenceError("a place is named by small letters, digits and '-'", item=name)
    return folder / FOLDER / f"{name}.yaml"
