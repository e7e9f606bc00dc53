"""The same faults as a person meets them: the command line's one message, and its documented exit code."""

from __future__ import annotations

import os
import re
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest
from evidence.store.database import REVISION

import commands
from samples import FILES, RECORDS, small_folder

ROOT = Path(__file__).parents[2]


def evidence(workspace: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return commands.evidence("--workspace", workspace, *words, COLUMNS="200")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return small_folder(tmp_path / "folder")


def test_intake_and_recheck_of_a_sound_folder(sqlite_workspace: Path, folder: Path) -> None:
    done = evidence(sqlite_workspace, "intake", str(folder))
    assert done.returncode == 0
    assert re.fullmatch(r"The shop's key was made\. .*\n", done.stderr)
    assert done.stdout.startswith(f"van: {RECORDS - 1} recorded, 0 amended, 0 unchanged\n")
    checked = evidence(sqlite_workspace, "recheck")
    assert (checked.returncode, checked.stderr) == (0, "")
    size = sum(map(len, FILES.values()))
    assert f"{RECORDS} entries, {len(FILES)} files, {size} bytes read; head agrees with its newest head line" in checked.stdout


def test_mistakes_are_refused_with_2_and_nothing_else_is_said(sqlite_workspace: Path, folder: Path) -> None:
    (folder / "dossier.yaml").write_text((folder / "dossier.yaml").read_text().replace("value: 3.10", "value: 3,10"))
    done = evidence(sqlite_workspace, "intake", str(folder))
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (
        "evidence: 1 mistake, nothing recorded\n"
        "  folder/dossier.yaml:47:12: drop, value: '3,10' is not a plain decimal number such as 12.60 or -0.5 (write 3.10) [E110]\n"
        "  Mend the places named and run the same command again.\n"
    )


def test_an_altered_original_is_damage_with_1(sqlite_workspace: Path, folder: Path) -> None:
    assert evidence(sqlite_workspace, "intake", str(folder)).returncode == 0
    original = next(f for f in (sqlite_workspace / "originals").rglob("*") if f.is_file() and f.stat().st_size == len(FILES["invoice.pdf"]))
    original.chmod(0o600)
    original.write_bytes(FILES["invoice.pdf"][:-1] + b"!")
    done = evidence(sqlite_workspace, "recheck")
    assert (done.returncode, done.stderr) == (1, "")
    assert "  FAULT F1 Exhibit 3: altered\n" in done.stdout
    assert "Not as recorded" in done.stdout


def test_a_database_held_by_another_program_is_busy_with_2(sqlite_workspace: Path, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The one place where the whole wait is waited for would cost 15 s; the words are those of the short wait."""
    from evidence.cli.main import app
    from evidence.errors import Busy
    from evidence.store import database
    from typer.testing import CliRunner

    monkeypatch.setattr(database, "WAIT_SECONDS", 0.2)
    held = sqlite3.connect(sqlite_workspace / "record.sqlite", isolation_level=None)
    held.execute("BEGIN IMMEDIATE")
    result = CliRunner().invoke(app, ["--workspace", str(sqlite_workspace), "intake", str(folder)])
    held.execute("ROLLBACK")
    held.close()
    assert isinstance(result.exception, Busy)
    assert int(result.exception.exit_code) == 2
    assert str(sqlite_workspace) in str(result.exception)


def test_a_database_of_a_newer_version_is_refused_with_2(sqlite_workspace: Path, folder: Path) -> None:
    database = sqlite3.connect(sqlite_workspace / "record.sqlite")
    database.execute("UPDATE alembic_version SET version_num = '9999'")
    database.commit()
    database.close()
    for words in (["intake", str(folder)], ["recheck"], ["dossiers"], ["workspace"]):
        done = evidence(sqlite_workspace, *words)
        assert (done.returncode, done.stdout) == (2, ""), words
        assert f"the database is of a newer version (9999; this program knows {REVISION}) [E102]\n  Use the newer program. Nothing was changed.\n" in done.stderr


@pytest.mark.campaign
def test_killed_at_any_moment_with_both_workers_and_previews(sqlite_template: Path, quick_path: Path) -> None:
    """The program as it is, killed after ever longer times: sound after each, and the same command completes it."""
    import shutil

    folder = small_folder(quick_path / "folder")
    for number in range(40):
        (folder / f"more-{number}").write_bytes(os.urandom(200_000))
    with (folder / "dossier.yaml").open("a") as out:
        out.write("events:\n  - {name: tow, what: tow, text: towed, time: 2026-03-01, basis: told}\n")
    text = (folder / "dossier.yaml").read_text()
    more = "".join(f"  - name: more-{n}\n    file: more-{n}\n" for n in range(40))
    (folder / "dossier.yaml").write_text(text.replace("  - name: invoice\n", more + "  - name: invoice\n"))
    killed, heads = 0, set()
    for step in range(20):
        workspace = shutil.copytree(sqlite_template, quick_path / f"workspace-{step}")
        running = subprocess.Popen(
            [sys.executable, "-m", "evidence.cli.main", "--workspace", str(workspace), "intake", str(folder)],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env={**os.environ, "PYTHONPATH": str(ROOT)}, start_new_session=True,
        )  # fmt: skip
        time.sleep(0.5 + step * 0.08)
        os.killpg(running.pid, signal.SIGKILL)
        killed += running.wait() == -signal.SIGKILL
        checked = evidence(workspace, "recheck")
        assert checked.returncode == 0, checked.stdout
        heads |= {part for part in ("agrees", "one transaction behind") if part in checked.stdout}
        assert evidence(workspace, "intake", str(folder)).returncode == 0
        checked = evidence(workspace, "recheck")
        assert checked.returncode == 0
        assert f"{RECORDS + 41} entries, {len(FILES) + 40} files" in checked.stdout
        assert "named by no entry" not in checked.stdout
        shutil.rmtree(workspace)
    print(f"\n{killed} of 20 killed on the way, after them the head line: {sorted(heads) or 'nothing recorded'}")
    assert killed > 5
