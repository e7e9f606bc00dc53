"""Replies of the record to one question, how those of a group add up, and how readings of one part agree.

Any-of is met by the first that is met, and not met only when every part was answered so; all-of is its mirror.
Two decided readings of one part in one state that disagree leave it undecided, and are told as a contradiction.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from evidence.rules.assessment import Answer, Near
from evidence.rules.holdings import Item

# From the worst for the one who must show it to the best.
RANK: dict[Answer, int] = {"not met": 0, "undecided": 1, "not measured": 2, "not applicable": 2, "met": 3}

# That a record answers what it does not answer by itself, a person says: as probable as what is "normally there". By choice.
A_PERSONS_WORD = Fraction(80, 100)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reply:
    """An answer with what carries it. ``subjects`` are the records by subject; ``undisturbed``: all of that state."""

    answer: Answer
    labels: tuple[str, ...] = ()
    subjects: frozenset[str] = frozenset()
    coverage: str = ""
    near: tuple[Near, ...] = ()
    reasons: tuple[str, ...] = ()
    undisturbed: bool = False
    disagreements: tuple[tuple[str, tuple[str, ...]], ...] = ()  # text and labels
    partly: bool = False  # some part of a group is met
    sure: Fraction = Fraction(1)  # the probability that a decided answer holds


@dataclass(frozen=True, slots=True)
class Judged:
    """One item with its verdict, and the comparison in words."""

    item: Item
    verdict: str  # met, not met, undecided
    words: str
    place: str = ""  # which part, in words: "coil 3"
    sure: Fraction = Fraction(1)  # the probability that a decided verdict holds


def worse(one: Reply, other: Reply) -> Reply:
    """The one that claims less."""
    return other if RANK[other.answer] < RANK[one.answer] else one


def together(sures: Iterable[Fraction], *, every: bool) -> Fraction:
    """How sure an answer is that rests on several: on every one of them at the least, or on any at the best of them.

    Nothing is known of how they hang together, so these are the least values that hold whatever they do (Boole, Fréchet).
    """
    known = list(sures)
    if every:
        return max(1 - sum((1 - s for s in known), Fraction(0)), Fraction(0))
    return max(known, default=Fraction(1))


def joined(answer: Answer, replies: Sequence[Reply], carrying: Sequence[Reply], *, every: bool = True) -> Reply:
    """One reply from several; ``carrying`` are those that decide it: ``every`` one of them, or any."""
    return Reply(
        answer=answer,
        labels=tuple(dict.fromkeys(x for r in carrying for x in r.labels)),
        subjects=frozenset().union(*(r.subjects for r in carrying)),
        coverage="; ".join(dict.fromkeys(r.coverage for r in carrying if r.coverage)),
        near=tuple(dict.fromkeys(n for r in replies for n in r.near)),
        reasons=tuple(dict.fromkeys(x for r in (carrying or replies) for x in r.reasons)),
        undisturbed=bool(carrying) and all(r.undisturbed for r in carrying),
        disagreements=tuple(dict.fromkeys(d for r in replies for d in r.disagreements)),
        partly=any(r.answer == "met" or r.partly for r in replies),
        sure=together((r.sure for r in carrying), every=every),
    )


def any_of(replies: Sequence[Reply]) -> Reply:
    """Met by the first that is met."""
    if met := [r for r in replies if r.answer == "met"]:
        return joined("met", replies, met, every=False)
    if all(r.answer == "not met" for r in replies):
        return joined("not met", replies, replies)
    read = [r for r in replies if r.answer in ("not met", "undecided")]
    return joined("undecided" if read else "not measured", replies, read)


def all_of(replies: Sequence[Reply]) -> Reply:
    """Not met as soon as one is not."""
    if failed := [r for r in replies if r.answer == "not met"]:
        return joined("not met", replies, failed, every=False)
    if all(r.answer == "met" for r in replies):
        return joined("met", replies, replies)
    read = [r for r in replies if r.answer in ("met", "undecided")]
    return joined("undecided" if read else "not measured", replies, read)


def by_part(
    judged: list[Judged],
) -> tuple[dict[str, tuple[str, list[Judged]]], tuple[tuple[str, tuple[str, ...]], ...]]:
    """Verdict of each part. Two decided readings that disagree leave it undecided, and are told."""
    grouped: dict[str, list[Judged]] = {}
    for j in judged:
        grouped.setdefault(j.item.position or "", []).append(j)
    parts: dict[str, tuple[str, list[Judged]]] = {}
    disagreements: list[tuple[str, tuple[str, ...]]] = []
    for position, same in sorted(grouped.items()):
        decided = {j.verdict for j in same} - {"undecided"}
        if len(decided) == 2:
            labels = tuple(dict.fromkeys(j.item.label for j in same))
            where = f" at {position}" if position else ""
            disagreements.append((f"readings of one part in one state disagree{where}: {_listed(same)}", labels))
            parts[position] = ("undecided", same)
        else:
            verdict = decided.pop() if decided else "undecided"
            parts[position] = (verdict, [j for j in same if j.verdict == verdict])
    return parts, tuple(disagreements)


def _listed(judged: Sequence[Judged]) -> str:
    return "; ".join(dict.fromkeys(map(_told, judged)))


def _told(judged: Judged) -> str:
    where = f", {judged.place}" if judged.place else ""
    return f"{judged.item.label}{where}: {judged.words}"


def reply(
    answer: Answer, carrying: Sequence[Judged], near: Sequence[Near], coverage: str,
    disagreements: tuple[tuple[str, tuple[str, ...]], ...], *, every: bool = False,
) -> Reply:  # fmt: skip
    """A reply carried by readings: by ``every`` one of them, or by any."""
    unusable = [f"{j.item.label} {j.item.unusable}, so it supports nothing" for j in carrying if j.item.unusable]
    return Reply(
        answer=answer,
        labels=tuple(dict.fromkeys(j.item.label for j in carrying)),
        subjects=frozenset(j.item.subject for j in carrying),
        coverage=coverage,
        near=tuple(near),
        reasons=tuple(dict.fromkeys([*map(_told, carrying), *unusable])),
        undisturbed=bool(carrying) and all(j.item.state == "undisturbed" for j in carrying),
        disagreements=disagreements,
        sure=_of_parts(carrying, every=every),
    )


def _of_parts(carrying: Sequence[Judged], *, every: bool) -> Fraction:
    """A part is as sure as the best of its readings: one more of them never takes away."""
    best: dict[str, Fraction] = {}
    for j in carrying:
        place = j.item.position or ""
        best[place] = max(best.get(place, Fraction(0)), j.sure)
    return together(best.values(), every=every)
