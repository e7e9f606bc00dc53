"""What the register tells: rates, time and distance to comeback, costs, trend, recovery. Pure; the day it is told for comes in."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Literal

from evidence.register.intervals import Chart, Curve, Share, curve, p_chart, share
from evidence.register.lines import CLOSED, Comeback, Order

By = Literal["operation", "technician", "firm", "origin"]
WINDOW: Final = 90  # days in which a comeback counts for the chart: every month is then watched alike; by choice


@dataclass(frozen=True, slots=True, kw_only=True)
class Register:
    """Orders and comebacks as counted: each order once, each comeback once and tied to its order where that is known."""

    orders: tuple[Order, ...]
    comebacks: tuple[Comeback, ...]
    tied: Mapping[int, Comeback]  # place of the order in ``orders`` -> the first comeback from it
    doubled: int  # comebacks known from two places, counted once
    as_of: int  # the last day on which a comeback could have been seen

    @property
    def untied(self) -> int:
        """Comebacks whose order is not among the orders: in lists and costs, in no rate."""
        return len(self.comebacks) - len(self.tied)


def register(orders: Iterable[Order], comebacks: Iterable[Comeback], as_of: dt.date) -> Register:
    """Put orders and comebacks together as of a day; what lies after it is left out.

    An order known twice by firm and number counts once, as handed in last. A comeback known twice is one: from the same order,
    or of the same vehicle, brought back on the same day. Where both speak, the one handed in first is kept and the other fills
    its gaps; hand in dossiers first, then what was entered by hand, then imports.
    """
    last = as_of.toordinal()
    by_number: dict[tuple[str, str], int] = {}
    kept: list[Order] = []
    for order in orders:
        if order.day > last:
            continue
        key = (order.firm, order.number)
        if order.number and key in by_number:
            kept[by_number[key]] = order
        else:
            by_number[key] = len(kept)
            kept.append(order)
    by_vehicle = _by_vehicle(kept)
    tied: dict[int, Comeback] = {}
    loose: dict[object, Comeback] = {}
    doubled = 0
    for comeback in comebacks:
        if comeback.back is not None and comeback.back > last:
            continue
        place = _order_of(comeback, by_number, by_vehicle, kept)
        if place is not None:
            doubled += place in tied
            tied[place] = _joined(tied.get(place), comeback)
        else:
            known = (comeback.firm, comeback.vehicle, comeback.back)
            twin: object = known if all(known[1:]) else comeback.source
            doubled += twin in loose
            loose[twin] = _joined(loose.get(twin), comeback)
    told = tuple(_filled(c, kept[place]) for place, c in tied.items())
    tied = dict(zip(tied, told, strict=True))
    return Register(orders=tuple(kept), comebacks=(*told, *loose.values()), tied=tied, doubled=doubled, as_of=last)


def _by_vehicle(orders: Sequence[Order]) -> Mapping[tuple[str, str], list[int]]:
    found: dict[tuple[str, str], list[int]] = defaultdict(list)
    for place, order in enumerate(orders):
        if order.vehicle:
            found[order.firm, order.vehicle].append(place)
    return found


def _order_of(
    comeback: Comeback, by_number: Mapping[tuple[str, str], int], by_vehicle: Mapping[tuple[str, str], list[int]],
    orders: Sequence[Order],
) -> int | None:  # fmt: skip
    """By number; else the firm's only order for the vehicle on the day the work is said to have ended."""
    if comeback.number:
        return by_number.get((comeback.firm, comeback.number))
    if not comeback.vehicle or comeback.worked is None:
        return None
    same = [p for p in by_vehicle.get((comeback.firm, comeback.vehicle), ()) if orders[p].day == comeback.worked]
    return same[0] if len(same) == 1 else None


def _joined(first: Comeback | None, other: Comeback) -> Comeback:
    """The first, with what it does not state filled from the other; money is never mixed."""
    if first is None:
        return other
    gaps = {
        name: getattr(other, name)
        for name in first._fields
        if name not in ("firm", "cost", "currency", "recovered") and getattr(first, name) in ("", (), None)
    }
    if first.cost is None and first.recovered is None:
        gaps |= {"cost": other.cost, "currency": other.currency, "recovered": other.recovered}
    return first._replace(**gaps)


