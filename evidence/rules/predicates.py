"""Answers an ask from the record: met, not met, undecided or not measured, with the records that carry it.

Each question is answered twice: from all that fits, and from that part of it that may support anything (an instrument, a
time base, a calibration). The worse of the two is the answer, so what is missing takes support away and never an adverse
reading's weight.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from evidence.measure.combining import COVERAGE
from evidence.measure.uncertainty import Value
from evidence.measure.verdicts import Judgement
from evidence.model.base import say
from evidence.model.quantity import UNITS
from evidence.rules.asks import AllOf, AnyOf, Change, Computed, Document, Feature, Measure, Observe, Read, Taken
from evidence.rules.assessment import Answer, Near
from evidence.rules.circumstances import Setting
from evidence.rules.coverage import over_parts, reduced
from evidence.rules.criteria import Between, Bound, Closed, Number
from evidence.rules.fitted import Question, question
from evidence.rules.holdings import Item
from evidence.rules.limits import References, held_against, missing_figure
from evidence.rules.replies import A_PERSONS_WORD, RANK, Judged, Reply, all_of, any_of, by_part, joined, reply
from evidence.rules.word_lists import NOT_VISIBLE
from evidence.timeline.order import Moment, between, milestone

Outside = Callable[[Closed, Setting], Reply]  # documents and computed asks live elsewhere
Lookup = Callable[[str], Closed | None]  # finding id -> its ask


def answer(ask: Closed, setting: Setting, *, outside: Outside, lookup: Lookup) -> Reply:
    """The answer of one ask for one mechanism."""
    every = _answer(ask, setting, outside, lookup)
    if every.answer == "not measured" or isinstance(ask, (Document, Computed)):  # a paper needs no instrument
        return _tidy(every)
    usable = _answer(ask, setting.strictly, outside, lookup)
    if RANK[usable.answer] < RANK[every.answer]:
        lost = tuple(r for r in every.reasons if r not in usable.reasons) if every.answer == "met" else ()
        return _tidy(replace(usable, reasons=usable.reasons + lost))
    undisturbed = every.undisturbed and usable.undisturbed
    return _tidy(every if undisturbed == every.undisturbed else replace(every, undisturbed=undisturbed))


def _tidy(reply: Reply) -> Reply:
    """A record that carries the answer is not listed as near."""
    if not reply.near:
        return reply
    carrying = frozenset(reply.labels)
    return replace(reply, near=tuple(dict.fromkeys(n for n in reply.near if n.record not in carrying)))


def _answer(ask: Closed, setting: Setting, outside: Outside, lookup: Lookup) -> Reply:
    if isinstance(ask, AnyOf):
        return any_of([_answer(a, setting, outside, lookup) for a in ask.one])
    if isinstance(ask, AllOf):
        return all_of([_answer(a, setting, outside, lookup) for a in ask.every])
    if isinstance(ask, Change):
        return _change(ask, setting, outside, lookup)
    if isinstance(ask, (Document, Computed)):
        return outside(ask, setting)
    assert isinstance(ask, Taken)
    return _asked(ask, setting)


def _asked(ask: Taken, setting: Setting) -> Reply:
    known = question(ask, setting)
    items, near = _gathered(known, setting)
    of_these = (setting.limit_source, tuple(map(id, items)), tuple(map(id, near)))
    if of_these not in known.replies:
        known.replies[of_these] = _reply(known, items, list(near), setting)
    return known.replies[of_these]


def _reply(known: Question, items: list[Item], near: list[Near], setting: Setting) -> Reply:
    ask = known.ask
    if isinstance(ask, Read) and ask.read == "codes":
        items = _code_counts(ask, items)
    over = ask.over
    count = setting.holdings.counts.get(over.every) if over else None
    if over and over.reduce:
        number = _number(ask)
        shared = frozenset.intersection(*(i.conditions for i in items)) if items else frozenset()
        references = _references(setting, conditions=shared)
        return reduced(over, items, near, count, lambda v: held_against(v, number, references))
    judged: list[Judged] = []
    for found in _judged(known, items, setting):
        if isinstance(found, Near):
            near.append(found)
        else:
            judged.append(found)
    if over:
        return over_parts(over, judged, near, count)
    return _one_place(judged, near)


def _gathered(known: Question, setting: Setting) -> tuple[list[Item], list[Near]]:
    """Those of the readings that answer, and those that are near; the same readings are gone through once."""
    readings = _candidates(known.ask, setting)
    key = (id(readings), setting.strict)
    if key not in known.gathered:
        known.gathered[key] = (readings, *_fitting(known, readings, setting))
    _, items, near = known.gathered[key]
    return items, near


def _fitting(known: Question, readings: Sequence[Item], setting: Setting) -> tuple[list[Item], list[Near]]:
    found: list[Item] = []
    near: list[Near] = []
    for item in readings:
        fitted = known.fit(item, setting)
        if answering := fitted.strict if setting.strict else fitted.item:
            found.append(answering)
        elif why := fitted.unusable or fitted.near:
            near.append(why)
    return found, near


def _judged(known: Question, items: list[Item], setting: Setting) -> Iterator[Judged | Near]:
    """The verdict on each reading. One that rests on what other readings say is given anew each time."""
    ask = known.ask
    if getattr(getattr(ask, "held", None), "of", "") == "others" or (isinstance(ask, Read) and ask.read == "codes"):
        yield from (_verdict(ask, item, items, setting) for item in items)
        return
    for item in items:
        key = (id(item), setting.limit_source)
        if key not in known.judged:
            known.judged[key] = _verdict(ask, item, items, setting)
        yield known.judged[key]


def _verdict(ask: Taken, item: Item, items: Sequence[Item], setting: Setting) -> Judged | Near:
    held, why = _held(ask, item, items, setting)
    if held is None:
        return Near(record=item.label, why=why)
    return Judged(item, held.verdict, f"{_what(ask)} {held.words}", _place(ask, item), _sure(item, held))


def _candidates(ask: Taken, setting: Setting) -> Sequence[Item]:
    holdings = setting.holdings
    if isinstance(ask, Measure):
        return holdings.measured.get(ask.measure, ())
    if isinstance(ask, Feature):
        return holdings.features.get(ask.feature, ())
    if isinstance(ask, Observe):
        return holdings.observed.get(ask.observe, ())
    assert isinstance(ask, Read)
    return holdings.read.get(ask.read, ())


def _code_counts(ask: Read, items: list[Item]) -> list[Item]:
    """One item for each scan: how many of the codes asked about it holds. Silence is no answer."""
    scans: dict[str, list[Item]] = {}
    for item in items:
        scans.setdefault(item.subject, []).append(item)
    counted: list[Item] = []
    for modules in scans.values():
        answering = [m for m in modules if m.word == "answers"]
        if not answering or (ask.every_module and not (modules[0].all_modules and len(answering) == len(modules))):
            continue
        number = sum(_named(code, ask.codes) for m in answering for code in m.codes)
        counted.append(replace(answering[0], value=Value(value=Decimal(number), unit="count"), position=None))
    return counted


def _named(code: str, patterns: tuple[str, ...]) -> bool:
    return not patterns or any(code.startswith(p[:-1]) if p.endswith("*") else code == p for p in patterns)


def _held(ask: Taken, item: Item, items: Sequence[Item], setting: Setting) -> tuple[Judgement | None, str]:
    """The verdict on one item, or why there is none."""
    criterion = getattr(ask, "held", None)
    if isinstance(criterion, tuple):
        if item.word is None or item.word == NOT_VISIBLE:
            return None, "the place could not be seen"
        return Judgement(verdict="met" if item.word in criterion else "not met", words=say(item.word)), ""
    if item.value is None:
        return None, "carries no value for this"
    assert criterion is not None
    if isinstance(criterion, (Bound, Between)):
        held = setting.holdings.fixed.against(item.value, criterion, item.conditions, setting.limit_source)
    else:
        others: tuple[Value, ...] = ()
        if criterion.of == "others":
            others = tuple(o.value for o in items if o.value and o.position != item.position)
        held = held_against(item.value, criterion, _references(setting, others, item))
    if held is None:
        return None, missing_figure(criterion, _references(setting, item=item))
    return held, ""


def _sure(item: Item, held: Judgement) -> Fraction:
    """How probable it is that the verdict on the item holds: by what the reading can be off, and by a person's word."""
    return min(held.holds, A_PERSONS_WORD) if item.by_word else held.holds


