"""Axes: where a value stands on paper, and which round values get a tick. Pure arithmetic."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from evidence.model.when import TimeSpan

_STEPS = (
    dt.timedelta(minutes=1), dt.timedelta(minutes=5), dt.timedelta(minutes=15), dt.timedelta(hours=1),
    dt.timedelta(hours=3), dt.timedelta(hours=6), dt.timedelta(days=1), dt.timedelta(days=2), dt.timedelta(days=7),
    dt.timedelta(days=14), dt.timedelta(days=28), dt.timedelta(days=91), dt.timedelta(days=365),
)  # fmt: skip


def ticks(low: float, high: float, most: int = 6) -> list[tuple[float, str]]:
    """At most ``most`` + 1 round values from ``low`` to ``high`` with their text; steps of 1, 2 or 5 times a power of 10."""
    if not high > low:
        return [(low, _plain(Decimal(repr(low))))]
    raw = (high - low) / most
    power = Decimal(10) ** math.floor(math.log10(raw))
    step = next(power * m for m in (1, 2, 5, 10) if float(power * m) >= raw * 0.999)
    first = math.ceil(low / float(step) - 1e-9)
    last = math.floor(high / float(step) + 1e-9)
    return [(float(n * step), _plain(n * step)) for n in range(first, last + 1)]


def _plain(number: Decimal) -> str:
    text = f"{number.normalize():f}"
    return text.replace("-", "−") if number else "0"


@dataclass(frozen=True, slots=True)
class Stretch:
    """A piece of the time axis without a long pause; ``left`` and ``right`` in points."""

    start: dt.datetime
    end: dt.datetime
    left: float
    right: float


@dataclass(frozen=True, slots=True)
class TimeAxis:
    """Time from left to right. Long pauses, in which nothing is recorded, are cut out and marked."""

    stretches: tuple[Stretch, ...]

    def x(self, moment: dt.datetime) -> float:
        """Where ``moment`` stands; moments in a pause stand at its edge."""
        for stretch in self.stretches:
            if moment <= stretch.end:
                whole = (stretch.end - stretch.start) / dt.timedelta(seconds=1)
                part = max(0.0, (moment - stretch.start) / dt.timedelta(seconds=1))
                return stretch.left + (stretch.right - stretch.left) * (part / whole if whole else 0.5)
        return self.stretches[-1].right

    def ticks(self, room: float) -> list[tuple[float, str]]:
        """Ticks at least ``room`` points apart: (x, text)."""
        placed: list[tuple[float, str]] = []
        for stretch in self.stretches:
            for moment, text in _round_moments(stretch, room):
                x = self.x(moment)
                if not placed or x - placed[-1][0] >= room:
                    placed.append((x, text))
        return placed

    def pauses(self) -> list[tuple[float, float, dt.timedelta]]:
        """The cut-out pauses: left, right, how long."""
        pairs = zip(self.stretches, self.stretches[1:], strict=False)
        return [(a.right, b.left, b.start - a.end) for a, b in pairs]


def time_axis(spans: Sequence[TimeSpan], width: float, gap: float = 26) -> TimeAxis:
    """An axis ``width`` points long on which every span of ``spans`` has its place."""
    merged: list[list[dt.datetime]] = []
    ordered = sorted(spans, key=lambda s: (s.earliest, s.latest))
    total = max(s.latest for s in ordered) - ordered[0].earliest
    for span in ordered:
        if merged and span.earliest - merged[-1][1] <= max(total * 0.15, dt.timedelta(hours=12)):
            merged[-1][1] = max(merged[-1][1], span.latest)
        else:
            merged.append([span.earliest, span.latest])
    lengths = [math.sqrt(max((end - start).total_seconds(), 3600)) for start, end in merged]
    usable = width - gap * (len(merged) - 1)
    least = min(70.0, usable / len(merged))
    spare = usable - least * len(merged)
    stretches, x = [], 0.0
    for (start, end), length in zip(merged, lengths, strict=True):
        size = least + spare * length / sum(lengths)
        stretches.append(Stretch(start, end, x, x + size))
        x += size + gap
    return TimeAxis(tuple(stretches))


def _round_moments(stretch: Stretch, room: float) -> list[tuple[dt.datetime, str]]:
    length = stretch.end - stretch.start
    most = max(1, int((stretch.right - stretch.left) / room))
    step = next((s for s in _STEPS if length / s <= most), _STEPS[-1] * max(1, math.ceil(length / _STEPS[-1] / most)))
    form = "%Y-%m-%d" if step >= dt.timedelta(days=1) else "%m-%d %H:%M"
    epoch = dt.datetime(1970, 1, 5, tzinfo=dt.UTC)  # a Monday
    first = epoch + math.ceil((stretch.start - epoch) / step) * step
    found = []
    while first <= stretch.end:
        found.append((first, first.strftime(form)))
        first += step
    middle = stretch.start + length / 2
    return found or [(middle, middle.strftime("%Y-%m-%d"))]
