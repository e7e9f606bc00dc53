"""Answers that timeline and vocabulary work out, and those that rest on other answers of the same entry."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from evidence.measure.combining import COVERAGE
from evidence.measure.uncertainty import Value
from evidence.model.base import say
from evidence.model.vehicle import MakerFigure
from evidence.rules.asks import Change, Computed
from evidence.rules.assessment import Answer, OrderInTime
from evidence.rules.circumstances import Setting
from evidence.rules.limits import References, held_against
from evidence.rules.matching import hands_on
from evidence.rules.pack import Mechanism
from evidence.rules.papers import absent_before, nobody_else, prior_work
from evidence.rules.replies import Reply
from evidence.timeline.order import Interval, Moment, Range, between, in_days, inside, milestone
from evidence.timeline.states import sure_before


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What has been answered of the entry so far: replies by finding id, and the status of each alternative."""

    mechanism: Mechanism
    replies: Mapping[str, Reply]
    statuses: Mapping[str, str]


def compute(ask: Computed, setting: Setting, known: Known) -> Reply:
    """The answer of a computed ask."""
    workers: dict[str, Callable[[], Reply]] = {
        "prior_work_in_hand": lambda: prior_work(known.mechanism, setting),
        "opportunity": lambda: _opportunity(known.mechanism, setting),
        "absent_before": lambda: absent_before(known.mechanism, setting),
        "latency": lambda: _as_reply(order_in_time(known.mechanism, setting)),
        "nobody_else": lambda: nobody_else(ask.by, setting),
        "captured_undisturbed": lambda: _captured(ask, setting, known),
        "instruments_known": lambda: _instruments(setting),
        "standard_cited": lambda: _standard(setting),
        "damage_on_path": lambda: _extent(setting),
        "cured": lambda: _cured(known),
        "rivals_dealt_with": lambda: _rivals(known),
        "exclusions_hold": lambda: _exclusions(known),
        "days": lambda: _span(ask, setting),
        "distance": lambda: _span(ask, setting),
    }
    return workers[ask.computed]()


def order_in_time(mechanism: Mechanism, setting: Setting) -> OrderInTime:
    """From the close of the prior work to the onset, against the mechanism's window, in time and in distance."""
    dossier, latency = setting.holdings.dossier, mechanism.latency
    window = f"{latency.days[0]} to {latency.days[1]} days and {latency.km[0]} to {latency.km[1]} km"
    low, high = (Decimal(d) for d in latency.days)
    start = milestone(dossier, "prior_work_closed", setting.prior)
    onset = milestone(dossier, "onset", setting.prior)

    def result(answer: Answer, sentence: str, days: Range | None, km: Range | None, *records: str) -> OrderInTime:
        return OrderInTime(
            answer=answer, sentence=sentence, days=days, km=km, window=window, prior_order=start.record if start else "",
            onset=onset.record if onset else "", records=records,
        )  # fmt: skip

    if start is None or onset is None:
        missing = [*([] if start else ["a dated prior work order"]), *([] if onset else ["an event of the onset"])]
        return result("not measured", f"not on record: {' and '.join(missing)}", None, None)
    interval = between(dossier, start, onset)
    if not sure_before(onset.span, start.span) and interval.days and inside(interval.days, low, high) == "undecided":
        interval = _as_a_whole(interval, start, onset, setting)
    days, km = interval.days, interval.km
    if sure_before(onset.span, start.span) or (days and days[1] < 0):
        return result("not met", "the onset lies before the prior work was finished", days, km, *interval.records)
    by_days = inside(days, low, high)
    in_km = inside(km, Decimal(latency.km[0]), Decimal(latency.km[1]))
    told = f"{_range(days, 'days')} and {_range(km, 'km')} from the close of the prior work to the onset"
    if "not met" in (by_days, in_km):
        return result("not met", f"{told}; the window is {window}", days, km, *interval.records)
    if by_days == in_km == "met":
        return result("met", f"{told}, inside the window of {window}", days, km, *interval.records)
    open_still = "the order of the two is not decided" if days and days[0] < 0 else f"the window is {window}"
    return result("undecided", f"{told}; {open_still}", days, km, *interval.records)


