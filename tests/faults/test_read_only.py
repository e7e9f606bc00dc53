"""A workspace that may not be written to (fault matrix, row 6): all that reads works, what writes says why.

Root ignores permissions, so the work is done by a process of another user.
"""

from __future__ import annotations

import codecs
import contextlib
import os
import shutil
import stat
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from evidence.bundle.alone.verify import check
from evidence.capture.sources import open_handed
from evidence.errors import EvidenceError, WorkspaceUnusable
from evidence.handing_over import write_bundle
from evidence.publishing import ReportOptions, write_report
from evidence.review.disclosing import Choice
from evidence.usecases.intake import Answers, intake_folder
from evidence.usecases.looking import detail, ledger_lines, overview
from evidence.usecases.recheck import recheck
from evidence.usecases.record import amend_one, record_heap, record_one, withdraw_one

from conftest import still_desk
from fakes import quiet
from samples import FILES, RECORDS, small_folder

NOBODY = 65_534
codecs.lookup("utf-8-sig")  # loaded while the interpreter's own folder may still be read


def as_somebody_else(work: Callable[[], None]) -> str:
    """Run as a user who owns nothing here; an empty text, or what went wrong."""
    ours, theirs = os.pipe()
    child = os.fork()
    if not child:
        said = ""
        try:
            if os.geteuid() == 0:
                os.setgroups([])
                os.setgid(NOBODY)
                os.setuid(NOBODY)
            work()
        except BaseException:  # noqa: BLE001 - told to the parent
            import traceback

            said = traceback.format_exc()
        os.write(theirs, said.encode()[:60_000])
        os._exit(0)
    os.close(theirs)
    with os.fdopen(ours) as handle:
        said = handle.read()
    os.waitpid(child, 0)
    return said


def lock_up(folder: Path) -> None:
    folder.parent.chmod(0o755)
    for path in (folder, *folder.rglob("*")):
        private = "keys" in path.relative_to(folder).parts  # what others may read of it would be a fault of its own
        path.chmod((0o500 if private else 0o555) if path.is_dir() else 0o400 if private else 0o444)


@pytest.fixture
def taken_in(workspace: Path, quick_path: Path) -> Iterator[tuple[Path, Path]]:
    folder = small_folder(quick_path / "folder")
    with still_desk(workspace) as desk:
        intake_folder(desk, open_handed(folder), Answers(), quiet)
        everything_that_reads(workspace)  # what is imported late is imported now
    yield workspace, folder
    for path in (workspace, *workspace.rglob("*")):
        path.chmod(path.stat().st_mode | stat.S_IWUSR)


def everything_that_reads(workspace: Path) -> None:
    with still_desk(workspace) as desk:
        with desk.ledgers.reading() as view:
            assert [d.name for d in view.dossiers("gasket")] == ["van"]
            assert len(view.search("eyelet", None)) == 1
        assert len(overview(desk, "van").records) == RECORDS
        assert detail(desk, "van", "exhibit 1").label == "Exhibit 1"
        assert len(ledger_lines(desk, "van")) == RECORDS
        result = recheck(desk, None, quiet, mend=False)
        assert result.sound, result
        assert [(v.entries, v.files) for v in result.ledgers] == [(RECORDS, len(FILES))]


def listing(folder: Path) -> list[tuple[str, int, int]]:
    return sorted((str(p), p.stat().st_size, p.stat().st_mtime_ns) for p in folder.rglob("*"))


def test_everything_that_reads_works_and_leaves_no_trace(taken_in: tuple[Path, Path]) -> None:
    workspace, _folder = taken_in
    lock_up(workspace)
    before = listing(workspace)
    assert as_somebody_else(lambda: everything_that_reads(workspace)) == ""
    assert listing(workspace) == before


@contextlib.contextmanager
def read_only_medium(folder: Path) -> Iterator[None]:
    """The folder as it is on a medium that takes no writing, for this user too."""
    for words in (["--bind", folder, folder], ["-o", "remount,ro,bind", folder]):
        made = subprocess.run(["mount", *map(str, words)], capture_output=True)
        if made.returncode:
            pytest.skip(f"nothing can be mounted read-only here: {made.stderr.decode().strip()}")
    try:
        yield
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


