"""A bundle that was received: a zip or a folder, read where it lies. Nothing is unpacked, written or followed.

What is malformed about it is told as faults and never raised; only what cannot be opened at all is an error.
"""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import IO, TYPE_CHECKING

from evidence.bundle import layout
from evidence.bundle.alone import verify
from evidence.bundle.alone.bag import hash_files
from evidence.bundle.alone.ledger import lines
from evidence.bundle.alone.opening import Fault as Told
from evidence.bundle.alone.opening import Place, Unusable, chunks, opened
from evidence.errors import SourceUnusable
from evidence.record.chain import Fault
from evidence.record.entry import Entry
from evidence.record.head import Head
from evidence.record.merkle import Frontier

if TYPE_CHECKING:
    from _typeshed import WriteableBuffer as Buffer

    from evidence.bundle.alone.bag import Hashes

LARGEST_FILE = 64 << 20  # bytes of a file that is read whole; originals are streamed


class Received:
    """The files of a bundle and what they hold. Everything comes from the bundle: nothing of it is trusted here."""

    def __init__(self, path: Path, names: Mapping[str, Place], faults: tuple[Fault, ...]) -> None:
        self.path = path
        self.names = names
        self.faults = faults  # of the container alone: names, headers, places

    def read(self, name: str, most: int = LARGEST_FILE) -> bytes:
        """A file whole; :class:`SourceUnusable` where it is not there, too large or cannot be read."""
        place = self.names.get(name)
        if place is None:
            raise SourceUnusable("is not in the bundle", item=name)
        if place.size > most:
            raise SourceUnusable(f"is larger than such a file can be ({place.size} bytes)", item=name)
        try:
            return b"".join(chunks(place))
        except OSError as err:
            raise SourceUnusable(f"cannot be read: {err.strerror or err}", item=name) from None

    def stream(self, name: str) -> Iterator[bytes]:
        """The bytes of a file of any size, a piece at a time."""
        if name not in self.names:
            raise SourceUnusable("is not in the bundle", item=name)
        return chunks(self.names[name])

    def open(self, name: str) -> IO[bytes]:
        """A file of any size to read and to seek in; to be closed."""
        if name not in self.names:
            raise SourceUnusable("is not in the bundle", item=name)
        return io.BufferedReader(_Window(self.names[name]))

    def entries(self) -> Iterator[Entry]:
        """The entries in order; ``content`` is None where it is withheld. ``ValueError`` where the lines are cut off."""
        if not {layout.HEADERS, layout.CONTENTS} <= self.names.keys():
            return
        contents = lines(self.names[layout.CONTENTS])
        for header in lines(self.names[layout.HEADERS]):
            yield Entry(header, next(contents, b"") or None)

    @property
    def head(self) -> Head:
        """The head of the entries that are here, recomputed."""
        frontier, ledger = Frontier(), ""
        for entry in self.entries():
            ledger = ledger or _ledger_of(entry.header)
            frontier = frontier.append(entry.leaf)
        return Head(ledger, frontier.size, frontier.root())

    @property
    def ledger(self) -> str:
        """The ledger by its first entry; empty where there is none that can be read."""
        return next((_ledger_of(entry.header) for entry in self.entries()), "")

    @property
    def withheld(self) -> Mapping[str, tuple[object, ...]]:
        """What the bundle says was left out on purpose: ``subjects`` (numbers of entries) and ``files`` (SHA-256)."""
        try:
            said = json.loads(self.read(layout.WITHHELD))
            return {key: tuple(said[key]) for key in ("subjects", "files")}
        except (ValueError, TypeError, KeyError, RecursionError, SourceUnusable):
            return {"subjects": (), "files": ()}


class _Window(io.RawIOBase):
    """The bytes of one file of a bundle, wherever they lie."""

    def __init__(self, place: Place) -> None:
        super().__init__()
        self._handle = Path(place.path).open("rb", buffering=0)  # noqa: SIM115 - closed with this
        self._place, self._at = place, 0

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        base = {io.SEEK_SET: 0, io.SEEK_CUR: self._at, io.SEEK_END: self._place.size}[whence]
        if base + offset < 0:
            raise ValueError("before the beginning")
        self._at = base + offset
        return self._at

    def readinto(self, buffer: Buffer) -> int:
        view = memoryview(buffer)
        self._handle.seek(self._place.offset + self._at)
        count = self._handle.readinto(view[: max(0, min(len(view), self._place.size - self._at))])
        self._at += count
        return count

    def close(self) -> None:
        self._handle.close()
        super().close()


def _ledger_of(header: bytes) -> str:
    try:
        return str(json.loads(header)["ledger"])
    except (ValueError, TypeError, KeyError, RecursionError):
        return ""


@contextmanager
def open_bundle(path: Path) -> Iterator[Received]:
    """Open a bundle. Raises :class:`SourceUnusable` where there is none."""
    told: list[Told] = []
    try:
        names = opened(str(path), told)
    except Unusable as err:
        raise SourceUnusable(str(err).removeprefix(f"{path}: "), item=str(path)) from None
    yield Received(path, names, tuple(Fault(*one) for one in told))


def check_bytes(
    path: Path, *, key: str = "", head: str = "", quick: bool = False, both: bool = False, threads: int = 2,
    progress: Callable[[int], object] = lambda _size: None, hashing: Callable[..., Hashes] = hash_files,
) -> verify.Checked:  # fmt: skip
    """The checks of the stand-alone verifier on a bundle. ``SourceUnusable``: it cannot be checked at all."""
    try:
        return verify.check(
            str(path), key, head, quick=quick, both=both, threads=threads, progress=progress, hashing=hashing
        )
    except Unusable as err:
        raise SourceUnusable(
            str(err).removeprefix(f"{path}: "), item="" if str(err).startswith("--") else str(path)
        ) from None
