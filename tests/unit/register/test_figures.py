"""The register's figures on small registers whose answers can be counted by hand, and laws on any register."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from evidence.register.figures import (
    cumulated,
    distance_to_comeback,
    own_cost,
    pareto,
    rates,
    recovery,
    register,
    time_to_comeback,
    trend,
)
from evidence.register.lines import Comeback, Order
from evidence.register.views import Names, list_view
from hypothesis import given, settings
from hypothesis import strategies as st

AS_OF = dt.date(2026, 6, 30)


def day(text: str) -> int:
    return dt.date.fromisoformat(text).toordinal()


ORDERS = [
    Order("1", day("2026-01-10"), "A", "", "Kim", ("gasket",), ("maker_new",), 1000),
    Order("2", day("2026-01-20"), "B", "", "Kim", ("gasket", "brake-pads"), ("other_new",), 2000),
    Order("3", day("2026-02-01"), "A", "", "Lee", ("brake-pads",), (), 1500),
    Order("9", day("2026-02-01"), "C", "Harrow Garage", "", ("clutch",), (), None),
]
BACK = [
    Comeback("entry 1", number="2", back=day("2026-02-09"), back_km=2600, operations=("gasket",), mechanism="leak", cost=Decimal(80), currency="USD"),
    Comeback("import 1, line 4", number="2", back=day("2026-02-11"), cost=Decimal(70), currency="USD"),
    Comeback("dossier van", firm="Vell Motors", vehicle="D", back=day("2026-03-01"), operations=("timing-belt",), mechanism="slip", cost=Decimal(500), currency="USD", recovered=Decimal(200), ended="part_paid"),
    Comeback("dossier car", firm="Vell Motors", vehicle="E", back=day("2026-03-02"), cost=Decimal(900), currency="USD"),
    Comeback("dossier old", firm="Vell Motors", vehicle="F", back=day("2026-03-03"), cost=Decimal(300), currency="USD", ended="refused"),
]


def test_each_order_and_each_comeback_counts_once():
    held = register([*ORDERS, ORDERS[0]._replace(technician="Lee")], BACK, AS_OF)
    assert len(held.orders) == 4
    assert held.orders[0].technician == "Lee"
    assert (len(held.comebacks), held.doubled, held.untied) == (4, 1, 3)
    tied = held.tied[1]
    assert (tied.technician, tied.operations, tied.days, tied.distance, tied.cost) == ("Kim", ("gasket",), 20, 600, 80)


def test_rates_count_by_what_came_back():
    held = register(ORDERS, BACK, AS_OF)
    told = {r.name: (r.share.came_back, r.share.orders, r.share.small) if r.share else None for r in rates(held, "operation")}
    assert told == {"gasket": (1, 2, True), "brake-pads": (0, 2, True), "clutch": (0, 1, True), "timing-belt": None}
    firms = {r.name: (r.share.came_back, r.share.orders, r.comebacks) if r.share else r.comebacks for r in rates(held, "firm")}
    assert firms == {"": (1, 3, 1), "Harrow Garage": (0, 1, 0), "Vell Motors": 3}
    assert {r.name: r.share.came_back for r in rates(held, "technician")} == {"Kim": 1, "Lee": 0}
    assert {r.name: r.share.came_back for r in rates(held, "origin")} == {"maker_new": 0, "other_new": 1}


def test_orders_that_never_came_back_are_watched_to_the_day_told():
    found = time_to_comeback(register(ORDERS, BACK, AS_OF))
    assert (found.curve.watched, found.curve.came_back, found.curve.longest) == (4, 1, (AS_OF - dt.date(2026, 1, 10)).days)
    assert found.curve.by(20).share == pytest.approx(0.25)
    assert time_to_comeback(register(ORDERS, BACK, AS_OF), "brake-pads").curve is None


def test_distance_is_watched_as_far_as_the_vehicle_was_seen():
    found = distance_to_comeback(register(ORDERS, BACK, AS_OF))
    assert (found.curve.watched, found.curve.came_back, found.unwatched) == (2, 1, 2)
    assert found.curve.longest == 600


def test_a_comeback_of_unknown_day_is_in_the_rate_and_not_on_the_curve():
    held = register(ORDERS, [Comeback("entry 1", number="1")], AS_OF)
    assert time_to_comeback(held).unplaced == 1
    assert rates(held, "technician")[0].share.came_back == 1


def test_the_pareto_table_of_round_numbers():
    """48, 27, 12, 8, 5 give 48, 75, 87, 95, 100 % (by hand; Juran's table of the vital few)."""
    costs = {str(n): (Decimal(n), 1) for n in (8, 48, 5, 27, 12)}
    assert [round(p.cumulative * 100) for p in cumulated(costs)] == [48, 75, 87, 95, 100]


def test_currencies_are_told_apart_and_no_cost_is_lost():
    more = [Comeback("entry 2", mechanism="leak", cost=Decimal(20), currency="CAD", operations=("a", "b"))]
    found = pareto([*BACK, *more], "mechanism")
    assert {c: sum(p.cost for p in pieces) for c, pieces in found.items()} == {"USD": 1850, "CAD": 20}
    assert [p.name for p in pareto(more, "operation")["CAD"]] == ["a"]


def test_own_cost_and_recovery():
    held = register(ORDERS, BACK, AS_OF)
    assert [(s.currency, s.amount, s.comebacks) for s in own_cost(held)] == [("USD", 80, 1)]
    (found,) = recovery(held)
    assert (found.claimed, found.recovered, found.ended, found.open, found.open_claimed) == (800, 200, 2, 1, 900)
    assert found.rate == Decimal("0.25")
    assert (found.paid.came_back, found.paid.orders) == (1, 2)


def test_the_chart_leaves_out_months_that_were_not_watched_long_enough():
    orders = [Order(f"{m}-{i}", day(f"2026-{m:02}-15"), f"{m}-{i}") for m in range(1, 7) for i in range(50)]
    back = [Comeback("x", number="1-0", back=day("2026-02-15")), Comeback("y", number="2-0", back=day("2026-06-29"))]
    found = trend(register(orders, back, AS_OF))
    assert [(p.period, p.came_back, p.orders) for p in found.points] == [("2026-01", 1, 50), ("2026-02", 0, 50), ("2026-03", 0, 50)]


def test_what_lies_after_the_day_told_is_left_out():
    held = register(ORDERS, BACK, dt.date(2026, 1, 31))
    assert (len(held.orders), len(held.comebacks)) == (2, 0)


LINES = st.lists(st.builds(Order, number=st.sampled_from("abcdef"), day=st.integers(739_000, 739_500), vehicle=st.sampled_from(["", "V", "W"]), operations=st.sampled_from([(), ("p",), ("p", "q")])), max_size=12)
CAME = st.lists(st.builds(Comeback, source=st.uuids().map(str), number=st.sampled_from(["", "a", "b", "z"]), vehicle=st.sampled_from(["", "V"]), back=st.none() | st.integers(739_000, 739_900), operations=st.sampled_from([(), ("p",), ("r",)])), max_size=12)


@given(LINES, CAME)
@settings(max_examples=60, deadline=None)
def test_no_comeback_is_lost_or_counted_twice(orders, came):
    held = register(orders, came, dt.date.max)
    assert len(held.comebacks) + held.doubled == len(came)
    assert held.untied >= 0
    for rate in rates(held, "operation"):
        assert rate.share is None or rate.share.came_back <= rate.share.orders
    found = time_to_comeback(held)
    assert found.unplaced + found.unwatched + (found.curve.watched if found.curve else 0) <= len(held.orders)


def test_a_long_list_says_what_it_leaves_out():
    held = register([], [Comeback(f"entry {n}", back=day("2026-01-01") + n) for n in range(9)], AS_OF)
    cut = list_view(held, Names(held, shown=False), most=4)
    assert [r[0] for r in cut.rows] == ["2026-01-09", "2026-01-08", "2026-01-07", "2026-01-06"]
    assert cut.notes == ("The latest 4 of 9; 'evidence comebacks export' writes all.",)
    assert list_view(held, Names(held, shown=False)).notes == ()
