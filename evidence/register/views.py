"""The register as tables for people: the same for terminal, page and export. Names of firms and technicians only where wanted."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from evidence.model.base import say
from evidence.register.figures import (
    WINDOW,
    By,
    Lasting,
    Piece,
    Register,
    distance_to_comeback,
    own_cost,
    pareto,
    rates,
    recovery,
    time_to_comeback,
    trend,
)
from evidence.register.intervals import FEW_COMEBACKS, FEW_ORDERS, Chart, Curve, Share
from evidence.register.lines import OWN, Comeback, Order

SHOP: Final = "this shop"
NOT_STATED: Final = "not stated"
DAYS: Final = (7, 30, 90, 180, 365)
KILOMETRES: Final = (100, 500, 1_000, 5_000, 10_000)
ORIGINS: Final = {
    "maker_new": "new, vehicle maker's", "other_new": "new, other make", "used": "used", "rebuilt": "rebuilt",
    "supplied_by_owner": "brought by the owner", "refitted": "old part refitted",
}  # fmt: skip
ENDED: Final = {"": "open, or not stated", "part_paid": "paid in part", "closed": "closed without payment stated"}
_BY: Final[dict[By, str]] = {
    "operation": "Operation", "technician": "Technician", "firm": "Firm", "origin": "Origin of the part",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class LastingCurve:
    """A curve to be drawn, over days or kilometres (``unit``)."""

    curve: Curve
    unit: str


@dataclass(frozen=True, slots=True)
class CostBars:
    """The pieces of a Pareto table in one currency, with the words they go by; the dearest first."""

    currency: str
    pieces: tuple[tuple[str, Piece], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One table with its title, and what must be said beside it."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    empty: str
    notes: tuple[str, ...] = ()
    drawn: tuple[Chart | LastingCurve | CostBars, ...] = ()  # on paper


class Names:
    """Firms and technicians, by name where ``shown``; else by number, in the order in which the register first knows them.

    So a firm has one number on every page and in every export of the same register.
    """

    def __init__(self, held: Register, *, shown: bool) -> None:
        self.shown = shown
        everyone: list[Order | Comeback] = [*held.orders, *held.comebacks]
        firms = dict.fromkeys([x.firm for x in everyone])
        self._firms = [f for f in firms if f not in (OWN, NOT_STATED)]
        self._technicians = list(filter(None, dict.fromkeys([x.technician for x in everyone])))

    def firm(self, name: str) -> str:
        """A firm; this shop is always told."""
        if name == OWN:
            return SHOP
        return name if self.shown or name == NOT_STATED else f"firm {self._firms.index(name) + 1}"

    def technician(self, name: str) -> str:
        """A technician; empty where none is stated."""
        return name if self.shown or not name else f"technician {self._technicians.index(name) + 1}"

    def source(self, source: str) -> str:
        """Where a comeback is known from: a dossier's short name may hold a person's."""
        return "dossier" if source.startswith("dossier ") and not self.shown else source


def rate_view(held: Register, by: By, names: Names) -> View:
    """Comeback rates by operation, technician, firm or origin of the part."""
    name: dict[By, Callable[[str], str]] = {
        "operation": say, "technician": names.technician, "firm": names.firm, "origin": lambda x: ORIGINS.get(x, x),
    }  # fmt: skip
    rows = tuple(
        (
            name[by](r.name), str(r.share.orders) if r.share else "not known",
            f"{r.share.came_back}" if r.share else f"{r.comebacks} known", rate_words(r.share), small_words(r.share),
        )
        for r in rates(held, by)
    )  # fmt: skip
    return View(
        title=f"Comeback rate by {_BY[by].lower()}",
        columns=(_BY[by], "Orders", "Came back", "Rate (95 % interval)", ""), rows=rows,
        empty=f"No order or comeback states it: no rate by {_BY[by].lower()} can be told.",
        notes=(
            ("Intervals are Wilson score intervals at 95 %. Where two overlap, do not read one as worse; of many lines, one in twenty "
            "lies outside its interval by chance alone."),
        ),
    )  # fmt: skip


def rate_words(share: Share | None) -> str:
    """``4.5 % (1.2 to 15.1)``."""
    if share is None:
        return "no rate: its orders are not known"
    return f"{share.rate * 100:.1f} % ({share.low * 100:.1f} to {share.high * 100:.1f})"


def small_words(share: Share | None) -> str:
    """Whether the numbers are small."""
    if share is None or not share.small:
        return ""
    return (
        f"small number: under {FEW_ORDERS} orders"
        if share.orders < FEW_ORDERS
        else f"small number: under {FEW_COMEBACKS} comebacks"
    )


def lasting_views(held: Register, operation: str = "") -> tuple[View, View]:
    """Time and distance to comeback, at round marks."""
    of = f", {say(operation)}" if operation else ""
    time, distance = time_to_comeback(held, operation), distance_to_comeback(held, operation)
    return (
        _lasting(f"Time to comeback{of}", "Within", "days", DAYS, time),
        _lasting(f"Distance to comeback{of}", "Within", "km", KILOMETRES, distance),
    )


def _lasting(title: str, head: str, unit: str, marks: tuple[int, ...], found: Lasting) -> View:
    notes = []
    rows = []
    if found.curve:
        for mark in marks:
            point = found.curve.by(mark)
            if point is None:
                rows.append((f"{mark:,} {unit}", "not watched that long", ""))
                continue
            limits = (
                "" if point.low is None or point.high is None else f" ({point.low * 100:.1f} to {point.high * 100:.1f})"
            )
            rows.append((f"{mark:,} {unit}", f"{point.share * 100:.1f} %{limits}", f"{point.at_risk:,}"))
        notes.append(
            f"Kaplan-Meier, 95 % limits by log-log; {found.curve.watched:,} orders watched, {found.curve.came_back:,} came back, others "
            "count as not come back as long as they were watched. A vehicle that went elsewhere unseen counts as holding."
        )
        if found.curve.median is not None:
            notes.append(f"Half had come back by {found.curve.median:,.0f} {unit}.")
    if found.unplaced:
        notes.append(f"{found.unplaced:,} came back at a point that is not stated: in the rates, not here.")
    if found.unwatched:
        notes.append(
            f"{found.unwatched:,} orders have no later odometer reading and are not watched here. Every comeback is seen, work that held "
            "only where the vehicle came again: these shares lie above the true ones."
        )
    return View(
        title=title, columns=(head, "Come back (95 % limits)", "Watched at the last step"), rows=tuple(rows), notes=tuple(notes),
        empty="No comeback with both points stated: there is no curve.",
        drawn=(LastingCurve(found.curve, unit),) if found.curve else (),
    )  # fmt: skip


def cost_view(held: Register, by_operation: bool, title: Callable[[str], str] = say) -> View:
    """The Pareto table of all comebacks, the dearest first."""
    tables = pareto(held.comebacks, "operation" if by_operation else "mechanism")
    bars = tuple(
        CostBars(currency, tuple((title(p.name) if p.name else NOT_STATED, p) for p in pieces))
        for currency, pieces in sorted(tables.items())
    )
    rows = [
        (words, str(p.comebacks), money(p.cost, of.currency), f"{p.cumulative * 100:.0f} %")
        for of in bars
        for words, p in of.pieces
    ]
    without = sum(c.cost is None for c in held.comebacks)
    what = "operation" if by_operation else "mechanism"
    return View(
        title=f"Cost by {what}", columns=(what.capitalize(), "Comebacks", "Cost", "Together with those above"),
        rows=tuple(rows), empty="No comeback has a cost stated.",
        notes=(f"{without:,} comebacks without a stated cost are not in it.",) if without else (), drawn=bars,
    )  # fmt: skip


def trend_view(held: Register) -> View:
    """The control chart as a table."""
    chart = trend(held)
    if chart is None:
        return View(
            title="Trend by month",
            columns=(),
            rows=(),
            empty=f"No month of own orders has been watched for {WINDOW} days.",
        )
    rows = tuple(
        (
            p.period, f"{p.orders:,}", f"{p.came_back:,}", f"{p.rate * 100:.1f} %", f"{p.low * 100:.1f} to {p.high * 100:.1f} %",
            p.signal,
        )
        for p in chart.points
    )  # fmt: skip
    notes = [
        (
            f"p chart of own work by the month it left: come back within {WINDOW} days, months watched that long; centre "
            f"{chart.centre * 100:.2f} %, limits centre ± 3·√(p(1−p)/n) for each month's own n (Shewhart; ISO 7870-2); a run is 8 "
            "months on one side of the centre (Western Electric rules, 1956)."
        ),
    ]
    if len(chart.points) < 20:
        notes.append("Fewer than 20 months: the limits are preliminary.")
    if chart.rough:
        notes.append(
            f"Fewer than {FEW_COMEBACKS} comebacks are to be expected in {len(chart.rough)} of {len(chart.points)} months: their limits "
            "are rough, and a single comeback moves the rate much."
        )
    return View(
        title="Trend by month",
        columns=("Month", "Orders", "Came back", "Rate", "Limits", "Signal"),
        rows=rows,
        empty="",
        notes=tuple(notes),
        drawn=(chart,),
    )


def money_view(held: Register) -> View:
    """What own comebacks cost, and what came of claims on others."""
    rows = [("Own comebacks", f"{s.comebacks}", money(s.amount, s.currency), "") for s in own_cost(held)]
    for r in recovery(held):
        share = (
            f"{r.rate * 100:.0f} % of the money; paid anything: {rate_words(r.paid)}{_small(r.paid)}"
            if r.rate is not None
            else ""
        )
        if r.ended:
            paid = f"{money(r.recovered, r.currency)} of {money(r.claimed, r.currency)}"
            rows.append(("Claims on others, ended", str(r.ended), paid, share))
        if r.open:
            rows.append(("Claims on others, open", str(r.open), money(r.open_claimed, r.currency), ""))
    return View(
        title="What it cost, and what came back in money", columns=("", "Comebacks", "Sum", "Recovery"), rows=tuple(rows),
        empty="No comeback has a cost stated.", notes=("Currencies are never added together.",) if rows else (),
    )  # fmt: skip


def _small(share: Share | None) -> str:
    return f"; {small_words(share)}" if share and share.small else ""


def list_view(held: Register, names: Names, title: Callable[[str], str] = say, most: int = 0) -> View:
    """Every comeback, the latest first; with ``most`` only so many of them."""
    ordered = sorted(held.comebacks, key=lambda c: (-(c.back or 0), c.source))
    shown = ordered[:most] if most else ordered
    cut = (
        f"The latest {len(shown):,} of {len(ordered):,}; 'evidence comebacks export' writes all."
        if len(shown) < len(ordered)
        else ""
    )
    return View(
        title="Comebacks", columns=("Back", "Prior work", "By", "After", "Mechanism", "Cost", "Ended", "From"),
        rows=tuple(_listed(c, names, title) for c in shown), empty="No comeback is known yet.", notes=(cut,) if cut else (),
    )  # fmt: skip


def _listed(c: Comeback, names: Names, title: Callable[[str], str]) -> tuple[str, ...]:
    by = ", ".join(filter(None, (names.firm(c.firm), names.technician(c.technician))))
    after = ", ".join(filter(None, (
        f"{c.days:,} days" if c.days is not None else "", f"{c.distance:,} km" if c.distance is not None else "",
    )))  # fmt: skip
    return (
        day_words(c.back), "; ".join(map(say, c.operations)) or NOT_STATED, by, after or NOT_STATED,
        title(c.mechanism) if c.mechanism else "none shown", money(c.cost, c.currency) if c.cost is not None else NOT_STATED,
        ended_words(c), names.source(c.source),
    )  # fmt: skip


def ended_words(c: Comeback) -> str:
    """How it ended, with what was paid."""
    if c.own and not c.ended:
        return "own"
    paid = f", {money(c.recovered, c.currency)}" if c.recovered else ""
    return ENDED.get(c.ended, say(c.ended)) + paid


def day_words(day: int | None) -> str:
    """An ISO day."""
    return dt.date.fromordinal(day).isoformat() if day is not None else NOT_STATED


def money(amount: Decimal, currency: str) -> str:
    """``1 995.40 USD``, never rounded here."""
    return f"{amount:,}".replace(",", " ") + (f" {currency}" if currency else "")
