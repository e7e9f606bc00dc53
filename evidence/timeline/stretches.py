"""Stretches of time as sorted pairs of whole microseconds: joined, cut to a window, taken away, measured."""

from __future__ import annotations

from collections.abc import Iterable

Stretch = tuple[int, int]


def joined(stretches: Iterable[Stretch]) -> tuple[Stretch, ...]:
    """In order, without overlaps; empty ones are dropped."""
    found: list[Stretch] = []
    for start, end in sorted(s for s in stretches if s[0] < s[1]):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        else:
            found.append((start, end))
    return tuple(found)


def within(stretches: Iterable[Stretch], window: Stretch) -> tuple[Stretch, ...]:
    """What of them lies in the window."""
    return joined((max(a, window[0]), min(b, window[1])) for a, b in stretches)


def without(window: Stretch, stretches: Iterable[Stretch]) -> tuple[Stretch, ...]:
    """What of the window none of them covers."""
    left, start = [], window[0]
    for a, b in within(stretches, window):
        left.append((start, a))
        start = b
    return joined([*left, (start, window[1])])


def length(stretches: Iterable[Stretch]) -> int:
    """Altogether, overlaps once."""
    return sum(b - a for a, b in joined(stretches))