def _what(ask: Taken) -> str:
    """What was read, in the words of a technician."""
    if isinstance(ask, Measure):
        return say(ask.measure)
    if isinstance(ask, Feature):
        return say(ask.feature)
    if isinstance(ask, Observe):
        return f"{say(ask.observe)}:"
    assert isinstance(ask, Read)
    return {"codes": "codes counted", "distance_since_cleared": "distance since cleared"}.get(
        ask.read, f"{say(ask.read)}:"
    )


def _place(ask: Taken, item: Item) -> str:
    if item.position is None:
        return ""
    return f"{say(ask.over.every)} {say(item.position)}" if ask.over else f"at {say(item.position)}"


def _number(ask: Taken) -> Number:
    assert isinstance(ask, (Measure, Feature, Read))
    assert not isinstance(ask.held, tuple)
    return ask.held


def _references(
    setting: Setting, others: tuple[Value, ...] = (), item: Item | None = None, conditions: frozenset[str] = frozenset()
) -> References:
    def since(name: str, unit: str) -> Value | None:
        return _since(setting, name, unit, item) if item else None

    return References(
        figures=setting.holdings.figures, others=others, moment=since, conditions=item.conditions if item else conditions,
        rule=setting.holdings.decision_rule, source=setting.limit_source,
    )  # fmt: skip


