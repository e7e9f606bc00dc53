"""The folder ``previews/``: small pictures, named by the hash of their original, that can be made again."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from typing import Protocol

from evidence.capture.plain_file import open_plain
from evidence.capture.preview import make_preview
from evidence.model.exhibit import FileFacts
from evidence.ports import PreviewSize, Progress

_BOXES: dict[PreviewSize, tuple[int, int]] = {"screen": (400, 300), "print": (1600, 1200)}  # long and short side
MISSING, ALTERED = "the file is missing", "the file is not the one that was recorded"
_WORKERS = 2  # decoding is outside the interpreter lock


class Originals(Protocol):
    """Where originals lie, by their SHA-256."""

    def path(self, sha256: str) -> str | Path:
        """The file, to be read."""


class PreviewShelf:
    """Makes what is missing, in both cores, and says why some have none."""

    def __init__(self, folder: Path, originals: Originals) -> None:
        self._folder = folder
        self._originals = originals

    def path(self, sha256: str, size: PreviewSize = "screen") -> Path | None:
        """The picture for an original, where there is one."""
        file = self._file(sha256, size)
        return file if file.exists() else None

    def make(
        self, files: Sequence[tuple[str, FileFacts]], progress: Progress, size: PreviewSize = "screen"
    ) -> dict[str, str]:
        """Make what is missing or cut off; returns sha256 -> why there is none."""
        wanted = {sha256: facts for sha256, facts in files if facts.preview != "none"}
        missing = [(s, f) for s, f in wanted.items() if not _whole(self._file(s, size))]
        without: dict[str, str] = {}
        if not missing:
            return without
        self._folder.mkdir(exist_ok=True)
        with ThreadPoolExecutor(_WORKERS) as pool:
            for done, (sha256, reason) in enumerate(pool.map(partial(self._make, size), missing), 1):
                progress("previews", done, len(missing))
                if reason:
                    without[sha256] = reason
        return without

    def _make(self, size: PreviewSize, item: tuple[str, FileFacts]) -> tuple[str, str]:
        sha256, facts = item
        original = Path(self._originals.path(sha256))
        if not original.exists():
            return sha256, MISSING
        if size == "print" and _hash_of(original) != sha256:  # what is printed is a picture of what was recorded
            return sha256, ALTERED
        return sha256, make_preview(original, facts, self._file(sha256, size), box=_BOXES[size])

    def _file(self, sha256: str, size: PreviewSize) -> Path:
        return self._folder / f"{sha256}-{size}.jpg"


def _hash_of(original: Path) -> str:
    with open_plain(original) as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()  # type: ignore[arg-type]  # it has readinto


def _whole(file: Path) -> bool:
    """Whether a picture is there from its first marker to its last (ITU-T T.81, B.1.1.3: SOI, EOI)."""
    try:
        with file.open("rb") as stream:
            start = stream.read(2)
            stream.seek(-2, 2)
            return start == b"\xff\xd8" and stream.read(2) == b"\xff\xd9"
    except FileNotFoundError:
        return False
    except OSError:  # shorter than the two markers; where the disk is at fault, making it anew says so
        return False
