"""Shares with their intervals, the curve of how long work holds, and the control chart: library methods, one function each.

scipy belongs to the optional part "stats"; where it is missing, :class:`evidence.errors.ExtraMissing` says how to get it.
"""

from __future__ import annotations

import importlib
import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from types import ModuleType
from typing import Final

from evidence.errors import ExtraMissing

LEVEL: Final = 0.95
FEW_ORDERS, FEW_COMEBACKS = 30, 5  # below either a share is called small; by choice
SIGMAS: Final = 3  # Shewhart's limits, as in ISO 7870-2
RUN: Final = 8  # points on one side of the centre line (Western Electric rules, 1956)


def statistics_library() -> ModuleType:
    """``scipy.stats``; raises :class:`ExtraMissing`."""
    try:
        return importlib.import_module("scipy.stats")
    except ModuleNotFoundError as err:
        raise ExtraMissing(
            "rates, curves and charts of the register need scipy, which is not installed",
            advice="Install the optional part: pip install 'comeback-evidence[stats]'. Lists, costs and exports work without.",
        ) from err


@dataclass(frozen=True, slots=True)
class Share:
    """``came_back`` of ``orders``, with the limits of its 95 % interval (Wilson score, 1927; Newcombe 1998, method 3)."""

    came_back: int
    orders: int
    low: float
    high: float

    @property
    def rate(self) -> float:
        """The share itself."""
        return self.came_back / self.orders

    @property
    def small(self) -> bool:
        """Whether the numbers are too small to lean on."""
        return self.orders < FEW_ORDERS or self.came_back < FEW_COMEBACKS


def share(came_back: int, orders: int) -> Share | None:
    """The share with its Wilson interval; ``None`` where there are no orders. Raises :class:`ExtraMissing`."""
    if not orders:
        return None
    found = statistics_library().binomtest(came_back, orders).proportion_ci(LEVEL, method="wilson")
    return Share(came_back, orders, float(found.low), float(found.high))


@dataclass(frozen=True, slots=True)
class Point:
    """By ``at`` (days or km) this share had come back; limits are ``None`` where the method gives none."""

    at: float
    share: float
    low: float | None
    high: float | None
    at_risk: int  # watched so far and not come back before
    came_back: int = 0  # at this very point


@dataclass(frozen=True, slots=True)
class Curve:
    """Kaplan-Meier (1958): every step. ``watched`` were followed, ``came_back`` of them seen again, the rest are censored."""

    steps: tuple[Point, ...]
    watched: int
    came_back: int
    longest: float  # how long the longest was watched
    censored: tuple[tuple[float, int], ...] = ()  # (how long watched, how many), in order; these did not come back

    @property
    def median(self) -> float | None:
        """When half had come back; ``None`` where that was not seen."""
        return next((p.at for p in self.steps if p.share >= 0.5), None)

    def by(self, at: float) -> Point | None:
        """The share come back by then; ``None`` beyond what was watched."""
        if at > self.longest:
            return None
        before = [p for p in self.steps if p.at <= at]
        return before[-1] if before else Point(at, 0.0, None, None, self.watched)

    def at_risk(self, at: float) -> int:
        """How many were watched until then or longer and had not come back before."""
        gone = sum(p.came_back for p in self.steps if p.at < at) + sum(n for t, n in self.censored if t < at)
        return self.watched - gone


def curve(came_back: Sequence[float], censored: Sequence[float]) -> Curve | None:
    """The curve of times (or distances) to comeback; ``censored`` are those that were watched so long and did not come back.

    Limits are those of the log-log transform of Greenwood's variance. ``None`` where none came back.
    """
    if not came_back:
        return None
    import numpy as np

    stats = statistics_library()
    data = stats.CensoredData.right_censored(
        np.concatenate([came_back, censored]).astype(float),
        np.concatenate([np.zeros(len(came_back), bool), np.ones(len(censored), bool)]),
    )
    kept = stats.ecdf(data).sf
    with warnings.catch_warnings(action="ignore", category=RuntimeWarning):  # no variance where all or none are left
        limits = kept.confidence_interval(LEVEL, method="log-log")
    low, high = limits.low.probabilities, limits.high.probabilities
    events = dict(_counted(np, came_back))
    at_risk = _at_risk(np, kept.quantiles, [*came_back, *censored])
    steps = tuple(
        Point(float(t), 1 - float(p), _known(1 - float(up)), _known(1 - float(down)), int(n), events[float(t)])
        for t, p, down, up, n in zip(kept.quantiles, kept.probabilities, low, high, at_risk, strict=True)
        if float(t) in events
    )
    longest = float(max(*came_back, *censored, 0))
    return Curve(steps, len(came_back) + len(censored), len(came_back), longest, _counted(np, censored))


def _counted(np: ModuleType, times: Sequence[float]) -> tuple[tuple[float, int], ...]:
    """Each time once, in order, with how many there are of it."""
    values, counts = np.unique(np.asarray(times, float), return_counts=True)
    return tuple(zip(values.tolist(), counts.tolist(), strict=True))


def _at_risk(np: ModuleType, times: Sequence[float], every: Sequence[float]) -> Sequence[int]:
    found: Sequence[int] = len(every) - np.searchsorted(np.sort(np.asarray(every, float)), times, side="left")
    return found


def _known(value: float) -> float | None:
    return None if math.isnan(value) else value


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """One period of the chart, with its own limits: they widen where fewer orders were closed."""

    period: str
    came_back: int
    orders: int
    low: float
    high: float
    signal: str = ""  # why it is no chance variation, by the rules of the chart

    @property
    def rate(self) -> float:
        """The share of the period."""
        return self.came_back / self.orders


@dataclass(frozen=True, slots=True)
class Chart:
    """A p chart (Shewhart; limits p ± 3·sqrt(p(1-p)/n) for each period's own n). ``rough`` periods expect fewer than 5."""

    centre: float
    points: tuple[ChartPoint, ...]

    @property
    def rough(self) -> tuple[str, ...]:
        """Periods whose limits are rough, because fewer than five comebacks are to be expected in them."""
        return tuple(p.period for p in self.points if p.orders * self.centre < FEW_COMEBACKS)


def p_chart(periods: Sequence[tuple[str, int, int]]) -> Chart | None:
    """The chart of (period, came back, orders) in order of time; periods without orders are left out."""
    held = [(name, k, n) for name, k, n in periods if n]
    if not held:
        return None
    centre = sum(k for _, k, _ in held) / sum(n for _, _, n in held)
    points, sides = [], []
    for name, k, n in held:
        width = SIGMAS * math.sqrt(centre * (1 - centre) / n)
        low, high = max(0.0, centre - width), min(1.0, centre + width)
        rate = k / n
        sides.append((rate > centre) - (rate < centre))
        run = len(sides) >= RUN and sides[-1] and len(set(sides[-RUN:])) == 1
        signal = (
            "above the upper limit" if rate > high else "below the lower limit" if rate < low
            else f"{RUN} periods in a row on one side of the centre" if run else ""
        )  # fmt: skip
        points.append(ChartPoint(name, k, n, low, high, signal))
    return Chart(centre, tuple(points))
