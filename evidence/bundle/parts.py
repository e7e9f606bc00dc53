"""A bundle while it is being written: a zip file or a folder that has its final name only when it is whole.

Both are held by one process at a time, and both can go on with the members that are whole.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import zipfile
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Protocol, Self

from evidence.bundle import layout
from evidence.errors import Busy, StoreDamaged

PART = ".evidence-"  # what begins so is not finished
CHUNK = 1 << 20
_DATE = (1980, 1, 1, 0, 0, 0)  # the earliest a zip can say: nothing of the day of making is in the bytes
_MODE = 0o100644 << 16
_UNIX = 3

Watch = Callable[[int], None]  # bytes written


@dataclass(frozen=True, slots=True)
class Member:
    """One file of the bundle. ``sha256`` is what it must have, where that is known beforehand."""

    path: str  # below the bag's folder
    size: int
    chunks: Callable[[], Iterable[bytes]]
    sha256: str = ""

    @classmethod
    def of(cls, path: str, data: bytes) -> Member:
        """A file that is at hand."""
        return cls(path, len(data), lambda: [data], hashlib.sha256(data).hexdigest())


@dataclass(frozen=True, slots=True)
class Written:
    """A member that is written, with what the manifests and the zip's directory need."""

    path: str
    size: int
    sha256: str
    sha512: str
    crc: int = 0
    offset: int = 0  # of its header in a zip
    end: int = 0


class Part(Protocol):
    """What :mod:`evidence.bundle.writing` asks of a zip or a folder in the making."""

    def holds(self, written: Written) -> bool:
        """Whether the bytes of a member are there as noted."""
        ...

    def go_on(self, done: Sequence[Written]) -> None:
        """Keep these members and drop everything else that is there."""
        ...

    def add(self, member: Member, watch: Watch) -> Written:
        """Write a member and hash it on the way."""
        ...

    def flush(self, written: Written) -> None:
        """Bring a member to the disk."""
        ...

    def finish(self) -> None:
        """Bring everything to the disk, then give it its final name."""
        ...


class ZipPart:
    """A zip: members stored, without dates, one after the other."""

    def __init__(self, out: Path) -> None:
        self._out = out
        self._part = out.with_name(f"{PART}{out.name}.part")

    def __enter__(self) -> Self:
        self._handle = os.fdopen(_locked(self._part, os.O_RDWR | os.O_CREAT), "r+b")
        self._zip = zipfile.ZipFile(self._handle, "w", zipfile.ZIP_STORED, allowZip64=True)
        self._beside = ThreadPoolExecutor(1)
        return self

    def __exit__(self, *_exc: object) -> None:
        self._beside.shutdown()
        self._zip.fp = None  # one that was broken off gets no directory
        self._handle.close()

    def holds(self, written: Written) -> bool:
        """Whether the bytes of a member are there as noted."""
        self._handle.seek(written.end - written.size)
        return _hash_of(self._handle, written.size) == written.sha256

    def go_on(self, done: Sequence[Written]) -> None:
        """Keep these members and drop everything else that is there."""
        self._handle.truncate(done[-1].end if done else 0)
        self._handle.seek(0, os.SEEK_END)
        self._zip.start_dir = self._handle.tell()
        for written in done:
            entry = _entry(written.path, written.size)
            entry.CRC, entry.header_offset, entry.compress_size = written.crc, written.offset, written.size
            if entry.file_size * 1.05 > zipfile.ZIP64_LIMIT:  # where zipfile itself takes the long form
                entry.create_version = entry.extract_version = zipfile.ZIP64_VERSION
            self._zip.filelist.append(entry)
            self._zip.NameToInfo[entry.filename] = entry

    def add(self, member: Member, watch: Watch) -> Written:
        """Write a member and hash it on the way."""
        entry = _entry(member.path, member.size)
        offset = self._handle.tell()
        with self._zip.open(entry, "w") as sink:
            sha256, sha512 = _copied(member, sink, watch, self._beside)
        self._handle.flush()
        return Written(member.path, member.size, sha256, sha512, entry.CRC, offset, self._handle.tell())

    def flush(self, written: Written) -> None:  # noqa: ARG002 - all of it is one file
        """Bring everything up to this member to the disk."""
        os.fdatasync(self._handle.fileno())

    def finish(self) -> None:
        """Bring everything to the disk, then give it its final name."""
        self._zip.close()
        self._handle.flush()
        os.fsync(self._handle.fileno())
        self._part.rename(self._out)
        _flush_folder(self._out.parent)


