"""Exact enumeration of small networks of yes/no variables, for holding the weighing against; knows nothing of it."""

from fractions import Fraction
from itertools import product


class Network:
    """``parents`` maps a variable to its parents; ``table`` to P(yes) by the parents' values. In order of causes first."""

    def __init__(self, **nodes):
        self.nodes = nodes  # name -> (parents, {values: P(yes)})

    def joint(self, world):
        value = Fraction(1)
        for name, (parents, table) in self.nodes.items():
            yes = Fraction(str(table[tuple(world[p] for p in parents)]))
            value *= yes if world[name] else 1 - yes
        return value

    def worlds(self, given):
        for values in product((True, False), repeat=len(self.nodes)):
            world = dict(zip(self.nodes, values, strict=True))
            if all(world[k] == v for k, v in given.items()):
                yield world

    def probability(self, event, given=None):
        given = given or {}
        whole = sum(self.joint(w) for w in self.worlds(given))
        part = sum(self.joint(w) for w in self.worlds({**given, **event}))
        return part / whole


SPRINKLER = Network(  # Murphy's form of Pearl's network; tables as in the published example
    C=((), {(): "0.5"}),
    S=(("C",), {(True,): "0.1", (False,): "0.5"}),
    R=(("C",), {(True,): "0.8", (False,): "0.2"}),
    W=(("S", "R"), {(True, True): "0.99", (True, False): "0.9", (False, True): "0.9", (False, False): "0"}),
)
BURGLARY = Network(  # Pearl 1988; tables of Russell & Norvig
    B=((), {(): "0.001"}),
    E=((), {(): "0.002"}),
    A=(("B", "E"), {(True, True): "0.95", (True, False): "0.94", (False, True): "0.29", (False, False): "0.001"}),
    J=(("A",), {(True,): "0.9", (False,): "0.05"}),
    M=(("A",), {(True,): "0.7", (False,): "0.01"}),
)
ASIA = Network(  # Lauritzen & Spiegelhalter 1988
    V=((), {(): "0.01"}),
    K=((), {(): "0.5"}),
    T=(("V",), {(True,): "0.05", (False,): "0.01"}),
    L=(("K",), {(True,): "0.1", (False,): "0.01"}),
    O=(("K",), {(True,): "0.6", (False,): "0.3"}),
    I=(("T", "L"), {(True, True): "1", (True, False): "1", (False, True): "1", (False, False): "0"}),
    X=(("I",), {(True,): "0.98", (False,): "0.05"}),
    D=(("O", "I"), {(True, True): "0.9", (True, False): "0.8", (False, True): "0.7", (False, False): "0.1"}),
)
