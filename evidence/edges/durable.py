"""Small files that must outlive a crash: temporary file, fsync, rename, fsync of the folder; errors in words."""

from __future__ import annotations

import errno
import fcntl
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from evidence.errors import EvidenceError, NoRoom, WorkspaceUnusable

INCOMING = "incoming-"  # temporary files start so; what a crash left is removed by the next writer of that folder


def made_folder(folder: Path, mode: int = 0o755) -> None:
    """Make a folder with those above it; each new name is flushed into the folder that holds it."""
    if folder.is_dir():
        return
    made_folder(folder.parent)
    with suppress(FileExistsError):
        folder.mkdir(mode)
        flush_folder(folder.parent)


def put_file(path: Path, data: bytes, mode: int = 0o444) -> None:
    """Write a file whole or not at all. Its folder is flushed by the caller, once for all files of a step."""
    handle, name = tempfile.mkstemp(prefix=INCOMING, dir=path.parent)  # of mode 0600 from the first byte on
    try:
        try:
            while data:
                data = data[os.write(handle, data) :]
            os.fchmod(handle, mode)
            os.fsync(handle)
        finally:
            os.close(handle)
        Path(name).rename(path)
    except BaseException:
        with suppress(OSError):
            Path(name).unlink()
        raise


def flush_folder(folder: Path) -> None:
    """Make the names in a folder durable."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Hold a folder against other writers of this program, after removing what a crashed one left half written."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        for left in folder.glob(f"{INCOMING}*"):
            left.unlink(missing_ok=True)
        yield
    finally:
        os.close(handle)


@contextmanager
def disk_in_words(what: str, place: Path) -> Iterator[None]:
    """Turn what a disk refuses into a message; ``what`` is the thing that was to be kept."""
    try:
        yield
    except OSError as err:
        if err.errno in (errno.ENOSPC, errno.EDQUOT):
            raise NoRoom(
                f"the disk is full, {what} could not be kept", item=str(place),
                advice="Make room and run the same command again.",
            ) from err  # fmt: skip
        if err.errno in (errno.EACCES, errno.EROFS, errno.EPERM):
            raise WorkspaceUnusable(
                f"this place may not be written to, {what} could not be kept", item=str(place),
                advice="Run it as the owner of the workspace, or in a writable copy.",
            ) from err  # fmt: skip
        raise EvidenceError(
            f"the disk refused to keep {what}: {err.strerror}", item=str(place), advice="Look after the disk first."
        ) from err
