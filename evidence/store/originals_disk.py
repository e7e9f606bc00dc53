"""Originals on disk: each once, under its SHA-256, read-only; flushed before anybody hears of it.

Order for each file: temporary file, copy while hashing, fsync, rename, fsync of the folder, hash again from
the stored copy. A crash leaves at most a file that no entry names. The source is opened without following a
link and without waiting, and must be the same before and after it was read.
"""

from __future__ import annotations

import contextlib
import errno
import fcntl
import hashlib
import os
import stat
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path

from evidence.errors import NoRoom, SourceUnusable, StoreDamaged, WorkspaceUnusable
from evidence.model.exhibit import StoredFile
from evidence.ports import BadFile, FilePath, Progress, ReadFacts, Source, Taken
from evidence.store.heads_file import flush_folder

_CHUNK = 1 << 18  # fits the second-level cache; larger writes ask the system for larger, colder pieces of memory
_WORKERS = 4  # twice the cores it needs: half of them wait for the disk to flush
INCOMING = "incoming-"  # temporary files start so, and are swept


def make_shelves(folder: Path) -> None:
    """The 256 folders an original can lie in, made once so that no intake has to flush a new folder."""
    for number in range(256):
        (folder / f"{number:02x}").mkdir(parents=True, exist_ok=True)
    flush_folder(folder)


