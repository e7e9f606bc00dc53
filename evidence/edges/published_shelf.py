"""The folder ``published/``: what was made once and is kept, a folder for each set of things it was made from."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from evidence.edges.durable import alone_in, disk_in_words, flush_folder, made_folder, put_file

_ABOUT = "about.json"


class PublishedShelf:
    """Places by key; a place counts once what is said about it is written, after the file itself."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def usable(self) -> bool:
        """Whether something can be kept here."""
        there = self._folder if self._folder.exists() else self._folder.parent
        return os.access(there, os.W_OK | os.X_OK)

    @contextmanager
    def place(self, key: str) -> Iterator[Path]:
        """The folder of ``key``, made if need be, held against other processes that would make the same."""
        place = self._folder / key
        with disk_in_words("what was published", place):
            made_folder(place)
        with alone_in(place):
            yield place

    def about(self, key: str) -> dict[str, Any] | None:
        """What was said of a finished piece; None where there is none."""
        try:
            said = json.loads((self._folder / key / _ABOUT).read_bytes())
        except (OSError, ValueError):
            return None
        return said if isinstance(said, dict) else None

    def finish(self, key: str, about: dict[str, Any]) -> None:
        """Say that what lies in the place of ``key`` is whole."""
        place = self._folder / key
        with disk_in_words("what was published", place):
            put_file(place / _ABOUT, json.dumps(about, sort_keys=True).encode())
            flush_folder(place)
