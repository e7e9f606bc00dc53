"""A simple temporal network: moments, and how far one may at most lie after another (Dechter, Meiri and Pearl, 1991).

All is whole microseconds. A bound "``end`` minus ``start`` is at most ``most``" is an arrow of the distance graph; the
tightest bound between two moments is the shortest way from the one to the other, and its arrows are the reason. A way
round with a sum below nothing says that not all bounds can hold. Sweeps from every moment at once (Bellman and Ford) find such
a way round, or a level for each moment; with those every further question is one pass of Dijkstra's.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

_Arrow = tuple[int, int, int]  # to which moment, how much, by which bound


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """``end`` lies at most ``most`` microseconds after ``start`` (below nothing: at least so much before it).

    ``words`` is the sentence that says why, ``records`` the labels of all that it rests on; it stands only with all
    of them. ``supposed``: what has to be taken to be so for it, which nobody recorded; empty for a fact.
    """

    start: str
    end: str
    most: int
    words: str = ""
    records: tuple[str, ...] = ()
    supposed: str = ""

    @property
    def order(self) -> tuple[str, str, int, str, int, tuple[str, ...], str]:
        """The same whatever was recorded first: the tightest before looser ones, then what rests on less."""
        return (self.start, self.end, self.most, self.supposed, len(self.records), self.records, self.words)


@dataclass(slots=True)
class _Ways:
    """From one moment, or towards it: how far, and over which bound next."""

    far: list[int | None]
    over: list[int]


@dataclass(slots=True)
class Network:
    """Bounds between moments, ready to be asked. Build with :meth:`of`."""

    bounds: tuple[Bound, ...]
    moments: tuple[str, ...]
    cycle: tuple[Bound, ...]  # bounds that cannot all hold; empty: all can
    _number: dict[str, int]
    _out: list[list[_Arrow]]
    _into: list[list[_Arrow]]
    _level: list[int]
    _from: dict[str, _Ways] = field(default_factory=dict)
    _to: dict[str, _Ways] = field(default_factory=dict)

    @classmethod
    def of(cls, bounds: Iterable[Bound]) -> Network:
        """Read the bounds, of those between the same two moments the tightest, and look whether all can hold."""
        kept = tuple({(b.end, b.start): b for b in sorted(bounds, key=lambda b: b.order, reverse=True)}.values())
        kept = tuple(sorted(kept, key=lambda b: b.order))
        moments = tuple(sorted({m for b in kept for m in (b.start, b.end)}))
        number = {m: n for n, m in enumerate(moments)}
        out: list[list[_Arrow]] = [[] for _ in moments]
        into: list[list[_Arrow]] = [[] for _ in moments]
        for n, b in enumerate(kept):
            out[number[b.start]].append((number[b.end], b.most, n))
            into[number[b.end]].append((number[b.start], b.most, n))
        level, round_ = _levels(out, [number[b.start] for b in kept])
        return cls(
            bounds=kept, moments=moments, cycle=tuple(kept[n] for n in round_), _number=number, _out=out, _into=into,
            _level=level,
        )  # fmt: skip

    def at_most(self, start: str, end: str) -> int | None:
        """How far ``end`` may lie after ``start``, microseconds; None where nothing bounds it."""
        if start == end:
            return 0
        if start not in self._number or end not in self._number:
            return None
        return self._ways_from(start).far[self._number[end]]

    def why(self, start: str, end: str) -> tuple[Bound, ...]:
        """The bounds whose sum is :meth:`at_most`, from ``start`` to ``end``: the fewest, then the first in order."""
        if self.at_most(start, end) is None or start == end:
            return ()
        over, found, here = self._ways_from(start).over, [], end
        while here != start:
            bound = self.bounds[over[self._number[here]]]
            found.append(bound)
            here = bound.start
        return tuple(reversed(found))

    def towards(self, end: str, start: str) -> tuple[int | None, tuple[Bound, ...]]:
        """:meth:`at_most` and :meth:`why` of many starts and one end, which then is one pass."""
        if start == end or start not in self._number or end not in self._number:
            return (0 if start == end else None), ()
        if end not in self._to:
            self._to[end] = self._ways(self._number[end], self._into, backwards=True)
        ways, found, here = self._to[end], [], start
        far = ways.far[self._number[start]]
        while far is not None and here != end:
            bound = self.bounds[ways.over[self._number[here]]]
            found.append(bound)
            here = bound.end
        return far, tuple(found)

    def _ways_from(self, start: str) -> _Ways:
        if start not in self._from:
            self._from[start] = self._ways(self._number[start], self._out, backwards=False)
        return self._from[start]

    def _ways(self, source: int, arrows: Sequence[Sequence[_Arrow]], *, backwards: bool) -> _Ways:
        """Dijkstra's, over lengths made positive by the levels; among ways of one length the one with the fewest bounds."""
        if self.cycle:
            raise ValueError("not all bounds can hold, so there is no tightest one")
        level = [-x for x in self._level] if backwards else self._level
        best: list[tuple[int, int] | None] = [None] * len(self.moments)
        over, done = [-1] * len(self.moments), bytearray(len(self.moments))
        best[source], waiting = (0, 0), [(0, 0, source)]
        while waiting:
            far, steps, here = heapq.heappop(waiting)
            if done[here]:
                continue
            done[here] = 1
            for there, most, bound in arrows[here]:
                reached = (far + most + level[here] - level[there], steps + 1)
                known = best[there]
                if known is None or reached < known:
                    best[there], over[there] = reached, bound
                    heapq.heappush(waiting, (*reached, there))
        far_off = [None if b is None else b[0] + level[n] - level[source] for n, b in enumerate(best)]
        return _Ways(far_off, over)