class DiskOriginals:
    """The folder ``originals/`` with 256 shelves named by the first two digits of the hash."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def path(self, sha256: str) -> Path:
        """Where the original with this hash lies, or would lie."""
        return self._folder / sha256[:2] / sha256

    def take(
        self, sources: Sequence[Source], *, known_sizes: frozenset[int], read_facts: ReadFacts, progress: Progress
    ) -> Iterator[Taken]:
        """Store files, two at a time; yields in the order given. A bad source is told, the others go on.

        Raises only what concerns the store itself (no room, read-only, damaged).
        """
        with ThreadPoolExecutor(_WORKERS) as pool:
            pending: list[Future[Taken]] = [
                pool.submit(self._take, source, source.size in known_sizes, read_facts) for source in sources
            ]
            try:
                for done, future in enumerate(pending, 1):
                    taken = future.result()
                    progress("storing", done, len(pending))
                    yield taken
            except BaseException:
                for future in pending:
                    future.cancel()
                raise

    def _take(self, source: Source, maybe_known: bool, read_facts: ReadFacts) -> Taken:
        try:
            file = self._store(source, maybe_known)
        except SourceUnusable as err:
            return Taken(source, None, None, err.message)
        try:
            return Taken(source, file, read_facts(self.path(file.sha256), source.name))
        except OSError as err:  # the store's fault: what was handed in has been read to its end
            raise StoreDamaged(f"the stored copy cannot be read back: it {_reason(err)}", item=source.name) from err

    def _store(self, source: Source, maybe_known: bool) -> StoredFile:
        with _opened(source.path) as (handle, before):
            if maybe_known:  # perhaps here already: then reading it once is enough
                sha256, size = _hash(handle)
                _unchanged(handle, before, size)
                if self.path(sha256).exists():
                    with _store_errors(self._folder):
                        flush_folder(self.path(sha256).parent)
                    return self._stored(source, sha256, size)
                os.lseek(handle, 0, os.SEEK_SET)
            with _store_errors(self._folder), self._incoming() as (target, temporary):
                sha256, size = _copy(handle, target)
                _unchanged(handle, before, size)
                self._shelve(temporary, sha256)
        return self._stored(source, sha256, size)

    @contextlib.contextmanager
    def _incoming(self) -> Iterator[tuple[int, Path]]:
        """A temporary file, locked as long as its process lives, so that a sweep knows what is left over."""
        target, name = tempfile.mkstemp(prefix=INCOMING, dir=self._folder)
        try:
            fcntl.flock(target, fcntl.LOCK_EX)
            yield target, Path(name)
        finally:
            Path(name).unlink(missing_ok=True)
            os.close(target)

    def _shelve(self, temporary: Path, sha256: str) -> None:
        home = self.path(sha256)
        if not home.exists():
            temporary.rename(home)
        flush_folder(home.parent)  # one found here may come from a run that was killed before it did this

    def _stored(self, source: Source, sha256: str, size: int) -> StoredFile:
        """Hash the stored copy again: what is on the shelf is what will be named."""
        try:
            with _opened(self.path(sha256)) as (handle, _):
                found, found_size = _hash(handle)
        except SourceUnusable as err:  # a fault of the store, not of what was handed in
            raise StoreDamaged(f"the stored copy cannot be read back: it {err.message}", item=source.name) from err
        if (found, found_size) != (sha256, size):
            raise StoreDamaged(
                f"the stored copy does not read back as it was written (SHA-256 {found[:16]}…)",
                item=source.name,
                advice="The disk or its memory is faulty. Nothing was recorded; check the disk first.",
            )
        return StoredFile(sha256=sha256, size=size, name=source.name, name_hex=source.name_hex)

    def check(self, files: Mapping[str, int], progress: Progress) -> Iterator[BadFile]:
        """Read every file anew, two at a time; yield those that are not as recorded."""
        with ThreadPoolExecutor(_WORKERS) as pool:
            for done, bad in enumerate(pool.map(self._check, files.items()), 1):
                progress("checking files", done, len(files))
                if bad:
                    yield bad

    def _check(self, item: tuple[str, int]) -> BadFile | None:
        sha256, size = item
        if not self.path(sha256).exists():
            return BadFile(sha256, "missing")
        try:
            with _opened(self.path(sha256)) as (handle, status):
                found = _hash(handle)[0]
                if status.st_size < size:  # its hash all the same: it may be the file of another exhibit
                    return BadFile(sha256, f"short: {status.st_size} bytes of {size}", found)
        except SourceUnusable as err:
            return BadFile(sha256, f"unreadable: it {err.message}")
        return None if found == sha256 else BadFile(sha256, "altered", found)

    def unreferenced(self, known: frozenset[str]) -> Iterator[str]:
        """Names of files that no entry names: leftovers of an interrupted intake, and anything foreign."""
        for found in sorted(self._folder.rglob("*")):
            if found.is_file() and found.name not in known:
                yield str(found.relative_to(self._folder))

    def sweep(self) -> int:
        """Remove temporary files whose process has died; returns how many."""
        swept = 0
        for left in self._folder.glob(f"{INCOMING}*"):
            with contextlib.suppress(FileNotFoundError, BlockingIOError), left.open("rb") as handle:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
                left.unlink()
                swept += 1
        return swept


def _copy(handle: int, target: int) -> tuple[str, int]:
    """Copy into ``target`` while hashing, and flush it. Reading and writing never share an error."""
    digest, size, buffer = hashlib.sha256(), 0, bytearray(_CHUNK)
    view = memoryview(buffer)
    while count := _read_into(handle, buffer):
        digest.update(view[:count])
        size += count
        written = 0
        while written < count:
            written += os.write(target, view[written:count])
    os.fchmod(target, 0o444)
    os.fsync(target)
    return digest.hexdigest(), size


@contextlib.contextmanager
def _opened(path: FilePath) -> Iterator[tuple[int, os.stat_result]]:
    """Open a plain file for reading: no link is followed, nothing waits on a pipe."""
    try:
        handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    except OSError as err:
        raise SourceUnusable(_reason(err)) from err
    try:
        status = os.fstat(handle)
        if not stat.S_ISREG(status.st_mode):
            raise SourceUnusable("is not a plain file (a folder, pipe or device)")
        yield handle, status
    finally:
        os.close(handle)


def _reason(err: OSError) -> str:
    if err.errno == errno.ELOOP:
        return "is a symbolic link, which is never followed; hand in the file itself"
    if err.errno in (errno.ENOENT, errno.ENOTDIR):
        return "does not exist"
    if err.errno == errno.EACCES:
        return "may not be read by this user"
    return f"cannot be read: {err.strerror}"


def _read_into(handle: int, buffer: bytearray) -> int:
    try:
        return os.readv(handle, [buffer])
    except OSError as err:
        raise SourceUnusable(_reason(err)) from err


def _hash(handle: int) -> tuple[str, int]:
    digest, size, buffer = hashlib.sha256(), 0, bytearray(_CHUNK)
    view = memoryview(buffer)
    while count := _read_into(handle, buffer):
        digest.update(view[:count])
        size += count
    return digest.hexdigest(), size


def _unchanged(handle: int, before: os.stat_result, read: int) -> None:
    after = os.fstat(handle)
    if (after.st_size, after.st_mtime_ns) != (before.st_size, before.st_mtime_ns) or read != before.st_size:
        raise SourceUnusable("was changed while it was being read; close the program that writes to it and try again")


@contextlib.contextmanager
def _store_errors(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as err:
        if err.errno in (errno.ENOSPC, errno.EDQUOT):
            free = os.statvfs(folder)
            raise NoRoom(
                f"the disk is full ({free.f_bavail * free.f_frsize} bytes free)", item=str(folder),
                advice="Make room and run the same command again; files already stored are used again.",
            ) from err  # fmt: skip
        if err.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
            raise WorkspaceUnusable(
                "the workspace is read-only", item=str(folder.parent),
                advice="Reading commands work; to record, use a writable copy.",
            ) from err  # fmt: skip
        raise WorkspaceUnusable(
            f"the disk refused to store a file: {err.strerror}", item=str(folder),
            advice="Nothing was recorded. Check the disk before going on.",
        ) from err  # fmt: skip
