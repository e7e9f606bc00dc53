"""A disk that refuses or is full (fault matrix, rows 4 and 5), and the order that power loss asks for."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import subprocess
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from evidence.capture.sources import open_handed
from evidence.errors import EvidenceError, ExitCode, HeadBehind, NoRoom
from evidence.record.canonical import sha256
from evidence.store.originals_disk import DiskOriginals
from evidence.usecases.heads import seal_head
from evidence.usecases.intake import Answers, intake_folder
from evidence.usecases.recheck import recheck
from evidence.usecases.record import record_heap, record_one
from test_kill import recorded, stored, take_in

from conftest import still_desk
from fakes import quiet
from samples import FILES, RECORDS, small_folder
from tracing import calls, needs_strace, one_thread, traced

pytestmark = needs_strace

REFUSALS = [
    ("fsync", "EIO"), ("fdatasync", "EIO"), ("pwrite64", "EIO"), ("write", "EIO"), ("rename", "EIO"), ("ftruncate", "EIO"),
    ("fchmod", "EIO"), ("pwrite64", "ENOSPC"), ("write", "ENOSPC"), ("fsync", "ENOSPC"), ("fdatasync", "ENOSPC"),
    ("write", "EROFS"),
]  # fmt: skip
SAMPLED = 7


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return small_folder(tmp_path_factory.mktemp("disk") / "folder")


@pytest.fixture(scope="module")
def entries(folder: Path, sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> list[tuple[bytes, bytes | None]]:
    workspace = shutil.copytree(sqlite_template, tmp_path_factory.mktemp("warm") / "workspace")
    take_in(workspace, folder)
    return recorded(workspace)


def _refused(
    template: Path, home: Path, folder: Path, entries: list[tuple[bytes, bytes | None]], call: str, error: str, at: int
) -> str:
    """Let one call fail; returns what was said, or an empty text where the intake did not make so many calls."""
    workspace = shutil.copytree(template, home / "workspace")
    where = f"{error} at {call} number {at}"
    outcome = traced(lambda: take_in(workspace, folder), home, "-e", f"trace={call}", "-e", f"inject={call}:error={error}:when={at}")
    injected = "(INJECTED)" in outcome.trace
    if injected:
        assert not outcome.killed, where
        assert outcome.code in (ExitCode.DONE, ExitCode.REFUSED, ExitCode.UNFINISHED), (where, outcome.said)
        assert "Traceback" not in outcome.said
        with still_desk(workspace) as desk:
            result = recheck(desk, None, quiet)
        assert result.sound, (where, result)
        if outcome.code == ExitCode.DONE:  # a checkpoint at the end may fail: the log still holds everything
            assert recorded(workspace) == entries, where
        if outcome.code == ExitCode.UNFINISHED:
            assert re.search("the entries are recorded, but not (the head line|their signed head)", outcome.said), where
            assert recorded(workspace) == entries, where
        take_in(workspace, folder)
        assert recorded(workspace) == entries, (where, outcome.said)
        assert len(stored(workspace)) == len(FILES), where
        with still_desk(workspace) as desk:
            again = recheck(desk, None, quiet)
        assert again.sound, (where, again)
        assert again.ledgers[0].head == "agrees with its newest head line", where
        with still_desk(workspace) as desk:
            assert seal_head(desk, again.ledgers[0].ledger).signed, where
    shutil.rmtree(workspace)
    return f"{outcome.code}: {outcome.said}" if injected else ""


@pytest.mark.parametrize(("call", "error"), REFUSALS)
@pytest.mark.parametrize("every", [SAMPLED, pytest.param(1, marks=pytest.mark.campaign)])
def test_one_refused_call_leaves_nothing_half_recorded(
    sqlite_template: Path, quick_path: Path, folder: Path, entries: list[tuple[bytes, bytes | None]], call: str, error: str, every: int
) -> None:
    said, at = [], 1
    while answer := _refused(sqlite_template, quick_path, folder, entries, call, error, at):
        said.append(answer)
        at += every
    assert said
    assert any(not answer.startswith("0:") for answer in said)
    for answer in said:
        code, _, words = answer.partition(": ")
        if code == "0":
            continue
        if error == "ENOSPC" and call == "write":
            assert "the disk is full" in words, (call, words)
        elif error == "ENOSPC":  # the database says "full" or, of its index and of a flush, "input or output error"
            assert re.search("the disk is full|the disk reported an error", words), (call, words)
        elif error == "EROFS":
            assert "read-only" in words, (call, words)
        else:
            assert re.search("the disk refused|the disk reported|head line", words), (call, words)
    if every == 1:
        print(f"\n{call} {error}: {len(said)} calls refused, exit codes {dict(Counter(a[0] for a in said))}")


@pytest.mark.parametrize("name", list(FILES))
def test_a_source_that_cannot_be_read_is_named_with_its_line(
    sqlite_workspace: Path, quick_path: Path, folder: Path, name: str
) -> None:
    """EIO on reading what was handed in: a mistake of that exhibit, never an error of the store."""
    outcome = traced(lambda: take_in(sqlite_workspace, folder), quick_path, "-P", str(folder / name),
                     "-e", "inject=readv,read:error=EIO:when=1")  # fmt: skip
    assert outcome.code == ExitCode.REFUSED
    line = next(i for i, text in enumerate((folder / "dossier.yaml").read_text().splitlines(), 1) if name in text)
    exhibit = {"photos/eyelet.jpg": "photo-eyelet", "photos/rail.jpg": "photo-rail", "invoice.pdf": "invoice"}[name]
    assert outcome.said.startswith(
        f"1 mistake, nothing recorded\n  folder/dossier.yaml:{line}:11: {exhibit}: {name} cannot be read: Input/output error"
    )
    assert recorded(sqlite_workspace) == []


def test_of_a_heap_the_readable_files_are_taken(sqlite_workspace: Path, quick_path: Path, folder: Path) -> None:
    from evidence.capture.sources import heap_of

    take_in(sqlite_workspace, folder)
    for name in ("one", "two", "three"):
        (quick_path / name).write_bytes(name.encode() * 50)
    sources, _skipped, _notes = heap_of([quick_path / n for n in ("one", "two", "three")])

    def work() -> None:
        with one_thread(), still_desk(sqlite_workspace, 1000) as desk:
            found = record_heap(desk, "van", sources, {}, quiet)
        assert [e.summary for e in found.entered] == ["one", "three"]
        assert found.refused == (("two", "cannot be read: Input/output error"),)

    outcome = traced(work, quick_path, "-P", str(quick_path / "two"), "-e", "inject=readv:error=EIO:when=1")
    assert (outcome.code, outcome.said) == (0, "")
    assert len(recorded(sqlite_workspace)) == RECORDS + 3  # two exhibits, and the workspace's recorder as a party


def test_an_unreadable_original_is_a_fault_and_the_rest_is_checked(sqlite_workspace: Path, quick_path: Path, folder: Path) -> None:
    take_in(sqlite_workspace, folder)
    import hashlib

    bad = hashlib.sha256(FILES["invoice.pdf"]).hexdigest()

    def work() -> None:
        with one_thread(), still_desk(sqlite_workspace) as desk:
            result = recheck(desk, None, quiet)
        assert [str(f) for v in result.ledgers for f in v.faults] == [
            "F1 Exhibit 3: unreadable: it cannot be read: Input/output error"
        ]

    path = sqlite_workspace / "originals" / bad[:2] / bad
    outcome = traced(work, quick_path, "-P", str(path), "-e", "inject=readv:error=EIO:when=1")
    assert (outcome.code, outcome.said) == (0, "")


def test_each_file_that_is_not_as_recorded_is_named_with_what_is_wrong(sqlite_workspace: Path, folder: Path) -> None:
    """Rows 9, 10 and 12 in a workspace: altered, missing, short, empty; two swapped are named with whose file each holds."""
    take_in(sqlite_workspace, folder)
    names = {"photos/eyelet.jpg": "Exhibit 1", "photos/rail.jpg": "Exhibit 2", "invoice.pdf": "Exhibit 3"}
    files = {label: sqlite_workspace / "originals" / d[:2] / d for name, label in names.items() for d in [sha256(FILES[name])]}
    data = {label: file.read_bytes() for label, file in files.items()}
    assert len(set(map(len, data.values()))) == 3  # a swap makes one of them shorter

    def told(**changed: bytes | None) -> list[str]:
        for label, now in changed.items():
            file = files[label.replace("_", " ")]
            file.unlink()
            if now is not None:
                file.write_bytes(now)
        with still_desk(sqlite_workspace) as desk:
            said = [str(f) for v in recheck(desk, None, quiet).ledgers for f in v.faults]
        for label, file in files.items():
            file.unlink(missing_ok=True)
            file.write_bytes(data[label])
        return said

    one, two = data["Exhibit 1"], data["Exhibit 3"]
    assert told(Exhibit_1=one[:-1] + bytes([one[-1] ^ 1])) == ["F1 Exhibit 1: altered"]
    assert told(Exhibit_1=None) == ["F1 Exhibit 1: missing"]
    assert told(Exhibit_1=one[:5]) == [f"F1 Exhibit 1: short: 5 bytes of {len(one)}"]
    assert told(Exhibit_1=b"") == [f"F1 Exhibit 1: short: 0 bytes of {len(one)}"]
    assert told(Exhibit_1=two, Exhibit_3=one) == [
        "F1 Exhibit 1: content of another exhibit (Exhibit 3)", "F1 Exhibit 3: content of another exhibit (Exhibit 1)"
    ]  # fmt: skip
    assert told() == []


# ---- a full disk ----------------------------------------------------------------------------------------------


@contextlib.contextmanager
def small_disk(place: Path, kilobytes: int) -> Iterator[Path]:
    place.mkdir()
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", str(place)], capture_output=True)
    if made.returncode:
        pytest.skip(f"a small disk cannot be mounted here: {made.stderr.decode().strip()}")
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)


@contextlib.contextmanager
def full(disk: Path, leave: int) -> Iterator[None]:
    """Fill the disk but for ``leave`` bytes."""
    filler = disk / "filler"
    free = os.statvfs(disk)
    with filler.open("wb") as handle:
        handle.write(b"\0" * max(0, free.f_bavail * free.f_frsize - leave))
    yield
    filler.unlink()


@pytest.mark.parametrize("leave", [0, 12_288, 40_960, 81_920, 102_400, 122_880, 143_360])
def test_a_full_disk_is_told_and_the_same_command_works_once_there_is_room(
    sqlite_template: Path, quick_path: Path, folder: Path, entries: list[tuple[bytes, bytes | None]], leave: int
) -> None:
    """From no room for the first original to no room for the database's log."""
    with small_disk(quick_path / "disk", 4_000) as disk:
        workspace = shutil.copytree(sqlite_template, disk / "workspace")
        with full(disk, leave):
            with pytest.raises(EvidenceError) as err:
                take_in(workspace, folder)
            assert "the disk is full" in err.value.message
            assert re.search("[Mm]ake room", err.value.advice)
            assert err.value.exit_code == (ExitCode.UNFINISHED if isinstance(err.value, HeadBehind) else ExitCode.REFUSED)
            with still_desk(workspace) as desk:  # it can be checked while the disk is full
                assert recheck(desk, None, quiet).sound
        take_in(workspace, folder)
        assert recorded(workspace) == entries
        with still_desk(workspace) as desk:
            assert recheck(desk, None, quiet).sound


