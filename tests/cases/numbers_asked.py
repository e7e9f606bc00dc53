"""Numbers that answer everything a story asks of one place at once, and the records that carry them."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from itertools import pairwise

from evidence.measure.quantities import convert
from evidence.model.quantity import QUANTITIES, UNITS
from evidence.rules.asks import FEATURES, Measure
from evidence.rules.criteria import Between, Bound, Relative, Within

FIGURE = Decimal(100)  # what a maker's figure is, and like parts, where one is needed
_SIGNS = {
    "<": lambda v, x: v < x, "<=": lambda v, x: v <= x, "==": lambda v, x: v == x,
    ">=": lambda v, x: v >= x, ">": lambda v, x: v > x,
}  # fmt: skip


@dataclass
class Place:
    """One quantity at one place in one state: what is wanted of it at each position."""

    ask: object
    common: dict
    unit: str
    wanted: dict = field(
        default_factory=dict
    )  # position -> [(criterion, whether to be met, whether one part is enough)]
    alike: bool = False
    apart: list = field(default_factory=list)  # what makes the first position differ from the others

    def values(self):
        """Position -> the values to write: one where one can do everything, else one for each demand."""
        found = {p: self._solved(w, n, len(self.wanted)) for n, (p, w) in enumerate(self.wanted.items())}
        for held, spread in self.apart:
            first = next(iter(found))
            base = max(found[first][0], Decimal(1))
            for scale in (Decimal(1), Decimal(20), Decimal(400)):
                rest, odd = base * scale, _odd(held, spread, base * scale)
                if all(self._all(odd if p == first else rest, w) for p, w in self.wanted.items()):
                    break
            for position in found:
                found[position] = [odd if position == first else rest]
        return found

    def _solved(self, demands, place=0, places=1):
        if not demands:
            return [FIGURE]
        demands = list({(repr(d[0]), d[1]): d for d in demands}.values())
        firm = [(held, wanted) for held, wanted, any_ in demands if not any_]
        loose = [(held, wanted) for held, wanted, any_ in demands if any_]  # these need one part only
        mine = [d for n, d in enumerate(loose) if n % places == place]
        for asked in ([*firm, *loose], [*firm, *mine], firm):
            if found := self._one_for(asked) if asked else []:
                return found
        return [next(c for c in self._near(held) if self._answers(c, held) == wanted) for held, wanted, _ in demands]

    def _all(self, value, demands):
        return all(self._answers(value, held) == wanted for held, wanted, any_ in demands if not any_)

    def _one_for(self, demands):
        candidates = sorted({c for held, _ in demands for c in self._near(held)})
        candidates += [(a + b) / 2 for a, b in pairwise(candidates)]
        for value in candidates:
            if all(self._answers(value, held) == wanted for held, wanted in demands):
                return [value]
        return []

    def _near(self, held):
        """Values well clear of the limits, on both sides."""
        if isinstance(held, Between):
            low, high = (self._here(Decimal(x), held.unit) for x in held.between)
            far = (high - low) or Decimal(1)
            return [(low + high) / 2, high + 10 * far, low - 10 * far if low - 10 * far > 0 else low / 3]
        limit = self._limit(held)
        far = abs(limit) / 2 or Decimal(1)
        if isinstance(held, Within):
            return [limit, limit + self._here(Decimal(held.within), held.unit) * 10]
        return [limit - far, limit, limit + far] if held.op == "==" else [limit - far, limit + far]

    def _limit(self, held):
        if isinstance(held, Bound):
            return self._here(held.limit.value, held.unit)
        if isinstance(held, Within):
            return figure(held)
        return figure(held) * Decimal(held.times or 1) + self._here(Decimal(held.plus or 0), held.unit or self.unit)

    def _here(self, value, unit):
        return convert(value, unit, self.unit)

    def _answers(self, value, held):
        if isinstance(held, Between):
            low, high = (self._here(Decimal(x), held.unit) for x in held.between)
            return low <= value <= high
        if isinstance(held, Within):
            return abs(value - figure(held)) <= self._here(Decimal(held.within), held.unit)
        return _SIGNS[held.op](value, self._limit(held))


def figure(held):
    """The figure behind a relative limit: a least and a greatest one lie apart."""
    words = (held.of or "").split("-")
    if any(word.startswith(("max", "most", "high", "upper", "greatest")) for word in words):
        return FIGURE * 2
    return FIGURE / 2 if any(word.startswith(("min", "least", "low")) for word in words) else FIGURE


def _odd(held, spread, base):
    """A value of the first part that stands out from the others as asked."""
    if spread == "low/high":
        return base / 20
    if spread == "spread":
        return base + abs(held.limit.value if isinstance(held, Bound) else Decimal(held.between[1])) * 3
    odd = base * Decimal(held.times or 1) + Decimal(held.plus or 0)
    return odd * 2 if held.op in (">", ">=") else odd / 2


def quantity_of(ask):
    return ask.measure if isinstance(ask, Measure) else FEATURES[ask.feature]


def unit_for(ask):
    """The unit that everything of this quantity is written in."""
    default = next(iter(UNITS[QUANTITIES[quantity_of(ask)]]))
    return default if ask.over and ask.over.reduce == "low/high" else getattr(ask.held, "unit", None) or default


def relation(ask, *, met):
    """How parts of a kind must differ from each other for the answer: None, alike, or how the first stands out."""
    held = ask.held
    if ask.over and ask.over.reduce:
        number = held.limit.value if isinstance(held, Bound) else Decimal(held.between[0])
        small = isinstance(held, Bound) and held.op in ("<", "<=")
        within = (
            isinstance(held, Between) and number < Decimal("0.9")
            if ask.over.reduce == "low/high"
            else isinstance(held, Between)
        )
        wide = small if ask.over.reduce == "low/high" else not small and not within
        return ask.over.reduce if wide == met else "alike"
    if isinstance(held, Relative) and held.of == "others":
        return "others" if met else "alike"
    return None


def written(value):
    """Plain decimals, as a meter shows them."""
    rounded = value.quantize(Decimal(1).scaleb(max(value.adjusted() - 5, -9))) if value else value
    return format(rounded.normalize(), "f")
