"""The statement in words: from the lines to the total, what is taken off and why, what was left out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from evidence.claim.loss.money import ZERO
from evidence.claim.loss.statement import LossLine, LossStatement
from evidence.claim.loss.sums import NATURES, Sums
from evidence.model.base import say
from evidence.model.loss import DEDUCTIONS

READINGS: Final = ("Lowest reading", "Claimed", "Highest reading")


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One row from the lines to the total, in the lowest, the claimed and the highest reading; what is taken off is negative."""

    words: str
    amounts: tuple[Decimal, Decimal, Decimal]
    whole: bool = False  # a sum of what stands above it


@dataclass(frozen=True, slots=True, kw_only=True)
class Off:
    """Something that is taken off: by which line, how it is worked out, what is said against it."""

    label: str
    text: str
    how: str
    disputed: bool
    objection: str
    betterment: bool  # so that the habit of the place stands beside it


def steps(s: LossStatement) -> tuple[Step, ...]:
    """Every step that is not nothing; the amounts add up to the total, and so do the natures below it."""
    readings = (s.low, s.claimed, s.high)

    def row(words: str, found: list[Decimal], *, whole: bool = False) -> Step:
        return Step(words=words, amounts=(found[0], found[1], found[2]), whole=whole)

    taken = [
        row("less wear, with the tax on it", [-_worn(x) for x in readings]),
        row("less betterment", [-x.betterment for x in readings]),
        row("less salvage credit", [-x.salvage_credit for x in readings]),
        row("less core credit beyond the deposit", [-x.core.beyond for x in readings]),
        row(_value_words(s), [-x.over_value for x in readings]),
        row("less share of fault", [-x.fault for x in readings]),
        row("less payments", [-x.payments for x in readings]),
    ]
    left = [row(f"of it {say(n)}", [x.left_by_nature.get(n, ZERO) for x in readings]) for n in NATURES]
    return (
        row("Lines with their tax", [x.gross for x in readings], whole=True),
        *(step for step in taken if any(step.amounts)),
        row("Total", [x.total for x in readings], whole=True),
        *(step for step in left if any(step.amounts)),
    )


def deductions(s: LossStatement) -> Iterator[Off]:
    """Wear and every other deduction, each with how it is worked out and what is said against it."""
    for line in s.lines:
        wear = line.item.wear
        if wear and line.counted:
            off = (
                ", ".join(f"{s.printed(amount)} in the {words} reading" for words, amount in _wear_of(s, line))
                or "nothing"
            )
            yield Off(
                label=line.label, text=line.item.text, how=f"wear takes off {off}, and the tax on it. {wear.words()}",
                disputed=bool(wear.disputed), objection=wear.objection or "", betterment=True,
            )  # fmt: skip
        if line.item.head in DEDUCTIONS and line.counted:
            yield Off(
                label=line.label, text=line.item.text, how=_deduction_words(s, line), disputed=bool(line.item.disputed),
                objection=line.item.objection or "", betterment=line.item.head == "betterment",
            )  # fmt: skip


def rules_told(s: LossStatement) -> str:
    """Repair held against value; empty where no value is on record."""
    c = s.claimed
    if c.value is None or c.worth is None:
        return ""
    salvage = f"{s.printed(c.worth.before)} before less {s.printed(c.worth.before - c.value)} for what is left of it"
    if not c.repair:
        return f"The value is {s.printed(c.value)} ({salvage})."
    rules = [x for x in (s.low, s.claimed, s.high) if x.by_value]
    if len(rules) == 3:
        which = "The repair comes to more, so the value takes its place; it is shared out by kind as the repair is."
    elif rules:
        names = " and ".join(sorted(x.reading for x in rules))
        which = f"The value takes the place of the repair in this reading: {names}."
    else:
        which = "The repair comes to no more, so it is the repair that is claimed."
    return f"Repair less wear {s.printed(c.repair_less)}, value {s.printed(c.value)} ({salvage}). {which}"


def core_told(s: LossStatement) -> str:
    """The deposit for an old part and what came back of it; empty without one."""
    core = s.claimed.core
    if not (core.deposits or core.credits):
        return ""
    left = max(core.deposits - core.credits, ZERO)
    return f"Deposited {s.printed(core.deposits)}, credited {s.printed(core.credits)}, {s.printed(left)} still to come back."


def _worn(sums: Sums) -> Decimal:
    return sum((w for _, w in sums.wear), ZERO) + sums.tax_on_wear


def _wear_of(s: LossStatement, line: LossLine) -> Iterator[tuple[str, Decimal]]:
    for words, sums in (("lowest", s.low), ("claimed", s.claimed), ("highest", s.high)):
        yield from ((words, w) for item, w in sums.wear if item is line.item)


def _value_words(s: LossStatement) -> str:
    if not s.claimed.repair:
        return "value before less salvage"
    return "less what the repair costs over the value before less salvage"


def _deduction_words(s: LossStatement, line: LossLine) -> str:
    v = line.item
    how = f"{say(v.head)}, {v.percent} %" if v.percent is not None else f"{say(v.head)}, {s.printed(line.net)}"
    named = ", ".join(x.label for x in s.lines if x.subject in v.taken_off)
    of = f" of {named}" if named else " of what is left" if v.percent is not None else ""
    of = ", set off against the deposit first" if v.head == "core_credit" else of
    why = v.why or ("why is not on record" if v.head == "share_of_fault" else "")
    return f"{how}{of}" + (f": {why}" if why else "")
