"""Faults in the custody of an item, each with the records that carry it and a sentence.

Uncertain times are spans. Where they leave several orders open, every order is tried: a fault is what stands in all of
them; what stands only in the order that fits best cannot be told, and is said so (``doubts_of``).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice, pairwise

from evidence.model.dossier import Dossier
from evidence.model.kinds import enumerated
from evidence.model.when import TimeSpan
from evidence.timeline.chains import Chain, Handling, Link, plain, read_chains, written_order
from evidence.timeline.states import sure_before

__all__ = ["Chain", "CustodyFault", "chains", "doubts_of", "faults_of"]
_MOST_ORDERS = 720  # six hand-overs of one day in every order; beyond that only what no order can change is a fault


@dataclass(frozen=True, slots=True, kw_only=True)
class CustodyFault:
    """One thing that does not fit, or that cannot be told (``certain`` is False).

    Codes: gap, overlap, not_holder, never_received, seal_changed, container_changed, examined_unheld,
    examined_elsewhere, examined_after_end, released_after_end, times; in doubt also: order, origin, colleagues,
    seal_not_stated, seal_differs, seal_unknown, seal_used_again, examined_sealed, examined_when.
    """

    code: str
    item: str  # label
    sentence: str
    records: tuple[str, ...]  # labels
    certain: bool = True


def chains(dossier: Dossier) -> tuple[Chain, ...]:
    """The chain of custody of every vehicle, part, device and file, links in the order that fits best."""
    return tuple(replace(c, links=_best(c)) for c in read_chains(dossier))


def faults_of(found: Iterable[Chain]) -> tuple[CustodyFault, ...]:
    """What must be so, chain by chain."""
    return tuple(f for c in found for f in _judged(c) if f.certain)


def doubts_of(found: Iterable[Chain]) -> tuple[CustodyFault, ...]:
    """What may be so and cannot be told from the record."""
    return tuple(f for c in found for f in _judged(c) if not f.certain)


def _judged(chain: Chain) -> tuple[CustodyFault, ...]:
    if not chain.links:
        return tuple(_no_link(chain))
    fixed = [f for link in chain.links for f in _of_link(chain, link)]
    best = [*_walk(chain, chain.links), *_examined(chain, chain.links)]
    orders, all_seen = _orders(chain.links)
    always = set(best)
    for order in orders:
        always &= {*_walk(chain, order), *_examined(chain, order)}
    if not all_seen:
        always = {f for f in always if not f.certain}
    kept = [f if f in always or not f.certain else replace(f, certain=False) for f in best]
    kept += _shelf(chain)
    if len(orders) > 1 and any(f.certain for f in best) and not any(f.certain for f in kept):
        kept.append(_no_order_fits(chain))
    return tuple(dict.fromkeys([*fixed, *kept]))


def _orders(links: Sequence[Link]) -> tuple[list[tuple[Link, ...]], bool]:
    """Every order that the spans allow, and whether these are all."""
    found = list(islice(_extensions((), tuple(sorted(links, key=written_order))), _MOST_ORDERS + 1))
    return found[:_MOST_ORDERS], len(found) <= _MOST_ORDERS


def _extensions(done: tuple[Link, ...], left: tuple[Link, ...]) -> Iterator[tuple[Link, ...]]:
    if not left:
        yield done
    for link in left:
        if not any(_precedes(other, link) for other in left if other is not link):
            yield from _extensions((*done, link), tuple(other for other in left if other is not link))


def _precedes(first: Link, second: Link) -> bool:
    return sure_before(first.left, second.left)


def _best(chain: Chain) -> tuple[Link, ...]:
    """The order with the fewest faults; among equals the one as written."""
    orders, _all = _orders(chain.links)

    def misfits(order: tuple[Link, ...]) -> tuple[int, int]:
        found = [*_walk(chain, order), *_examined(chain, order)]
        return sum(f.certain for f in found), len(found)

    return min(orders, key=misfits) if len(orders) > 1 else orders[0]


def _no_link(chain: Chain) -> Iterator[CustodyFault]:
    """A thing that nobody is on record as holding."""
    touched = tuple(h.record for h in chain.handled if h.sure and not h.used)
    if chain.kind == "part" or (chain.kind == "vehicle" and touched):
        where = f" It is said to lie in: {chain.location}." if chain.location else ""
        yield _fault(
            chain, "gap", f"No hand-over of {chain.item} is on record: who took it, who held it since and in what state "
            f"cannot be shown.{where}", (chain.item,),
        )  # fmt: skip


def _of_link(chain: Chain, link: Link) -> Iterator[CustodyFault]:
    """What one link shows by itself, in whatever order."""
    if link.given_by and not link.own_act and link.left.latest < link.came.earliest:
        yield _fault(
            chain, "gap", f"From {link.when} to {link.when_came} nobody on record held {chain.item}: {link.given_by.name} "
            f"let go of it before {link.taken_by.name} took it.", (link.record,),
        )  # fmt: skip
    if link.recorded and link.recorded < link.left.earliest:
        yield _fault(
            chain, "times", f"{link.record} of {chain.item} is dated {link.when}, but was recorded on "
            f"{link.recorded:%Y-%m-%d %H:%M} UTC: before it can have happened.", (link.record,),
        )  # fmt: skip


def _walk(chain: Chain, order: Sequence[Link]) -> Iterator[CustodyFault]:
    """From link to link: who had it, and in what it lay."""
    for place, (before, after) in enumerate(pairwise(order)):
        yield from _handed_on(chain, before, after, order[place + 2 :])
        if sure_before(after.left, before.came) and after.left.latest < before.came.earliest:
            yield _fault(
                chain, "times", f"{_giver(after)} released {chain.item} on {after.when}, before {before.taken_by.name} "
                f"had received it ({before.when_came}).", (before.record, after.record),
            )  # fmt: skip
    yield from _closures(chain, order)


def _handed_on(chain: Chain, before: Link, after: Link, rest: Sequence[Link]) -> Iterator[CustodyFault]:
    item, holder, giver = chain.item, before.taken_by, after.given_by
    records = (before.record, after.record)
    if before.fate in ("scrapped", "returned_as_core") and after.act == "hand-over":
        yield _fault(
            chain, "released_after_end", f"{item} was {_ended(before)} on {before.when} and is handed over again on "
            f"{after.when}.", records,
        )  # fmt: skip
        return
    if giver is None:
        if not holder.same(after.taken_by):
            how = "taken into the record" if after.act == "taken in" else "taken off the vehicle"
            yield _fault(
                chain, "origin", f"{item} was last handed to {holder.name} and was {how} by {after.taken_by.name}: the "
                "step between is not on record.", records, certain=False,
            )  # fmt: skip
        return
    if holder.colleague(giver):
        yield _fault(
            chain, "colleagues", f"{item} was received by {holder.name} and released by {giver.name} of the same firm: "
            "the step between them is not on record.", records, certain=False,
        )  # fmt: skip
    if holder.same(giver):
        return
    if before.given_by is not None and before.given_by.same(giver):
        acts = [r for r in rest if r.given_by and r.given_by.same(holder)]
        seen = [h for h in chain.handled if h.sure and h.by and h.by.same(holder) and sure_before(before.came, h.span)]
        witnesses = tuple([r.record for r in acts] + [h.record for h in seen])
        if witnesses:
            yield _fault(
                chain, "overlap", f"{giver.name} handed {item} to {holder.name} ({before.when}) and again to "
                f"{after.taken_by.name} ({after.when}), and {holder.name} acts as its holder afterwards: two holders at "
                "once.", (*records, *witnesses),
            )  # fmt: skip
            return
        yield _fault(
            chain, "never_received", f"{holder.name} is on record as receiver of {item} ({before.when}), but "
            f"{giver.name} releases it again ({after.when}): {holder.name} never appears as its holder.", records,
        )  # fmt: skip
        return
    yield _fault(
        chain, "not_holder", f"{giver.name} released {item} ({after.when}), but {holder.name} held it since "
        f"{before.when_came}: how it came from {holder.name} to {giver.name} is not on record.", records,
    )  # fmt: skip


def _closures(chain: Chain, order: Sequence[Link]) -> Iterator[CustodyFault]:
    """Seals and containers from link to link."""
    seal, sealed_in, container, packed_in = "", "", "", ""
    for link in order:
        records = (sealed_in, link.record)
        if link.seal_opened:
            if seal and plain(link.seal_opened) != plain(seal):
                yield _fault(
                    chain, "seal_changed", f"{link.record} opens the seal {link.seal_opened} on {chain.item}; the seal "
                    f"put on was {seal} ({sealed_in}).", records,
                )  # fmt: skip
            elif not seal and plain(link.seal_opened) != plain(chain.seal):
                yield _fault(
                    chain, "seal_unknown", f"{link.record} opens the seal {link.seal_opened} on {chain.item}; who put it on, "
                    "and when, is not on record.", (link.record,), certain=False,
                )  # fmt: skip
            if link.seal and plain(link.seal) == plain(link.seal_opened):
                yield _fault(
                    chain, "seal_used_again", f"{link.record} opens the seal {link.seal} on {chain.item} and puts on one of the "
                    "same number: a numbered seal is used once, so the number no longer shows an opening.", (link.record,),
                    certain=False,
                )  # fmt: skip
            seal, sealed_in = link.seal, link.record
        elif seal and link.seal and plain(link.seal) != plain(seal):
            yield _fault(
                chain, "seal_changed", f"The seal on {chain.item} was {seal} ({sealed_in}) and is {link.seal} in "
                f"{link.record}, without an opening on record.", records,
            )  # fmt: skip
            seal, sealed_in = link.seal, link.record
        elif seal and not link.seal and link.act == "hand-over" and not link.fate:
            yield _fault(
                chain, "seal_not_stated", f"{chain.item} was under seal {seal} ({sealed_in}); {link.record} does not say "
                "whether it still was.", records, certain=False,
            )  # fmt: skip
        elif link.seal:
            seal, sealed_in = link.seal, link.record
        packed_anew = link.seal_opened or link.own_act
        if container and link.container and plain(link.container) != plain(container) and not packed_anew:
            yield _fault(
                chain, "container_changed", f"{chain.item} lay in “{container}” ({packed_in}) and lies in "
                f"“{link.container}” in {link.record}: nobody is on record as having packed it anew.",
                (packed_in, link.record),
            )  # fmt: skip
        if link.container:
            container, packed_in = link.container, link.record


def _examined(chain: Chain, order: Sequence[Link]) -> Iterator[CustodyFault]:
    """Every handling, held against the holder at its time; what its time leaves open is gathered into one doubt."""
    unclear: list[str] = []
    for handling in chain.handled:
        places = [_at(chain, handling, order, place) for place in _places(handling.span, order)]
        wrong = [fault for fault in places if fault]
        if wrong and len(wrong) == len(places) and len({f.code for f in wrong}) == 1:
            yield wrong[0] if handling.sure else replace(wrong[0], certain=False)
        elif wrong:
            unclear.append(handling.record)
        else:
            yield from _under_seal(chain, handling, order)
    if unclear:
        yield _fault(
            chain, "examined_when", f"In whose hands {chain.item} was at {enumerated(unclear)} cannot be told: the times "
            "given leave more than one holder open.", tuple(unclear), certain=False,
        )  # fmt: skip


def _under_seal(chain: Chain, handling: Handling, order: Sequence[Link]) -> Iterator[CustodyFault]:
    """An examination for which no seal was opened; where a hand-over may lie on either side of it, nothing is said."""
    places = list(_places(handling.span, order))
    if not handling.sure or handling.used or len(places) != 1 or places[0][0] != "with":
        return
    seal, sealed_in = "", ""
    for link in order[: places[0][1] + 1]:
        if link.seal or link.seal_opened:
            seal, sealed_in = link.seal, link.record
    if seal:
        yield _fault(
            chain, "examined_sealed", f"{chain.item} was examined ({handling.record}) while under seal {seal} ({sealed_in}): "
            "that it was opened is not on record, and whether it was looked at through its container is not said.",
            (handling.record, sealed_in), certain=False,
        )  # fmt: skip


def _places(span: TimeSpan | None, order: Sequence[Link]) -> Iterator[tuple[str, int]]:
    """Where in the chain a moment may lie: ``before`` all, ``way`` between leaving and coming, or ``with`` a holder."""
    for index, link in enumerate(order):
        if index == 0 and not sure_before(link.left, span):
            yield "before", 0
        if link.left.latest < link.came.earliest and not (sure_before(span, link.left) or sure_before(link.came, span)):
            yield "way", index
        until = order[index + 1].left if index + 1 < len(order) else None
        if not sure_before(span, link.came) and not sure_before(until, span):
            yield "with", index


def _at(chain: Chain, handling: Handling, order: Sequence[Link], place: tuple[str, int]) -> CustodyFault | None:
    where, index = place
    link = order[index]
    verb = "used" if handling.used else "examined"
    if where == "before":
        return None
    if where == "way":
        return _fault(
            chain, "examined_unheld", f"{chain.item} was {verb} ({handling.record}) while nobody on record held it: "
            f"{_giver(link)} had let go of it, {link.taken_by.name} had not yet taken it.", (handling.record, link.record),
        )  # fmt: skip
    mine = handling.by is None or link.taken_by.same(handling.by)
    who = f" by {handling.by.name}" if handling.by else ""
    if link.fate == "scrapped" or (link.fate and not mine):
        return _fault(
            chain, "examined_after_end", f"{chain.item} was {_ended(link)} on {link.when}, yet {handling.record} says that "
            f"it was {verb}{who} afterwards.", (link.record, handling.record),
        )  # fmt: skip
    if mine:
        return None
    return _fault(
        chain, "examined_elsewhere", f"{chain.item} was {verb}{who} ({handling.record}) while {link.taken_by.name} held it "
        f"since {link.when_came}: no hand-over says how.", (handling.record, link.record),
    )  # fmt: skip


def _shelf(chain: Chain) -> Iterator[CustodyFault]:
    """The seal that the item's own record states, against the last one put on."""
    last = next((link for link in reversed(chain.links) if link.seal or link.seal_opened), None)
    if chain.seal and last and plain(last.seal) != plain(chain.seal):
        now = f"seal {last.seal}" if last.seal else "an opened seal"
        yield _fault(
            chain, "seal_differs", f"The record of {chain.item} names the seal {chain.seal}; the last hand-over with one "
            f"({last.record}) has {now}.", (chain.item, last.record), certain=False,
        )  # fmt: skip


def _no_order_fits(chain: Chain) -> CustodyFault:
    return _fault(
        chain, "order", f"The times do not decide in which order {chain.item} was handed over, and in no order does "
        "everything fit.", tuple(link.record for link in chain.links), certain=False,
    )  # fmt: skip


def _fault(chain: Chain, code: str, sentence: str, records: tuple[str, ...], *, certain: bool = True) -> CustodyFault:
    return CustodyFault(
        code=code, item=chain.item, sentence=sentence, records=tuple(dict.fromkeys(records)), certain=certain
    )


def _giver(link: Link) -> str:
    return link.given_by.name if link.given_by else "the one before"


def _ended(link: Link) -> str:
    words = {
        "scrapped": "scrapped",
        "returned_as_core": "returned as a core",
        "returned_to_owner": "returned to its owner",
    }
    return words[link.fate] if link.fate else ""
