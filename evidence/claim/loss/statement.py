"""The loss statement: lines, totals by nature, the low, claimed and high reading, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from evidence.claim.loss.links import Link, link_of
from evidence.claim.loss.sums import ZERO, Reading, Rounding, Sums, digits_of
from evidence.claim.loss.twice import counted_twice
from evidence.claim.place import PlaceRules
from evidence.errors import MixedCurrency
from evidence.model.dossier import Dossier, Recorded
from evidence.model.loss import LossItem
from evidence.rules.assessment import Assessment


@dataclass(frozen=True, slots=True, kw_only=True)
class LossLine:
    """One line as it is shown. Amounts are without the tax that is added on the sum."""

    label: str
    item: LossItem
    net: Decimal
    low: Decimal
    high: Decimal
    counted: bool  # not counted: another offer for the same thing is claimed, or it is only compared
    link: Link

    @property
    def documented(self) -> bool:
        """Whether a paper of it is named."""
        return bool(self.item.exhibits)


@dataclass(frozen=True, slots=True, kw_only=True)
class LossStatement:
    """Every amount in one currency. ``temporary`` comes back; ``unlinked`` are lines that nothing found makes recoverable."""

    currency: str
    digits: int
    lines: tuple[LossLine, ...]
    low: Sums
    claimed: Sums
    high: Sums
    documented: Decimal
    undocumented: Decimal
    temporary: Decimal
    over_ceiling: str
    faults: tuple[str, ...]

    @property
    def by_nature(self) -> Mapping[str, Decimal]:
        """What is claimed, rework and resulting damage apart, with tax, before deductions."""
        return self.claimed.by_nature()

    @property
    def counted(self) -> tuple[LossLine, ...]:
        """The lines that go into the totals."""
        return tuple(line for line in self.lines if line.counted)

    @property
    def unlinked(self) -> tuple[LossLine, ...]:
        """Counted lines with no causal link on record."""
        return tuple(line for line in self.counted if not line.link.linked)

    @property
    def makes_the_difference(self) -> tuple[LossLine, ...]:
        """The lines whose readings differ."""
        return tuple(
            x for x in self.counted if x.low != x.high or x.item.disputed or (x.item.wear and x.item.wear.disputed)
        )

    def printed(self, amount: Decimal) -> str:
        """An amount in plain decimals with the currency: ``2031.26 EUR``."""
        return f"{amount:.{self.digits}f} {self.currency}"


def loss_statement(dossier: Dossier, assessment: Assessment, place: PlaceRules | None = None) -> LossStatement | None:
    """The statement of a dossier; ``None`` where no loss is recorded. Raises :class:`MixedCurrency`."""
    items = dossier.of(LossItem)
    if not items:
        return None
    currency = _currency(items)
    digits = digits_of(currency)
    rounding = Rounding(digits)
    chosen = _chosen(items)
    lines = tuple(_line(i, items, chosen, rounding, link_of(i, dossier, assessment)) for i in items)
    counted = [x for x in lines if x.counted]
    value = _value(items, rounding)
    low, claimed, high = (_sums(counted, reading, rounding, value) for reading in ("low", "claimed", "high"))
    bare = _sums([x for x in counted if not x.documented], "claimed", rounding, None).gross
    return LossStatement(
        currency=currency, digits=digits, lines=lines, low=low, claimed=claimed, high=high,
        documented=claimed.gross - bare, undocumented=bare,
        temporary=max(sum((x.net for x in counted if x.item.temporary), ZERO) - claimed.core_credits, ZERO),
        over_ceiling=_over(claimed.total, currency, place),
        faults=(*counted_twice([i for i in items if i.subject in chosen]), *_unclear(items)),
    )  # fmt: skip


def _currency(items: Sequence[Recorded[LossItem]]) -> str:
    by_currency: dict[str, list[str]] = {}
    for item in items:
        if item.value.currency:
            by_currency.setdefault(item.value.currency, []).append(item.label)
    if len(by_currency) > 1:
        raise MixedCurrency("; ".join(f"{c}: {', '.join(labels)}" for c, labels in sorted(by_currency.items())))
    return next(iter(by_currency), "XXX")


def _chosen(items: Sequence[Recorded[LossItem]]) -> frozenset[str]:
    """The subjects that are counted: of several offers for one thing the one claimed, else the lowest."""
    offers: dict[str, list[Recorded[LossItem]]] = {}
    for item in items:
        offers.setdefault(item.value.offer_for or item.subject, []).append(item)
    found = []
    for same in offers.values():
        named = [i for i in same if i.value.claimed] or same
        found.append(min(named, key=lambda i: (_plain(i.value), i.number)))
    return frozenset(i.subject for i in found if i.value.claimed is not False and i.value.nature != "value")


def _unclear(items: Sequence[Recorded[LossItem]]) -> Iterator[str]:
    """Offers and values of which it is not said which one holds, or why."""
    offers: dict[str, list[Recorded[LossItem]]] = {}
    for item in items:
        if item.value.offer_for:
            offers.setdefault(item.value.offer_for, []).append(item)
    for thing, same in sorted(offers.items()):
        named = [i for i in same if i.value.claimed]
        if len(named) > 1:
            yield f"{' and '.join(i.label for i in named)} are both claimed for {thing}; only the lowest is counted"
        elif len(same) > 1 and not named:
            yield f"of the offers for {thing} none is said to be the one claimed; the lowest is counted"
        elif len(same) > 1 and not named[0].value.why:
            yield f"{named[0].label}: why this offer for {thing} is claimed is not on record"
    values = [i for i in items if i.value.head == "value_before"]
    if len(values) > 1:
        yield f"{' and '.join(i.label for i in values)} each state a value before; the lowest is compared with"


def _plain(item: LossItem) -> Decimal:
    if item.amount:
        return item.amount.number
    return Decimal(item.quantity) * item.rate.number if item.quantity and item.rate else ZERO


def _line(
    item: Recorded[LossItem],
    items: Sequence[Recorded[LossItem]],
    chosen: frozenset[str],
    rounding: Rounding,
    link: Link,
) -> LossLine:
    v = item.value
    net = rounding(_plain(v))
    least = rounding(v.at_least.number) if v.at_least else ZERO
    offers = [rounding(_plain(i.value)) for i in items if v.offer_for and i.value.offer_for == v.offer_for]
    return LossLine(
        label=item.label, item=v, net=net, low=min([least if v.disputed else net, net, *offers]), high=max([net, *offers]),
        counted=item.subject in chosen, link=link,
    )  # fmt: skip


def _sums(lines: Sequence[LossLine], reading: Reading, rounding: Rounding, value: Decimal | None) -> Sums:
    # What is taken off is not lowered with the lines: a disputed deduction counts whole, in the lowest reading.
    net = tuple(x.net if x.item.nature == "deduction" or reading == "claimed" else getattr(x, reading) for x in lines)
    return Sums(tuple(x.item for x in lines), net, reading, rounding, value)


def _value(items: Sequence[Recorded[LossItem]], rounding: Rounding) -> Decimal | None:
    before = [_plain(i.value) for i in items if i.value.head == "value_before"]
    salvage = sum((_plain(i.value) for i in items if i.value.head == "salvage_value"), ZERO)
    return rounding(max(min(before) - salvage, ZERO)) if before else None


def _over(total: Decimal, currency: str, place: PlaceRules | None) -> str:
    ceiling = place.small_claims_ceiling if place else None
    if ceiling is None or ceiling.amount.currency != currency or total <= ceiling.amount.number:
        return ""
    return (
        f"{ceiling.amount.words()} is the most that a small-claims court of {place.name} hears ({ceiling.source})"
        if place
        else ""
    )
