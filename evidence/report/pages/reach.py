"""Time as a whole, and opportunity: what other records make of each time, what cannot all be true, who could have done it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

from evidence.model.kinds import enumerated
from evidence.model.when import TimeSpan
from evidence.report.blocks import Block, Bullets, Column, Heading, Matrix, Para, Reach, Row, Section, Table
from evidence.report.given import ReportInput
from evidence.report.phrasing import first_up, sentence
from evidence.rules.assessment import Point
from evidence.rules.departures import Shown
from evidence.rules.opportunity import Holder, Opportunity, Window, share_words
from evidence.timeline.stated import EPOCH, stated
from evidence.timeline.stretches import Stretch
from evidence.timeline.tightened import Tight, Tightened, between_words, steps, tighten


def reach(given: ReportInput) -> Section | None:
    """None where no departure is found, no time is made tighter by others, and none contradict each other."""
    times = tighten(stated(given.dossier))
    blocks: list[Block] = [*_clashes(times), *_narrowed(times)]
    if not blocks and not given.opportunities:
        return None
    for one in given.opportunities:
        blocks += _opportunity(one)
    if not given.opportunities:
        blocks.append(
            Para(
                "No departure is shown by any finding, so there is no window to hold anybody against.",
                head="Opportunity.",
            )
        )
    return Section("Time and opportunity", tuple(blocks), new_page=bool(given.opportunities))


def _clashes(times: Tightened) -> Iterator[Block]:
    if not times.clashes:
        return
    yield Heading("What cannot all be true")
    yield Para(
        "Each line is a smallest set: if any one of its records were otherwise, the others could be true. What the records "
        "of such a set say of time is used nowhere below.", tone="caution",
    )  # fmt: skip
    yield Bullets(tuple(f"{enumerated(c.records)}. {sentence('; '.join(c.steps))}" for c in times.clashes))


def _narrowed(times: Tightened) -> Iterator[Block]:
    found = [t for t in times.moments if t.narrowed]
    if not found:
        return
    yield Heading("Times made tighter by other records")
    yield Para(
        "Every time on record is a span. Taken together with the odometer, with what is told of the order and with what "
        "cannot be otherwise, some become narrower; nothing here is supposed.", tone="small",
    )  # fmt: skip
    columns = (Column("What", 2.2), Column("As stated", 2.1), Column("As a whole", 2.1), Column("Because", 3.4))
    yield Table(columns, tuple(_tight(t) for t in found))


def _tight(t: Tight) -> Row:
    given = t.moment.given
    was = between_words(given.earliest, given.latest) if given else "not stated"
    because = []
    if not given or t.earliest != given.earliest:
        because.append(f"not before: {'; '.join(steps(reversed(t.since)))}")
    if not given or t.latest != given.latest:
        because.append(f"not after: {'; '.join(steps(t.until))}")
    return Row((f"{t.moment.key}: {t.moment.what}", was, between_words(t.earliest, t.latest), "\n".join(because)))


def _opportunity(one: Opportunity) -> Iterator[Block]:
    yield Heading(f"Who could have: {one.departure.what}")
    yield Para(sentence(first_up(one.departure.title)), head="The departure.")
    if one.window:
        yield Para(_bounds(one.window))
        yield _matrix(one, one.window)
    yield Para(one.statement, head="Opportunity.")
    if one.missing:
        yield Para("What is missing, or would close it:")
        yield Bullets(one.missing)
    if one.window:
        columns = (Column("Who", 1.7), Column("Of the window", 1), Column("Had it or worked on it, by", 3.4),
                   Column("Stands", 0.9), Column("Because", 2.6))  # fmt: skip
        yield Table(columns, tuple(_row(h) for h in one.holders))


def _bounds(window: Window) -> str:
    until = f"The first record that shows it is {_shown(window.bad)}."
    if window.good:
        word = " That rests on somebody's word." if window.good.told else ""
        return f"The last record that shows the part in order is {_shown(window.good)}.{word} {until}"
    return (
        f"No record shows the part in order before, so the window is open to the past. {until} Shares are of the time since "
        f"{window.start:%Y-%m-%d %H:%M} UTC, when somebody is first on record as having the vehicle."
    )  # fmt: skip


def _shown(shown: Shown) -> str:
    return f"{shown.record}, {between_words(shown.at.earliest, shown.at.latest)} ({shown.words})"


def _matrix(one: Opportunity, window: Window) -> Matrix:
    rows = tuple(
        Reach(
            name=h.name, note=f"{h.standing}; {share_words(h)}; {h.part}", sure=_spans(h.sure), possible=_spans(h.possible),
            work=_spans(h.work), open=h.standing == "open",
        )
        for h in one.holders
    )  # fmt: skip
    good = (window.good.record, _span(window.good, window)) if window.good else None
    return Matrix(
        window=TimeSpan(window.start, window.end),
        good=good,
        bad=(window.bad.record, _span(window.bad, window)),
        rows=rows,
    )


def _span(shown: Shown, window: Window) -> TimeSpan:
    return TimeSpan(shown.at.earliest or window.start, shown.at.latest or window.end)


def _spans(stretches: Sequence[Stretch]) -> tuple[TimeSpan, ...]:
    return tuple(TimeSpan(*(EPOCH + dt.timedelta(microseconds=x) for x in s)) for s in stretches)


def _row(holder: Holder) -> Row:
    by = "\n".join(map(_point, holder.by)) or "–"
    because = "\n".join(map(_point, holder.because)) or "nothing on record excludes it"
    return Row((f"{holder.name}\n{holder.part}", share_words(holder), by, holder.standing, because))


def _point(point: Point) -> str:
    return f"{enumerated(point.records)}: {point.text}" if point.records else point.text
