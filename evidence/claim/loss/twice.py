"""What must not be counted twice: found, and one of the two left out of every total, told with which and why.

A person chooses: ``claimed`` names the line that counts, ``beside`` says why both stand. Otherwise the side with papers
stays, of two alike the lower one, so that no claim is raised by it. Deposits and credits for cores are settled in
:mod:`evidence.claim.loss.deductions`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from typing import Final

from evidence.claim.loss.money import ZERO, Rounding
from evidence.claim.loss.offers import Item, stated
from evidence.claim.marks import day_of
from evidence.model.kinds import enumerated
from evidence.model.loss import LossItem
from evidence.model.when import When

_Days = tuple[int, int]  # first and last, as ordinals


@dataclass(frozen=True, slots=True, kw_only=True)
class Twice:
    """So much of a line counts elsewhere already and is left out. ``words``: which, how much and why."""

    subject: str
    amount: Decimal  # without the tax that is added on the sum
    others: tuple[str, ...]  # labels of the lines that count in its stead
    words: str


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two sorts of line that cover the same."""

    one: Callable[[LossItem], bool]
    other: Callable[[LossItem], bool]
    why: str
    by_days: bool


_PAIRS: Final = (
    _Pair(
        lambda v: v.head == "prior_work_refund",
        lambda v: v.head == "rework_cost" or (v.nature == "rework" and v.head != "prior_work_refund"),
        "the earlier work is paid back and done again", by_days=False,
    ),
    _Pair(
        lambda v: v.head == "hire", lambda v: v.head == "loss_of_use",
        "a vehicle was hired, and its loss of use is counted for the same days", by_days=True,
    ),
)  # fmt: skip


def counted_twice(items: Sequence[Item], rounding: Rounding) -> tuple[Twice, ...]:
    """What is left out of the lines that count; at most once for a line."""
    found = [*_same(items, rounding), *_tax_lines(items, rounding), *_free_days(items, rounding)]
    gone = {t.subject for t in found}
    for pair in _PAIRS:
        still = [i for i in items if i.subject not in gone]
        for ones, others in _groups(pair, still):
            found += _left_out(pair, ones, others, rounding)
    return tuple(found)


def doubtful(items: Sequence[Item]) -> Iterator[str]:
    """What may stand there twice, and cannot be told from the record."""
    for item in items:
        v = item.value
        if v.free_until and v.begins and _starts_free(v) and not (_by_day(v) and v.ends):
            yield (
                f"{item.label} is storage from {v.begins.given}, free until {v.free_until.given}; without days, a rate and "
                "an end it cannot be told whether free days are in it"
            )
    for one, other in _alike(items):
        if _on_different_papers(one, other):
            yield f"{one.label} and {other.label} say the same on different papers; is it one thing?"
    worn = [i for i in items if i.value.wear]
    for item in items:
        also = [w.label for w in worn if item.value.head == "betterment" and not _beside(item, w)]
        if also:
            yield f"{item.label} takes off betterment, and wear comes off {enumerated(also)} as well; is it one thing?"


# ---- two sides that cover the same ------------------------------------------------------------------------------------


def _groups(pair: _Pair, items: Sequence[Item]) -> Iterator[tuple[list[Item], list[Item]]]:
    """Lines that hang together because they cover the same, either side apart."""
    edges = [
        (a, b)
        for a in items if pair.one(a.value)
        for b in items if pair.other(b.value) and not _beside(a, b) and (not pair.by_days or _overlap(a.value, b.value))
    ]  # fmt: skip
    while edges:
        known = {i.subject for i in edges[0]}
        while more := {i.subject for e in edges if known & {i.subject for i in e} for i in e} - known:
            known |= more
        group = [e for e in edges if e[0].subject in known]
        edges = [e for e in edges if e not in group]
        yield _unique([a for a, _ in group]), _unique([b for _, b in group])


def _left_out(pair: _Pair, ones: list[Item], others: list[Item], rounding: Rounding) -> Iterator[Twice]:
    kept, out, because = _choice(ones, others)
    labels = tuple(i.label for i in kept)
    for item in out:
        net = amount = rounding(stated(item.value))
        what = item.label
        days = _shared_days(item.value, [k.value for k in kept]) if pair.by_days else None
        if days is not None and item.value.rate and _by_day(item.value) and days < Decimal(item.value.quantity or 0):
            amount = min(rounding(days * item.value.rate.number), net)
            what = f"{item.label}, {_days_words(days)} of it"
        yield Twice(
            subject=item.subject, amount=amount, others=labels,
            words=f"{what}, {_money(amount, item)}, left out beside {enumerated(labels)}: {pair.why}. {because}",
        )  # fmt: skip


def _money(amount: Decimal, item: Item) -> str:
    """An amount with the currency of the line."""
    return f"{amount} {item.value.currency or ''}".strip()


def _choice(ones: list[Item], others: list[Item]) -> tuple[list[Item], list[Item], str]:
    """Which side stays, which goes, and by what."""
    for tests, why in (
        ([any(i.value.claimed for i in side) for side in (ones, others)], "{kept} is the one that is claimed"),
        ([all(i.value.exhibits for i in side) for side in (ones, others)], "{kept} has a paper"),
    ):
        if tests[0] != tests[1]:
            kept, out = (ones, others) if tests[0] else (others, ones)
            return kept, out, why.format(kept=enumerated(i.label for i in kept))
    first = min((ones, others), key=lambda side: (sum((stated(i.value) for i in side), ZERO), side[0].number))
    kept, out = (ones, others) if first is ones else (others, ones)
    said = "Both are said to be claimed" if any(i.value.claimed for i in ones) else "Nobody has said which is claimed"
    return kept, out, f"{said}; the lower, {enumerated(i.label for i in kept)}, stays"


