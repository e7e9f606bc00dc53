"""Files handed in, as the use cases take them: a dossier folder with its text, or a heap of files."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from evidence.capture.folder import DOSSIER_FILE, DossierFolder, alike, name_of, open_folder, shown, walk
from evidence.errors import SourceUnusable
from evidence.ports import Source


class HandedFolder:
    """A dossier folder: what its author wrote, where each word stands, and the files he names."""

    def __init__(self, folder: DossierFolder) -> None:
        self._folder = folder

    @property
    def title(self) -> str:
        """The file for messages, such as ``van-no-start/dossier.yaml``."""
        return f"{self._folder.path.resolve().name}/{DOSSIER_FILE}"

    @property
    def data(self) -> dict[str, Any]:
        """Everything in the file; every scalar is text."""
        return self._folder.marked.data

    def locate(self, path: tuple[str | int, ...]) -> tuple[int, int]:
        """Line and column of a node."""
        return self._folder.marked.locate(path)

    def resolve(self, name: str) -> Source:
        """A file named in the dossier file, under the name the author gives it."""
        path = self._folder.resolve(name)
        return Source(path, name, name_of(path)[1], path.stat().st_size)


def open_handed(folder: Path) -> HandedFolder:
    """Open a dossier folder and read its text."""
    return HandedFolder(open_folder(folder))


def one_source(path: Path) -> Source:
    """One plain file."""
    if path.is_dir():
        raise SourceUnusable("is a folder; hand in the file as it came", item=str(path))
    found, skipped, _notes = heap_of([path])
    if not found:
        raise SourceUnusable(skipped[0][1] if skipped else "does not exist", item=str(path))
    return found[0]


def heap_of(paths: Iterable[Path]) -> tuple[list[Source], list[tuple[str, str]], list[str]]:
    """Plain files among ``paths`` and their folders; (name, reason) for what is left alone; notes on names alike."""
    files, skipped = walk(paths)
    sources = [Source(p, *name_of(p), p.stat().st_size) for p in files]
    notes = [f"{', '.join(map(shown, names))}: {why}" for names, why in alike(s.name for s in sources)]
    return sources, [(str(s.path), s.reason) for s in skipped], notes