def test_bundle_and_report_are_made_elsewhere_from_a_workspace_that_takes_no_writing(taken_in: tuple[Path, Path], quick_path: Path) -> None:
    workspace, _folder = taken_in
    with read_only_medium(workspace), still_desk(workspace) as desk:
        before = listing(workspace)
        bundle = write_bundle(desk, workspace, "van", Choice(), quick_path / "van.zip", quiet)
        found = check(str(quick_path / "van.zip"), bundle.fingerprint)
        assert (found.faults, found.finished) == ([], True)
        report = write_report(desk, workspace, "van", quick_path / "van.pdf", ReportOptions(), quiet)
        assert (quick_path / "van.pdf").read_bytes().startswith(b"%PDF")
        assert any("cannot be written to" in note for note in report.notes)
        assert listing(workspace) == before


def test_everything_that_writes_says_why_not(taken_in: tuple[Path, Path], quick_path: Path) -> None:
    from evidence.capture.sources import heap_of

    workspace, folder = taken_in
    (folder / "dossier.yaml").write_text((folder / "dossier.yaml").read_text().replace("delivery van", "van"))
    (quick_path / "other").write_bytes(b"other")
    sources, _skipped, _notes = heap_of([quick_path / "other"])
    lock_up(workspace)
    before = listing(workspace)

    def work() -> None:
        with still_desk(workspace, 1000) as desk:
            for write in (
                lambda: intake_folder(desk, open_handed(folder), Answers(reason="shorter"), quiet),
                lambda: record_heap(desk, "van", sources, {}, quiet),
                lambda: record_one(desk, "van", "vehicle", {"description": "another"}),
                lambda: amend_one(desk, "van", "vehicle 1", {"plate": "1"}, "misread"),
                lambda: withdraw_one(desk, "van", "vehicle 1", "not ours"),
                desk.ledgers.rebuild,
            ):
                with pytest.raises(WorkspaceUnusable) as err:
                    write()
                assert err.value.message == "the workspace is read-only"
                assert "writable copy" in err.value.advice

    assert as_somebody_else(work) == ""
    assert listing(workspace) == before


@pytest.fixture(params=["with its index", "without its index"])
def left_over(request: pytest.FixtureRequest, sqlite_workspace: Path, quick_path: Path) -> Path:
    """A workspace whose newest transaction is in the write-ahead log alone, as a kill leaves it."""
    folder = small_folder(quick_path / "folder")
    with still_desk(sqlite_workspace) as desk:
        intake_folder(desk, open_handed(folder), Answers(), quiet)
        copy = shutil.copytree(sqlite_workspace, quick_path / "copy")  # while it is open: the log is not folded in yet
    everything_that_reads(sqlite_workspace)
    assert (copy / "record.sqlite-wal").stat().st_size > 0
    if request.param == "without its index":
        (copy / "record.sqlite-shm").unlink()
    return copy


def test_a_log_left_over_is_read_on_read_only_media(left_over: Path) -> None:
    """The log holds acknowledged entries: they must not be hidden because nothing may be written."""
    lock_up(left_over)
    before = listing(left_over)
    assert as_somebody_else(lambda: everything_that_reads(left_over)) == ""
    assert [entry[:2] for entry in listing(left_over)] == [entry[:2] for entry in before]


def test_a_source_that_may_not_be_read_is_named(sqlite_workspace: Path, quick_path: Path) -> None:
    folder = small_folder(quick_path / "folder")
    for path in (sqlite_workspace, *sqlite_workspace.rglob("*")):
        path.chmod(0o777)
    quick_path.chmod(0o755)
    (folder / "invoice.pdf").chmod(0o000)

    def work() -> None:
        with still_desk(sqlite_workspace) as desk, pytest.raises(EvidenceError) as err:
            intake_folder(desk, open_handed(folder), Answers(), quiet)
        assert "folder/dossier.yaml:30:11: invoice: 'invoice.pdf' may not be read (change its permissions)" in str(err.value)

    assert as_somebody_else(work) == ""
    (folder / "invoice.pdf").chmod(0o400)


def test_a_read_only_source_is_the_normal_case_and_is_left_alone(sqlite_workspace: Path, quick_path: Path) -> None:
    folder = small_folder(quick_path / "folder")
    for path in (sqlite_workspace, *sqlite_workspace.rglob("*")):
        path.chmod(0o777)
    lock_up(folder)
    before = listing(folder)

    def work() -> None:
        with still_desk(sqlite_workspace) as desk:
            assert len(intake_folder(desk, open_handed(folder), Answers(), quiet).recorded) == RECORDS - 1

    assert as_somebody_else(work) == ""
    assert listing(folder) == before
    for path in (folder, *folder.rglob("*")):
        path.chmod(0o755)
