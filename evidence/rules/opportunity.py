"""Who could have made a departure: everyone who had the vehicle or worked on the part in its window, and what would close it.

Nobody is blamed: an opportunity is not a deed. "Exclusive" is said only where the record carries it: the window is shown on
both sides by more than a word, and everybody else is excluded by record over the whole of it. Else what is missing is said.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

from evidence.model.dossier import Dossier, Recorded
from evidence.model.kinds import enumerated
from evidence.model.people import OwnerDeclaration
from evidence.model.repair import Intervention
from evidence.rules.assessment import Assessment, Point
from evidence.rules.departures import (
    Departure,
    Shown,
    any_related,
    departures,
    first_bad,
    function_only,
    last_good,
)
from evidence.rules.holders import Hold, House, houses
from evidence.rules.vocabulary import Vocabulary
from evidence.timeline.stated import EPOCH, micros, stated
from evidence.timeline.stretches import Stretch, joined, length, within, without
from evidence.timeline.tightened import Tightened, between_words, tighten

Standing = Literal["open", "excluded", "outside"]
SOMEBODY = "somebody not on record"
_WORK_TOPICS = ("own_work", "accessory")


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """From the last record that shows the part in order to the first that shows it not.

    ``start`` and ``end`` are its widest reach. Without ``good`` it is open to the past, and ``start`` is only where the
    record of who had the vehicle begins.
    """

    good: Shown | None
    bad: Shown
    start: dt.datetime
    end: dt.datetime

    @property
    def stretch(self) -> Stretch:
        """In whole microseconds."""
        return micros(self.start), micros(self.end)

    def words(self) -> str:
        """As printed."""
        since = f"{self.start:%Y-%m-%d %H:%M}" if self.good else "an unknown time"
        return f"{since} to {self.end:%Y-%m-%d %H:%M} UTC"


@dataclass(frozen=True, slots=True, kw_only=True)
class Holder:
    """One who had the vehicle in the window, or whose work touched the part. Shares are of the window at its widest."""

    name: str
    part: str  # owner, prior repairer ...
    least: Fraction | None  # share that he surely had it; None: the window has no width
    most: Fraction | None
    sure: tuple[Stretch, ...]  # inside the window, for the picture
    possible: tuple[Stretch, ...]
    work: tuple[Stretch, ...]  # reach of the moments at which he worked on the part
    by: tuple[Point, ...]  # how it is known that he had it or worked on it
    touched: tuple[str, ...]  # records of work on the part that may lie in the window
    standing: Standing
    because: tuple[Point, ...]  # what excludes him
    closes: tuple[str, ...]  # what would


@dataclass(frozen=True, slots=True, kw_only=True)
class Opportunity:
    """One departure with its window and everyone who could have made it. ``window`` is None where no time shows it."""

    departure: Departure
    window: Window | None
    holders: tuple[Holder, ...]
    exclusive: str  # whose opportunity the record shows to be exclusive, or empty
    statement: str
    missing: tuple[str, ...]


def opportunities(
    dossier: Dossier, assessment: Assessment, vocabulary: Vocabulary, *, withheld: int = 0
) -> tuple[Opportunity, ...]:
    """One for each departure found. ``withheld``: how many records are not shown here; then nothing is called exclusive."""
    found = departures(dossier, assessment)
    if not found:
        return ()
    times = tighten(stated(dossier))
    return tuple(_Case(d, dossier, times, vocabulary, withheld).opportunity() for d in found)


class _Case:
    """One departure held against everyone on record."""

    def __init__(
        self, departure: Departure, dossier: Dossier, times: Tightened, vocabulary: Vocabulary, withheld: int
    ) -> None:
        self.departure, self.dossier, self.times, self.vocabulary = departure, dossier, times, vocabulary
        self.withheld = withheld

    def opportunity(self) -> Opportunity:
        """Everything of it."""
        bad = first_bad(self.departure, self.dossier, self.times, self.vocabulary)
        if bad is None:
            return Opportunity(
                departure=self.departure, window=None, holders=(), exclusive="",
                statement="No time shows when the departure was first seen, so it has no window.",
                missing=(f"the time at which {enumerated(self.departure.records)} was taken",),
            )  # fmt: skip
        known = houses(self.dossier, self.departure, self.times, self.vocabulary)
        window = self._window(bad, known)
        holders = [self._holder(h, known, window) for h in known]
        holders.append(self._somebody(holders, known, window))
        holders.sort(key=lambda h: ({"open": 0, "excluded": 1, "outside": 2}[h.standing], not h.touched))
        missing = tuple(self._missing(window, holders))
        left = [h for h in holders if h.standing == "open"]
        alone = left[0].name if len(left) == 1 and not missing and left[0].name != SOMEBODY else ""
        return Opportunity(
            departure=self.departure, window=window, holders=tuple(holders), exclusive=alone,
            statement=_statement(window, left, alone), missing=() if alone else missing,
        )  # fmt: skip

    def _window(self, bad: Shown, known: Sequence[House]) -> Window:
        good = last_good(self.departure, bad, self.dossier, self.times, self.vocabulary)
        end = bad.at.latest
        assert end is not None
        if good and good.at.earliest:
            return Window(good=good, bad=bad, start=good.at.earliest, end=end)
        begun = [h.possible[0] for house in known for h in house.holds if 0 < h.possible[0] < micros(end)]
        start = min(begun, default=micros(bad.at.earliest or end))
        return Window(good=None, bad=bad, start=EPOCH + dt.timedelta(microseconds=start), end=end)

    # --- one holder -------------------------------------------------------------------------------------------------

    def _holder(self, house: House, known: Sequence[House], window: Window) -> Holder:
        sure, possible = self._covers(house, known, window.stretch)
        works = [h for h in house.holds if h.hands == "on the part" and _meets(h.possible, window.stretch)]
        reached = [h for h in house.holds if _meets(h.possible, window.stretch)]
        holder = Holder(
            name=house.name, part=house.part, least=_share(sure, window), most=_share(possible, window), sure=sure,
            possible=possible, work=joined(_drawn(h.possible, window.stretch) for h in works),
            by=tuple(_how(h) for h in reached) + self._kept(house, possible), touched=tuple(h.record for h in works),
            standing="open", because=(), closes=(),
        )  # fmt: skip
        if not possible and not works:
            told = f"nothing puts it in the window from {window.words()}"
            return replace(holder, standing="outside", because=(Point(text=told),))
        if excluding := tuple(self._excluded(house, holder, window)):
            return replace(holder, standing="excluded", because=excluding)
        return replace(holder, closes=tuple(_closes(house, holder)))

    def _covers(
        self, house: House, known: Sequence[House], window: Stretch
    ) -> tuple[tuple[Stretch, ...], tuple[Stretch, ...]]:
        own = [h for h in house.holds if h.how in ("order", "custody")]
        sure, possible = within((h.sure for h in own), window), within((h.possible for h in own), window)
        if not house.owner:
            return sure, possible
        others = [h for x in known if not x.owner for h in x.holds if h.how in ("order", "custody")]
        rest_sure, rest = without(window, (h.possible for h in others)), without(window, (h.sure for h in others))
        return joined((*sure, *rest_sure)), joined((*possible, *rest))

    def _kept(self, house: House, possible: Sequence[Stretch]) -> tuple[Point, ...]:
        if not house.owner or not possible:
            return ()
        return (Point(text="taken to have had it wherever nobody else is on record (no record of its own)"),)

    def _excluded(self, house: House, holder: Holder, window: Window) -> Iterator[Point]:
        if holder.touched:
            return
        for declaration in self.dossier.of(OwnerDeclaration):
            v = declaration.value
            given = v.given_by in house.subjects and self._reaches(declaration, holder.possible)
            if given and self._clear(declaration, "own_work", _WORK_TOPICS):
                told = "own work on these parts denied, signed, before findings were shown"
                yield Point(text=told, records=(declaration.label,))
        as_found = "present_repairer" in house.roles and window.bad.record in self.departure.undisturbed
        if as_found and not self._shop_was_first(house, window):
            told = "the part was recorded as found, before any work of the shop on it; by the shop's own record"
            yield Point(text=told, records=(window.bad.record,))
        custody = [h for h in house.holds if h.how in ("order", "custody") and _meets(h.possible, window.stretch)]
        if custody and not house.owner and all(h.sealed for h in custody):
            told = "had it under a seal that was found whole after"
            yield Point(text=told, records=tuple(x for h in custody for x in (h.record, h.sealed)))

    def _reaches(self, declaration: Recorded[OwnerDeclaration], possible: Sequence[Stretch]) -> bool:
        """Whether it can speak for all of that: signed, before findings were shown, and not given earlier."""
        v, at = declaration.value, self.times.of(declaration.label)
        whole = at and at.earliest and all(end <= micros(at.earliest) for _, end in possible)
        return bool(whole and v.signed and v.before_findings_shown)

    def _clear(self, declaration: Recorded[OwnerDeclaration], topic: str, topics: Sequence[str]) -> bool:
        """Every answer on these topics is "none", or names other parts only; and ``topic`` is answered."""
        answers = [s for s in declaration.value.statements if s.topic in topics]
        elsewhere = [
            s.answer == "some" and s.components and not any_related(s.components, self.departure.around, self.vocabulary)
            for s in answers
        ]  # fmt: skip
        clear = all(s.answer == "none" or other for s, other in zip(answers, elsewhere, strict=True))
        return clear and any(s.topic == topic for s in answers)

    def _shop_was_first(self, house: House, window: Window) -> bool:
        """Whether the shop may have touched the part before it recorded it."""
        bad = window.bad.at.moment.key
        return any(
            step.value.by in house.subjects
            and any_related(step.value.components, self.departure.around, self.vocabulary)
            and not self.times.surely_before(bad, step.label)
            for step in self.dossier.of(Intervention)
        )

    # --- everybody else ---------------------------------------------------------------------------------------------

    def _somebody(self, holders: Sequence[Holder], known: Sequence[House], window: Window) -> Holder:
        """Whoever may have been at it while it was with the owner and nobody wrote it down."""
        owners = {s for h in known if h.owner for s in h.subjects}
        reach = joined(s for house, h in zip(known, holders, strict=True) if house.owner for s in h.possible)
        because: list[Point] = []
        for declaration in self.dossier.of(OwnerDeclaration):
            given = declaration.value.given_by in owners and self._reaches(declaration, reach)
            if given and self._clear(declaration, "other_repairer", ("other_repairer",)):
                told = "no other repairer at these parts, says the owner; signed, before findings were shown"
                because.append(Point(text=told, records=(declaration.label,)))
        standing: Standing = "outside" if not reach else "excluded" if because else "open"
        closes = ("the owner's declaration on other repairers, signed, taken as that on own work",)
        return Holder(
            name=SOMEBODY, part="not known", least=_share((), window), most=_share(reach, window), sure=(), possible=reach,
            work=(), by=(), touched=(), standing=standing, because=tuple(because), closes=closes if standing == "open" else (),
        )  # fmt: skip

    def _missing(self, window: Window, holders: Sequence[Holder]) -> Iterator[str]:
        what = self.departure.what
        if self.withheld:
            yield f"the records that are withheld here ({self.withheld}): they may show somebody else in the window"
        if window.good is None:
            yield f"a record that shows the {what} in order at any time before {window.bad.record}"
            if only := function_only(self.departure, self.dossier, self.vocabulary):
                yield f"{enumerated(only)} shows how the vehicle ran, not the {what}: it closes nothing here"
        elif window.good.told:
            yield f"more than a word for the {what} in order: {window.good.record} rests on what somebody said"
        used = {window.bad.record, *([window.good.record] if window.good else [])}
        used |= {r for h in holders for p in (*h.by, *h.because) for r in p.records}
        if clash := next((c for c in self.times.clashes if used & set(c.records)), None):
            yield f"times that go together: {enumerated(clash.records)} cannot all be true"
        left = [h for h in holders if h.standing == "open"]
        for holder in left if len(left) > 1 or (left and left[0].name == SOMEBODY) else ():
            for closes in holder.closes:
                yield f"{holder.name}: {closes}"


def _statement(window: Window, left: Sequence[Holder], alone: str) -> str:
    if alone:
        return (
            f"On this record the opportunity from {window.words()} was exclusive: {alone} alone had it, everybody else is "
            "excluded by record over the whole window. That says who could have made the departure, not who did."
        )  # fmt: skip
    if not left:
        earlier = "" if window.good else ", or it was so before anybody is on record as having the vehicle"
        return f"Everybody is excluded by record: one of these records is wrong, somebody is not on it{earlier}."
    names = ", ".join(h.name for h in left)
    return f"Not exclusive on this record. Open from {window.words()}: {names}. That says who could have, not who did."


def _closes(house: House, holder: Holder) -> Iterator[str]:
    if holder.touched:
        yield (
            f"its work on the part ({enumerated(holder.touched)}) is closed only by a record that shows the part in order "
            "after that work, or already amiss before it"
        )
        return
    unread = [h.record for h in house.holds if h.hands == "not told apart"]
    if unread:
        yield f"which parts {enumerated(unread)} had hands on, line by line"
    if house.owner:
        yield (
            "the owner's declaration on own work, signed, taken before findings are shown and after the vehicle was handed "
            "over; and the hand-over"
        )
    elif "present_repairer" in house.roles:
        yield "a picture or reading of the part as found, before any own work on it"
    else:
        yield "its own word on what it opened, signed before findings are shown; or a seal at hand-over, found whole after"


def _how(hold: Hold) -> Point:
    hands = {"on the part": "; hands on the part", "on other parts": "; its lines name other parts",
             "not told apart": "; its lines do not say which parts", "not by itself": ""}[hold.hands]  # fmt: skip
    return Point(text=f"{hold.words}{hands}", records=(hold.record,))


def _meets(stretch: Stretch, window: Stretch) -> bool:
    return stretch[0] < window[1] and stretch[1] > window[0]


def _drawn(stretch: Stretch, window: Stretch) -> Stretch:
    return max(stretch[0], window[0]), min(stretch[1], window[1])


def _share(stretches: Sequence[Stretch], window: Window) -> Fraction | None:
    start, end = window.stretch
    return Fraction(length(stretches), end - start) if end > start else None


def share_words(holder: Holder) -> str:
    """Least and most of the window in whole per cent, the least rounded down and the most up."""
    if holder.least is None or holder.most is None:
        return "–"
    least, most = math.floor(holder.least * 100), math.ceil(holder.most * 100)
    if (least, most) == (0, 1):
        return "under 1 %"
    return f"{most} %" if least == most else f"{least} to {most} %"


def opportunity_json(found: Opportunity) -> dict[str, object]:
    """As it stands in JSON; shares are exact fractions, times UTC."""
    window, d = found.window, found.departure
    told: dict[str, object] = {
        "departure": d.title, "mechanisms": list(d.mechanisms), "parts": list(d.parts), "records": list(d.records),
        "statement": found.statement, "exclusive": found.exclusive, "missing": list(found.missing),
        "holders": [
            {
                "name": h.name, "part": h.part, "standing": h.standing, "touched": list(h.touched),
                "least": str(h.least) if h.least is not None else "", "most": str(h.most) if h.most is not None else "",
                "by": [_point(p) for p in h.by], "because": [_point(p) for p in h.because], "closes": list(h.closes),
            }
            for h in found.holders
        ],
    }  # fmt: skip
    if window:
        told["window"] = {
            "words": window.words(), "first_bad": _shown(window.bad),
            **({"last_good": _shown(window.good)} if window.good else {}),
        }  # fmt: skip
    return told


def _point(point: Point) -> dict[str, object]:
    return {"text": point.text, "records": list(point.records)}


def _shown(shown: Shown) -> dict[str, object]:
    return {
        "record": shown.record, "what": shown.words, "when": between_words(shown.at.earliest, shown.at.latest),
        "told": shown.told,
    }  # fmt: skip
