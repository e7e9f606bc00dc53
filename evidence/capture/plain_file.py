"""Opening foreign files: only plain ones, never through a link, and without ever waiting for one."""

from __future__ import annotations

import errno
import os
import stat
import struct
import zlib
from pathlib import Path
from typing import BinaryIO, Final

# Not every system has both; where one is missing the check of the open file below still holds.
_FLAGS: Final = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
_KINDS: Final = (
    (stat.S_ISLNK, "a symbolic link, which is never followed"),
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a named pipe, which is never opened"),
    (stat.S_ISSOCK, "a socket, which is never opened"),
    (stat.S_ISBLK, "a device, which is never opened"),
    (stat.S_ISCHR, "a device, which is never opened"),
)

# What libraries raise over bytes they were not written for. An error of the system (a disk that cannot be
# read) is an OSError with a number; a library's own "cannot identify", "truncated" has none, and a damaged
# offset is answered by the system with "invalid argument".
PARSER_FAULTS: Final = (
    OSError, ValueError, TypeError, LookupError, AttributeError, ArithmeticError, SyntaxError, EOFError,
    struct.error, zlib.error, MemoryError, RuntimeError, AssertionError,
)  # fmt: skip


def why_not_plain(mode: int) -> str:
    """What a file of that ``st_mode`` is, if it is not a plain file; else an empty text."""
    if stat.S_ISREG(mode):
        return ""
    return next((what for check, what in _KINDS if check(mode)), "not a plain file")


def open_plain(path: Path) -> BinaryIO:
    """Open a plain file to read. A link, pipe, device or folder raises ``ValueError``; the system's refusal
    stays an ``OSError``. Looked at before opening (a device may act on being opened) and again after."""
    if what := why_not_plain(path.lstat().st_mode):
        raise ValueError(f"it is {what}")
    descriptor = os.open(path, _FLAGS)
    if what := why_not_plain(os.fstat(descriptor).st_mode):
        os.close(descriptor)
        raise ValueError(f"it is {what}")
    return os.fdopen(descriptor, "rb")


def raise_if_of_the_system(err: BaseException) -> None:
    """Pass on an error of the disk or the permissions; return for one that damaged content caused."""
    if isinstance(err, OSError) and err.errno not in (None, errno.EINVAL):
        raise err
