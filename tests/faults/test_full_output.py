"""Every command that writes a file, where the place for it is full (fault matrix, row 4): told in words, nothing half written,
and the same command works once there is room."""

from __future__ import annotations

import errno
import os
import shutil
from pathlib import Path

import pytest
from evidence.bootstrap import make_workspace
from evidence.capture.sources import open_handed
from evidence.cli import main
from evidence.errors import EvidenceError, ExitCode
from evidence.usecases.intake import Answers, intake_folder
from test_disk import full, small_disk
from typer.testing import CliRunner

from conftest import still_desk
from fakes import quiet
from samples import small_folder

WRITING = {  # what is written, and the command without its place
    "page.html": "report van --no-sign --page",
    "labels.pdf": "custody label van photo-eyelet --out",
    "form.pdf": "custody handover van photo-eyelet --out",
    "head.note": "heads line van --out",
    "proof.txt": "heads proof van --from 3 --out",
    "key/": "keys export shop --out",
    "days.ics": "status van --calendar",
    "demand.pdf": "paper van demand --pdf",
}


@pytest.fixture(scope="module")
def shop(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("full")
    workspace = shutil.copytree(sqlite_template, home / "workspace")
    with still_desk(workspace) as desk:
        intake_folder(desk, open_handed(small_folder(home / "folder")), Answers(), quiet)
        assert desk.signer.public()
    return workspace


def say(*words: str) -> BaseException | None:
    """Run a command; the error that ended it, if one did."""
    done = CliRunner().invoke(main.app, list(words))
    if isinstance(done.exception, SystemExit):
        assert done.exit_code == 0, done.output
        return None
    return done.exception


@pytest.mark.parametrize("file", WRITING)
def test_no_room_for_what_is_written(shop: Path, quick_path: Path, file: str) -> None:
    with small_disk(quick_path / "disk", 4_000) as disk:
        words = ["--workspace", str(shop), *WRITING[file].split(), str(disk / file)]
        with full(disk, 0):
            told = say(*words)
            assert isinstance(told, EvidenceError), told
            assert "the disk is full" in str(told)
            assert told.exit_code == ExitCode.REFUSED
            assert [p.name for p in disk.iterdir()] == ["filler"]
        assert say(*words) is None
        assert (disk / file).exists()


def test_no_room_for_a_workspace_or_a_place(quick_path: Path) -> None:
    with small_disk(quick_path / "disk", 4_000) as disk:
        with full(disk, 0), pytest.raises(EvidenceError, match="the disk is full, the new workspace could not be kept"):
            make_workspace(disk / "shop", recorder="Ana Test")
        assert make_workspace(disk / "shop", recorder="Ana Test")
        words = ["--workspace", str(disk / "shop"), "place", "new", "vale"]
        with full(disk, 0):
            assert "No space left on device" in str(say(*words))
        assert say(*words) is None


def test_what_no_command_speaks_of_itself_is_one_message_too(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def refuses(**_how: object) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO), "/somewhere")

    monkeypatch.setattr(main, "app", refuses)
    monkeypatch.setattr(main.gc, "set_threshold", lambda _count: None)  # that is for a process of its own
    with pytest.raises(SystemExit) as end:
        main.run()
    assert end.value.code == ExitCode.REFUSED
    said = capsys.readouterr().err
    assert said.startswith("evidence: /somewhere: the system refused it: Input/output error [")
    assert "evidence recheck" in said
