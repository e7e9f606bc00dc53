"""The README's tour is real: every command in it runs, and every line it shows is printed."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text("utf-8")
COMMAND = re.compile(r"^    \$ (evidence .*)$", re.MULTILINE)


def steps():
    """(command, lines shown under it) in order."""
    found = []
    for block in re.findall(r"(?:^    .*\n|^\n)+", README, re.MULTILINE):
        for part in re.split(r"^    \$ ", block, flags=re.MULTILINE)[1:]:
            command, *shown = part.splitlines()
            if command.startswith("evidence "):
                found.append((command, [line.strip() for line in shown if line.strip() and line.strip() != "…"]))
    return found


def test_the_tour_has_steps():
    assert len(steps()) >= 4
    assert sum(len(shown) for _, shown in steps()) >= 30


def test_every_step_prints_what_is_shown(tmp_path):
    env = {**os.environ, "COLUMNS": "118", "PYTHONPATH": str(ROOT)}
    for command, shown in steps():
        words = [w[1:-1] if w.startswith('"') else w for w in re.findall(r'"[^"]*"|\S+', command)][1:]
        done = subprocess.run(
            [sys.executable, "-m", "evidence.cli.main", *words], capture_output=True, text=True, cwd=tmp_path, env=env
        )
        assert done.returncode == 0, f"{command}\n{done.stderr}"
        printed = {line.strip() for line in done.stdout.splitlines()}
        missing = [line for line in shown if line not in printed]
        assert missing == [], f"{command}\n{done.stdout}"


@pytest.mark.parametrize("word", ["tests/run", "demo_dossiers/FORMAT.md", "DEVELOPERS.md", "LICENSE", "evidence/report/fonts"])
def test_what_the_readme_points_to_is_there(word):
    assert word in README
    assert (ROOT / word).exists()
