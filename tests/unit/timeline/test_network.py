"""The network against the published example and against a graph library on random networks."""

import itertools

import networkx as nx
import pytest
from evidence.timeline.network import Bound, Network, contradicting, resting_on
from hypothesis import given
from hypothesis import strategies as st

# Dechter, Meiri and Pearl, Temporal constraint networks, Artificial Intelligence 49 (1991) 61-95, the running example;
# minutes after 7:00. (from, to, least, most)
JOURNEY = (("X0", "X1", 10, 20), ("X1", "X2", 30, 40), ("X3", "X2", 10, 20), ("X3", "X4", 40, 50), ("X0", "X4", 60, 70))
# Their distance graph after all shortest ways: row from, column to.
SHORTEST = (
    (0, 20, 50, 30, 70),
    (-10, 0, 40, 20, 60),
    (-40, -30, 0, -10, 30),
    (-20, -10, 20, 0, 50),
    (-60, -50, -20, -40, 0),
)
# Their minimal network: (from, to, least, most).
MINIMAL = (
    (0, 1, 10, 20), (0, 2, 40, 50), (0, 3, 20, 30), (0, 4, 60, 70), (1, 2, 30, 40), (1, 3, 10, 20), (1, 4, 50, 60),
    (2, 3, -20, -10), (2, 4, 20, 30), (3, 4, 40, 50),
)  # fmt: skip


def journey(*more):
    for number, (a, b, least, most) in enumerate((*JOURNEY, *more)):
        record = (f"line {number}",)
        yield Bound(start=a, end=b, most=most, records=record)
        if least is not None:
            yield Bound(start=b, end=a, most=-least, records=record)


def test_the_published_example_whole():
    network = Network.of(journey())
    assert not network.cycle
    for a, b in itertools.product(range(5), repeat=2):
        assert network.at_most(f"X{a}", f"X{b}") == SHORTEST[a][b], (a, b)
    for a, b, least, most in MINIMAL:
        assert (-network.at_most(f"X{b}", f"X{a}"), network.at_most(f"X{a}", f"X{b}")) == (least, most)
    assert [-network.towards("X0", f"X{n}")[0] for n in range(1, 5)] == [10, 40, 20, 60]  # the earliest solution
    assert [network.at_most("X0", f"X{n}") for n in range(1, 5)] == [20, 50, 30, 70]  # the latest


def test_each_bound_of_the_published_example_is_the_sum_of_its_reasons():
    network = Network.of(journey())
    for a, b in itertools.permutations((f"X{n}" for n in range(5)), 2):
        way = network.why(a, b)
        assert sum(x.most for x in way) == network.at_most(a, b)
        assert [x.start for x in way] == [a, *(x.end for x in way[:-1])]
        assert way[-1].end == b
        assert network.towards(b, a) == (network.at_most(a, b), network.towards(b, a)[1])


def test_a_way_round_below_nothing_is_refused():
    network = Network.of(journey(("X1", "X4", None, 49)))  # from the example: X4 is at least 50 after X1
    assert sum(b.most for b in network.cycle) < 0
    with pytest.raises(ValueError, match="not all bounds can hold"):
        network.at_most("X0", "X1")
    # X4 is at least 40 after X3, which is at most 20 before X2, which is at least 30 after X1: 50 in all
    assert contradicting(list(journey(("X1", "X4", None, 49)))) == ("line 1", "line 2", "line 3", "line 5")
    assert not Network.of(journey(("X1", "X4", None, 50))).cycle


def test_a_record_that_adds_a_second_contradiction_does_not_hide_the_first():
    """Leaving out a record of the way found is no cure where the rest of its records contradict each other otherwise."""
    bounds = [
        Bound(start="a", end="b", most=-1, records=("one", "two")),
        Bound(start="b", end="a", most=0, records=("three",)),
        Bound(start="c", end="d", most=-1, records=("two",)),
        Bound(start="d", end="c", most=0, records=("three",)),
    ]
    assert contradicting(bounds) == ("three", "two")


moments = st.sampled_from([f"M{n}" for n in range(7)])
arrows = st.lists(st.tuples(moments, moments, st.integers(-30, 100)), max_size=25)


def bounds_of(drawn):
    return [Bound(start=a, end=b, most=w, records=(f"record {n % 9}",)) for n, (a, b, w) in enumerate(drawn) if a != b]


def graph_of(bounds):
    graph = nx.DiGraph()
    for b in bounds:
        known = graph.get_edge_data(b.start, b.end)
        graph.add_edge(b.start, b.end, weight=min(b.most, known["weight"]) if known else b.most)
    return graph


@given(arrows)
def test_as_a_graph_library_has_it(drawn):
    bounds = bounds_of(drawn)
    network, graph = Network.of(bounds), graph_of(bounds)
    assert bool(network.cycle) == nx.negative_edge_cycle(graph)
    if network.cycle:
        assert sum(b.most for b in network.cycle) < 0
        assert all(a.end == b.start for a, b in itertools.pairwise([*network.cycle, network.cycle[0]]))
        return
    oracle = dict(nx.all_pairs_bellman_ford_path_length(graph))
    for a, b in itertools.product(graph, repeat=2):
        assert network.at_most(a, b) == oracle[a].get(b)
        assert network.towards(b, a)[0] == oracle[a].get(b)
        if a != b and b in oracle[a]:
            assert sum(x.most for x in network.why(a, b)) == oracle[a][b]
            assert sum(x.most for x in network.towards(b, a)[1]) == oracle[a][b]


@given(arrows, st.randoms(use_true_random=False))
def test_order_of_the_bounds_does_not_matter(drawn, random):
    bounds = bounds_of(drawn)
    shuffled = random.sample(bounds, len(bounds))
    one, other = Network.of(bounds), Network.of(shuffled)
    assert one.cycle == other.cycle
    assert contradicting(bounds) == contradicting(shuffled)
    if not one.cycle:
        for a, b in itertools.permutations(one.moments, 2):
            assert one.why(a, b) == other.why(a, b)


@given(arrows)
def test_what_contradicts_is_irreducible(drawn):
    bounds = bounds_of(drawn)
    found = contradicting(bounds)
    assert bool(found) == bool(Network.of(bounds).cycle)
    if found:
        assert Network.of(resting_on(bounds, found)).cycle
    for record in found:
        assert not Network.of(resting_on(bounds, [r for r in found if r != record])).cycle


@given(arrows, st.tuples(moments, moments, st.integers(-30, 100)))
def test_a_further_bound_never_widens(drawn, more):
    before = bounds_of(drawn)
    after = [*before, *bounds_of([more])]
    one, other = Network.of(before), Network.of(after)
    if one.cycle:
        assert other.cycle
    elif not other.cycle:
        for a, b in itertools.permutations(one.moments, 2):
            was, is_ = one.at_most(a, b), other.at_most(a, b)
            assert was is None or (is_ is not None and is_ <= was)
