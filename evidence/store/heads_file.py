"""``heads.log``: one line for each transaction, flushed before it is acknowledged, never rewritten."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from pathlib import Path

from evidence.errors import EvidenceError, HeadBehind, NoRoom, WorkspaceUnusable
from evidence.record.head import Head


class HeadsFile:
    """The head file of a workspace. A torn last line (a crash in the middle of it) is passed over, and told."""

    def __init__(self, file: Path) -> None:
        self._file = file
        self._handle: int | None = None

    def ready(self) -> None:
        """Open the file, so that what stands in the way of a head line is known before anything is committed.

        A new file is flushed into its folder at once: that it is there belongs to what it proves.
        """
        if self._handle is not None:
            return
        new = not self._file.exists()
        try:
            self._handle = os.open(self._file, os.O_RDWR | os.O_CREAT | os.O_APPEND | os.O_CLOEXEC, 0o644)
            if new:
                flush_folder(self._file.parent)
        except OSError as err:
            self.close()
            if err.errno in (errno.EACCES, errno.EROFS, errno.EPERM):
                raise WorkspaceUnusable(
                    "the workspace is read-only", item=str(self._file.parent),
                    advice="Reading commands work; to record, use a writable copy.",
                ) from err  # fmt: skip
            raise _unwritten(err, self._file, "nothing was recorded") from err

    def note(self, head: Head) -> None:
        """Append one line and flush it to the disk."""
        self.ready()
        assert self._handle is not None
        try:
            torn = b"" if self._ends_clean(self._handle) else b"\n"
            line = torn + head.line().encode() + b"\n"
            while line:  # a disk that is nearly full takes a part
                line = line[os.write(self._handle, line) :]
            os.fdatasync(self._handle)
        except OSError as err:
            self.close()  # a handle whose flush has failed is not used again
            raise HeadBehind(
                f"the entries are recorded, but not the head line beside the database: {_reason(err)}",
                item=str(self._file),
                advice="Mend that and run 'evidence recheck'; it moves the head line up. Nothing has to be entered again.",
            ) from err

    def present(self) -> bool:
        """Whether there is a head file at all; every workspace is made with one."""
        return self._file.exists()

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


def flush_folder(folder: Path) -> None:
    """Make the names in a folder durable."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _reason(err: OSError) -> str:
    return "the disk is full" if err.errno in (errno.ENOSPC, errno.EDQUOT) else f"{err.strerror}".lower()


def _unwritten(err: OSError, file: Path, state: str) -> EvidenceError:
    if err.errno in (errno.ENOSPC, errno.EDQUOT):
        return NoRoom(f"the disk is full; {state}", item=str(file), advice="Make room and run the same command again.")
    return WorkspaceUnusable(f"the head file cannot be opened ({err.strerror}); {state}", item=str(file))
