"""Each candidate that has anything answered against each other one, on the same record, and against something not listed.

Under a rival a finding has the rival's own grade where the rival asks the same question, else its ``if not``. What only the
rival asks stands in the pair with its grades exchanged. A question that is less to be expected under the first than under the
second is turned round, so that met speaks for the first in all of them; the rules of :mod:`weighing` then hold for the pair:
one finding a limb for it and one against it, one test once, one record in one limb, the cap.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from evidence.rules.assessment import Versus
from evidence.rules.examine import Examined
from evidence.rules.grades import Odds
from evidence.rules.hypotheses import NOT_LISTED
from evidence.rules.likelihood import Interval
from evidence.rules.weighing import WEIGHING, Weighable, band_words, level, printed, weigh_interval

MOST = 8  # candidates that are held against each other; the pairs of more would say nothing to anybody
APART = "does not tell the two apart"


@dataclass(frozen=True)
class Contender:
    """A candidate with its questions by key."""

    examined: Examined

    @property
    def mechanism(self) -> str:
        """Its id."""
        return self.examined.call.mechanism.id

    @property
    def keys(self) -> Mapping[str, str]:
        """Finding id to the key of its question."""
        return self.examined.call.keys

    @cached_property
    def true(self) -> Mapping[str, Odds]:
        """Key to how expected it is if the mechanism is true."""
        return {self.keys[w.id]: w.if_true for w in reversed(self.examined.weighables)}

    def answered(self, *, wordless: bool = False) -> Iterator[Weighable]:
        """Its answers that weigh, under its branch, outcomes of one test once."""
        pool = self.examined.low_weighables if wordless else self.examined.weighables
        pool = tuple(w for w in pool if w.limb in WEIGHING and w.branch in ("", self.examined.weighed.under))
        met = {w.test for w in pool if w.test and w.answer == "met"}
        for w in pool:
            if w.answer == "met" or (w.answer == "not met" and w.test not in met):
                yield w


def contenders(looked: Sequence[Examined]) -> tuple[Contender, ...]:
    """Those with anything answered, the best supported first, no more than :data:`MOST`."""
    answered = [x for x in looked if any(w.limb in WEIGHING and w.interval for w in x.weighables)]
    answered.sort(key=lambda x: (-x.weighed.ratio, x.call.mechanism.id))
    return tuple(map(Contender, answered[:MOST]))


def versus(one: Examined, all_of_them: Sequence[Contender]) -> tuple[Versus, ...]:
    """Against something not listed first, then against each other contender, the one that fares best against it first."""
    rows = [_row("", NOT_LISTED, one.interval)]
    mine = next((c for c in all_of_them if c.examined is one), None)
    if mine:
        pairs = [(pair(mine, other), other) for other in all_of_them if other is not mine]
        pairs.sort(key=lambda p: (p[0].low, p[0].point, p[1].mechanism))
        rows += [_row(o.mechanism, o.examined.call.mechanism.title, i) for i, o in pairs]
    return tuple(rows)


def pair(one: Contender, other: Contender) -> Interval:
    """How much more to be expected the answers are under the first than under the second."""
    spoken = weigh_interval(tuple(_pool(one, other, wordless=False)))
    silent = spoken
    if one.examined.low_weighables is not one.examined.weighables:
        silent = weigh_interval(tuple(_pool(one, other, wordless=True)))
    return Interval(min(spoken.low, silent.low), spoken.point, spoken.high)


def _pool(one: Contender, other: Contender, *, wordless: bool) -> Iterator[Weighable]:
    spoken: set[str] = set()
    for w in one.answered(wordless=wordless):
        spoken.add(one.keys[w.id])
        yield from _turned(w, one, w.if_true, other.true.get(one.keys[w.id], w.if_not))
    for w in other.answered():
        if (key := other.keys[w.id]) not in spoken:
            yield from _turned(w, other, one.true.get(key, w.if_not), w.if_true)


def _turned(found: Weighable, asker: Contender, here: Odds, there: Odds) -> Iterator[Weighable]:
    """The finding with its grades under the two, so put that met speaks for the first; nothing where it says nothing."""
    if here == there:
        return
    test = f"{asker.mechanism} {found.test}" if found.test else ""
    named = replace(found, id=f"{asker.mechanism} {found.id}", branch="", test=test, if_true=here, if_not=there)
    if here.point >= there.point:
        yield named
        return
    yield replace(
        named, answer="not met" if found.answer == "met" else "met", if_true=here.turned, if_not=there.turned,
        test=f"{test} turned" if test else "",
    )  # fmt: skip


def _row(mechanism: str, title: str, ratio: Interval) -> Versus:
    if level(ratio.low):
        words = f"{band_words(level(ratio.low))} for this one"
    elif ratio.high < 1 and level(1 / ratio.high):
        words = f"{band_words(level(1 / ratio.high))} for the other"
    else:
        words = APART
    return Versus(
        mechanism=mechanism, title=title, low=ratio.low, ratio=ratio.point, high=ratio.high,
        printed=spelled(ratio), words=words,
    )  # fmt: skip


def spelled(ratio: Interval) -> str:
    """An interval for a table: ``14.7 to 941``, or one number."""
    low, high = printed(ratio.low), printed(ratio.high)
    return low if low == high else f"{low} to {high}"


def separating(one: Examined, all_of_them: Sequence[Contender]) -> frozenset[str]:
    """Findings of the entry whose answer could tell it from something not listed, from another contender or an alternative."""
    found = {w.id for w in one.weighables if w.if_true != w.if_not}
    found |= {name for a in one.call.mechanism.alternatives for name in a.excluded_by}
    mine = next((c for c in all_of_them if c.examined is one), None)
    for w in one.weighables if mine else ():
        if mine and any(c.true.get(mine.keys[w.id], w.if_true) != w.if_true for c in all_of_them):
            found.add(w.id)
    return frozenset(found)