class FolderPart:
    """The same bag as a folder."""

    def __init__(self, out: Path) -> None:
        self._out = out
        self._part = out.with_name(f"{PART}{out.name}.part")

    def __enter__(self) -> Self:
        self._part.mkdir(exist_ok=True)
        self._lock = _locked(self._part, os.O_RDONLY | os.O_DIRECTORY)
        self._beside = ThreadPoolExecutor(1)
        return self

    def __exit__(self, *_exc: object) -> None:
        self._beside.shutdown()
        os.close(self._lock)

    def holds(self, written: Written) -> bool:
        """Whether the bytes of a member are there as noted."""
        file = self._part / written.path
        if file.is_symlink() or not file.is_file() or file.stat().st_size != written.size:
            return False
        with file.open("rb") as handle:
            return _hash_of(handle, written.size) == written.sha256

    def go_on(self, done: Sequence[Written]) -> None:
        """Keep these members and drop everything else that is there."""
        wanted = {self._part / w.path for w in done}
        kept = wanted.union(*(file.parents for file in wanted))
        for file in sorted(self._part.rglob("*"), reverse=True):  # what is in a folder before the folder
            if file not in kept:
                file.rmdir() if file.is_dir() and not file.is_symlink() else file.unlink()

    def add(self, member: Member, watch: Watch) -> Written:
        """Write a member and hash it on the way."""
        file = self._part / member.path
        file.parent.mkdir(parents=True, exist_ok=True)
        with file.open("wb") as sink:
            sha256, sha512 = _copied(member, sink, watch, self._beside)
        return Written(member.path, member.size, sha256, sha512)

    def flush(self, written: Written) -> None:
        """Bring this member to the disk."""
        with (self._part / written.path).open("rb") as handle:
            os.fsync(handle.fileno())

    def finish(self) -> None:
        """Bring everything to the disk, then give it its final name."""
        for file in sorted(self._part.rglob("*")):
            _flush_folder(file) if file.is_dir() else self.flush(Written(str(file.relative_to(self._part)), 0, "", ""))
        _flush_folder(self._part)
        self._part.rename(self._out)  # over an empty folder too
        _flush_folder(self._out.parent)


def _entry(path: str, size: int) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(f"{layout.BASE}/{path}", _DATE)
    entry.external_attr, entry.create_system = _MODE, _UNIX
    entry.file_size = size  # decides beforehand whether it needs the long form
    return entry


def _copied(member: Member, sink: IO[bytes], watch: Watch, beside: ThreadPoolExecutor) -> tuple[str, str]:
    """Copy a member to ``sink``; its SHA-256 and SHA-512. The slower of the two runs beside the writing."""
    sha256, sha512, size = hashlib.sha256(), hashlib.sha512(), 0
    for chunk in member.chunks():
        if (size := size + len(chunk)) > member.size:
            break
        other = beside.submit(sha512.update, chunk)
        sha256.update(chunk)
        sink.write(chunk)
        other.result()
        watch(len(chunk))
    if size != member.size or (member.sha256 and member.sha256 != sha256.hexdigest()):
        raise StoreDamaged(
            "is not what the record says it is, so no bundle was made", item=member.path,
            advice="Run 'evidence recheck'; a file can be left out with --withhold-file.",
        )  # fmt: skip
    return sha256.hexdigest(), sha512.hexdigest()


def _hash_of(handle: IO[bytes], size: int) -> str:
    """SHA-256 of the next ``size`` bytes; an empty text where there are fewer."""
    digest = hashlib.sha256()
    while size and (piece := handle.read(min(CHUNK, size))):
        digest.update(piece)
        size -= len(piece)
    return "" if size else digest.hexdigest()


def _locked(path: Path, flags: int) -> int:
    """Open and hold it; never what another process has meanwhile given its final name."""
    while True:
        handle = os.open(path, flags | os.O_CLOEXEC | os.O_NOFOLLOW, 0o644)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            if path.exists() and os.path.samestat(os.fstat(handle), path.stat()):
                return handle
        except BlockingIOError:
            os.close(handle)
            raise Busy("another program is making this bundle", item=str(path)) from None
        except BaseException:
            os.close(handle)
            raise
        os.close(handle)


def _flush_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
