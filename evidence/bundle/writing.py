"""Writing a bundle: streamed, taken up again where it was interrupted, and under its final name only when whole."""

from __future__ import annotations

import contextlib
import errno
import fcntl
import hashlib
import json
import os
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO

from evidence.bundle import layout
from evidence.errors import Busy, NoRoom, OutputUnusable, StoreDamaged
from evidence.ports import Progress

_DATE = (1980, 1, 1, 0, 0, 0)  # the earliest a zip can say: nothing of the day of making is in the bytes
_CHUNK = 1 << 20
PART = ".evidence-"  # what begins so is not finished


@dataclass(frozen=True, slots=True)
class Member:
    """One file of the bundle. ``sha256`` is what the record says of it, where it says anything."""

    path: str  # below the bag's folder
    size: int
    chunks: Callable[[], Iterable[bytes]]
    sha256: str = ""

    @classmethod
    def of(cls, path: str, data: bytes) -> Member:
        """A file that is at hand."""
        return cls(path, len(data), lambda: [data])


@dataclass(frozen=True, slots=True)
class Written:
    """A member that is in the part file, with what the manifests and the zip's directory need."""

    path: str
    size: int
    crc: int
    offset: int
    end: int
    sha256: str
    sha512: str


Sealing = Callable[[str], Mapping[str, bytes]]  # SHA-256 of the tag manifest -> files that lie beside it


def write_zip(
    out: Path, members: Sequence[Member], info: Sequence[tuple[str, str]], sealing: Sealing, progress: Progress
) -> int:
    """Write a bundle; returns its size. The same members and seals give the same bytes."""
    total = sum(m.size for m in members)
    first = [Member.of(layout.BAGIT, layout.BAGIT_TEXT), Member.of(layout.BAG_INFO, _info(info, members))]
    part = out.with_name(f"{PART}{out.name}.part")
    with _errors(out, total), _locked(part) as handle:
        journal = _Journal(part.with_suffix(".journal"), members, info)
        done = journal.sound(handle)
        handle.truncate(done[-1].end if done else 0)
        handle.seek(0, os.SEEK_END)
        with zipfile.ZipFile(handle, "w", zipfile.ZIP_STORED, allowZip64=True) as target:
            for written in done:
                target.filelist.append(_entry(written))
                target.NameToInfo[target.filelist[-1].filename] = target.filelist[-1]
            copied = sum(w.size for w in done)
            for member in [*first, *sorted(members, key=lambda m: m.path)][len(done) :]:
                progress("writing", copied, total)
                done.append(_add(target, handle, member))
                journal.note(done[-1], handle)
                copied += member.size
            for path, data in _tags(done, sealing):
                _add(target, handle, Member.of(path, data))
        progress("writing", total, total)
        handle.flush()
        os.fsync(handle.fileno())
        part.rename(out)
        journal.end()
        _flush_folder(out.parent)
    return out.stat().st_size


def _add(target: zipfile.ZipFile, handle: IO[bytes], member: Member) -> Written:
    entry = zipfile.ZipInfo(f"{layout.BASE}/{member.path}", _DATE)
    entry.external_attr = 0o100644 << 16
    entry.create_system = 3
    entry.file_size = member.size  # decides beforehand whether it needs the long form
    offset = handle.tell()
    digests = [hashlib.new(name) for name in layout.ALGORITHMS]
    with target.open(entry, "w") as sink:
        for chunk in member.chunks():
            for digest in digests:
                digest.update(chunk)
            sink.write(chunk)
    sha256, sha512 = (digest.hexdigest() for digest in digests)
    if entry.file_size != member.size or (member.sha256 and member.sha256 != sha256):
        raise StoreDamaged(
            "is not what the record says it is, so no bundle was made", item=member.path,
            advice="Run 'evidence recheck'; a file can be left out with --withhold-file.",
        )  # fmt: skip
    handle.flush()
    return Written(member.path, member.size, entry.CRC, offset, handle.tell(), sha256, sha512)


def _entry(written: Written) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(f"{layout.BASE}/{written.path}", _DATE)
    entry.external_attr, entry.create_system = 0o100644 << 16, 3
    entry.CRC, entry.header_offset = written.crc, written.offset
    entry.file_size = entry.compress_size = written.size
    return entry


