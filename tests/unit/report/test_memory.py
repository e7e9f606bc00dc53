"""Pictures are copied, never held: memory does not grow with them. And a killed run leaves no half file."""

import json
import math
import os
import signal
import subprocess
import sys
import tracemalloc
from pathlib import Path

import pytest
from evidence.report.pdf import build_report
from evidence.report.writing import PART_PREFIX
from PIL import Image

from rich_dossier import given, small_book

ROOT = Path(__file__).parents[3]
SCRIPT = """
import json, os, pathlib, resource, signal, sys
sys.path[:0] = sys.argv[1:3]
from evidence.report import fonts; fonts.ready()
from rich_dossier import given, small_book
from evidence.report import streaming
from evidence.report.pdf import build_report
folder, count, kill_at = pathlib.Path(sys.argv[3]), int(sys.argv[4]), int(sys.argv[5])
book = small_book()
for number in range(count):
    book.exhibit(name=f"IMG_{number}.jpg", caption=f"View {number}")
digests = {s.body["file"]["sha256"]: n for n, s in enumerate(s for s in book.steps if s.kind == "exhibit")}
copy, copied = streaming._copy, 0
def copy_until_killed(*given):
    global copied
    copied += 1
    if copied == kill_at:
        os.kill(os.getpid(), signal.SIGKILL)
    return copy(*given)
streaming._copy = copy_until_killed
preview = lambda digest: folder / f"{digests[digest]}.jpg"
out = folder / "r.pdf"
build_report(given(book, preview=preview), out)
print(json.dumps({"rss": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, "size": out.stat().st_size}))
"""


def pictures(folder, count, quality=92):
    """``count`` names for one picture of 1600 pixels; the report takes each name for a picture of its own."""
    Image.effect_noise((1600, 1200), 90).convert("RGB").save(folder / "0.jpg", "JPEG", quality=quality)
    for number in range(1, count):
        (folder / f"{number}.jpg").hardlink_to(folder / "0.jpg")


def run(folder, count, kill_at=-1):
    return subprocess.run(
        [sys.executable, "-c", SCRIPT, str(ROOT), str(ROOT / "tests"), str(folder), str(count), str(kill_at)], capture_output=True, text=True
    )


def test_pictures_are_not_held_in_memory(tmp_path):
    pictures(tmp_path, 60, quality=95)
    book = small_book()
    for number in range(60):
        book.exhibit(name=f"{number}.jpg")
    digests = {s.body["file"]["sha256"]: n for n, s in enumerate(s for s in book.steps if s.kind == "exhibit")}
    report = given(book, preview=lambda digest: tmp_path / f"{digests[digest]}.jpg")
    build_report(report, tmp_path / "first.pdf")  # what is loaded once does not count
    tracemalloc.start()
    build_report(report, tmp_path / "r.pdf")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    size = (tmp_path / "r.pdf").stat().st_size
    assert size > 40_000_000
    assert peak < size / 4


@pytest.mark.campaign
def test_memory_grows_slowly_from_50_to_800_photos(tmp_path):
    """Target: exponent of growth at most 0.2, and well below the 638 MB of the plain library at 200 photos."""
    pictures(tmp_path, 800, quality=70)
    few, many = (json.loads(run(tmp_path, count).stdout) for count in (50, 800))
    assert many["size"] > 12 * few["size"]
    assert math.log(many["rss"] / few["rss"]) / math.log(16) <= 0.2
    assert many["rss"] < 0.35 * 638 * 1024


def test_a_killed_run_leaves_the_old_file_whole_and_the_next_run_sweeps(tmp_path):
    pictures(tmp_path, 6, quality=50)
    out = tmp_path / "r.pdf"
    out.write_bytes(b"the report before")
    part = tmp_path / (PART_PREFIX + "0" * 12 + "-1")
    part.write_bytes(b"of another file")
    done = run(tmp_path, 6, kill_at=4)
    assert done.returncode == -signal.SIGKILL
    assert out.read_bytes() == b"the report before"
    assert len(list(tmp_path.glob(PART_PREFIX + "*"))) == 2
    done = run(tmp_path, 6)
    assert done.returncode == 0, done.stderr
    assert out.read_bytes().startswith(b"%PDF")
    assert list(tmp_path.glob(PART_PREFIX + "*")) == [part]


def test_a_leftover_of_a_dead_process_is_swept_and_that_of_a_living_one_is_not(tmp_path):
    import hashlib

    mark = PART_PREFIX + hashlib.sha256(b"r.pdf").hexdigest()[:12]
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    dead, living = tmp_path / f"{mark}-{ended.pid}", tmp_path / f"{mark}-{os.getppid()}"
    dead.touch()
    living.touch()
    build_report(given(small_book()), tmp_path / "r.pdf")
    assert not dead.exists()
    assert living.exists()
