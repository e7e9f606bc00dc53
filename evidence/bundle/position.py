"""How far the reading of a large bundle has come, so that it goes on where it was interrupted.

Kept in the user's cache folder and never beside the data, which may be read-only. A note holds the hashes of whole
files, and what bundle they are of (place, size, time of change): one that has changed since is read from the beginning.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import time
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from evidence.bundle.alone.bag import hash_files
from evidence.bundle.alone.opening import Place

if TYPE_CHECKING:
    from evidence.bundle.alone.bag import Hashes

_EVERY_SECONDS, _EVERY_BYTES = 5.0, 1 << 30


def cache_folder() -> Path:
    """Where positions are kept: below XDG_CACHE_HOME, else ``~/.cache``."""
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "evidence" / "verify"


class Resumed:
    """Stands in for :func:`hash_files`: leaves out what is known from an interrupted run, and ends after ``budget`` seconds.

    At least one file is read in each run. A file counts when it is read to its end: one that takes longer than a run is
    begun anew, in the next run without its neighbours.
    """

    def __init__(self, bundle: Path, budget: float = 0.0, folder: Path | None = None) -> None:
        name = hashlib.sha256(str(bundle.resolve()).encode("utf-8", "surrogateescape")).hexdigest()
        self._file = (folder or cache_folder()) / f"{name}.jsonl"
        self._budget = budget
        self._lines: list[str] = []
        self._unsaved = 0
        self.resumed = 0  # bytes that were not read again

    def __call__(
        self, names: Mapping[str, Place], wanted: Iterable[str], threads: int, *, both: bool = False,
        progress: Callable[[int], object] = lambda _size: None,
    ) -> Hashes:  # fmt: skip
        """Hash files; the result lacks some where the budget ended it."""
        wanted = set(wanted)
        known = {name: found for name, found in self._known(names, both).items() if name in wanted}
        self.resumed = sum(names[name].size for name in known)
        progress(self.resumed)
        begun = saved = time.monotonic()

        def done(name: str, found: tuple[str, ...]) -> bool:
            nonlocal saved
            if found[0]:
                self._lines.append(json.dumps([name, _identity(names[name]), both, found]))
                self._unsaved += names[name].size
            now = time.monotonic()
            if now - saved >= _EVERY_SECONDS or self._unsaved >= _EVERY_BYTES:
                self.save()
                saved = now
            return not self._budget or now - begun < self._budget

        try:
            fresh = hash_files(names, wanted - known.keys(), threads, both=both, progress=progress, done=done)
        except KeyboardInterrupt:
            self.save()
            raise
        found = {**known, **fresh}
        if len(found) < len(wanted):
            self.save()
        else:
            self.forget()
        return dict(sorted(found.items()))

    def save(self) -> None:
        """Add what was read since to the note; where that cannot be done, the next run begins anew."""
        with contextlib.suppress(OSError):
            self._file.parent.mkdir(parents=True, exist_ok=True)
            with self._file.open("a", encoding="ascii") as target:
                target.write("".join(f"{line}\n" for line in self._lines))
            self._lines, self._unsaved = [], 0

    def forget(self) -> None:
        """The check is whole: nothing to go on with."""
        with contextlib.suppress(OSError):
            self._file.unlink(missing_ok=True)

    def _known(self, names: Mapping[str, Place], both: bool) -> Hashes:
        found: Hashes = {}
        with contextlib.suppress(OSError, ValueError):
            for line in self._file.read_text(encoding="ascii").splitlines():
                with contextlib.suppress(ValueError, TypeError):  # a line cut off by whatever ended the run
                    name, identity, of_both, hashes = json.loads(line)
                    if of_both == both and name in names and identity == _identity(names[name]):
                        found[name] = tuple(map(str, hashes))
        return found


def _identity(place: Place) -> list[object]:
    info = Path(place.path).stat()
    return [place.path, place.offset, place.size, info.st_size, info.st_mtime_ns, info.st_ctime_ns, info.st_ino]
