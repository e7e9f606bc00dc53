"""Files that appear whole or not at all, and streams that know what went through them."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Protocol

from evidence.errors import NoRoom, OutputUnusable

PART_PREFIX = ".evidence-part-"  # of every unfinished file; then the file's mark, then the process


_PIECE = 1 << 20


class Sink(Protocol):
    """Whatever takes bytes one after the other."""

    def write(self, data: bytes, /) -> int: ...


class Nowhere:
    """Takes bytes and keeps none: for what is laid out to be counted."""

    def write(self, data: bytes, /) -> int:
        """Nothing is written."""
        return len(data)


class HashedStream:
    """Passes bytes on and hashes them on their way."""

    def __init__(self, out: Sink) -> None:
        self._out, self._seen = out, hashlib.sha256()
        self.size = 0

    def write(self, data: bytes, /) -> int:
        """All of ``data``."""
        self._out.write(data)
        self._seen.update(data)
        self.size += len(data)
        return len(data)

    def digest(self) -> str:
        """SHA-256 of everything so far, in hexadecimal."""
        return self._seen.hexdigest()


def copied(source: Path, out: Path, digest: str) -> bool:
    """Copy a file, whole or not at all; False, and nothing is there, where it has not the SHA-256 ``digest``."""
    with contextlib.suppress(_Altered), whole_file(out) as stream:
        hashed = HashedStream(stream)
        with source.open("rb") as kept:
            while piece := kept.read(_PIECE):
                hashed.write(piece)
        if hashed.digest() != digest:
            raise _Altered
        return True
    return False


class _Altered(Exception):
    """The file is not the one that was kept."""


@contextlib.contextmanager
def whole_file(out: Path) -> Iterator[IO[bytes]]:
    """A stream whose content appears under ``out`` whole or not at all: temp file, fsync, rename, fsync of the folder.

    What a killed run left of the same file is removed. Raises ``NoRoom`` on a full disk, ``OutputUnusable`` where
    nothing can be written.
    """
    mark = PART_PREFIX + hashlib.sha256(os.fsencode(out.name)).hexdigest()[:12]
    part = out.parent / f"{mark}-{os.getpid()}"
    try:
        _sweep(out.parent, mark)
        with part.open("w+b") as stream:
            yield stream
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(out)
        _sync_folder(out.parent)
    except OSError as err:
        if err.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
            raise NoRoom(
                "the disk is full; the file was not written",
                item=str(out),
                advice="Make room or choose another place with -o, and run the same command again.",
            ) from err
        why = f"cannot be written: {err.strerror or err}" if out.parent.is_dir() else "its folder does not exist"
        raise OutputUnusable(why, item=str(out), advice="Choose another place for the file.") from err
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def _sweep(folder: Path, mark: str) -> None:
    for leftover in folder.glob(mark + "-*"):
        process = leftover.name.rpartition("-")[2]
        if process.isdecimal() and not _alive(int(process)):
            leftover.unlink(missing_ok=True)


def _alive(process: int) -> bool:
    if os.name != "posix":  # asking would end it there
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (PermissionError, OverflowError):
        pass
    return True


def _sync_folder(folder: Path) -> None:
    if os.name != "posix":  # a folder cannot be opened there
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