def test_no_room_for_an_original_says_how_much_there_is(sqlite_template: Path, quick_path: Path, folder: Path) -> None:
    with small_disk(quick_path / "disk", 3_000) as disk:
        workspace = shutil.copytree(sqlite_template, disk / "workspace")
        with full(disk, 8_192), pytest.raises(NoRoom) as err:
            take_in(workspace, folder)
        assert re.search(r"the disk is full \(\d+ bytes free\)", err.value.message)
        assert recorded(workspace) == []
        assert not list((workspace / "originals").glob("incoming-*"))


# ---- the order that power loss asks for ---------------------------------------------------------------------------

_FLOW = ("openat", "write", "pwrite64", "fsync", "fdatasync", "rename")


def _steps(trace: str, workspace: Path) -> list[str]:
    """The calls that matter, in words: ``fsync blob``, ``rename``, ``fsync shelf``, ``write wal`` ..."""
    found = []
    for name, args in calls(trace, _FLOW):
        where = (
            "blob" if "/originals/incoming-" in args else "head" if "heads.log" in args else "wal" if "record.sqlite-wal" in args
            else "database" if "record.sqlite>" in args else "shelf" if re.search(r"/originals/[0-9a-f]{2}>", args) else ""
        )  # fmt: skip
        if where and name != "openat":
            found.append(f"{name} {where}")
    return found


