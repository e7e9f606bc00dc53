"""Where a device's clock was set: by a person's word, or because the numbering of its files runs on while its time falls."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from evidence.model.when import TimeSpan
from evidence.timeline.devices import Held, Made, in_number_order

# A burst may be written out of order by a moment; a fall of this and more is a clock that was set.
LEAST_FALL = dt.timedelta(seconds=2)
_RIGHT_AFTER = dt.timedelta(minutes=15)  # how long after "right after" may be


@dataclass(frozen=True, slots=True, kw_only=True)
class Fall:
    """The time falls from one file to a later one: the clock was set back in between, or the files were renumbered."""

    before: Made
    after: Made
    by: dt.timedelta  # at least


@dataclass(frozen=True, slots=True)
class _Border:
    """Between two numbers of a series."""

    series: str
    last: int  # highest number before it

    def passed(self, number: int) -> bool:
        return number > self.last


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """The moments at which a clock was set, and to which side of them a file or a reference lies."""

    falls: tuple[Fall, ...]
    borders: tuple[_Border, ...]
    set_at: tuple[Held, ...]  # in order of time; used only where no numbering tells

    @property
    def count(self) -> int:
        """How many stretches there are."""
        return 1 + (len(self.borders) or len(self.set_at))

    def stretch_of(self, series: str, number: int | None, held: Held | None = None) -> int | None:
        """The stretch of a numbered file, or of a reference by its true time; None where that is not decided."""
        if self.count == 1:
            return 0
        if self.borders:
            if number is None or any(b.series != series for b in self.borders):
                return None
            return sum(b.passed(number) for b in self.borders)
        return sum(s.true.middle < held.true.middle for s in self.set_at) if held else None

    def may_lie_in(self, stretch: int, span: TimeSpan) -> bool:
        """Whether a true time may lie in a stretch, as far as the times of setting tell."""
        if self.borders or not self.set_at:
            return True
        begun = stretch == 0 or span.latest >= self.set_at[stretch - 1].true.earliest
        ended = stretch < len(self.set_at) and span.earliest > self.set_at[stretch].true.latest + _RIGHT_AFTER
        return begun and not ended


def settings_of(made: Sequence[Made], readings: Mapping[str, TimeSpan], held: Sequence[Held]) -> Settings:
    """Find the settings of a clock whose files read ``readings`` (by subject)."""
    falls = []
    for a, b in in_number_order(made):
        fall = readings[a.subject].earliest - readings[b.subject].latest
        if fall >= LEAST_FALL:
            falls.append(Fall(before=a, after=b, by=fall))
    borders = {_Border(f.before.series, f.before.number or 0) for f in falls}
    told = [h for h in held if h.set_after]
    for h in told:
        if h.number is not None and not any(_between(h, f) for f in falls):
            borders.add(_Border(h.series, h.number))
    return Settings(
        falls=tuple(falls), borders=tuple(sorted(borders, key=lambda b: (b.series, b.last))),
        set_at=tuple(sorted(told, key=lambda h: (h.true.middle, h.label))),
    )  # fmt: skip


def _between(held: Held, fall: Fall) -> bool:
    low, high = fall.before.number, fall.after.number
    return (
        held.series == fall.before.series and low is not None and high is not None and low <= (held.number or 0) < high
    )
