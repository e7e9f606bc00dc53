"""SIGKILL before every write, flush, renaming and commit of an intake (fault matrix, row 1).

After each kill the workspace passes its recheck, the same intake completes with no manual step, and what is
recorded is, to the last byte, what an undisturbed intake records. The default suite walks every n-th step;
``-m campaign`` walks all of them.
"""

from __future__ import annotations

import shutil
from collections import Counter
from pathlib import Path

import pytest
from evidence.capture.sources import open_handed
from evidence.usecases.intake import Answers, intake_folder
from evidence.usecases.recheck import recheck

from conftest import still_desk
from fakes import quiet
from samples import FILES, RECORDS, small_folder
from tracing import calls, counts, needs_strace, one_thread, traced

pytestmark = needs_strace

# Calls that change something on the disk. "openat" is among them because it makes files.
CHANGING = ("openat", "write", "pwrite64", "fsync", "fdatasync", "rename", "unlink", "ftruncate", "fchmod")
BEHIND = "one transaction behind the database (a crash before the flush); the line is moved up"
SAMPLED = 3  # every n-th step in the default suite


def take_in(workspace: Path, folder: Path) -> None:
    with one_thread(), still_desk(workspace) as desk:
        intake_folder(desk, open_handed(folder), Answers(), quiet)


def recorded(workspace: Path) -> list[tuple[bytes, bytes | None]]:
    with still_desk(workspace) as desk, desk.ledgers.reading() as view:
        return [(e.header, e.content) for ledger in view.ledgers() for e in view.entries(ledger)]


def stored(workspace: Path) -> list[str]:
    return sorted(f.name for f in (workspace / "originals").rglob("*") if f.is_file())


@pytest.fixture(scope="module")
def clean(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[tuple[bytes, bytes | None]], Counter[str]]:
    """The folder, what an undisturbed intake of it records, and how often it makes each call."""
    home = tmp_path_factory.mktemp("clean")
    folder = small_folder(home / "folder")
    take_in(shutil.copytree(sqlite_template, home / "warm"), folder)  # what is imported late is imported now
    workspace = shutil.copytree(sqlite_template, home / "workspace")
    outcome = traced(lambda: take_in(workspace, folder), home, "-e", f"trace={','.join(CHANGING)}")
    assert (outcome.killed, outcome.code, outcome.said) == (False, 0, "")
    entries = recorded(workspace)
    assert len(entries) == RECORDS
    assert len(stored(workspace)) == len(FILES)
    return folder, entries, counts(outcome.trace, CHANGING)


def _kill_and_mend(
    template: Path, home: Path, folder: Path, entries: list[tuple[bytes, bytes | None]], call: str, at: int
) -> str:
    """One step of the walk; returns what the recheck said of the head line."""
    workspace = shutil.copytree(template, home / "workspace")
    where = f"killed before {call} number {at}"
    outcome = traced(lambda: take_in(workspace, folder), home, "-e", f"trace={call}", "-e", f"inject={call}:signal=KILL:when={at}")
    assert outcome.killed, where
    with still_desk(workspace) as desk:
        result = recheck(desk, None, quiet)
    assert result.sound, (where, result)
    head = result.ledgers[0].head if result.ledgers else "nothing recorded"
    assert head == "nothing recorded" or head.startswith(("agrees", "one transaction behind")), where
    take_in(workspace, folder)
    assert recorded(workspace) == entries, where
    assert len(stored(workspace)) == len(FILES), (where, stored(workspace))
    with still_desk(workspace) as desk:
        again = recheck(desk, None, quiet)
    assert again.sound, (where, again)
    assert again.ledgers[0].head == "agrees with its newest head line", where
    assert again.remarks == (), (where, again.remarks)
    shutil.rmtree(workspace)
    return head


def _walk(template: Path, quick_path: Path, clean: tuple[Path, list[tuple[bytes, bytes | None]], Counter[str]], every: int) -> Counter[str]:
    folder, entries, counted = clean
    steps = [(call, at) for call in CHANGING for at in range(1, counted[call] + 1)]
    assert len(steps) > 50
    found: Counter[str] = Counter()
    for number, (call, at) in enumerate(steps):
        if number % every == 0:
            found[_kill_and_mend(template, quick_path, folder, entries, call, at)] += 1
    return found


def test_sampled_steps(sqlite_template: Path, quick_path: Path, clean: tuple[Path, list[tuple[bytes, bytes | None]], Counter[str]]) -> None:
    assert _walk(sqlite_template, quick_path, clean, SAMPLED)["nothing recorded"] > 3


@pytest.mark.campaign
def test_every_step(sqlite_template: Path, quick_path: Path, clean: tuple[Path, list[tuple[bytes, bytes | None]], Counter[str]]) -> None:
    found = _walk(sqlite_template, quick_path, clean, 1)
    print(f"\n{sum(found.values())} kills, calls {dict(clean[2])}, after them: {dict(found)}")
    assert found[BEHIND] >= 1  # between commit and head line


@pytest.mark.parametrize("call", ["fdatasync", "write"])
def test_between_commit_and_head_line_the_recheck_moves_the_line_up(
    sqlite_template: Path, quick_path: Path, clean: tuple[Path, list[tuple[bytes, bytes | None]], Counter[str]], call: str
) -> None:
    folder, entries, _counted = clean
    trace = traced(lambda: take_in(shutil.copytree(sqlite_template, quick_path / "w"), folder), quick_path, "-e", f"trace={call}").trace
    at = 1 + next(i for i, (_n, args) in enumerate(calls(trace, [call])) if "heads.log" in args)
    head = _kill_and_mend(sqlite_template, quick_path, folder, entries, call, at)
    assert head == ("agrees with its newest head line" if call == "fdatasync" else BEHIND)  # fmt: skip
