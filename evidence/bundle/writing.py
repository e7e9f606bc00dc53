"""Writing a bundle: streamed, taken up again where it was interrupted, and under its final name only when whole."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import json
import os
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path

from evidence.bundle import layout
from evidence.bundle.parts import PART, FolderPart, Member, Part, Written, ZipPart
from evidence.errors import EvidenceError, NoRoom, OutputUnusable
from evidence.ports import Progress

_LARGE = 1 << 20  # members of this size are made durable one by one: small ones are soon made again
_FOR_EACH = 1000  # bytes of manifests and zip directory for each member, generously
_SAFE = re.compile(r"[A-Za-z0-9_-][A-Za-z0-9._-]*(/[A-Za-z0-9_-][A-Za-z0-9._-]*)*")

Sealing = Callable[[str], Mapping[str, bytes]]  # SHA-256 of the tag manifest -> files that lie beside it


def write_bundle_to(
    out: Path, members: Sequence[Member], info: Sequence[tuple[str, str]], sealing: Sealing, progress: Progress,
    *, folder: bool = False,
) -> int:  # fmt: skip
    """Write a bundle, a zip or a folder; returns its size. The same members and seals give the same bytes.

    What was interrupted lies beside ``out`` under a name that starts with ``.evidence-``, and the same call goes on from it.
    """
    for member in members:
        if not _SAFE.fullmatch(member.path):
            raise EvidenceError(
                "such a name cannot be in a bundle", item=member.path, advice="Use letters, digits, '.', '_' and '-'."
            )
    todo = [Member.of(layout.BAGIT, layout.BAGIT_TEXT), Member.of(layout.BAG_INFO, _info(info, members))]
    todo += sorted(members, key=lambda m: m.path)
    total = sum(m.size for m in todo)
    with _errors(out, total):
        check_place(out, folder=folder)
        with (FolderPart if folder else ZipPart)(out) as part:
            _write(part, out, todo, sealing, progress)
            journal_of(out).unlink(missing_ok=True)
    return sum(f.stat().st_size for f in out.rglob("*") if f.is_file()) if folder else out.stat().st_size


def check_place(out: Path, *, folder: bool) -> None:
    """Before long work: whether the final name can be taken at its end."""
    if not out.parent.is_dir():
        raise OutputUnusable("there is no such folder", item=str(out.parent), advice="Make it first, or name another.")
    if folder and (out.is_symlink() or (out.exists() and not out.is_dir()) or (out.is_dir() and any(out.iterdir()))):
        raise OutputUnusable(
            "is there already and not an empty folder", item=str(out), advice="Name a new folder for the bundle."
        )
    if not folder and out.is_dir():
        raise OutputUnusable(
            "is a folder", item=str(out), advice=f"Name a file, or write {out}/ with a slash at its end for a folder."
        )


def journal_of(out: Path) -> Path:
    """Where it stands which members are whole, while a bundle is being written."""
    return out.with_name(f"{PART}{out.name}.journal")


def _write(part: Part, out: Path, todo: Sequence[Member], sealing: Sealing, progress: Progress) -> None:
    total = sum(m.size for m in todo)
    journal = _Journal(journal_of(out), todo)
    done = journal.sound(part, progress, total)
    part.go_on(done)
    count = sum(w.size for w in done)
    _check_room(out, total - count + _FOR_EACH * len(todo), total)

    def watch(size: int) -> None:
        nonlocal count
        count += size
        progress("writing", count, total)

    progress("writing", count, total)
    for member in todo[len(done) :]:
        done.append(part.add(member, watch))
        if member.size >= _LARGE:
            part.flush(done[-1])
        journal.note(done[-1])
    for path, data in _tags(done, sealing):
        part.add(Member.of(path, data), lambda _size: None)
    progress("writing", total, total)
    part.finish()


def _info(info: Sequence[tuple[str, str]], members: Sequence[Member]) -> bytes:
    payload = [m for m in members if m.path.startswith("data/")]
    oxum = f"{sum(m.size for m in payload)}.{len(payload)}"
    plain = [(key, " ".join(value.split())) for key, value in info]  # a line end would begin another field
    return "".join(f"{key}: {value}\n" for key, value in [*plain, ("Payload-Oxum", oxum)]).encode()


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
    """Members that are whole in the part, one JSON line each after a line that says what is being made."""

    def __init__(self, file: Path, todo: Sequence[Member]) -> None:
        self._file = file
        self._todo = todo
        self._plan = hashlib.sha256(json.dumps([[m.path, m.size, m.sha256] for m in todo]).encode()).hexdigest()

    def sound(self, part: Part, progress: Progress, total: int) -> list[Written]:
        """What can be kept: members of the same plan, in its order, whose bytes are still in the part as noted."""
        found: list[Written] = []
        count = 0
        with contextlib.suppress(FileNotFoundError, ValueError, TypeError):
            plan, *lines = self._file.read_text(encoding="utf-8").splitlines()
            if plan == self._plan:
                for member, line in zip(self._todo, lines, strict=False):
                    written = Written(**json.loads(line))
                    if written.path != member.path or not part.holds(written):
                        break
                    found.append(written)
                    count += written.size
                    progress("checking what is written already", count, total)
        lines = [self._plan, *(json.dumps(asdict(w)) for w in found)]
        self._file.write_text("".join(f"{line}\n" for line in lines), encoding="utf-8")
        return found

    def note(self, written: Written) -> None:
        """One more member is whole."""
        with self._file.open("a", encoding="utf-8") as target:
            target.write(json.dumps(asdict(written)) + "\n")


def _check_room(out: Path, wanted: int, total: int) -> None:
    room = os.statvfs(out.parent)
    if room.f_bavail * room.f_frsize < wanted:
        raise _no_room(out, total)


def _no_room(out: Path, total: int) -> NoRoom:
    return NoRoom(
        f"the disk is full; the bundle needs about {total + total // 100 + (1 << 16):,} bytes", item=str(out.parent),
        advice="Make room, or name a place on another disk. The same command goes on where it stopped.",
    )  # fmt: skip


@contextlib.contextmanager
def _errors(out: Path, total: int) -> Iterator[None]:
    try:
        yield
    except OSError as err:
        if err.errno in (errno.ENOSPC, errno.EDQUOT):
            raise _no_room(out, total) from err
        raise OutputUnusable(
            f"cannot be written: {err.strerror}", item=str(out), advice="Nothing was left under this name."
        ) from err