def _as_a_whole(interval: Interval, start: Moment, onset: Moment, setting: Setting) -> Interval:
    """The days as narrow as all records together make them, where the two times alone do not decide."""
    times = setting.holdings.times
    closed = times.of(f"{start.record}, closed") or times.of(f"{start.record}, opened")
    begun = times.of(onset.record)
    if not closed or not begun or closed.set_aside or begun.set_aside or not interval.days:
        return interval
    least, most, records = times.apart(closed.moment.key, begun.moment.key)
    low, high = interval.days
    if least is not None and most is not None:
        low, high = max(low, in_days(least)), min(high, in_days(most))
    if (low, high) == interval.days:
        return interval
    return replace(interval, days=(low, high), records=tuple(dict.fromkeys((*interval.records, *records))))


def _range(found: Range | None, unit: str) -> str:
    if found is None:
        return f"an unknown number of {unit}"
    low, high = (_rounded(max(x, Decimal(0))) for x in found)
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}"


def _rounded(value: Decimal) -> str:
    """One decimal below ten, whole numbers above."""
    text = f"{value.quantize(Decimal(1) if value >= 10 else Decimal('0.1')):f}"
    return text.removesuffix(".0")


def _as_reply(order: OrderInTime) -> Reply:
    return Reply(answer=order.answer, labels=order.records, reasons=(order.sentence,))


def _span(ask: Computed, setting: Setting) -> Reply:
    dossier = setting.holdings.dossier
    start, end = (milestone(dossier, name, setting.prior) for name in (ask.start, ask.to))
    if start is None or end is None:
        missing = ask.start if start is None else ask.to
        return Reply(answer="not measured", reasons=(f"the {say(missing)} is not on record",))
    interval = between(dossier, start, end)
    found, unit = (interval.days, "d") if ask.computed == "days" else (interval.km, "km")
    if found is None or ask.held is None:
        return Reply(answer="not measured", reasons=("no odometer reading on either side",))
    half = (found[1] - found[0]) / 2
    value = Value(value=found[0] + half, unit=unit, standard=half / COVERAGE)
    known = References(
        figures=setting.holdings.figures, rule=setting.holdings.decision_rule, source=setting.limit_source
    )  # fmt: skip
    held = held_against(value, ask.held, known)
    if held is None:
        return Reply(answer="not measured", reasons=("no figure to hold it against",))
    return Reply(answer=held.verdict, labels=interval.records, reasons=(held.words,))


def _opportunity(mechanism: Mechanism, setting: Setting) -> Reply:
    orders = setting.holdings.prior_orders
    if not orders:
        return Reply(answer="not measured", reasons=("no prior work order is on record",))
    touching = [o for o in orders if hands_on(o.value, mechanism, setting.vocabulary)]
    return Reply(answer="met" if touching else "not met", labels=tuple(o.label for o in touching or orders))


def _captured(ask: Computed, setting: Setting, known: Known) -> Reply:
    """A departure seen in the undisturbed state, surely before any later hand on these parts."""
    unsure: list[str] = []
    touching = setting.touching(setting.components)
    for finding in known.mechanism.findings:
        reply = known.replies.get(finding.id)
        if finding.limb != "D" or reply is None or reply.answer != "met" or not reply.undisturbed:
            continue
        items = [i for s in reply.subjects for i in setting.holdings.by_subject.get(s, ())]
        if ask.of and not any(setting.related(i.of, wanted) for i in items for wanted in ask.of):
            continue
        if items and all(
            i.span and touching.isdisjoint(i.met.after) and touching.isdisjoint(i.met.unclear) for i in items
        ):
            told = f"{finding.id} was met in the undisturbed state, before any later hand on these parts"
            return Reply(answer="met", labels=reply.labels, subjects=reply.subjects, reasons=(told,))
        unsure += reply.labels
    if unsure:
        told = "recorded as undisturbed, but its time does not show that it came before the first intervention"
        return Reply(answer="undecided", labels=tuple(dict.fromkeys(unsure)), reasons=(told,))
    return Reply(answer="not measured", reasons=("no departure was captured in the undisturbed state",))


