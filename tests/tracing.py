"""Work in a child process under ``strace``: watched, killed before its n-th call of a kind, or given an error.

The child is a fork of the test process, so nothing is imported again; it stops itself, is attached to, and goes
on. It does its work in one thread, so that counting calls is counting steps.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self
from unittest import mock

import pytest

needs_strace = pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed (Debian: strace)")


class OneThread:
    """Stands for a thread pool: does the work at once, where it is asked for."""

    def __init__(self, _workers: int) -> None:
        pass

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_exc: object) -> None:
        pass

    def shutdown(self) -> None:
        """There is nothing to wait for."""

    def submit(self, work: Callable[..., Any], *args: Any) -> Future[Any]:
        future: Future[Any] = Future()
        try:
            future.set_result(work(*args))
        except BaseException as err:  # noqa: BLE001 - handed to whoever asks for the result
            future.set_exception(err)
        return future

    def map(self, work: Callable[..., Any], items: Iterator[Any]) -> Iterator[Any]:
        return map(work, items)


@dataclass(frozen=True)
class Outcome:
    """How the child ended: killed, or with an exit code and what it said."""

    killed: bool
    code: int
    said: str
    trace: str


def traced(work: Callable[[], None], folder: Path, *options: str) -> Outcome:
    """Run ``work`` in a child with these options of strace. An ``EvidenceError`` becomes its exit code."""
    said, trace = folder / "said.txt", folder / "trace.txt"
    said.unlink(missing_ok=True)
    child = os.fork()
    if not child:
        _in_child(work, said)
    os.waitpid(child, os.WUNTRACED)
    tracer = subprocess.Popen(["strace", "-f", "-qq", "-y", "-s", "64", "-o", str(trace), *options, "-p", str(child)],
                              stderr=subprocess.PIPE)  # fmt: skip
    try:
        while b"TracerPid:\t0\n" in Path(f"/proc/{child}/status").read_bytes():
            assert tracer.poll() is None, tracer.stderr and tracer.stderr.read()
            time.sleep(0.001)
    finally:
        os.kill(child, signal.SIGCONT)
        _pid, status = os.waitpid(child, 0)
        tracer.wait(30)
        if tracer.stderr:
            tracer.stderr.close()
    killed = os.WIFSIGNALED(status)
    assert not killed or os.WTERMSIG(status) == signal.SIGKILL
    return Outcome(
        killed, -1 if killed else os.WEXITSTATUS(status), said.read_text() if said.exists() else "",
        trace.read_text(errors="replace"),
    )  # fmt: skip


def _in_child(work: Callable[[], None], said: Path) -> None:
    from evidence.errors import EvidenceError

    code = 99
    try:
        os.kill(os.getpid(), signal.SIGSTOP)
        work()
        code = 0
    except EvidenceError as err:
        said.write_text(f"{err}\n{err.advice}")
        code = int(err.exit_code)
    except BaseException:  # noqa: BLE001 - told to the parent, whatever it is
        import traceback

        said.write_text(traceback.format_exc())
    finally:
        sys.stdout.flush()
        os._exit(code)


@contextmanager
def one_thread() -> Iterator[None]:
    """Make whatever writes or signs work in the calling thread."""
    from evidence.bundle import parts
    from evidence.capture import likeness_index, preview_shelf
    from evidence.report import sealing
    from evidence.store import originals_disk

    with ExitStack() as stack:
        for module in (parts, likeness_index, preview_shelf, sealing, originals_disk):
            stack.enter_context(mock.patch.object(module, "ThreadPoolExecutor", OneThread))
        yield


def calls(trace: str, names: Sequence[str]) -> list[tuple[str, str]]:
    """(name, arguments) of each call in a trace, in order."""
    found = re.findall(r"^(?:\d+ +)?(\w+)\((.*)$", trace, re.MULTILINE)
    return [(name, rest) for name, rest in found if name in names]


def counts(trace: str, names: Sequence[str]) -> Counter[str]:
    """The highest number that a call of each name has. strace numbers those of every thread and process for itself."""
    found = re.findall(r"^(?:(\d+) +)?(\w+)\(", trace, re.MULTILINE)
    most: Counter[str] = Counter()
    for (_maker, name), number in Counter(one for one in found if one[1] in names).items():
        most[name] = max(most[name], number)
    return most


def makes(trace: str) -> list[int]:
    """The numbers of those ``openat`` that may change something: the others only read, of a program's own files above all."""
    number: Counter[str] = Counter()
    found: set[int] = set()
    for maker, rest in re.findall(r"^(?:(\d+) +)?openat\((.*)$", trace, re.MULTILINE):
        number[maker] += 1
        if re.search("O_CREAT|O_WRONLY|O_RDWR|O_TRUNC", rest):
            found.add(number[maker])
    return sorted(found)
