"""The tightest span of every moment that the record as a whole allows, with the records that force each bound.

Where not all can be true, the smallest sets that contradict each other are named, and nothing that a member of one says
of time is used: the rest is then still tightened, and each member keeps the span that it states.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from evidence.model.when import TimeSpan
from evidence.timeline.clock_telling import spread
from evidence.timeline.network import Bound, Network, contradicting, resting_on
from evidence.timeline.stated import EPOCH, ORIGIN, Moment, Stated, micros

_MOST_SETS = 20  # contradictions told of one dossier


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """Records that cannot all be true, and could if any one of them were not; why, step by step."""

    records: tuple[str, ...]
    steps: tuple[str, ...]

    def words(self) -> str:
        """In one paragraph."""
        return f"{'; '.join(self.steps)}. Not all of this can be true."


@dataclass(frozen=True, slots=True, kw_only=True)
class Tight:
    """A moment with the earliest and latest instant that the record as a whole allows; None: nothing bounds it."""

    moment: Moment
    earliest: dt.datetime | None
    latest: dt.datetime | None
    since: tuple[Bound, ...]  # the bounds that force ``earliest``, from the moment to a date
    until: tuple[Bound, ...]  # those that force ``latest``, from a date to the moment
    set_aside: bool = False  # its own record contradicts others, so its span is as stated

    @property
    def span(self) -> TimeSpan | None:
        """Both, where there are both."""
        return TimeSpan(self.earliest, self.latest) if self.earliest and self.latest else None

    @property
    def narrowed(self) -> bool:
        """Whether other records make it tighter than its own states."""
        given = self.moment.given
        found = (self.earliest, self.latest)
        return found != ((given.earliest, given.latest) if given else (None, None))

    @property
    def by(self) -> tuple[str, ...]:
        """The records, others than its own, that narrow it."""
        labels = [r for b in (*self.since, *self.until) for r in b.records if r != self.moment.record]
        return tuple(dict.fromkeys(labels)) if self.narrowed else ()


@dataclass(frozen=True, kw_only=True)
class Tightened:
    """All moments of a dossier, earliest first; and what contradicts itself."""

    moments: tuple[Tight, ...]
    clashes: tuple[Clash, ...]
    network: Network  # of all that contradicts nothing

    def of(self, key: str) -> Tight | None:
        """The moment with this key."""
        return self._by_key.get(key)

    @cached_property
    def _by_key(self) -> dict[str, Tight]:
        return {t.moment.key: t for t in self.moments}

    def apart(self, first: str, second: str) -> tuple[int | None, int | None, tuple[str, ...]]:
        """How long ``second`` lies after ``first``, least and most in microseconds, and the records that force both."""
        back = self.network.at_most(second, first)
        why = (*self.network.why(first, second), *self.network.why(second, first))
        least = None if back is None else -back
        return least, self.network.at_most(first, second), tuple(dict.fromkeys(r for b in why for r in b.records))

    def surely_before(self, first: str, second: str) -> bool:
        """Whether the record as a whole puts the one moment no later than the other, and not both at one time for sure."""
        back = self.network.at_most(second, first)
        return back is not None and back <= 0 and (back, self.network.at_most(first, second)) != (0, 0)


def tighten(known: Stated, supposed: Iterable[Bound] = ()) -> Tightened:
    """Tighten every moment by all bounds; ``supposed`` are laid over the facts, and labelled in every reason."""
    bounds = [*known.bounds, *supposed]
    clashes, network = _clashes(bounds)
    aside = {r for c in clashes for r in c.records}
    moments = [_tight(m, network, aside) for m in known.moments]
    return Tightened(moments=tuple(sorted(moments, key=_place)), clashes=clashes, network=network)


def _clashes(bounds: Sequence[Bound]) -> tuple[tuple[Clash, ...], Network]:
    """The sets that contradict each other, and the network of what is left without them."""
    found: list[Clash] = []
    while (network := Network.of(bounds)).cycle:
        records = contradicting(bounds)
        assert records, "bounds that rest on no record contradict each other"
        cycle = Network.of(resting_on(bounds, records)).cycle
        found.append(Clash(records=records, steps=tuple(steps(cycle))))
        bounds = [b for b in bounds if not set(b.records) & set(records)]
    return tuple(found[:_MOST_SETS]), network


def _tight(moment: Moment, network: Network, aside: set[str]) -> Tight:
    if moment.record in aside:
        given = moment.given
        return Tight(
            moment=moment, earliest=given.earliest if given else None, latest=given.latest if given else None,
            since=(), until=(), set_aside=True,
        )  # fmt: skip
    back, since = network.towards(ORIGIN, moment.key)
    ahead = network.at_most(ORIGIN, moment.key)
    return Tight(
        moment=moment, earliest=_at(None if back is None else -back), latest=_at(ahead), since=since,
        until=network.why(ORIGIN, moment.key),
    )  # fmt: skip


def _at(moment: int | None) -> dt.datetime | None:
    """None also where it lies outside the years that can be reckoned with."""
    try:
        return None if moment is None else EPOCH + dt.timedelta(microseconds=moment)
    except OverflowError:
        return None


def _place(tight: Tight) -> tuple[int, int, str]:
    first, last = tight.earliest, tight.latest
    start = micros(first or last) if first or last else 2**63  # type: ignore[arg-type]  # one of them is there
    return start, micros(last) if last else 2**63, tight.moment.key


def steps(bounds: Iterable[Bound]) -> Iterator[str]:
    """The sentences of a chain of bounds; what is said twice running, as of both sides of one reading, is said once."""
    last = ""
    for bound in bounds:
        words = f"supposed: {bound.words}" if bound.supposed else bound.words
        if words != last:
            yield words
        last = words


def between_words(earliest: dt.datetime | None, latest: dt.datetime | None) -> str:
    """A span of which a side may be open, in UTC."""
    if earliest and latest:
        return spread(TimeSpan(earliest, latest))
    if earliest:
        return f"{earliest:%Y-%m-%d %H:%M:%S} UTC or later"
    return f"{latest:%Y-%m-%d %H:%M:%S} UTC or earlier" if latest else "not known"
