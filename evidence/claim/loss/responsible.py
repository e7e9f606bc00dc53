"""Who could be responsible for which head of loss: names and reasons as on record, never a percentage."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from evidence.claim.loss.links import Hand, Link
from evidence.claim.loss.money import ZERO
from evidence.claim.loss.sums import NATURES, Sums
from evidence.model.loss import LossItem


@dataclass(frozen=True, slots=True, kw_only=True)
class Responsible:
    """One head of loss within its nature. ``hands`` is empty where nothing on record points to anybody."""

    nature: str
    head: str
    lines: tuple[str, ...]
    amount: Decimal  # with its tax, before deductions
    unlinked: tuple[str, ...]  # of the lines, those that no finding carries so far
    records: tuple[str, ...]  # that carry them
    exhibits: tuple[str, ...]  # that those records show
    hands: tuple[Hand, ...]
    not_excluded: tuple[str, ...]  # alternatives that are still open


def responsible(lines: Sequence[tuple[str, LossItem, Link]], sums: Sums) -> tuple[Responsible, ...]:
    """By nature and head."""
    groups: dict[tuple[str, str], list[tuple[str, Link]]] = {}
    for label, item, link in lines:
        groups.setdefault((item.nature, item.head), []).append((label, link))
    return tuple(
        Responsible(
            nature=nature, head=head, lines=tuple(label for label, _ in of),
            unlinked=tuple(label for label, link in of if not link.linked),
            amount=sum((a for part, a in sums.parts.items() if part[:2] == (nature, head)), ZERO),
            records=tuple(dict.fromkeys(x for _, link in of for x in link.records)),
            exhibits=tuple(dict.fromkeys(x for _, link in of for x in link.exhibits)),
            hands=_unique([h for _, link in of for h in link.hands]),
            not_excluded=tuple(dict.fromkeys(x for _, link in of for x in link.not_excluded)),
        )
        for (nature, head), of in sorted(groups.items(), key=lambda pair: NATURES.index(pair[0][0]))
    )  # fmt: skip


def _unique(hands: Sequence[Hand]) -> tuple[Hand, ...]:
    return tuple({(h.name, h.why): h for h in hands}.values())
