"""SIGKILL while a report is written and signed (fault matrix, row 2), and a disk that refuses (rows 4 and 5).

Whatever the step: the old file whole or the new file whole, never half; the next run needs no manual step, sweeps what
was left, and gives again what was kept. The default suite samples the steps; ``-m campaign`` walks all of them.
"""

from __future__ import annotations

import functools
import shutil
from collections import Counter
from pathlib import Path
from typing import Self
from unittest import mock

import pytest
from evidence.errors import ExitCode
from evidence.publishing import PUBLISHED, ReportOptions, write_report
from evidence.report import sealing
from evidence.report.sealing import check_signature
from evidence.report.writing import PART_PREFIX
from evidence.usecases.record import open_dossier, record_one

from conftest import Cluster, still_desk
from fakes import quiet
from tracing import counts, needs_strace, one_thread, traced

CHANGING = ("openat", "write", "pwrite64", "fsync", "rename", "unlink", "ftruncate", "fchmod", "mkdir")
OLD = b"the report before"
SAMPLED = 24


class Here:
    """Signs in this process, so that each of its steps can be the last; archives are judged elsewhere."""

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_exc: object) -> None:
        """Nothing is held."""

    def require_archive(self, path: Path) -> None:
        """Reads only."""

    seal = staticmethod(sealing.seal)


def make(workspace: Path, out: Path) -> None:
    """A report, in one process and one thread: others would blur the count of calls."""
    with mock.patch.object(sealing, "Judge", Here), one_thread(), still_desk(workspace) as desk:
        write_report(desk, workspace, "van", out, ReportOptions(), quiet)


@pytest.fixture(scope="module", params=["sqlite", pytest.param("postgresql", marks=[pytest.mark.postgres, pytest.mark.campaign])])
def prepared(request: pytest.FixtureRequest, sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Counter[str]]:
    """A workspace with a dossier, a signed head and a key, and how often a report of it makes each call.

    Copies of it share a database server's database: a report adds no entry.
    """
    home = tmp_path_factory.mktemp("prepared")
    workspace = shutil.copytree(sqlite_template, home / "workspace")
    if request.param == "postgresql":
        cluster: Cluster = request.getfixturevalue("cluster")
        name = cluster.fresh(request.getfixturevalue("postgresql_template"))
        with (workspace / "settings.toml").open("a") as settings:
            settings.write(f'\ndatabase = "{cluster.url(name)}"\n')
        (workspace / "record.sqlite").unlink()
    with still_desk(workspace) as desk:
        open_dossier(desk, {"title": "A van", "name": "van"})
        record_one(desk, "van", "event", {"what": "stop", "text": "Engine stopped", "time": "2026-03-01", "basis": "told"})
    make(workspace, home / "warm.pdf")  # what is imported late is imported now; key and head are made
    shutil.rmtree(workspace / PUBLISHED)
    copy = shutil.copytree(workspace, home / "copy")
    outcome = traced(lambda: make(copy, home / "r.pdf"), home, "-e", f"trace={','.join(CHANGING)}")
    assert (outcome.killed, outcome.code, outcome.said) == (False, 0, "")
    return workspace, counts(outcome.trace, CHANGING)


def kept(workspace: Path) -> bytes | None:
    """The kept report that counts, if there is one."""
    found = [p.parent / "report.pdf" for p in (workspace / PUBLISHED).glob("*/about.json")]
    return found[0].read_bytes() if found else None


def kill_and_mend(prepared: Path, home: Path, call: str, at: int) -> str:
    workspace, out = shutil.copytree(prepared, home / "workspace"), home / "out" / "r.pdf"
    out.parent.mkdir()
    out.write_bytes(OLD)
    where = f"killed before {call} number {at}"
    outcome = traced(lambda: make(workspace, out), home, "-e", f"trace={call}", "-e", f"inject={call}:signal=KILL:when={at}")
    assert outcome.killed, (where, outcome.said)
    before = kept(workspace)
    old = out.read_bytes() == OLD
    if not old:
        check_signature(out)
        assert out.read_bytes() == before, where
    make(workspace, out)
    check_signature(out)
    if before:
        assert out.read_bytes() == before, where  # never a second signature on what was kept
    assert kept(workspace) == out.read_bytes()
    assert [p.name for p in out.parent.iterdir()] == ["r.pdf"], where
    for place in (workspace / PUBLISHED).iterdir():
        assert sorted(p.name for p in place.iterdir()) == ["about.json", "report.pdf"], where
    shutil.rmtree(workspace)
    shutil.rmtree(out.parent)
    return f"{'old' if old else 'new'} file, {'kept' if before else 'not kept'}"


def steps_of(counted: Counter[str]) -> list[tuple[str, int]]:
    steps = [(call, at) for call in CHANGING for at in range(1, counted[call] + 1)]
    assert len(steps) > 40
    return steps


@needs_strace
def test_sampled_steps(prepared: tuple[Path, Counter[str]], quick_path: Path) -> None:
    workspace, counted = prepared
    steps = steps_of(counted)
    found = Counter(kill_and_mend(workspace, quick_path, *step) for step in steps[:: max(1, len(steps) // SAMPLED)])
    assert found["old file, not kept"] > 5


@needs_strace
@pytest.mark.parametrize("call", ["rename", "fsync"])
def test_around_every_renaming(prepared: tuple[Path, Counter[str]], quick_path: Path, call: str) -> None:
    workspace, counted = prepared
    found = Counter(kill_and_mend(workspace, quick_path, call, at) for at in range(1, counted[call] + 1))
    assert found["old file, kept"] >= 1  # between keeping and handing out
    assert set(found) <= {"old file, kept", "old file, not kept", "new file, kept"}


@needs_strace
@pytest.mark.campaign
def test_every_step(prepared: tuple[Path, Counter[str]], quick_path: Path) -> None:
    workspace, counted = prepared
    found = Counter(kill_and_mend(workspace, quick_path, *step) for step in steps_of(counted))
    print(f"\n{sum(found.values())} kills, calls {dict(counted)}, after them: {dict(found)}")


@needs_strace
@pytest.mark.parametrize(("call", "error"), [("write", "ENOSPC"), ("fsync", "ENOSPC"), ("fsync", "EIO"), ("rename", "EIO")])
def test_a_disk_that_refuses_is_one_message_and_the_same_command_works_afterwards(
    prepared: tuple[Path, Counter[str]], quick_path: Path, call: str, error: str
) -> None:
    codes: Counter[int] = Counter()
    for at in range(1, prepared[1][call] + 1, 3 if call == "write" else 1):
        workspace, out = shutil.copytree(prepared[0], quick_path / "workspace"), quick_path / "r.pdf"
        work = functools.partial(make, workspace, out)
        outcome = traced(work, quick_path, "-e", f"trace={call}", "-e", f"inject={call}:error={error}:when={at}")
        codes[outcome.code] += 1
        if outcome.code:
            assert outcome.code in (ExitCode.REFUSED, ExitCode.DAMAGED), (at, outcome.said)
            assert "Traceback" not in outcome.said
            assert not out.exists() or check_signature(out)
        make(workspace, out)
        check_signature(out)
        assert out.read_bytes() == kept(workspace)
        assert not list(quick_path.glob(f"{PART_PREFIX}*"))
        shutil.rmtree(workspace)
        out.unlink()
    assert codes[ExitCode.REFUSED] >= 2
