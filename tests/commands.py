"""``evidence COMMAND`` for tests: each in a process of its own, without importing the program anew each time.

A process that has imported every module of the program waits, and forks for each command. The fork has words, folder,
environment and standard streams of its own: a test sees what a person would see. Every warning is an error in it.
``cli/test_processes.py`` starts the commands in the plain way.
"""

from __future__ import annotations

import atexit
import gc
import importlib
import json
import os
import pkgutil
import subprocess
import sys
import threading
import time
import traceback
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NoReturn

ROOT = Path(__file__).resolve().parents[1]


def evidence(*words: object, cwd: Path | str | None = None, **env: str) -> subprocess.CompletedProcess[str]:
    """Run a command, 160 columns wide; ``env`` is added to the environment of the tests."""
    return _waiting().run([str(w) for w in words], str(cwd or Path.cwd()), {**os.environ, "COLUMNS": "160", **env})


class _Waiting:
    """The process that waits; one for each test process."""

    def __init__(self) -> None:
        self.folder = TemporaryDirectory(prefix="commands-")
        self.process = subprocess.Popen(
            [sys.executable, "-W", "error", __file__], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip
        self.streams = [Path(self.folder.name) / name for name in ("stdout", "stderr")]

    def run(self, words: list[str], cwd: str, env: dict[str, str]) -> subprocess.CompletedProcess[str]:
        assert self.process.stdin
        assert self.process.stdout
        self.process.stdin.write(json.dumps([words, cwd, env, [str(s) for s in self.streams]]) + "\n")
        self.process.stdin.flush()
        code = int(self.process.stdout.readline())
        return subprocess.CompletedProcess(["evidence", *words], code, *(s.read_text("utf-8") for s in self.streams))

    def close(self) -> None:
        self.process.communicate()
        self.folder.cleanup()


@cache
def _waiting() -> _Waiting:
    waiting = _Waiting()
    atexit.register(waiting.close)
    return waiting


def _wait() -> None:
    """Import the program, then fork for each line that comes."""
    import evidence

    for module in pkgutil.walk_packages(evidence.__path__, "evidence."):
        importlib.import_module(module.name)
    gc.freeze()  # what all forks share is not looked through by each
    while line := sys.stdin.readline():
        child = os.fork()
        if not child:
            _command(*json.loads(line))
        print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)


def _command(words: list[str], cwd: str, env: dict[str, str], streams: list[str]) -> NoReturn:
    """Be the command's process to its end, all but the interpreter's taking down of what it imported."""
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    for number, stream in enumerate(streams, 1):
        os.dup2(os.open(stream, os.O_WRONLY | os.O_CREAT | os.O_TRUNC), number)
    os.chdir(cwd)
    os.environ.clear()
    os.environ.update(env)
    time.tzset()
    sys.argv = ["evidence", *words]
    from evidence.cli.main import run

    code = 1
    try:
        run()
        code = 0
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else int(end.code is not None)
    except BaseException:  # noqa: BLE001 - told as the interpreter tells it
        traceback.print_exc()
    finally:
        threading._shutdown()
        atexit._run_exitfuncs()
        sys.stdout.flush()
        os._exit(code)


if __name__ == "__main__":
    _wait()
