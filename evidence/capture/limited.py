"""Work on hostile files in a child process with limits: 10 seconds and 512 MB, killed after.

A picture, document or film that crashes, spins or swells its library ends one child and nothing else. A
child that did its job well stays for the next one (starting a program for each file would cost more than
the reading), is never shared by two jobs at once, and ends with this process.
"""

from __future__ import annotations

import atexit
import contextlib
import importlib.util
import json
import os
import subprocess
import sys
import threading
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, cast

SECONDS: Final = 10.0
MEGABYTES: Final = 512  # of address space beyond what the child holds once its library is loaded
_MOST_JOBS: Final = 100  # of one child, then a fresh one: libraries leak
_MOST_IDLE: Final = 2
_LONGEST_LINE: Final = 4_000_000
_LARGEST_PAYLOAD: Final = 64_000_000


@dataclass(frozen=True, slots=True)
class Answer:
    """What a job found: plain facts and bytes, or the problem in words (then the rest is empty)."""

    facts: dict[str, Any] = field(default_factory=dict)
    payload: bytes = b""
    problem: str = ""


def available(library: str) -> bool:
    """Whether a library of an extra is installed."""
    return importlib.util.find_spec(library) is not None


def run_limited(job: str, path: Path, *, seconds: float = SECONDS, **arguments: object) -> Answer:
    """Run one of the jobs of :mod:`evidence.capture.confined` on ``path``. Whatever the file does to it comes
    back as ``Answer.problem``."""
    child = _take()
    request = {"job": job, "path": os.fsencode(path).hex(), "megabytes": MEGABYTES, **arguments}
    try:
        answer = child.ask(json.dumps(request).encode(), seconds)
    except BaseException:  # interrupted by the user: nobody knows what the child is at
        child.end()
        raise
    if child.usable:
        _give_back(child)
    else:
        child.end()
    return answer


class _Child:
    """One child process. ``usable`` turns false for good when it was killed, died or has done its share."""

    def __init__(self) -> None:
        start = "import sys; sys.path.append(sys.argv[1]); from evidence.capture.confined import serve; serve()"
        root = str(Path(__file__).resolve().parents[2])
        self.owner = os.getpid()
        self.jobs = 0
        self.usable = True
        self._process = subprocess.Popen(  # noqa: S603 - our own interpreter and our own code
            [sys.executable, "-P", "-c", start, root],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "MALLOC_ARENA_MAX": "2"},  # each further arena takes 128 MB of address space
        )

    def ask(self, request: bytes, seconds: float) -> Answer:
        self.jobs += 1
        late = threading.Event()

        def stop() -> None:
            late.set()
            self._process.kill()

        timer = threading.Timer(seconds, stop)
        timer.daemon = True
        timer.start()
        try:
            answer = self._exchange(request)
        except (OSError, ValueError, KeyError, TypeError):  # it died while we spoke, or spoke nonsense
            answer = None
        finally:
            timer.cancel()
        self.usable = answer is not None and self.jobs < _MOST_JOBS and not late.is_set() and not answer.problem
        if answer is not None:
            return answer
        return Answer(problem=f"stopped after {seconds:g} seconds" if late.is_set() else "its reading program crashed")

    def _exchange(self, request: bytes) -> Answer | None:
        assert self._process.stdin
        assert self._process.stdout
        self._process.stdin.write(request + b"\n")
        self._process.stdin.flush()
        line = self._process.stdout.readline(_LONGEST_LINE)
        if not line.endswith(b"\n"):
            return None
        said = cast("dict[str, Any]", json.loads(line))
        size = min(int(said["size"]), _LARGEST_PAYLOAD)
        payload = self._process.stdout.read(size)
        return Answer(dict(said["facts"]), payload, str(said["problem"])) if len(payload) == size else None

    def end(self) -> None:
        self._process.kill()
        for stream in (self._process.stdin, self._process.stdout):
            if stream:
                with contextlib.suppress(OSError):  # what was left to write has no reader any more
                    stream.close()
        self._process.wait()


_idle: list[_Child] = []
_idle_lock = threading.Lock()


def _take() -> _Child:
    with _idle_lock:
        while _idle:
            child = _idle.pop()
            if child.owner == os.getpid():  # after a fork the pipes belong to the other process
                return child
    return _Child()


def _give_back(child: _Child) -> None:
    with _idle_lock:
        if len(_idle) < _MOST_IDLE:
            _idle.append(child)
            return
    child.end()


@atexit.register
def end_children() -> None:
    """End the children that wait for work. Runs by itself when the program ends."""
    with _idle_lock:
        waiting, _idle[:] = [c for c in _idle if c.owner == os.getpid()], []
    for child in waiting:
        child.end()
