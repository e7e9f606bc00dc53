"""A bundle whose writing is killed, or whose disk refuses or is full (fault matrix, rows 2 and 4).

After each the final name holds nothing or the whole bundle, and the same call gives the bytes of an undisturbed one.
"""

from __future__ import annotations

import errno
import os
import shutil
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from evidence.bundle.parts import PART, Member
from evidence.bundle.writing import write_bundle_to
from evidence.capture.sources import open_handed
from evidence.errors import ExitCode, NoRoom, OutputUnusable
from evidence.handing_over import write_bundle
from evidence.review.disclosing import Choice
from evidence.usecases.intake import Answers, intake_folder
from test_disk import full, small_disk

from conftest import still_desk
from fakes import quiet
from samples import FILES, small_folder
from tracing import counts, needs_strace, traced

pytestmark = needs_strace

CHANGING = ("openat", "write", "fsync", "fdatasync", "rename", "unlink", "ftruncate", "mkdir")
SAMPLED = 5  # every n-th step in the default suite
INFO = [("External-Identifier", "evidence-ledger/test")]
MEMBERS = [
    Member.of("data/record/headers.jsonl", b"header\n" * 50), Member.of("data/originals/exhibit-0001.bin", b"picture" * 200_000),
    Member.of("data/originals/exhibit-0002.bin", b"film" * 270_000), Member.of("data/report.pdf", b"%PDF" * 5000),
]  # fmt: skip


def hand_over(out: Path, *, folder: bool) -> Callable[[], None]:
    def work() -> None:
        write_bundle_to(out, MEMBERS, INFO, lambda tags: {"disclosure.txt": tags.encode()}, quiet, folder=folder)

    return work


def held(out: Path) -> dict[str, bytes]:
    files = [out] if out.is_file() else [f for f in out.rglob("*") if f.is_file()]
    return {str(f.relative_to(out)): f.read_bytes() for f in files}


@pytest.mark.parametrize("folder", [False, True])
@pytest.mark.parametrize("every", [SAMPLED, pytest.param(1, marks=pytest.mark.campaign)])
def test_killed_before_any_step(quick_path: Path, folder: bool, every: int) -> None:
    hand_over(quick_path / "whole", folder=folder)()
    whole, out = held(quick_path / "whole"), quick_path / "out"
    outcome = traced(hand_over(out, folder=folder), quick_path, "-e", f"trace={','.join(CHANGING)}")
    assert (outcome.killed, outcome.code, outcome.said) == (False, 0, "")
    counted = counts(outcome.trace, CHANGING)
    steps = [(call, at) for call in CHANGING for at in range(1, counted[call] + 1)]
    assert len(steps) > 30
    found: Counter[str] = Counter()
    for call, at in steps[::every]:
        shutil.rmtree(out) if folder and out.exists() else out.unlink(missing_ok=True)
        outcome = traced(
            hand_over(out, folder=folder), quick_path, "-e", f"trace={call}", "-e", f"inject={call}:signal=KILL:when={at}"
        )
        where = f"killed before {call} number {at}"
        assert outcome.killed, where
        found["whole" if out.exists() else "nothing"] += 1
        assert not out.exists() or held(out) == whole, where
        if not (folder and out.exists()):  # a folder that is whole is not written over
            hand_over(out, folder=folder)()
        assert held(out) == whole, where
        left = [f.name for f in quick_path.iterdir() if f.name.startswith(PART)]
        assert left in ([], [f"{PART}out.journal"] if folder else []), where
    assert found["nothing"] > found["whole"]
    if every == 1:
        print(f"\n{sum(found.values())} kills of a {'folder' if folder else 'zip'}: {dict(found)}")


@pytest.mark.parametrize("error", ["EIO", "ENOSPC"])
@pytest.mark.parametrize("call", ["write", "fsync", "fdatasync", "rename", "ftruncate"])
def test_a_disk_that_refuses_leaves_nothing_under_the_name(quick_path: Path, call: str, error: str) -> None:
    hand_over(quick_path / "whole", folder=False)()
    whole, out, refused = held(quick_path / "whole"), quick_path / "out", 0
    for at in range(1, 1000, 1 if call != "write" else 3):
        out.unlink(missing_ok=True)
        outcome = traced(
            hand_over(out, folder=False), quick_path, "-e", f"trace={call}", "-e", f"inject={call}:error={error}:when={at}"
        )
        if "(INJECTED)" not in outcome.trace:
            break
        refused += 1
        words = "the disk is full; the bundle needs about 2," if error == "ENOSPC" else "cannot be written: Input/output"
        assert outcome.code == ExitCode.REFUSED, (call, at, outcome.said)
        assert words in outcome.said
        assert not out.exists() or held(out) == whole  # the folder's own flush comes after the name
        hand_over(out, folder=False)()
        assert held(out) == whole, (call, at)
    assert refused


@pytest.mark.parametrize("leave", [0, 20_000, 1_400_000, 1_500_000, 2_400_000])
def test_a_full_disk_is_told_with_the_bytes_needed_and_the_same_call_goes_on(
    quick_path: Path, leave: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    hand_over(quick_path / "whole", folder=False)()
    real = os.statvfs
    with small_disk(quick_path / "disk", 6_000) as disk:
        with full(disk, leave):
            # A disk that fills up while the bundle is being written: what is asked beforehand says that there is room.
            monkeypatch.setattr(os, "statvfs", lambda _path: real("/dev/shm"))
            with pytest.raises(NoRoom, match=r"the bundle needs about 2,5[0-9]{2},[0-9]{3} bytes") as err:
                hand_over(disk / "out", folder=False)()
            assert isinstance(err.value.__cause__, OSError)
            assert err.value.__cause__.errno == errno.ENOSPC
            assert not (disk / "out").exists()
            monkeypatch.undo()
        hand_over(disk / "out", folder=False)()
        assert held(disk / "out") == held(quick_path / "whole")


def test_no_room_for_the_report_in_it_is_told_of_the_bundle(sqlite_workspace: Path, quick_path: Path) -> None:
    """The PDF is written first; what a person asked for is the bundle, and that is what the message names."""
    with still_desk(sqlite_workspace) as desk:
        intake_folder(desk, open_handed(small_folder(quick_path / "folder")), Answers(), quiet)
        least = sum(map(len, FILES.values()))
        with small_disk(quick_path / "disk", 64) as disk:
            with pytest.raises(NoRoom, match=f"the disk is full; the bundle needs more than {least:,} bytes") as err:
                write_bundle(desk, sqlite_workspace, "van", Choice(), disk / "out.zip", quiet)
            assert err.value.item == str(disk)
            assert list(disk.iterdir()) == []
        with pytest.raises(OutputUnusable) as refused:
            write_bundle(desk, sqlite_workspace, "van", Choice(), Path("/proc/out.zip"), quiet)
        assert refused.value.item == "/proc/out.zip"
        assert write_bundle(desk, sqlite_workspace, "van", Choice(), quick_path / "out.zip", quiet).size