def _since(setting: Setting, name: str, unit: str, item: Item) -> Value | None:
    """Days or kilometres from a milestone to the reading, with half the range as expanded uncertainty."""
    start = milestone(setting.holdings.dossier, name, setting.prior)
    if start is None or item.span is None:
        return None
    interval = between(setting.holdings.dossier, start, Moment(span=item.span, record=item.label))
    found, own = (interval.days, "d") if unit in UNITS["time"] else (interval.km, "km")
    if found is None:
        return None
    half = (found[1] - found[0]) / 2
    return Value(value=found[0] + half, unit=own, standard=half / COVERAGE, basis=f"since {say(name)}")


def _one_place(judged: list[Judged], near: list[Near]) -> Reply:
    """No parts to cover: the readings of each position agree or contradict; one position that is met is enough."""
    parts, disagreements = by_part(judged)
    if not parts:
        return Reply(answer="not measured", near=tuple(near))
    verdicts = {p: v for p, (v, _) in parts.items()}
    if any(v == "met" for v in verdicts.values()):
        verdict: Answer = "met"
    else:
        verdict = "not met" if set(verdicts.values()) == {"not met"} else "undecided"
    carrying = [j for p, (v, js) in parts.items() if v == verdict for j in js] or judged
    return reply(verdict, carrying, near, "", disagreements)


def _change(ask: Change, setting: Setting, outside: Outside, lookup: Lookup) -> Reply:
    question = lookup(ask.change) if isinstance(ask.change, str) else ask.change
    cure = lookup(ask.cured) if isinstance(ask.cured, str) else ask.cured
    steps = setting.touching(ask.across)
    if question is None or not steps:
        return Reply(answer="not measured", reasons=("no change of that kind is on record",))
    replies = [
        _across(ask, step, question, cure, setting, outside, lookup) for step in sorted(steps, key=_nth(setting))
    ]
    return min(replies, key=lambda r: (r.answer != "not met", r.answer != "met", r.answer != "undecided"))


def _nth(setting: Setting) -> Callable[[str], int]:
    order = list(setting.holdings.states.steps)
    return order.index


def _across(
    ask: Change, step: str, question: Closed, cure: Closed | None, setting: Setting, outside: Outside, lookup: Lookup
) -> Reply:
    """A reading that did not turn out as said speaks against it even when its other half is missing."""
    bare = replace(setting, bound=frozenset())
    before = _answer(question, replace(bare, ahead_of=step), outside, lookup)
    now = replace(bare, exactly=step, ahead_of=None)
    after = _answer(in_any_state(question), now, outside, lookup)
    cured = _answer(in_any_state(cure), now, outside, lookup) if cure else None
    labels = setting.holdings.states.labels({step})
    replies = [before, after, *([cured] if cured else [])]
    if cured and cured.answer == "not met":
        return replace(
            joined("undecided", replies, [cured]), reasons=(f"{labels[0]} did not put it right", *cured.reasons)
        )
    told = [
        f"before {labels[0]}: {before.answer}",
        f"after {labels[0]}: {after.answer}",
        *([f"put right: {cured.answer}"] if cured else []),
    ]
    halves = ((before, ask.before), (after, ask.after))
    if wrong := [r for r, wanted in halves if r.answer in ("met", "not met") and r.answer != wanted]:
        return replace(joined("not met", replies, wrong), reasons=(*told, *(x for r in wrong for x in r.reasons)))
    right = before.answer == ask.before and after.answer == ask.after and (cured is None or cured.answer == "met")
    if right:
        whole = joined("met", replies, replies)
        return replace(
            whole,
            reasons=(*told, *whole.reasons),
            labels=(*labels, *whole.labels),
            subjects=after.subjects | (cured.subjects if cured else frozenset()),  # the reading before is a baseline
            undisturbed=False,
        )
    read = [r for r in (after, cured) if r and r.answer != "not measured"]
    verdict: Answer = "undecided" if after.answer != "not measured" else "not measured"
    return replace(joined(verdict, replies, read), reasons=tuple(told))


def in_any_state(ask: Closed) -> Closed:
    """The same question of the state after the change: the record's word on the state before it no longer applies."""
    if isinstance(ask, AnyOf):
        return ask.model_copy(update={"one": tuple(in_any_state(a) for a in ask.one)})
    if isinstance(ask, AllOf):
        return ask.model_copy(update={"every": tuple(in_any_state(a) for a in ask.every)})
    return ask.model_copy(update={"state": None, "after": None}) if isinstance(ask, Taken) else ask
