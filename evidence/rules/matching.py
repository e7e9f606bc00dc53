"""Which mechanisms the prior work and the complaint call up. A candidate is a question worth testing, never a result."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from evidence.model.base import shorten
from evidence.model.dossier import Recorded
from evidence.model.repair import Operation, WorkOrder
from evidence.rules.asks import rests_on_answers
from evidence.rules.assessment import Point
from evidence.rules.common import COMMON, general_alternatives
from evidence.rules.grades import Odds, odds_of, regraded
from evidence.rules.holdings import Holdings
from evidence.rules.keys import key_of
from evidence.rules.pack import Alternative, Finding, Mechanism, Pack
from evidence.rules.vocabulary import Vocabulary

ANY_OPERATION = "any-operation"


@dataclass(frozen=True, kw_only=True)
class Call:
    """A mechanism that was called up, by what, and the prior work orders that have hands on its components."""

    mechanism: Mechanism
    pack: Pack
    why: tuple[Point, ...]
    by_work: bool
    by_complaint: bool
    orders: tuple[Recorded[WorkOrder], ...]

    @property
    def prior(self) -> Recorded[WorkOrder] | None:
        """The last of the work orders that called it up; the last prior one where none did."""
        return self.orders[-1] if self.orders else None

    @cached_property
    def alternatives(self) -> tuple[Alternative, ...]:
        """The entry's own, then the general ones."""
        return (*self.mechanism.alternatives, *general_alternatives(self.mechanism.components))

    @cached_property
    def of_answers(self) -> frozenset[str]:
        """Alternatives that rest on what findings answer beside those that they name, by id."""
        common = {c.id for c in COMMON if rests_on_answers(c.asks)}
        return frozenset(
            a.id for a in self.alternatives
            if not common.isdisjoint(a.excluded_by) or (a.asks is not None and rests_on_answers(a.asks))
        )  # fmt: skip

    @cached_property
    def odds(self) -> Mapping[str, tuple[Odds, Odds]]:
        """How expected each finding is if the mechanism is true, and if it is not, by id."""
        return {f.id: odds_of(self.pack, f) for f in self.mechanism.findings}

    @cached_property
    def keys(self) -> Mapping[str, str]:
        """The question of each finding and alternative, by id. What is asked in words only is a question of its entry alone."""
        m = self.mechanism
        asking: tuple[Finding | Alternative, ...] = (*m.findings, *self.alternatives)
        return {x.id: key_of(x.asks, m) if x.asks else f"{m.id}/{x.id}" for x in asking}


def called(
    holdings: Holdings, packs: Sequence[Pack], vocabulary: Vocabulary
) -> tuple[tuple[Call, ...], tuple[Point, ...]]:
    """Calls in order of the packs, and the prior lines of work of which no mechanism speaks."""
    tags = complaint_tags(holdings)
    calls: list[Call] = []
    spoken: set[tuple[str, str]] = set()
    for pack in packs:
        for mechanism in pack.mechanisms:
            why: list[Point] = []
            orders: list[Recorded[WorkOrder]] = []
            for order in by_closing(holdings.prior_orders):
                lines = hands_on(order.value, mechanism, vocabulary)
                if lines:
                    orders.append(order)
                    if ANY_OPERATION not in mechanism.prior_operations:  # what fits every line speaks of none
                        spoken |= {(order.label, line.text) for line in lines}
                    texts = "; ".join(dict.fromkeys(shorten(line.text) for line in lines))
                    why.append(Point(text=f"prior work with hands on these parts: {texts}", records=(order.label,)))
            for tag in mechanism.complaints:
                if tag in tags:
                    words = vocabulary.complaints.get(tag, tag)
                    why.append(Point(text=f"complaint: {words}", records=tags[tag]))
            if why:
                by_complaint = any(t in tags for t in mechanism.complaints)
                graded = regraded(mechanism, holdings.resolutions.get(mechanism.id, ()))
                calls.append(
                    Call(
                        mechanism=graded, pack=pack, why=tuple(why), by_work=bool(orders),
                        by_complaint=by_complaint, orders=tuple(orders),
                    )
                )  # fmt: skip
    silent = tuple(
        Point(text=line.text, records=(order.label,))
        for order in holdings.prior_orders
        for line in order.value.operations
        if (order.label, line.text) not in spoken
    )
    return tuple(calls), silent


def by_closing(orders: Iterable[Recorded[WorkOrder]]) -> list[Recorded[WorkOrder]]:
    """In order of closing as far as it is stated, then of recording."""

    def key(order: Recorded[WorkOrder]) -> tuple[str, int]:
        when = order.value.closed or order.value.opened
        return (when.latest if when else "", order.number)

    return sorted(orders, key=key)


def complaint_tags(holdings: Holdings) -> dict[str, tuple[str, ...]]:
    """Tags of the present complaint, and the records that state them."""
    found: dict[str, tuple[str, ...]] = {}
    opening = holdings.opening
    for tag in opening.value.complaint_tags if opening else ():
        found[tag] = (*found.get(tag, ()), opening.label if opening else "")
    for order in holdings.dossier.of(WorkOrder):
        if order.value.side == "present_repairer":
            for tag in order.value.complaint_tags:
                found[tag] = (*found.get(tag, ()), order.label)
    return found


def hands_on(order: WorkOrder, mechanism: Mechanism, vocabulary: Vocabulary) -> tuple[Operation, ...]:
    """The lines of an order that have hands on the mechanism's components, by the vocabulary or by their own word."""
    return tuple(line for line in order.operations if _touches(line, mechanism, vocabulary))


def _touches(line: Operation, mechanism: Mechanism, vocabulary: Vocabulary) -> bool:
    if line.operation in mechanism.prior_operations or ANY_OPERATION in mechanism.prior_operations:
        return True
    return any(
        vocabulary.within(stated, component) or vocabulary.within(component, stated)
        for stated in line.components
        for component in mechanism.components
    )
