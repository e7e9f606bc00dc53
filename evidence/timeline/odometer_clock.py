"""The odometer as a second clock: what was read later shows more, so readings order the moments at which they were taken.

A reading of 84 409 km says that the odometer had reached 84 409 and had not reached 84 410: it stood between two of its
own moments, and those follow each other. Nobody's guess of a rounding is in it; a reading rounded by hand has to be
written as it is known.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from evidence.model.quantity import Distance
from evidence.timeline.network import Bound

DAY = 86_400_000_000  # microseconds
_FORWARD = "an odometer only runs forward"
_REACH = 8  # a reading is compared with so many following ones


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """A reading at a moment. ``explained``: the record says why it is lower than before, so it orders nothing."""

    moment: str  # key of the moment at which it was read
    record: str  # label
    reading: Distance
    explained: bool = False

    @property
    def least(self) -> Decimal:
        """Kilometres that it had surely done."""
        return self.reading.km()

    @property
    def below(self) -> Decimal:
        """Kilometres that it had not reached yet: one of the last digit more."""
        last = Decimal(1).scaleb(int(Decimal(self.reading.value).as_tuple().exponent))
        return self.reading.model_copy(update={"value": f"{self.reading.number + last:f}"}).km()


def in_order(reads: Iterable[Read]) -> Iterator[Bound]:
    """Bounds between the moments of readings, by way of the moments at which the odometer turned."""
    marks: set[Decimal] = set()
    for r in reads:
        if r.explained:
            continue
        marks |= {r.least, r.below}
        words = f"{r.moment} reads {r.reading.words()}"
        yield Bound(start=r.moment, end=turn(r.least), most=0, words=words, records=(r.record,))
        yield Bound(start=turn(r.below), end=r.moment, most=0, words=words, records=(r.record,))
    for low, high in pairwise(sorted(marks)):
        yield Bound(start=turn(high), end=turn(low), most=0, words=_FORWARD)


def turn(km: Decimal) -> str:
    """Key of the moment at which the odometer turned to so many kilometres."""
    return f"odometer at {km.normalize():f} km"


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """The most that the record shows to have been driven in a day: ``km`` within ``most``, between two readings."""

    km: Decimal  # in 24 hours
    readings: tuple[str, str]  # labels

    def words(self) -> str:
        """As printed."""
        a, b = self.readings
        return f"no 24 hours saw more than {self.km:.0f} km, the most that the record shows (from {a} to {b})"


def most_in_a_day(reads: Sequence[Read], apart: Callable[[str, str], int | None]) -> Use | None:
    """The highest distance a day between two readings, a stretch of less than a day counted as a whole one.

    ``apart``: how far the second moment surely lies after the first, microseconds; None where that is not known.
    """
    found: Use | None = None
    for a, b in _pairs(reads):
        least = apart(a.moment, b.moment)
        if least is not None:
            a_day = (b.below - a.least) * DAY / max(least, DAY)
            if found is None or a_day > found.km:
                found = Use(km=a_day, readings=(a.record, b.record))
    return found


def at_that_use(reads: Sequence[Read], use: Use) -> Iterator[Bound]:
    """If no 24 hours saw more than that, so many kilometres took at least so long. Taken to be so, not recorded."""
    for a, b in _pairs(reads):
        driven = b.least - a.below
        least = int(driven * DAY / use.km) - DAY
        if least > 0:
            words = f"from {a.moment} to {b.moment} it went at least {driven:.0f} km, at most {use.km:.0f} in 24 hours"
            records = tuple(dict.fromkeys((a.record, b.record, *use.readings)))
            yield Bound(
                start=b.moment, end=a.moment, most=-least, words=words, records=records, supposed=use.words()
            )  # fmt: skip


def _pairs(reads: Iterable[Read]) -> Iterator[tuple[Read, Read]]:
    """Each reading with the next ones that surely show more. What explains a lower reading is left out."""
    placed = sorted((r for r in reads if not r.explained), key=lambda r: (r.least, r.below, r.moment))
    for n, a in enumerate(placed):
        yield from ((a, b) for b in placed[n + 1 : n + 1 + _REACH] if a.below <= b.least)
