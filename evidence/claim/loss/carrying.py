"""What carries the lines and who could be responsible, as command and page show it: nothing is read twice."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from evidence.claim.loss.links import Link
from evidence.claim.loss.statement import LossStatement
from evidence.model.base import say
from evidence.model.kinds import enumerated


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """Lines that rest on the same. ``as_above``: on all the findings that stand above, so that nobody reads them twice."""

    lines: tuple[str, ...]
    link: Link
    as_above: bool


def carried(s: LossStatement) -> tuple[Carried, ...]:
    """Lines by what they rest on; those that rest on most later, those without a link last."""
    groups: dict[Link, list[str]] = {}
    for line in s.counted:
        if line.item.nature != "deduction":
            groups.setdefault(line.link, []).append(line.label)
    found: list[Carried] = []
    seen: set[str] = set()
    for link, of in sorted(groups.items(), key=lambda pair: (not pair[0].linked, len(pair[0].carriers))):
        ids = {c.id for c in link.carriers}
        above = len(found) > 1 and link.linked and ids == seen and link.words == found[-1].link.words
        found.append(Carried(lines=tuple(of), link=link, as_above=above))
        seen |= ids
    return tuple(found)


def responsible_told(s: LossStatement) -> tuple[tuple[str, str, Decimal, str, str], ...]:
    """By head: its name, its lines, its amount with tax, who could be responsible and by what, what is not excluded."""
    rows: list[tuple[str, str, Decimal, str, str]] = []
    last = ("", "")
    for r in s.responsible:
        who = "\n".join(f"{h.name}: {h.why}" for h in r.hands) or "nobody on record"
        found = (who, "\n".join(r.not_excluded) or ("none open" if r.records else "–"))
        lines = enumerated(r.lines)
        if r.unlinked:
            lines += (
                "\nno link on record" if r.unlinked == r.lines else f"\nno link on record: {enumerated(r.unlinked)}"
            )
        told = ("as above", "as above") if found == last else found
        rows.append((f"{say(r.head)} ({say(r.nature)})", lines, r.amount, *told))
        last = found
    return tuple(rows)
