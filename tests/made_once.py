"""What many tests read is made once in a run, whichever of its processes asks first; whoever writes takes a copy.

The folder is made by the process that started the run, known to its workers by their environment, and gone with the run.
"""

from __future__ import annotations

import fcntl
import os
import shutil
from collections.abc import Callable
from pathlib import Path

VARIABLE = "EVIDENCE_TESTS_MADE"


def made_once(name: str, make: Callable[[Path], object]) -> Path:
    """The folder ``name``, in which ``make`` was called once. Not to be written to."""
    home = Path(os.environ[VARIABLE])
    with (home / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (home / f"{name}.done").exists():
            shutil.rmtree(home / name, ignore_errors=True)  # what a failed attempt left
            (home / name).mkdir()
            make(home / name)
            (home / f"{name}.done").touch()
    return home / name


def copy_of(made: Path, target: Path) -> Path:
    """A copy to write to."""
    return shutil.copytree(made, target, symlinks=True, dirs_exist_ok=True)
