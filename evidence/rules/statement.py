"""The full sentence on what the findings weigh, with both propositions named, in the words of any catalogue."""

from __future__ import annotations

from collections.abc import Callable

from evidence.rules.likelihood import Interval
from evidence.rules.weighing import level, other_words, printed

OTHER = "the same complaint, on the same vehicle after the same prior work, arose some other way"
ONE = "this departure led to the damage (%(departure)s)"
TIMES = "By judgement grades, the findings answered so far are about %(times)s times as much to be expected if %(one)s as they are if %(other)s."
TIMES_IN_SPAN = (
    "By judgement grades, the findings answered so far are about %(times)s times as much to be expected if %(one)s as they are "
    "if %(other)s; as far as the grades can be told, the ratio lies between %(low)s and %(high)s."
)
CARRIED = "The low end carries the words: %(band)s."
FAIREST = "That is the end hardest on this explanation; at the end fairest to it the findings give %(left)s."
NOTHING_LEFT = "nothing for some other cause"
SENTENCES = (OTHER, ONE, TIMES, TIMES_IN_SPAN, CARRIED, FAIREST, NOTHING_LEFT)


def statement(
    departure: str, interval: Interval, band: str, t: Callable[[str], str] = str, number: Callable[[str], str] = str
) -> str:
    """What the ratio says; ``t`` puts a message, ``number`` a printed number into another language."""
    one, other = t(ONE) % {"departure": t(departure)}, t(OTHER)
    point = interval.point
    if point < 1:
        one, other, point = other, one, 1 / point
    said = {
        "times": number(printed(point)), "one": one, "other": other,
        "low": number(printed(interval.low)), "high": number(printed(interval.high)),
    }  # fmt: skip
    told = t(TIMES if interval.low == interval.high else TIMES_IN_SPAN) % said
    return " ".join(filter(None, (told, t(CARRIED) % {"band": t(band)}, _fairest(interval, t))))


def _fairest(interval: Interval, t: Callable[[str], str]) -> str:
    """What is left for some other cause at the end that is fairest to this explanation; the low end is the hardest on it."""
    against = [level(1 / r) if r < 1 else 0 for r in (interval.low, interval.high)]
    if against[0] == against[1]:
        return ""
    return t(FAIREST) % {"left": t(other_words(against[1]) if against[1] else NOTHING_LEFT)}