def test_files_then_commit_then_head_line(sqlite_workspace: Path, quick_path: Path, folder: Path) -> None:
    """Each original: write, fsync, rename, fsync of its shelf; then one commit; then the head line, flushed."""
    outcome = traced(lambda: take_in(sqlite_workspace, folder), quick_path, "-e", f"trace={','.join(_FLOW)}")
    assert outcome.code == 0, outcome.said
    steps = _steps(outcome.trace, sqlite_workspace)
    last_shelf = len(steps) - 1 - steps[::-1].index("fsync shelf")
    blobs = steps[: last_shelf + 1]
    assert blobs == ["write blob", "fsync blob", "rename blob", "fsync shelf"] * len(FILES)
    after = steps[last_shelf + 1 :]
    assert after[0] == "pwrite64 wal"
    head = after.index("write head")
    assert after[head - 1] == "fdatasync wal"  # the commit is on the disk before the head line is written
    assert after[head + 1] == "fdatasync head"
    assert "fdatasync head" not in after[:head]
    assert after.count("write head") == 1
    before_close = after[: head + 2]
    flushes = [s for s in steps[: last_shelf + 1] if s.startswith(("fsync", "fdatasync"))]
    assert len(flushes) == 2 * len(FILES)  # at most 3 for each exhibit
    assert before_close.count("fdatasync wal") <= 2  # one for a new log's header, one for the commit


