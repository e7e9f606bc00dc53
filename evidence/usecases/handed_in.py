"""A dossier folder as values: every record validated, every mistake collected with its line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from evidence.errors import Mistake, MistakesFound
from evidence.model.base import Json, Record, nearest
from evidence.model.exhibit import Exhibit
from evidence.model.happening import DossierOpening
from evidence.model.kinds import SECTIONS
from evidence.model.mistakes import Path, mistakes_of
from evidence.model.when import known_zone
from evidence.ports import Desk, Folder, Source
from evidence.timeline.odometer import marks, running_backwards
from evidence.usecases.authoring import resolver, words_context

FORMAT = "1"
_TOP = ("format", "dossier", "recorder")
_OPENING = tuple(f for f in DossierOpening.model_fields if f != "name" and f not in DossierOpening.filled_in)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """One record of the folder. ``source`` is the file of an exhibit."""

    name: str
    subject: str
    record: Record
    source: Source | None
    path: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class HandedIn:
    """A whole folder, free of mistakes as far as can be told without reading the files."""

    dossier: str
    opening: DossierOpening
    recorder: str  # short name of a party, or empty
    records: tuple[Stated, ...]


class _Mistakes:
    """Collects mistakes of one folder; each knows its line."""

    def __init__(self, folder: Folder) -> None:
        self._folder = folder
        self.found: list[Mistake] = []

    def add(self, path: Path, item: str, message: str, right: str = "") -> None:
        line, column = self._folder.locate(path)
        self.found.append(Mistake(self._folder.title, line, column, item, message, right))

    def add_invalid(self, err: ValidationError, cls: type[Record], path: Path, item: str) -> None:
        self.found += mistakes_of(
            err, cls, file=self._folder.title, item=item, locate=lambda inner: self._folder.locate((*path, *inner))
        )

    def add_deeper(self, err: ValidationError, cls: type[Record], fields: Json, context: Json, path: Path) -> None:
        """Mistakes between fields show only where each field is well by itself: look again without the bad ones."""
        bad = {problem["loc"][0] for problem in err.errors() if problem["loc"]}
        if not bad:
            return
        try:
            cls.handed_in({k: v for k, v in fields.items() if k not in bad}, context)
        except ValidationError as deeper:
            if all(not problem["loc"] for problem in deeper.errors()):
                self.add_invalid(deeper, cls, path, str(fields["name"]))


def read_folder(desk: Desk, folder: Folder, subjects: Mapping[tuple[str, str], str]) -> HandedIn:
    """Validate a folder. ``subjects`` maps (kind, short name) to the subject it stands for.

    Raises :class:`MistakesFound` with every mistake, in order of lines.
    """
    mistakes = _Mistakes(folder)
    data = folder.data
    _check_top(data, mistakes)
    by_name = _names(data, mistakes, subjects)
    context = words_context(desk, _zone(data), resolver(by_name))
    opening = _opening(data, context, mistakes)
    records = _records(folder, data, context, by_name, mistakes)
    _check_distances(records, mistakes)
    recorder = str(data.get("recorder", ""))
    if recorder and by_name.get(recorder, ("", ""))[0] != "party":
        parties = [n for n, (kind, _) in by_name.items() if kind == "party"]
        mistakes.add(
            ("recorder",), "recorder", f"no party here is called {recorder!r}", nearest(recorder, parties).strip("; ")
        )
    if mistakes.found or opening is None:
        raise MistakesFound(sorted(mistakes.found, key=lambda m: (m.line, m.column)))
    return HandedIn(dossier=str(data["dossier"]), opening=opening, recorder=recorder, records=records)


def _zone(data: Json) -> str | None:
    """The zone of the dossier. A wrong one is told where it stands and not again at every time."""
    zone = data.get("zone")
    if not isinstance(zone, str):
        return None
    try:
        return known_zone(zone)
    except ValueError:
        return "UTC"


def names_in(data: Json) -> dict[tuple[str, str], Path]:
    """(kind, short name) of every record that has one, with its place; malformed parts are passed over."""
    found: dict[tuple[str, str], Path] = {}
    for section, cls in SECTIONS.items():
        items = data.get(section)
        for index, raw in enumerate(items if isinstance(items, list) else []):
            if isinstance(raw, dict) and isinstance(raw.get("name"), str):
                found.setdefault((cls.kind, raw["name"]), (section, index))
    return found


def _check_top(data: Json, mistakes: _Mistakes) -> None:
    known = [*_TOP, *_OPENING, *SECTIONS]
    for key in data:
        if key not in known:
            mistakes.add(
                (key,),
                key,
                "is not a part of a dossier file",
                nearest(key, known).strip("; ") or "see 'evidence schema'",
            )
    if data.get("format", FORMAT) != FORMAT:
        mistakes.add(("format",), "format", f"this version reads format {FORMAT}", "write 'format: 1'")
    if not isinstance(data.get("dossier"), str):
        mistakes.add((), "dossier", "the dossier has no short name", "add a line such as 'dossier: van-no-start'")


def _names(data: Json, mistakes: _Mistakes, subjects: Mapping[tuple[str, str], str]) -> dict[str, tuple[str, str]]:
    """Short name -> (kind, subject). A name stands for one record in the whole folder."""
    by_name: dict[str, tuple[str, str]] = {}
    for section, cls in SECTIONS.items():
        items = data.get(section, [])
        if not isinstance(items, list):
            mistakes.add((section,), section, "is not a list", "write one record a block, each with '- ' in front")
            continue
        for index, raw in enumerate(items):
            item = f"{cls.label} {index + 1}"
            if not isinstance(raw, dict):
                mistakes.add(
                    (section, index), item, "is not a group of fields", "write 'field: value' lines under '- '"
                )
            elif not isinstance(raw.get("name"), str):
                mistakes.add((section, index), item, "has no short name", "add a line 'name: …' to refer to it by")
            elif raw["name"] in by_name:
                mistakes.add(
                    (section, index, "name"), raw["name"], "this short name is used twice", "give each record its own"
                )
            else:
                by_name[raw["name"]] = (cls.kind, subjects[cls.kind, raw["name"]])
    return by_name


def _opening(data: Json, context: Json, mistakes: _Mistakes) -> DossierOpening | None:
    raw = {key: data[key] for key in _OPENING if key in data}
    try:
        return DossierOpening.handed_in({**raw, "name": data.get("dossier")}, context)
    except ValidationError as err:
        mistakes.add_invalid(err, DossierOpening, (), "dossier")
        return None


def _records(
    folder: Folder, data: Json, context: Json, by_name: Mapping[str, tuple[str, str]], mistakes: _Mistakes
) -> tuple[Stated, ...]:
    found: list[Stated] = []
    for section, cls in SECTIONS.items():
        items = data.get(section)
        for index, raw in enumerate(items if isinstance(items, list) else []):
            if not isinstance(raw, dict) or not isinstance(raw.get("name"), str):
                continue
            path: Path = (section, index)
            source = _source(folder, raw, path, mistakes) if cls is Exhibit else None
            by_hand = {k for k in raw if k in cls.filled_in and k != "file"}
            for field in sorted(by_hand):
                mistakes.add((*path, field), raw["name"], f"{field!r} is filled in by the program", "leave it out")
            fields = {k: v for k, v in raw.items() if k not in cls.filled_in}
            try:
                record = cls.handed_in(fields, context)
            except ValidationError as err:
                mistakes.add_invalid(err, cls, path, raw["name"])
                mistakes.add_deeper(err, cls, fields, context, path)
                continue
            subject = by_name.get(raw["name"], ("", ""))[1]
            found.append(Stated(name=raw["name"], subject=subject, record=record, source=source, path=path))
    return tuple(found)


def _source(folder: Folder, raw: Json, path: Path, mistakes: _Mistakes) -> Source | None:
    name: Any = raw.get("file")
    if name is None:
        if raw.get("form") != "physical":
            mistakes.add(
                path, str(raw["name"]), "has no file", "add 'file: …', or 'form: physical' for a thing on a shelf"
            )
        return None
    if not isinstance(name, str):
        mistakes.add((*path, "file"), str(raw["name"]), "'file' is not a file name", "write 'file: photos/eyelet.jpg'")
        return None
    try:
        return folder.resolve(name)
    except ValueError as err:
        message, _, right = str(err).partition("; ")
        mistakes.add((*path, "file"), str(raw["name"]), message, right)
        return None


def _check_distances(records: tuple[Stated, ...], mistakes: _Mistakes) -> None:
    paths = {stated.name: stated.path for stated in records}
    for earlier, later in running_backwards(list(marks((s.name, s.record) for s in records))):
        mistakes.add(
            (*paths[later.item], later.field),
            f"{later.item}, {later.field}",
            f"the odometer runs backwards: {later.read} on {later.given}, "
            f"but {earlier.item} has {earlier.read} on {earlier.given}",
            "correct the reading, or say in 'odometer_note' (work order) or 'note' (odometer reading) why it is lower",
        )
