"""Every command as a person starts it: the interpreter, nothing imported beforehand. The other tests fork (``commands``)."""

import os
import re
import subprocess
import sys

import pytest
from evidence.bootstrap import demo_dossiers
from evidence.cli.main import app

from authority import TimeAuthority
from bundles import whole_bundle
from commands import ROOT
from made_once import copy_of
from van import NAME, van_to_look_at

SHORT = "wet-footwell"
# The README's tour starts these (docs/test_readme.py).
ON_THE_TOUR = set(re.findall(r"^    \$ evidence (?:--workspace \S+ )?(\w+)", (ROOT / "README.md").read_text("utf-8"), re.MULTILINE))
STARTS = {  # command: words that follow, something that it says
    "workspace": ("", "is of this version"),
    "intake": (str(demo_dossiers()[SHORT]), "0 recorded, 0 amended, 10 unchanged"),
    "record": (f"event {SHORT} --what tow --text towed --time 2026-03-01 --basis told", "Event 1: towed"),
    "dossiers": ("", SHORT),
    "entries": (SHORT, "Exhibit 1"),
    "photos": (SHORT, "Exhibit 3"),
    "clocks": (SHORT, "Exhibit 3"),
    "timeline": (SHORT, "made tighter by other records"),
    "plan": (SHORT, "What to capture next"),
    "custody": (SHORT, "Vehicle 1"),
    "opportunity": (SHORT, "wet footwell"),
    "paper": (SHORT, "Stays blank"),
    "loss": (SHORT, "wet footwell"),
    "mistakes": (SHORT, "No odometer reading"),
    "talk": (SHORT, "No talk about settling is noted"),
    "lesson": ("", "No lesson is noted"),
    "status": (SHORT, "Next step"),
    "place": ("new vale", "vale"),
    "comebacks": ("", "rate by operation"),
    "challenge": (f"{SHORT} --brief", "You never told us"),
    "report": (f"{SHORT} -o report.pdf", "report.pdf: "),
    "disclose": (f"{SHORT} -o again.zip", "Nothing was withheld"),
    "verify": ("BUNDLE", "intact"),
    "review": ("compare BUNDLE BUNDLE", "wet footwell"),
    "heads": (f"show {SHORT}", "Signed by"),
    "keys": ("list", "shop: in use"),
    "rules": ("list", "Mechanism"),
    "schema": ("", '"$defs"'),
}
OTHERWISE = {"waveform", "timestamp"}  # need a recorded trace, or an authority


def started(workspace, *words):
    done = subprocess.run(
        [sys.executable, "-m", "evidence.cli.main", "--workspace", str(workspace), *map(str, words)],
        capture_output=True, text=True, cwd=workspace.parent, env={**os.environ, "COLUMNS": "160", "PYTHONWARNINGS": "error", "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.returncode == 0, f"{done.returncode}\n{done.stdout}\n{done.stderr}"
    return done.stdout


@pytest.fixture
def shop(tmp_path):
    return copy_of(whole_bundle().parent / "workspace", tmp_path / "shop")


def test_none_is_left_out():
    listed = {c.name for c in app.registered_commands} | {g.name for g in app.registered_groups}
    assert listed == ON_THE_TOUR | set(STARTS) | OTHERWISE


@pytest.mark.parametrize("command", STARTS)
def test_it_starts(command, shop):
    words, said = STARTS[command]
    assert said in started(shop, command, *(whole_bundle() if w == "BUNDLE" else w for w in words.split()))


def test_a_trace_is_read():
    assert "rpm" in started(van_to_look_at(), "waveform", "read", NAME, "wave-compression")


def test_a_time_stamp_is_fetched(shop, tmp_path):
    with TimeAuthority(tmp_path / "authority").serving() as address:
        assert "head of 11 entries: stamped" in started(shop, "timestamp", SHORT, "--authority", address)
