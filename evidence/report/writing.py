"""Files that appear whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from evidence.errors import NoRoom, OutputUnusable

PART_PREFIX = ".evidence-part-"  # of every unfinished file, so that leftovers can be swept


@contextlib.contextmanager
def whole_file(out: Path) -> Iterator[IO[bytes]]:
    """A stream whose content appears under ``out`` whole or not at all: temp file, fsync, rename, fsync of the folder.

    Raises ``NoRoom`` on a full disk, ``OutputUnusable`` where nothing can be written.
    """
    part: Path | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=PART_PREFIX, dir=out.parent)
        part = Path(name)
        with os.fdopen(handle, "wb") as stream:
            yield stream
            stream.flush()
            os.fsync(stream.fileno())
        part.chmod(0o644)
        part.replace(out)
        part = None
        _sync_folder(out.parent)
    except OSError as err:
        if err.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
            raise NoRoom(
                "the disk is full; the file was not written",
                item=str(out),
                advice="Make room or choose another place with -o, and run the same command again.",
            ) from err
        raise OutputUnusable(
            f"cannot be written: {err.strerror or err}", item=str(out), advice="Choose another place for the file."
        ) from err
    finally:
        if part is not None:
            part.unlink(missing_ok=True)


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