def _filled(comeback: Comeback, order: Order) -> Comeback:
    """What the order states and the comeback does not. Operations the comeback names go before those of the order."""
    own = [o for o in comeback.operations if o in order.operations]
    return comeback._replace(
        number=comeback.number or order.number, vehicle=comeback.vehicle or order.vehicle,
        technician=comeback.technician or order.technician, operations=tuple(own) or comeback.operations or order.operations,
        origins=comeback.origins or order.origins, worked=order.day,
        worked_km=order.km if order.km is not None else comeback.worked_km,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Rate:
    """One line of a table of rates; ``share`` is ``None`` where the orders are not known, and no rate can be told."""

    name: str
    share: Share | None
    comebacks: int  # all that are known, those without a known order included


def rates(held: Register, by: By) -> tuple[Rate, ...]:
    """Comeback rates by ``by``: the highest known first, then those without orders. Raises :class:`ExtraMissing`."""
    orders: dict[str, int] = defaultdict(int)
    back: dict[str, int] = defaultdict(int)
    known: dict[str, int] = defaultdict(int)
    names = _NAMES[by]
    for place, order in enumerate(held.orders):
        comeback = held.tied.get(place)
        for name in names(order):
            orders[name] += 1
            back[name] += comeback is not None and (by != "operation" or name in comeback.operations)
    for comeback in held.comebacks:
        for name in names(comeback):
            known[name] += 1
    found = [Rate(n, share(back[n], orders[n]), known[n]) for n in orders.keys() | known.keys()]
    return tuple(sorted(found, key=lambda r: (-(r.share.rate if r.share else -1), -r.comebacks, r.name)))


_NAMES: Final[Mapping[By, Callable[[Order | Comeback], Iterable[str]]]] = {
    "operation": lambda x: set(x.operations), "technician": lambda x: (x.technician,) if x.technician else (),
    "firm": lambda x: (x.firm,), "origin": lambda x: set(x.origins),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Lasting:
    """How long work held: the curve, and what could not be placed on it."""

    curve: Curve | None
    unplaced: int  # orders that came back, at a time or distance that is not stated
    unwatched: int  # orders that did not, and of which no later distance is known


def time_to_comeback(held: Register, operation: str = "") -> Lasting:
    """Days from the work until the comeback; an order that did not come back was watched until ``as_of``."""
    return _lasting(held, operation, lambda c: c.days, lambda o: held.as_of - o.day)


def distance_to_comeback(held: Register, operation: str = "") -> Lasting:
    """Kilometres until the comeback; an order that did not come back was watched as far as the vehicle was seen later."""
    farthest: dict[str, int] = {}
    for order in held.orders:
        if order.vehicle and order.km is not None:
            farthest[order.vehicle] = max(order.km, farthest.get(order.vehicle, 0))

    def watched(order: Order) -> int | None:
        seen = farthest.get(order.vehicle) if order.vehicle else None
        return seen - order.km if seen is not None and order.km is not None and seen > order.km else None

    return _lasting(held, operation, lambda c: c.distance, watched)


def _lasting(
    held: Register, operation: str, of: Callable[[Comeback], int | None], watched: Callable[[Order], int | None]
) -> Lasting:
    back: list[float] = []
    censored: list[float] = []
    unplaced = unwatched = 0
    for place, order in enumerate(held.orders):
        if operation and operation not in order.operations:
            continue
        comeback = held.tied.get(place)
        if comeback is not None and (not operation or operation in comeback.operations):
            length = of(comeback)
            if length is None or length < 0:
                unplaced += 1
            else:
                back.append(length)
        elif (seen := watched(order)) is None:
            unwatched += 1
        else:
            censored.append(seen)
    return Lasting(curve(back, censored), unplaced, unwatched)


@dataclass(frozen=True, slots=True)
class Piece:
    """One line of a Pareto table: what it cost, and what share it and those before it have of all."""

    name: str
    comebacks: int
    cost: Decimal
    cumulative: Decimal  # 0 to 1


def pareto(comebacks: Iterable[Comeback], by: Literal["mechanism", "operation"]) -> dict[str, tuple[Piece, ...]]:
    """Cost by mechanism or operation, the dearest first, a table for each currency. What has no cost stated is left out.

    A comeback from several operations counts for the first of them: no cost is counted twice.
    """
    sums: dict[str, dict[str, list[Decimal]]] = defaultdict(lambda: defaultdict(list))
    for c in comebacks:
        if c.cost is not None:
            name = c.mechanism if by == "mechanism" else next(iter(c.operations), "")
            sums[c.currency][name].append(c.cost)
    return {
        currency: cumulated({n: (sum(v, Decimal()), len(v)) for n, v in of.items()}) for currency, of in sums.items()
    }


def cumulated(costs: Mapping[str, tuple[Decimal, int]]) -> tuple[Piece, ...]:
    """Pieces of (cost, comebacks) with their cumulative shares."""
    whole = sum((c for c, _ in costs.values()), Decimal())
    found, so_far = [], Decimal()
    for name, (cost, count) in sorted(costs.items(), key=lambda item: (-item[1][0], item[0])):
        so_far += cost
        found.append(Piece(name, count, cost, so_far / whole if whole else Decimal()))
    return tuple(found)


def trend(held: Register) -> Chart | None:
    """A p chart by month of the work: the share that came back within :data:`WINDOW` days, of months watched that long."""
    months: dict[str, list[int]] = {}
    month_of: dict[int, str] = {}
    for place, order in enumerate(held.orders):
        if order.firm:
            continue
        comeback = held.tied.get(place)
        days = comeback.days if comeback is not None else None
        if order.day not in month_of:
            month_of[order.day] = dt.date.fromordinal(order.day).isoformat()[:7]
        counted = months.setdefault(month_of[order.day], [0, 0])
        counted[0] += days is not None and 0 <= days <= WINDOW
        counted[1] += 1
    watched = {m: v for m, v in months.items() if _end(m) + WINDOW <= held.as_of}
    return p_chart([(month, watched[month][0], watched[month][1]) for month in sorted(watched)])


def _end(month: str) -> int:
    year, number = map(int, month.split("-"))
    following = dt.date(year + number // 12, number % 12 + 1, 1) if (year, number) < (9999, 12) else dt.date.max
    return following.toordinal() - 1


@dataclass(frozen=True, slots=True)
class Sum:
    """Money in one currency, with how many comebacks it is of."""

    currency: str
    amount: Decimal
    comebacks: int


@dataclass(frozen=True, slots=True)
class Recovery:
    """Claims on others in one currency: what was claimed and what was paid, of matters that have ended."""

    currency: str
    claimed: Decimal
    recovered: Decimal
    ended: int
    paid: Share | None  # ended matters with any payment, of all ended
    open: int
    open_claimed: Decimal

    @property
    def rate(self) -> Decimal | None:
        """Paid share of the money claimed; ``None`` where nothing has ended."""
        return self.recovered / self.claimed if self.claimed else None


def own_cost(held: Register) -> tuple[Sum, ...]:
    """What this shop's own comebacks cost, by currency; those without a stated cost are not in it."""
    found: dict[str, list[Decimal]] = defaultdict(list)
    for c in held.comebacks:
        if c.own and c.cost is not None:
            found[c.currency].append(c.cost)
    return tuple(Sum(cur, sum(v, Decimal()), len(v)) for cur, v in sorted(found.items()))


def recovery(held: Register) -> tuple[Recovery, ...]:
    """Recovery of what was claimed from other firms, by currency. Raises :class:`ExtraMissing`."""
    claims: dict[str, list[Comeback]] = defaultdict(list)
    for c in held.comebacks:
        if not c.own and c.cost:
            claims[c.currency].append(c)
    found = []
    for currency, held_claims in sorted(claims.items()):
        ended = [c for c in held_claims if c.ended in CLOSED]
        still = [c for c in held_claims if c.ended not in CLOSED]
        found.append(Recovery(
            currency, sum((c.cost or Decimal() for c in ended), Decimal()), sum((c.recovered or Decimal() for c in ended), Decimal()),
            len(ended), share(sum(bool(c.recovered) for c in ended), len(ended)), len(still),
            sum((c.cost or Decimal() for c in still), Decimal()),
        ))  # fmt: skip
    return tuple(found)
