"""Signs in the photos of a bundle that was received: its files are unpacked for as long as they are looked at."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from evidence.bundle.reader import open_bundle
from evidence.capture.likeness_index import LikenessIndex
from evidence.capture.photo_marks import read_marks
from evidence.capture.preview_shelf import PreviewShelf
from evidence.model.dossier import Dossier
from evidence.model.exhibit import FileFacts
from evidence.review.photo_sign import Sign
from evidence.review.photo_signs import photos_of, signs_in

if TYPE_CHECKING:
    from evidence.ports import Progress

_MANIFEST = "manifest-sha256.txt"


@dataclass(frozen=True, slots=True)
class _Unpacked:
    """Originals in a folder, by their hash."""

    folder: Path

    def path(self, sha256: str) -> Path:
        """Where an original lies."""
        return self.folder / sha256


def signs_in_bundle(path: Path, dossier: Dossier, progress: Progress) -> tuple[Sign, ...]:
    """What is noticed in the pictures that a checked bundle shows; no other dossier is known here."""
    photos = [p.exhibit.value for p in photos_of(dossier, {})]
    files = {e.file.sha256: e.read for e in photos if e.file and e.read}
    with TemporaryDirectory(prefix="evidence-photos-") as name:
        originals = _Unpacked(Path(name) / "originals")
        there = _unpack(path, files, originals.folder)
        shelf = PreviewShelf(Path(name) / "previews", originals)
        shelf.make(there, progress)
        index = LikenessIndex(Path(name) / "previews", shelf)
        index.add(there, progress)
        marks = {s: read_marks(originals.path(s), facts, shelf.path(s)) for s, facts in there}
        return signs_in(dossier, marks, alike=index.alike(list(marks)), elsewhere={})


def _unpack(path: Path, wanted: dict[str, FileFacts], folder: Path) -> list[tuple[str, FileFacts]]:
    """Copy the wanted files out of the bundle; those that are withheld are not there."""
    folder.mkdir()
    with open_bundle(path) as bundle:
        lines = bundle.read(_MANIFEST).decode().splitlines()
        names = {sha256: name for sha256, _, name in (line.partition("  ") for line in lines)}
        for sha256 in wanted.keys() & names.keys():
            with (folder / sha256).open("wb") as out:
                out.writelines(bundle.stream(names[sha256]))
    return [(s, facts) for s, facts in wanted.items() if s in names]