def test_a_single_event_costs_one_flush_of_the_commit_and_one_of_the_head_line(
    sqlite_workspace: Path, quick_path: Path, folder: Path
) -> None:
    take_in(sqlite_workspace, folder)

    def work() -> None:
        with still_desk(sqlite_workspace, 1000) as desk:
            for text in ("first", "second", "third"):
                record_one(desk, "van", "event", {"what": "tow", "text": text, "time": "2026-03-01", "basis": "told"})
            os.rename(quick_path / "mark", quick_path / "marked")
            record_one(desk, "van", "event", {"what": "tow", "text": "fourth", "time": "2026-03-01", "basis": "told"})
            os.rename(quick_path / "marked", quick_path / "mark")

    (quick_path / "mark").touch()
    outcome = traced(work, quick_path, "-e", f"trace={','.join(_FLOW)}")
    assert outcome.code == 0, outcome.said
    between = outcome.trace.split('/marked"')[1]
    steps = [s for s in _steps(between, sqlite_workspace) if s.startswith(("fsync", "fdatasync"))]
    assert steps == ["fdatasync wal", "fdatasync head"]


def test_a_flush_that_failed_is_not_tried_again_on_the_same_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from evidence.ports import Source
    from evidence.store.originals_disk import make_shelves

    make_shelves(tmp_path / "originals")
    (tmp_path / "photo").write_bytes(b"photo")
    flushed: list[int] = []

    def failing(handle: int) -> None:
        flushed.append(handle)
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(os, "fsync", failing)
    source = Source(tmp_path / "photo", "photo", None, 5)
    with pytest.raises(EvidenceError, match="the disk refused to store a file: Input/output error"):
        list(DiskOriginals(tmp_path / "originals").take([source], known_sizes=frozenset(), read_facts=lambda *_: None, progress=quiet))  # type: ignore[arg-type,return-value]
    assert len(flushed) == 1
    assert not [f for f in (tmp_path / "originals").rglob("*") if f.is_file()]


def test_a_head_line_after_a_failed_flush_starts_on_a_line_of_its_own(sqlite_workspace: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from evidence.record.head import Head
    from evidence.store.heads_file import HeadsFile

    heads = HeadsFile(sqlite_workspace / "heads.log")
    write = os.write
    monkeypatch.setattr(os, "write", lambda handle, data: write(handle, data[:10]) if len(data) > 10 else write(handle, data))
    heads.note(Head("a", 1, b"1" * 32))  # a disk that takes ten bytes at a time
    monkeypatch.setattr(os, "write", lambda handle, data: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    with pytest.raises(HeadBehind, match="the entries are recorded, but not the head line beside the database: the disk is full"):
        heads.note(Head("a", 2, b"2" * 32))
    monkeypatch.undo()
    with (sqlite_workspace / "heads.log").open("a") as handle:
        handle.write("torn")
    heads.note(Head("a", 3, b"3" * 32))
    assert [h and h.size for h in heads.lines()] == [1, None, 3]
    heads.close()


def test_intake_of_a_folder_that_is_taken_in_writes_and_flushes_nothing(sqlite_workspace: Path, quick_path: Path, folder: Path) -> None:
    take_in(sqlite_workspace, folder)

    def work() -> None:
        with one_thread(), still_desk(sqlite_workspace) as desk:
            intake_folder(desk, open_handed(folder), Answers(), quiet)

    outcome = traced(work, quick_path, "-e", "trace=write,pwrite64,rename")
    assert outcome.code == 0
    assert [s for s in _steps(outcome.trace, sqlite_workspace) if s != "pwrite64 wal"] == []
