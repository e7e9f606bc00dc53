"""Which mechanisms the prior work and the complaint call up. A candidate is a question worth testing, never a result."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from evidence.model.base import shorten
from evidence.model.dossier import Recorded
from evidence.model.repair import Operation, WorkOrder
from evidence.rules.assessment import Point
from evidence.rules.grades import regraded
from evidence.rules.holdings import Holdings
from evidence.rules.pack import Mechanism, Pack
from evidence.rules.vocabulary import Vocabulary

ANY_OPERATION = "any-operation"


@dataclass(frozen=True, slots=True, kw_only=True)
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