def _info(info: Sequence[tuple[str, str]], members: Sequence[Member]) -> bytes:
    payload = [m for m in members if m.path.startswith("data/")]
    oxum = f"{sum(m.size for m in payload)}.{len(payload)}"
    return "".join(f"{key}: {value}\n" for key, value in [*info, ("Payload-Oxum", oxum)]).encode()


def _tags(done: Sequence[Written], sealing: Sealing) -> list[tuple[str, bytes]]:
    """Manifests, tag manifests and what seals them, in the order of their names."""
    files = {
        layout.manifest(name): "".join(
            f"{getattr(w, name)}  {w.path}\n" for w in done if w.path.startswith("data/")
        ).encode()
        for name in layout.ALGORITHMS
    }
    tags = {w.path: w for w in done if not w.path.startswith("data/")}
    for name in layout.ALGORITHMS:
        lines = [f"{getattr(tags[path], name)}  {path}\n" for path in sorted(tags)]
        lines += [
            f"{hashlib.new(name, files[layout.manifest(m)]).hexdigest()}  {layout.manifest(m)}\n"
            for m in layout.ALGORITHMS
        ]
        files[layout.manifest(name, tags=True)] = "".join(lines).encode()
    return sorted({**files, **sealing(hashlib.sha256(files[layout.manifest("sha256", tags=True)]).hexdigest())}.items())


class _Journal:
    """Members that are whole in the part file, one JSON line each after a line that says what is being made."""

    def __init__(self, file: Path, members: Sequence[Member], info: Sequence[tuple[str, str]]) -> None:
        self._file = file
        plan = [list(info), [[m.path, m.size, m.sha256] for m in members]]
        self._plan = hashlib.sha256(json.dumps(plan).encode()).hexdigest()

    def sound(self, handle: IO[bytes]) -> list[Written]:
        """What can be kept: members of the same plan whose bytes are still in the part file as noted."""
        found: list[Written] = []
        with contextlib.suppress(OSError, ValueError, TypeError):
            plan, *lines = self._file.read_text(encoding="utf-8").splitlines()
            if plan == self._plan:
                for written in (Written(**json.loads(line)) for line in lines):
                    if not _holds(handle, written):
                        break
                    found.append(written)
        lines = [self._plan, *(json.dumps(asdict(w)) for w in found)]
        self._file.write_text("".join(f"{line}\n" for line in lines), encoding="utf-8")
        return found

    def note(self, written: Written, handle: IO[bytes]) -> None:
        """Once the bytes of a large member are on the disk its line is written: small ones are soon made again."""
        if written.size >= _CHUNK:
            os.fdatasync(handle.fileno())
        with self._file.open("a", encoding="utf-8") as target:
            target.write(json.dumps(asdict(written)) + "\n")

    def end(self) -> None:
        """The bundle is whole."""
        self._file.unlink(missing_ok=True)


def _holds(handle: IO[bytes], written: Written) -> bool:
    handle.seek(written.end - written.size)
    digest, left = hashlib.sha256(), written.size
    while left and (chunk := handle.read(min(_CHUNK, left))):
        digest.update(chunk)
        left -= len(chunk)
    return not left and digest.hexdigest() == written.sha256


@contextlib.contextmanager
def _locked(part: Path) -> Iterator[IO[bytes]]:
    with os.fdopen(os.open(part, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644), "r+b") as handle:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise Busy("another program is making this bundle", item=str(part)) from None
        yield handle


@contextlib.contextmanager
def _errors(out: Path, total: int) -> Iterator[None]:
    try:
        yield
    except OSError as err:
        if err.errno in (errno.ENOSPC, errno.EDQUOT):
            raise NoRoom(
                f"the disk is full; the bundle needs about {total + total // 100:,} bytes", item=str(out.parent),
                advice="Make room and run the same command again; it goes on where it stopped.",
            ) from err  # fmt: skip
        raise OutputUnusable(f"cannot be written: {err.strerror}", item=str(out)) from err


def _flush_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
