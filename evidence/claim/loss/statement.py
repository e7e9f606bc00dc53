"""The loss statement: lines, three readings told apart by nature, what carries each line, and what is wrong with it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from evidence.claim.loss.deductions import Entry, Reading
from evidence.claim.loss.links import Link, link_of
from evidence.claim.loss.money import ZERO, Rounding, digits_of, is_known
from evidence.claim.loss.offers import Item, left_out, range_of, stated, unclear
from evidence.claim.loss.place_words import TaxTold, at_odds, ceiling_told, habit, taxes_told
from evidence.claim.loss.responsible import Responsible, responsible
from evidence.claim.loss.sums import Sums, Worth, by
from evidence.claim.loss.twice import Twice, counted_twice, doubtful
from evidence.claim.mistakes.in_the_claim import driven_on
from evidence.claim.place import PlaceRules
from evidence.errors import MixedCurrency
from evidence.model.dossier import Dossier
from evidence.model.loss import LossItem
from evidence.rules.assessment import Assessment


@dataclass(frozen=True, slots=True, kw_only=True)
class LossLine:
    """One line as it is shown. Amounts are without the tax that is added on the sum.

    ``net`` is the line as stated; ``low``, ``claimed`` and ``high`` are what counts of it in each reading.
    """

    label: str
    subject: str
    item: LossItem
    net: Decimal
    low: Decimal
    claimed: Decimal
    high: Decimal
    back: Decimal = ZERO  # of a deposit: what has come back of it, and so is in no total
    out: str  # why it does not count, or not whole; empty where it does
    counted: bool
    link: Link

    @property
    def adds(self) -> Decimal:
        """What it adds to the sum claimed, without tax."""
        return self.claimed - self.back

    @property
    def documented(self) -> bool:
        """Whether a paper of it is named."""
        return bool(self.item.exhibits)


@dataclass(frozen=True, slots=True, kw_only=True)
class LossStatement:
    """Every amount in one currency. ``temporary`` comes back; ``twice`` is what was left out as counted already."""

    currency: str
    digits: int
    lines: tuple[LossLine, ...]
    low: Sums
    claimed: Sums
    high: Sums
    temporary: Decimal
    apart: Decimal  # of the lines with their tax, what no finding carries so far
    twice: tuple[Twice, ...]
    taxes: tuple[TaxTold, ...]
    habit: str  # of the place with betterment, with source and age
    ceiling: str  # how the claim stands to it, with source and age
    driven_on: tuple[str, ...]  # that the vehicle was driven on after a warning, as on record
    responsible: tuple[Responsible, ...]  # by head
    faults: tuple[str, ...]
    over: bool  # whether the claim is above the ceiling

    @property
    def over_ceiling(self) -> str:
        """How the claim stands to the ceiling where it is above it."""
        return self.ceiling if self.over else ""

    @property
    def by_nature(self) -> Mapping[str, Decimal]:
        """What is claimed, rework and resulting damage apart, with tax, before deductions."""
        return self.claimed.by_nature

    @property
    def documented(self) -> Decimal:
        """Of the lines with their tax, what a paper backs."""
        return sum((a for part, a in self.claimed.parts.items() if part[2] == "documented"), ZERO)

    @property
    def undocumented(self) -> Decimal:
        """The rest of them."""
        return self.claimed.gross - self.documented

    @property
    def documented_by_nature(self) -> Mapping[str, Decimal]:
        """``documented`` told apart."""
        return by({part: a for part, a in self.claimed.parts.items() if part[2] == "documented"}, 0)

    @property
    def counted(self) -> tuple[LossLine, ...]:
        """The lines that go into the totals."""
        return tuple(line for line in self.lines if line.counted)

    @property
    def unlinked(self) -> tuple[LossLine, ...]:
        """Counted lines with no causal link on record. A deduction needs none."""
        return _unlinked(self.counted)

    @property
    def makes_the_difference(self) -> tuple[LossLine, ...]:
        """The lines whose readings differ."""
        return tuple(
            x for x in self.counted if x.low != x.high or x.item.disputed or (x.item.wear and x.item.wear.disputed)
        )

    def printed(self, amount: Decimal) -> str:
        """An amount in plain decimals with the currency: ``2031.26 EUR``."""
        return f"{amount:.{self.digits}f} {self.currency}"


def loss_statement(
    dossier: Dossier, assessment: Assessment, place: PlaceRules | None = None, today: dt.date | None = None
) -> LossStatement | None:
    """The statement of a dossier; ``None`` where no loss is recorded. Raises :class:`MixedCurrency`.

    ``today`` is what the age of an entry of the place is told by.
    """
    items = dossier.of(LossItem)
    if not items:
        return None
    currency = _currency(items)
    digits = digits_of(currency)
    rounding = Rounding(digits)
    out = left_out(items)
    standing = [i for i in items if i.subject not in out]
    twice = counted_twice(standing, rounding)
    lines = tuple(_line(i, items, out, twice, rounding, link_of(i, dossier, assessment)) for i in items)
    counted = [x for x in lines if x.counted]
    low, claimed, high = (
        Sums(_entries(counted, r), r, rounding, _worth(items, r, rounding)) for r in ("low", "claimed", "high")
    )
    lines = _came_back(lines, claimed)
    counted = [x for x in lines if x.counted]
    ceiling = place.small_claims_ceiling if place else None
    carried = Sums(_entries([x for x in counted if x not in _unlinked(counted)], "claimed"), "claimed", rounding)
    driven = tuple(made.words for made in driven_on(dossier))
    return LossStatement(
        currency=currency, digits=digits, lines=lines, low=low, claimed=claimed, high=high, twice=twice,
        temporary=_temporary(counted, rounding), apart=claimed.gross - carried.gross,
        taxes=taxes_told(claimed, tuple(standing), place, today),
        habit=habit(place, today), ceiling=ceiling_told(claimed.total, currency, place, today, digits),
        over=bool(ceiling and ceiling.amount.currency == currency and claimed.total > ceiling.amount.number),
        driven_on=driven, responsible=responsible(counted_links(counted), claimed),
        faults=(*doubtful(standing), *unclear(items), *_of_cores(standing, claimed), *_of_value(items, claimed),
                *_of_share(standing, driven), *_of_currency(currency), *at_odds(tuple(standing), currency, place)),
    )  # fmt: skip


def _unlinked(lines: Sequence[LossLine]) -> tuple[LossLine, ...]:
    return tuple(x for x in lines if not x.link.linked and x.item.nature != "deduction")


def _came_back(lines: tuple[LossLine, ...], sums: Sums) -> tuple[LossLine, ...]:
    """The lines, with what came back of a deposit said at it."""
    left = {e.subject: e.net for e in sums.added if e.item.head == "core_charge"}
    by_what = ", ".join(x.label for x in lines if x.counted and x.item.head == "core_credit")
    return tuple(
        replace(x, back=x.claimed - left[x.subject], out=f"{sums.rounding(x.claimed - left[x.subject])} of it came back: {by_what}")
        if left.get(x.subject, x.claimed) != x.claimed else x
        for x in lines
    )  # fmt: skip


def counted_links(lines: Sequence[LossLine]) -> list[tuple[str, LossItem, Link]]:
    """Label, line and link of what is added."""
    return [(x.label, x.item, x.link) for x in lines if x.item.nature != "deduction"]


def _currency(items: Sequence[Item]) -> str:
    by_currency: dict[str, list[str]] = {}
    for item in items:
        if item.value.currency:
            by_currency.setdefault(item.value.currency, []).append(item.label)
    if len(by_currency) > 1:
        raise MixedCurrency("; ".join(f"{c}: {', '.join(labels)}" for c, labels in sorted(by_currency.items())))
    return next(iter(by_currency), "XXX")


def _line(
    item: Item, items: Sequence[Item], out: Mapping[str, str], twice: Sequence[Twice], rounding: Rounding, link: Link
) -> LossLine:
    v = item.value
    net = rounding(stated(v))
    gone = [t for t in twice if t.subject == item.subject]
    claimed = net - min(sum((t.amount for t in gone), ZERO), net)
    lowest, highest = (rounding(amount) for amount in range_of(item, items))
    least = (rounding(v.at_least.number) if v.at_least else ZERO) if v.disputed else net
    if v.nature == "deduction":  # a disputed one counts whole, in the lowest reading: see deductions.amount_off
        lowest = highest = least = net
    counted = item.subject not in out and (claimed > 0 or not gone)
    return LossLine(
        label=item.label, subject=item.subject, item=v, net=net, low=min(least, lowest, claimed), claimed=claimed,
        high=max(highest - (net - claimed), claimed), counted=counted, link=link,
        out=out.get(item.subject) or "; ".join(t.words for t in gone),
    )  # fmt: skip


def _entries(lines: Sequence[LossLine], reading: Reading) -> tuple[Entry, ...]:
    amounts = {"low": [x.low for x in lines], "claimed": [x.claimed for x in lines], "high": [x.high for x in lines]}
    return tuple(Entry(x.subject, x.item, net) for x, net in zip(lines, amounts[reading], strict=True))


def _worth(items: Sequence[Item], reading: Reading, rounding: Rounding) -> Worth | None:
    """The value before in a reading: the one that is claimed, else the lowest; the lowest and the highest of all in the others."""
    before = [i for i in items if i.value.head == "value_before" and i.value.claimed is not False]
    if not before:
        return None
    named = [i for i in before if i.value.claimed]
    least = [
        min(stated(i.value), i.value.at_least.number) if i.value.disputed and i.value.at_least else stated(i.value)
        for i in before
    ]
    chosen = min(stated(i.value) for i in named or before)
    value = {"low": min(least), "claimed": chosen, "high": max(stated(i.value) for i in before)}[reading]
    salvage = sum(
        (stated(i.value) for i in items if i.value.head == "salvage_value" and i.value.claimed is not False), ZERO
    )
    return Worth(before=rounding(value), salvage=rounding(salvage), alone=bool(named))


def _temporary(lines: Sequence[LossLine], rounding: Rounding) -> Decimal:
    """What comes back and has not come back yet, with its tax."""
    for_a_time = [x for x in lines if x.item.temporary or x.item.head == "core_credit"]
    return Sums(_entries(for_a_time, "claimed"), "claimed", rounding).gross


def _of_currency(currency: str) -> Iterator[str]:
    if not is_known(currency):
        yield f"{currency} is no currency of ISO 4217 that this program knows; amounts are rounded to two digits"


def _of_cores(items: Sequence[Item], sums: Sums) -> Iterator[str]:
    """Deposits that come back, and credits that are more than was deposited."""
    deposits = [i for i in items if i.value.head == "core_charge"]
    credited = [i for i in items if i.value.head == "core_credit"]
    if credited and not deposits:
        yield f"{credited[0].label} is a credit for a core, and no deposit for one stands among the lines that count"
    elif sums.core.beyond:
        credit, deposit, beyond = (
            f"{a} {credited[0].value.currency}" for a in (sums.core.credits, sums.core.deposits, sums.core.beyond)
        )
        yield f"the core credit of {credit} is more than the deposit of {deposit}; what is beyond it, {beyond}, comes off the rest"
    for item in () if credited else deposits:
        if not item.value.temporary:
            yield f"{item.label} is a deposit for a core, which comes back; the line does not say so"


def _of_value(items: Sequence[Item], sums: Sums) -> Iterator[str]:
    """A value that nothing is compared with, or that salvage is missing from."""
    values = [i for i in items if i.value.head == "value_before"]
    salvage = [i for i in items if i.value.head == "salvage_value"]
    if salvage and not values:
        yield f"{salvage[0].label} is what is left of the vehicle, and no value before stands beside it; nothing is compared"
    if values and not sums.by_value and not sums.repair:
        yield f"{values[0].label} is a value, and no repair stands beside it; it counts by itself only where it is said to be claimed"
    if sums.by_value and sums.worth and not sums.worth.salvage and sums.value == sums.worth.before:
        yield "the value rules, and nothing is on record of what is left of the vehicle (salvage)"


def _of_share(items: Sequence[Item], driven: Sequence[str]) -> Iterator[str]:
    """Driven on after a warning, and nothing said of a share; a share without its reason."""
    shares = [i for i in items if i.value.head == "share_of_fault"]
    if driven and not shares:
        yield (
            "driven on after a warning, and no line says whether that added to the damage: state the share, or one of 0 % with "
            "the reason why it added nothing"
        )
    yield from (f"{i.label} states a share of fault and no reason for it" for i in shares if not i.value.why)
