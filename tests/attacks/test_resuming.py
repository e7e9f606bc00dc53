"""An interrupted check goes on where it stopped (fault matrix, row 3), and a position is never believed of other bytes."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from bag_kit import Sealed, packed
from evidence import receiving
from evidence.bundle import position
from evidence.bundle.position import Resumed, cache_folder

from fakes import quiet


@pytest.fixture
def bundle(sealed: Sealed, tmp_path: Path) -> Path:
    (tmp_path / "bundle.zip").write_bytes(sealed.data)
    return tmp_path / "bundle.zip"


def _run(bundle: Path, cache: Path, **asked: object) -> receiving.Verdict:
    return receiving.verify_received(bundle, receiving.Asked(threads=1, **asked), quiet, cache)


def test_a_budget_ends_the_run_and_the_next_goes_on(bundle: Path, tmp_path: Path) -> None:
    cache, read = tmp_path / "cache", []
    for _run_number in range(100):
        verdict = _run(bundle, cache, budget=1e-9)  # each run reads one file more
        read.append(verdict.found.files_read)
        if verdict.exit_code == 0:
            break
        assert verdict.exit_code == 3
        assert verdict.sentence.startswith(f"not finished: {read[-1]} of ")
    assert read == list(range(1, len(read) + 1))
    assert len(read) > 20
    assert list(cache.iterdir()) == []  # nothing is left once it is whole
    assert verdict == _run(bundle, cache)


def test_what_changed_since_is_read_again(bundle: Path, tmp_path: Path, sealed: Sealed) -> None:
    cache = tmp_path / "cache"
    for _ in range(10):
        assert _run(bundle, cache, budget=1e-9).exit_code == 3
    name = next(n for n in sealed.files if n.startswith("data/originals/"))
    data = bytearray(sealed.files[name])
    data[5] ^= 1
    bundle.write_bytes(packed({**sealed.files, name: bytes(data)}))
    assert _run(bundle, cache).exit_code == 1


def test_a_position_that_is_cut_off_or_nonsense_costs_time_alone(bundle: Path, tmp_path: Path) -> None:
    cache = tmp_path / "cache"
    for _ in range(5):
        _run(bundle, cache, budget=1e-9)
    (note,) = cache.iterdir()
    lines = note.read_text().splitlines()
    assert len(lines) == 5
    note.write_text("\n".join([*lines[:3], lines[3][:20], "[]", "{}", '["a", 1, false, "x"]', "\x00"]))
    verdict = _run(bundle, cache, budget=1e-9)
    assert (verdict.exit_code, verdict.found.files_read) == (3, 4)
    note.write_bytes(b"\xff\xfe")
    assert _run(bundle, cache).exit_code == 0


def test_it_is_noted_every_five_seconds_or_gigabyte(bundle: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, sealed: Sealed) -> None:
    saved: list[int] = []
    now = iter(range(0, 10_000, 2))
    monkeypatch.setattr(position.time, "monotonic", lambda: float(next(now)))
    monkeypatch.setattr(Resumed, "save", lambda self: saved.append(len(self._lines)) or self._lines.clear())
    _run(bundle, tmp_path / "cache")
    assert saved[:3] == [3, 3, 3]  # two seconds a file: a note after the third
    monkeypatch.setattr(position.time, "monotonic", lambda: 0.0)
    saved.clear()
    _run(bundle, tmp_path / "cache")
    assert saved == []
    monkeypatch.setattr(position, "_EVERY_BYTES", 100_000)
    _run(bundle, tmp_path / "cache")
    assert saved


def test_nowhere_to_keep_it(bundle: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    assert _run(bundle, tmp_path / "file" / "below", budget=1e-9).exit_code == 3
    assert _run(bundle, tmp_path / "file" / "below").exit_code == 0


def test_where_it_is_kept(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert cache_folder() == tmp_path / "evidence" / "verify"
    monkeypatch.delenv("XDG_CACHE_HOME")
    monkeypatch.setenv("HOME", "/home/somebody")
    assert cache_folder() == Path("/home/somebody/.cache/evidence/verify")


def test_killed_in_the_middle_it_runs_again_to_the_same_verdict(sealed: Sealed, tmp_path: Path) -> None:
    """SIGKILL and SIGINT while reading: the next run needs no step by hand; the interrupted one says "not finished"."""
    root = tmp_path / "disclosure"
    for name, data in sealed.files.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_bytes(data)
    slow = root / "data/originals/exhibit-0003.jpg"
    data = slow.read_bytes()
    environment = {**os.environ, "XDG_CACHE_HOME": str(tmp_path / "cache")}
    command = [sys.executable, "-m", "evidence.cli.main", "verify", str(root), "--json", "--threads", "1"]
    for how, code in ((signal.SIGKILL, -signal.SIGKILL), (signal.SIGINT, 3)):
        with slow.open("wb") as sparse:
            sparse.truncate(20 << 30)  # 20 GB of zeros: long enough to be interrupted
        heeding = ["env", "--default-signal=INT", *command]  # a run in the background ignores that signal otherwise
        running = subprocess.Popen(heeding, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        assert running.stderr
        for line in running.stderr:  # the first line of progress
            assert json.loads(line)["stage"] == "reading"
            break
        time.sleep(0.1)
        running.send_signal(how)
        out, err = running.communicate(timeout=60)
        assert running.returncode == code
        assert out == ""
        assert "Traceback" not in err
    slow.write_bytes(data)
    done = subprocess.run(command, env=environment, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout
    assert json.loads(done.stdout)["sentence"] == "intact, signer and latest head not confirmed"
