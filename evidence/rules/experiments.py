"""Interventions as experiments: the same test before and after exactly one of them, and what the comparison says.

A test is the same when kind, place, second point, part and conditions are. Where two or more interventions lie between two
such tests, and nothing was tested in between, that is told: which of them did it is not shown.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from evidence.model.base import say, shorten
from evidence.rules.asks import AnyOf, Change, Computed, Document
from evidence.rules.assessment import Experiment, Pair, Point
from evidence.rules.criteria import Closed
from evidence.rules.examine import Examined
from evidence.rules.holdings import Holdings, Item
from evidence.rules.replies import Reply

SEVERAL = "nothing was tested between these changes, so which of them did it is not shown"
_SAME, _CHANGED = "the same within the uncertainty of both", "changed"
_MOST = 12  # pairs shown of one experiment


def experiments(holdings: Holdings, entries: Sequence[Examined]) -> tuple[Experiment, ...]:
    """In order of the interventions; ``entries`` are the candidates for which the comparison is read."""
    excused = _excused(holdings)
    found: dict[frozenset[str], list[Pair]] = {}
    for same in _tests(holdings):
        for between, pair in _pairs(same):
            found.setdefault(between - excused or between, []).append(pair)
    alone = {frozenset({s}) for s in holdings.states.steps}
    read = {between: tuple(_read(next(iter(between)), entries)) for between in alone}
    order = list(holdings.states.steps)
    told: list[tuple[tuple[int, int], Experiment]] = []
    for between in alone | set(found):
        points = read.get(between, ()) if len(between) == 1 else (Point(text=SEVERAL),)
        pairs = tuple(dict.fromkeys(found.get(between, ())))
        if pairs or points:
            place = (max(order.index(s) for s in between), len(between))
            told.append((place, _experiment(holdings, between, pairs, points)))
    return tuple(e for _, e in sorted(told, key=lambda t: (t[0], t[1].interventions)))


def _excused(holdings: Holdings) -> frozenset[str]:
    """Interventions of which a person says in writing that they cannot matter."""
    said = (r.value for resolutions in holdings.resolutions.values() for r in resolutions)
    return frozenset(x for v in said if v.about == "other_intervention_cannot_matter" for x in v.records)


def _experiment(
    holdings: Holdings, between: Iterable[str], pairs: tuple[Pair, ...], points: tuple[Point, ...]
) -> Experiment:
    steps = [step for s, step in holdings.states.steps.items() if s in set(between)]
    return Experiment(
        interventions=tuple(s.label for s in steps), text="; ".join(shorten(s.value.summary(), 140) for s in steps),
        pairs=pairs[:_MOST], told=points,
    )  # fmt: skip


# --- the same test, before and after ----------------------------------------------------------------------------


def _tests(holdings: Holdings) -> Iterator[tuple[str, list[Item]]]:
    """Readings of one kind at one place under the same conditions, two at least."""
    for index in (holdings.measured, holdings.features, holdings.observed, holdings.read):
        for name, items in index.items():
            groups: dict[tuple[object, ...], list[Item]] = {}
            for i in items:
                key = (i.kind, i.of, i.to, i.position, i.which, i.conditions - {"before-reset", "after-reset"})
                groups.setdefault(key, []).append(i)
            yield from ((name, group) for group in groups.values() if len(group) > 1)


def _pairs(same: tuple[str, list[Item]]) -> Iterator[tuple[frozenset[str], Pair]]:
    name, items = same
    states: dict[frozenset[str], list[Item]] = {}
    for i in items:
        if i.met.unclear and i.state != "undisturbed":
            continue  # its time does not say which of the interventions it met
        states.setdefault(i.met.after, []).append(i)
    for first, second in pairwise(sorted(states, key=len)):
        if first < second:
            was, now = states[first][-1], states[second][0]
            if told := _compared(was, now):
                yield second - first, Pair(what=_what(name, was), before=_shown(was), after=_shown(now), told=told)


def _compared(was: Item, now: Item) -> str:
    if was.value is not None and now.value is not None:
        here = now.value.into(was.value.unit)
        margin = (was.value.expanded**2 + here.expanded**2).sqrt()
        return _CHANGED if abs(here.value - was.value.value) > margin else _SAME
    if was.word is not None and now.word is not None and was.codes == now.codes:
        return _CHANGED if was.word != now.word else "the same"
    return _CHANGED if was.codes != now.codes else ""


def _what(name: str, item: Item) -> str:
    place = f"{say(item.of)}{f' {say(item.position)}' if item.position else ''}"
    bits = [f"{say(name)}, {place}{f' to {say(item.to)}' if item.to else ''}"]
    bits += [f"{say(item.which)} part"] if item.which else []
    return ", ".join([*bits, *(say(c) for c in sorted(item.conditions))])


def _shown(item: Item) -> str:
    value = item.value.words() if item.value is not None else say(item.word or "")
    if item.codes:
        value = ", ".join(item.codes)
    return f"{value} ({item.label})"


# --- what it says of a mechanism --------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Seen:
    """A finding that was met before the change, and how it stood after it."""

    statement: str
    still: bool
    records: tuple[str, ...]


def _read(step: str, entries: Sequence[Examined]) -> Iterator[Point]:
    """One sentence for each candidate whose parts were touched and whose findings were tested again."""
    told: set[str] = set()
    for examined in entries:
        if step not in examined.setting.touching(examined.call.mechanism.components):
            continue
        seen = {limb: _seen(step, examined, limb) for limb in ("D", "E")}
        point = _sentence(step, examined, seen)
        if point and point.text not in told:
            told.add(point.text)
            yield point


def _seen(step: str, examined: Examined, limb: str) -> list[_Seen]:
    found: list[_Seen] = []
    for finding in examined.call.mechanism.findings:
        asks = finding.parts
        if finding.limb != limb or not asks or any(isinstance(a, (Change, Computed, Document)) for a in asks):
            continue
        again = [r for ask in _ways(asks[0]) for r in (examined.before_and_after(ask, step),) if _tested_again(*r)]
        if again:
            still = any(after.answer == "met" for _, after in again)
            found.append(_Seen(finding.statement, still, _records(*(r for pair in again for r in pair))))
    return found


def _ways(ask: Closed) -> tuple[Closed, ...]:
    """The ways of asking a question of which any one is enough: the one that was met is the one to be asked again."""
    return tuple(w for a in ask.one for w in _ways(a)) if isinstance(ask, AnyOf) else (ask,)


def _tested_again(before: Reply, after: Reply) -> bool:
    return before.answer == "met" and after.answer in ("met", "not met")


def _records(*replies: Reply) -> tuple[str, ...]:
    return tuple(dict.fromkeys(x for r in replies for x in r.labels))


def _sentence(step: str, examined: Examined, seen: Mapping[str, list[_Seen]]) -> Point | None:
    departures, effects = seen["D"], seen["E"]
    if not effects and not departures:
        return None
    label = examined.setting.holdings.states.labels({step})[0]
    right = [s for s in departures if not s.still]
    wrong = [s for s in departures if s.still]
    stays = [s for s in effects if s.still]
    gone = [s for s in effects if not s.still]
    head = f"For “{examined.call.mechanism.title}”: "
    if wrong and not right:
        text = f"{label} did not put right what was wrong ({_named(wrong)}), so what came of it says nothing."
    elif right and stays:
        text = (
            f"{label} put right what was wrong ({_named(right)}), and the effect stays ({_named(stays)}): what was wrong there "
            "does not alone explain the effect. Either it did damage that remains, or something else is at work."
        )
    elif right and gone:
        text = f"{label} put right what was wrong ({_named(right)}), and with this one change the effect went ({_named(gone)})."
    elif right:
        text = f"{label} put right what was wrong ({_named(right)}); whether the effect went with it was not tested."
    elif stays:
        text = f"the effect stays after {label} ({_named(stays)}); whether that put the place right was not tested."
    else:
        text = (
            f"with {label} as the one change the effect went ({_named(gone)}); the place itself was not tested again."
        )
    return Point(text=head + text, records=tuple(dict.fromkeys(x for s in (*departures, *effects) for x in s.records)))


def _named(seen: Sequence[_Seen]) -> str:
    return "; ".join(shorten(s.statement, 70) for s in seen)
