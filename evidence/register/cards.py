"""Reassembly check cards: for each mechanism of this shop's own comebacks, the look or reading that would have caught it.

What is asked comes from the mechanism's entry: the findings of its departure that disturb nothing, and what the entry says is to
be taken down after the repair.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from evidence.register.lines import Comeback
from evidence.rules.pack import Finding, Mechanism, Pack


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One thing to look for before the vehicle is handed back: found, it is put right first."""

    text: str
    instrument: str  # "multimeter"; empty where eyes and a light do


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckCard:
    """One card. ``costs`` are (currency, sum) of the comebacks that made it."""

    mechanism: str
    title: str
    departure: str
    operations: tuple[str, ...]  # at which it is to hang
    comebacks: int
    costs: tuple[tuple[str, Decimal], ...]
    looks: tuple[Look, ...]
    take_down: tuple[str, ...]
    cautions: tuple[str, ...]
    pack: str


def check_cards(
    comebacks: Iterable[Comeback], packs: Iterable[Pack], cautions: Mapping[str, str]
) -> tuple[CheckCard, ...]:
    """The cards of this shop's own comebacks, the most frequent first; what no pack knows has none (see :func:`cardless`)."""
    known = {m.id: (m, pack) for pack in packs for m in pack.mechanisms}
    own: dict[str, list[Comeback]] = defaultdict(list)
    for comeback in comebacks:
        if comeback.own and comeback.mechanism in known:
            own[comeback.mechanism].append(comeback)
    cards = [_card(*known[name], of, cautions) for name, of in own.items()]
    return tuple(sorted(cards, key=lambda c: (-c.comebacks, c.mechanism)))


def cardless(comebacks: Iterable[Comeback], cards: Iterable[CheckCard]) -> int:
    """How many own comebacks have no card, because no mechanism of the packs is named for them."""
    known = {c.mechanism for c in cards}
    return sum(c.own and c.mechanism not in known for c in comebacks)


def _card(mechanism: Mechanism, pack: Pack, of: list[Comeback], cautions: Mapping[str, str]) -> CheckCard:
    costs: dict[str, Decimal] = defaultdict(Decimal)
    for comeback in of:
        if comeback.cost is not None:
            costs[comeback.currency] += comeback.cost
    told = [cautions[code] for code in mechanism.safety.codes if code in cautions]
    return CheckCard(
        mechanism=mechanism.id, title=mechanism.title, departure=mechanism.departure.text,
        operations=mechanism.prior_operations, comebacks=len(of), costs=tuple(sorted(costs.items())),
        looks=tuple(_look(f) for f in sorted(mechanism.findings, key=_minutes) if f.limb == "D" and not f.alters),
        take_down=mechanism.capture.after, cautions=(*told, *filter(None, [mechanism.safety.note])),
        pack=f"{pack.id} {pack.version}",
    )  # fmt: skip


def _minutes(finding: Finding) -> tuple[float, str]:
    return float(finding.minutes or 0), finding.id


def _look(finding: Finding) -> Look:
    instrument = "" if finding.instrument in (None, "senses") else finding.instrument
    return Look(text=finding.statement, instrument="papers of the job" if instrument == "papers" else instrument or "")
