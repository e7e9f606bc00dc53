"""``heads.log``: one line for each transaction, flushed before it is acknowledged, never rewritten."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from pathlib import Path

from evidence.errors import NoRoom, WorkspaceUnusable
from evidence.record.head import Head


class HeadsFile:
    """The head file of a workspace. A torn last line (a crash in the middle of it) is passed over, and told."""

    def __init__(self, file: Path) -> None:
        self._file = file
        self._handle: int | None = None

    def note(self, head: Head) -> None:
        """Append one line and flush it to the disk."""
        try:
            if self._handle is None:
                self._handle = os.open(self._file, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o644)
                if not self._ends_clean(self._handle):
                    os.write(self._handle, b"\n")
            os.write(self._handle, head.line().encode() + b"\n")
            os.fdatasync(self._handle)
        except OSError as err:
            if err.errno in (errno.ENOSPC, errno.EDQUOT):
                raise NoRoom(
                    "the disk is full: the entries are recorded, the head line beside the database is one behind",
                    item=str(self._file),
                    advice="Make room and run 'evidence recheck'; it moves the head line up.",
                ) from err
            raise WorkspaceUnusable(f"the head file cannot be written: {err.strerror}", item=str(self._file)) from err

    @staticmethod
    def _ends_clean(handle: int) -> bool:
        size = os.fstat(handle).st_size
        return size == 0 or os.pread(handle, 1, size - 1) == b"\n"

    def lines(self) -> Iterator[Head | None]:
        """Each line in order; None for one that cannot be read."""
        try:
            text = self._file.read_text(encoding="utf-8", errors="replace")
        except FileNotFoundError:
            return
        for line in text.splitlines():
            if line:
                yield Head.read(line)

    def close(self) -> None:
        """Give the handle back."""
        if self._handle is not None:
            os.close(self._handle)
            self._handle = None
