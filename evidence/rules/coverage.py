"""A question put to every part of a kind: which parts were read, and what that makes of any, all, none, some, two.

The vehicle record counts the parts; an unknown count is never covered. ``3 of 4 coils`` is part of the answer.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

from evidence.measure.derived import difference, quotient
from evidence.measure.uncertainty import Value
from evidence.measure.verdicts import Judgement
from evidence.model.base import say
from evidence.rules.assessment import Answer, Near
from evidence.rules.criteria import Parts
from evidence.rules.holdings import Item
from evidence.rules.replies import Judged, Reply, by_part, reply


def over_parts(over: Parts, judged: list[Judged], near: list[Near], count: int | None) -> Reply:
    """The answer over the parts that were read; ``count`` is how many there are, where the vehicle record says."""
    placed = [_placed(j, count) for j in judged]
    near += [
        Near(record=j.item.label, why=f"does not say which {say(over.every)}")
        for j, p in zip(judged, placed, strict=True)
        if p is None
    ]
    parts, disagreements = by_part([p for p in placed if p])
    whole = parts.pop("all", None)
    verdicts = [v for v, _ in parts.values()]
    if whole:  # one look at all of them stands for each that has no reading of its own
        verdicts += [whole[0]] * max((count or len(verdicts) + 1) - len(verdicts), 0)
    covered = count is not None and len(verdicts) >= count and "undecided" not in verdicts
    coverage = _coverage(over.every, len(verdicts), count) if verdicts else ""
    verdict = _taken(over.take or "any", verdicts, covered=covered)
    wanted = {"met": ("met",), "not met": ("not met",)}.get(verdict, ())
    if over.take in ("all", "none", "some", "2+"):
        wanted = ()
    groups = [*parts.values(), *([whole] if whole else [])]
    carrying = [j for v, js in groups if not wanted or v in wanted for j in js]
    every = verdict == "met" if over.take in ("all", "none", "some", "2+") else verdict == "not met"
    return reply(verdict, carrying, near, coverage, disagreements, every=every)


def _placed(judged: Judged, count: int | None) -> Judged | None:
    if judged.item.position:
        return judged
    return replace(judged, item=replace(judged.item, position="1")) if count == 1 else None


def _coverage(every: str, done: int, count: int | None) -> str:
    name = say(every)
    many = name if name.endswith("s") else f"{name}s"
    if count is None:
        return f"{done} {many if done != 1 else name}, how many there are is not stated"
    return f"{done} of {count} {many if count != 1 else name}"


def _taken(take: str, verdicts: list[str], *, covered: bool) -> Answer:
    met, failed = verdicts.count("met"), verdicts.count("not met")
    open_still: Answer = "undecided" if verdicts else "not measured"
    if take == "any":
        return "met" if met else "not met" if covered else open_still
    if take == "2+":
        return "met" if met >= 2 else "not met" if covered else open_still
    if take == "all":
        return "not met" if failed else "met" if covered else open_still
    if take == "none":
        return "not met" if met else "met" if covered else open_still
    return "met" if met and failed else "not met" if covered else open_still  # some, not all


def reduced(
    over: Parts, items: list[Item], near: list[Near], count: int | None, held_by: Callable[[Value], Judgement | None]
) -> Reply:
    """Lowest over highest, or highest less lowest; only when every part was read. ``held_by`` judges the result."""
    by_part: dict[str, Item] = {}
    for item in items:
        position = item.position or ("1" if count == 1 else "")
        if item.value is None or not position:
            near.append(Near(record=item.label, why=f"does not say which {say(over.every)}"))
        else:
            by_part.setdefault(position, item)
    if not by_part:
        return Reply(answer="not measured", near=tuple(near))
    unit = next(i.value.unit for i in by_part.values() if i.value)
    ordered = sorted(by_part.values(), key=lambda i: (i.value.into(unit).value if i.value else Decimal(0), i.label))
    value = _reduction(over.reduce or "spread", ordered[0].value, ordered[-1].value)
    held = held_by(value) if value else None
    covered = count is not None and len(by_part) >= count
    coverage = _coverage(over.every, len(by_part), count)
    judged = [Judged(i, "undecided", i.value.words() if i.value else "") for i in ordered]
    if held is None or not covered:
        return reply("undecided", judged, near, coverage, ())
    told = reply(held.verdict, judged, near, coverage, ())
    how = "lowest over highest" if over.reduce == "low/high" else "highest less lowest"
    ends = f"lowest {ordered[0].label}, highest {ordered[-1].label}"
    unusable = [r for r in told.reasons if "supports nothing" in r]
    return replace(told, reasons=(f"{how} {held.words} ({ends})", *unusable), sure=min(told.sure, held.holds))


def _reduction(how: str, low: Value | None, high: Value | None) -> Value | None:
    if low is None or high is None:
        return None
    if how == "spread":
        return difference(high, low, basis="highest less lowest")
    return quotient(low, high, basis="lowest over highest") if high.value and low.value else None