def _instruments(setting: Setting) -> Reply:
    holdings = setting.holdings
    if not holdings.instrument_labels:
        return Reply(answer="not measured", reasons=("nothing was measured with an instrument",))
    if faults := holdings.instrument_faults:
        return Reply(answer="not met", labels=tuple(dict.fromkeys(faults.values())), reasons=tuple(faults))
    return Reply(answer="met", labels=holdings.instrument_labels)


def _standard(setting: Setting) -> Reply:
    figures = setting.holdings.dossier.of(MakerFigure)
    start = milestone(setting.holdings.dossier, "prior_work_closed", setting.prior)
    if not figures:
        return Reply(answer="not measured", reasons=("no document of the maker is cited",))
    cited = [
        f for f in figures if f.value.page and f.value.valid_on and start
        and not sure_before(start.span, f.value.valid_on.span)
    ]  # fmt: skip
    if cited:
        return Reply(answer="met", labels=tuple(f.label for f in cited))
    told = "a document is cited, but not its page, or not that it was valid at the time of the prior work"
    return Reply(answer="undecided", labels=tuple(f.label for f in figures), reasons=(told,))


def _extent(setting: Setting) -> Reply:
    items = [
        i for i in setting.holdings.observed.get("damage_map", ())
        if any(setting.related(i.of, c) for c in setting.components)
    ]  # fmt: skip
    words = {i.word for i in items}
    labels = tuple(i.label for i in items)
    if words & {"elsewhere", "both"}:
        return Reply(answer="not met", labels=labels, reasons=("damage lies elsewhere too",))
    if "where-predicted" in words:
        return Reply(answer="met", labels=labels)
    return Reply(answer="not measured", reasons=("no observation maps the damage against the chain",))


def _cured(known: Known) -> Reply:
    done = [
        known.replies[f.id]
        for f in known.mechanism.findings
        if f.id in known.replies and any(isinstance(a, Change) for a in f.parts)
    ]
    answered = [r for r in done if r.answer in ("met", "not met")]
    if answered:
        return Reply(answer="met", labels=tuple(dict.fromkeys(x for r in answered for x in r.labels)))
    if any(r.answer == "undecided" for r in done):
        return Reply(answer="undecided", reasons=("the same test before and after one change is not complete",))
    return Reply(answer="not measured", reasons=("no test was repeated after one change",))


def _rivals(known: Known) -> Reply:
    still = sorted(i for i, status in known.statuses.items() if status in ("open", "supported"))
    if not still:
        return Reply(answer="met")
    return Reply(answer="undecided", reasons=(f"not dealt with: {', '.join(still)}",))


def _exclusions(known: Known) -> Reply:
    replies = [(f.id, known.replies.get(f.id)) for f in known.mechanism.findings if f.limb == "X"]
    if not replies:
        return Reply(answer="not measured", reasons=("the entry has no exclusion findings",))
    given = [(i, r) for i, r in replies if r is not None]
    failed = [(i, r) for i, r in given if r.answer == "not met"]
    met = [(i, r) for i, r in given if r.answer == "met"]
    carrying = failed or met
    labels = tuple(dict.fromkeys(x for _, r in carrying for x in r.labels))
    told = tuple(f"{i}: {r.answer}" for i, r in given)
    if failed:
        return Reply(answer="not met", labels=labels, reasons=told)
    applicable = [r for _, r in given if r.answer != "not applicable"]
    if len(met) == len(applicable) and met and len(given) == len(replies):
        return Reply(answer="met", labels=labels, reasons=told)
    return Reply(answer="undecided" if met else "not measured", labels=labels, reasons=told, partly=bool(met))