def _levels(out: Sequence[Sequence[_Arrow]], starts: Sequence[int]) -> tuple[list[int], tuple[int, ...]]:
    """A level for each moment such that no arrow leads down by more than it says; else the bounds of a way round."""
    level, over = [0] * len(out), [-1] * len(out)
    order, due = _from_late_to_early(out), bytearray(b"\1" * len(out))
    while any(due):
        for here in order:
            if due[here]:
                due[here] = 0
                for there, most, bound in out[here]:
                    if level[here] + most < level[there]:
                        level[there], over[there], due[there] = level[here] + most, bound, 1
        if found := _round(over, starts):
            return level, found
    return level, ()


def _from_late_to_early(out: Sequence[Sequence[_Arrow]]) -> list[int]:
    """Moments such that, as far as can be, "not after" leads onward: a chain of them is then gone through at once."""
    ahead = [0] * len(out)
    for arrows in out:
        for there, most, _ in arrows:
            ahead[there] += most <= 0
    order = [n for n, count in enumerate(ahead) if not count]
    for here in order:  # grows as it is read
        for there, most, _ in out[here]:
            ahead[there] -= most <= 0
            if most <= 0 and not ahead[there]:
                order.append(there)
    return order + [n for n, count in enumerate(ahead) if count]


def _round(over: Sequence[int], starts: Sequence[int]) -> tuple[int, ...]:
    """A way round among the last bounds that lowered each moment. There is one exactly when its sum is below nothing."""
    seen = [0] * len(over)
    for mark, first in enumerate(range(len(over)), 1):
        here = first
        while not seen[here] and over[here] >= 0:
            seen[here] = mark
            here = starts[over[here]]
        if seen[here] == mark and over[here] >= 0:
            found, at = [over[here]], starts[over[here]]
            while at != here:
                found.append(over[at])
                at = starts[over[at]]
            return tuple(reversed(found))
    return ()


def contradicting(bounds: Sequence[Bound]) -> tuple[str, ...]:
    """Labels of records that cannot all be true, and could if any one of them were not; empty where all can.

    A bound stands only with all records that it rests on. Begins with a way round that cannot be gone and leaves out one
    record after the other, as long as the rest still contradicts itself.
    """
    cycle = Network.of(bounds).cycle
    kept = sorted({r for b in cycle for r in b.records})
    for record in list(kept):
        fewer = [r for r in kept if r != record]
        if Network.of(resting_on(bounds, fewer)).cycle:
            kept = fewer
    return tuple(kept)


def resting_on(bounds: Iterable[Bound], records: Iterable[str]) -> Iterator[Bound]:
    """The bounds that stand when nothing but ``records`` is on record."""
    held = set(records)
    return (b for b in bounds if held.issuperset(b.records))
