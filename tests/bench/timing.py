"""What is measured of a process: wall time, its own processor time, its peak memory."""

from __future__ import annotations

import os
import resource
import statistics
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

EVENTS = 300  # durable events of a measurement, on both sides


@contextmanager
def timed() -> Iterator[dict[str, float]]:
    """Yields a dictionary that holds ``seconds`` and ``cpu`` (children included) when the block ends."""
    found: dict[str, float] = {}
    cpu, wall = _cpu(), time.perf_counter()
    yield found
    found.update(seconds=time.perf_counter() - wall, cpu=_cpu() - cpu)


def each(count: int, deed: Callable[[int], object]) -> dict[str, float]:
    """Do something ``count`` times; ``each`` is the median of single times, which a busy neighbour moves least."""
    times = []
    with timed() as found:
        for number in range(count):
            begun = time.perf_counter()
            deed(number)
            times.append(time.perf_counter() - begun)
    return {"each": statistics.median(times), "mean": found["seconds"] / count, "cpu": found["cpu"] / count}


def _cpu() -> float:
    who = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    return sum(u.ru_utime + u.ru_stime for u in map(resource.getrusage, who))


def peak_mb() -> float:
    """The most memory this process has held. Not ``ru_maxrss``: that one is inherited from whoever started us."""
    status = Path("/proc/self/status").read_text()
    return int(status.split("VmHWM:")[1].split()[0]) / 1024


def warm(paths: Iterable[Path]) -> None:
    """Read files once, so that all sides find them in the page cache, and let earlier writes reach the disk."""
    for path in paths:
        path.read_bytes()
    os.sync()