def _unique(items: list[Item]) -> list[Item]:
    return list({i.subject: i for i in items}.values())


def _beside(one: Item, other: Item) -> bool:
    """Whether a person has said why both stand."""
    return any(b.item == other.subject for b in one.value.beside) or any(
        b.item == one.subject for b in other.value.beside
    )


# ---- days -------------------------------------------------------------------------------------------------------------


def _days(v: LossItem) -> _Days | None:
    """The calendar days of a line, as far as it states them: so many from the first, and none after the last."""
    if v.begins is None:
        return None
    first = day_of(v.begins).toordinal()
    count = int(Decimal(v.quantity).to_integral_value(ROUND_CEILING)) if v.quantity and v.unit == "d" else None
    ends = [day_of(v.ends).toordinal()] if v.ends else []
    last = [first + count - 1] if count else []
    return (first, min(ends + last)) if ends + last else None


def _overlap(one: LossItem, other: LossItem) -> bool:
    """Whether two lines may share a day; without the days of both they may."""
    a, b = _days(one), _days(other)
    return a is None or b is None or (a[0] <= b[1] and b[0] <= a[1])


def _shared_days(out: LossItem, kept: Sequence[LossItem]) -> Decimal | None:
    """How many days of a line the others cover at most; ``None`` where that is not known."""
    mine = _days(out)
    spans: list[_Days] = []
    more = ZERO
    for v in kept:
        theirs = _days(v)
        if mine and theirs:
            spans.append((max(mine[0], theirs[0]), min(mine[1], theirs[1])))
        elif v.quantity and v.unit == "d":
            more += Decimal(v.quantity)
        else:
            return None
    covered, last = 0, 0
    for begin, end in sorted(spans):
        covered += max(end - max(begin, last + 1) + 1, 0)
        last = max(last, end)
    return covered + more


def _days_words(days: Decimal) -> str:
    return f"{days:f} {'day' if days == 1 else 'days'}"


def _by_day(v: LossItem) -> bool:
    return bool(v.unit == "d" and v.quantity and v.rate)


def _starts_free(v: LossItem) -> bool:
    return bool(v.head == "storage" and v.free_until and v.begins and _ordinal(v.begins) < _ordinal(v.free_until))


def _ordinal(when: When) -> int:
    return day_of(when).toordinal()


def _free_days(items: Sequence[Item], rounding: Rounding) -> Iterator[Twice]:
    """Storage that is charged for more days than were left after those that cost nothing."""
    for item in items:
        v = item.value
        if not (_starts_free(v) and _by_day(v) and v.free_until and v.ends and v.quantity and v.rate):
            continue
        charged, days = Decimal(v.quantity), max(_ordinal(v.ends) - _ordinal(v.free_until), 0)
        if charged > days:
            amount = min(rounding((charged - days) * v.rate.number), rounding(stated(v)))
            what = f"{item.label}, {_days_words(charged - days)} of it, {_money(amount, item)}"
            words = f"{what}, left out: storage was free until {v.free_until.given}"
            yield Twice(subject=item.subject, amount=amount, others=(), words=words)


# ---- the same once more -----------------------------------------------------------------------------------------------


def _same(items: Sequence[Item], rounding: Rounding) -> Iterator[Twice]:
    """A line that says what another one says, unless each has a paper of its own."""
    for kept, item in _alike(items):
        if not _on_different_papers(kept, item):
            net = rounding(stated(item.value))
            yield Twice(
                subject=item.subject, amount=net, others=(kept.label,),
                words=f"{item.label}, {_money(net, item)}, left out: it says the same as {kept.label}",
            )  # fmt: skip


def _alike(items: Sequence[Item]) -> Iterator[tuple[Item, Item]]:
    """Pairs that say the same: first the one that is claimed, has a paper, or was recorded first."""
    alike: dict[object, list[Item]] = {}
    for item in items:
        v = item.value
        if v.nature != "deduction":
            days = tuple(w.given if w else "" for w in (v.begins, v.ends))
            alike.setdefault((v.head, v.text, v.amount, v.quantity, v.rate, days), []).append(item)
    for same in alike.values():
        first = next(iter([i for i in same if i.value.claimed] or [i for i in same if i.value.exhibits] or same))
        yield from ((first, item) for item in same if item is not first and not _beside(item, first))


def _on_different_papers(one: Item, other: Item) -> bool:
    a, b = set(one.value.exhibits), set(other.value.exhibits)
    return bool(a and b and not a & b)


def _tax_lines(items: Sequence[Item], rounding: Rounding) -> Iterator[Twice]:
    """A line of tax beside lines that carry a rate: the tax that is worked out stays."""
    rated = [i for i in items if i.value.tax_rate and not i.value.tax_included and i.value.nature != "deduction"]
    for item in items:
        both = [r.label for r in rated if item.value.head == "sales_tax" and not _beside(item, r)]
        if both:
            net = rounding(stated(item.value))
            yield Twice(
                subject=item.subject, amount=net, others=tuple(both),
                words=f"{item.label}, {_money(net, item)}, left out: tax is worked out on {enumerated(both)} already",
            )  # fmt: skip
