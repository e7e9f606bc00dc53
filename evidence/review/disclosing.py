"""What a disclosure leaves out, and whether leaving it out makes anything stronger than the whole record makes it.

What is compared, for each mechanism:

- an answer may get lost, but never firmer: what is met or not met in the part is so in the whole, and what is not met in the
  whole stays not met in the part;
- neither ratio rises, no band rises, for the mechanism or for another cause;
- no ceiling is lifted, no contradiction falls away;
- no alternative moves, unless it falls back to open or from excluded;
- no element becomes complete, and no mechanism about which anything was found falls out of the list.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from evidence.model.dossier import Dossier
from evidence.record.head import Head
from evidence.review.left_readable import LeftReadable
from evidence.rules.assessment import Answer, Assessment, Candidate, FindingResult, Status
from evidence.rules.weighing import level


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What is left out: records by name or number, and files of exhibits whose record stays.

    ``text_stays``: those of the latter whose record may show what was read from the file.
    """

    records: tuple[str, ...] = ()
    files: tuple[str, ...] = ()
    text_stays: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """An entry whose content is left out; its header stays."""

    seq: int
    label: str  # "Call note 2"
    kind: str
    action: str
    replaces: int | None  # the entry that it amends or withdraws


@dataclass(frozen=True, slots=True, kw_only=True)
class Disclosure:
    """Everything that a bundle says, before it has a form."""

    head: Head
    at: dt.datetime  # of the report, and the bag's date
    whole: Dossier
    shown: Dossier
    assessment: Assessment  # of what is shown
    left_out: tuple[LeftOut, ...] = ()
    withheld_files: Mapping[str, str] = field(default_factory=dict)  # SHA-256 -> "Exhibit 9"
    readable: tuple[LeftReadable, ...] = ()  # what records still say of files that are withheld

    @property
    def subjects(self) -> tuple[int, ...]:
        """The entries that recorded what is withheld."""
        return tuple(e.seq for e in self.left_out if e.action == "record")


@dataclass(frozen=True, slots=True)
class Gain:
    """One thing that is stronger in the part than in the whole."""

    mechanism: str  # its title
    text: str

    def __str__(self) -> str:
        return f"{self.mechanism}: {self.text}"


def gains(whole: Assessment, part: Assessment) -> tuple[Gain, ...]:
    """Everything that a part of the record makes stronger than the whole record makes it; empty where nothing is."""
    before = {c.mechanism: c for c in whole.candidates}
    after = {c.mechanism: c for c in part.candidates}
    found = [
        Gain(c.title, text) for c in whole.candidates if c.mechanism in after for text in _of(c, after[c.mechanism])
    ]
    found += [
        Gain(c.title, "what was found about it falls out")
        for c in whole.candidates
        if c.mechanism not in after and _speaks(c)
    ]
    found += [
        Gain(c.title, f"comes up with {c.weight.band}")
        for c in part.candidates
        if c.mechanism not in before and _firm(c)
    ]
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Culprits:
    """Subjects that may not be left out, with what that makes stronger; ``alone``: each does so by itself."""

    alone: bool
    told: tuple[tuple[str, tuple[Gain, ...]], ...]


def culprits(subjects: Sequence[str], gained: Callable[[frozenset[str]], Sequence[Gain]]) -> Culprits:
    """Which withheld subjects make something stronger. ``gained`` says what leaving out a set does.

    Where none does so alone, a smallest set of those that do it together.
    """
    alone = [(s, tuple(gained(frozenset([s])))) for s in subjects]
    if found := tuple((s, g) for s, g in alone if g):
        return Culprits(True, found)
    together = list(subjects)
    for subject in subjects:
        fewer = [s for s in together if s != subject]
        if gained(frozenset(fewer)):
            together = fewer
    told = tuple(gained(frozenset(together)))
    return Culprits(False, tuple((s, told) for s in together))


def _of(whole: Candidate, part: Candidate) -> Iterator[str]:
    yield from _answers(whole, part)
    yield from _weight(whole, part)
    yield from _ceilings(whole, part)
    yield from _contradictions(whole, part)
    yield from _alternatives(whole, part)
    yield from _elements(whole, part)


def _answers(whole: Candidate, part: Candidate) -> Iterator[str]:
    before = {f.id: f for f in (*whole.findings, *whole.common)}
    for f in (*part.findings, *part.common):
        old = before[f.id].answer
        # A common finding that is met no more weighs nothing: an instrument left out takes its calibration along.
        if _firmer(old, f.answer) and not (f in part.common and (old, f.answer) == ("met", "not met")):
            yield f"{f.id} turns from {old} to {f.answer}"
        if f.answer == "met" == old and f.undisturbed and not before[f.id].undisturbed:
            yield f"{f.id} counts as seen before anything was touched"
    if _firmer(whole.order.answer, part.order.answer):
        yield f"the order in time turns from {whole.order.answer} to {part.order.answer}"


def _firmer(before: Answer, after: Answer) -> bool:
    return before != after and ("not met" in (before, after) or after == "met")


def _weight(whole: Candidate, part: Candidate) -> Iterator[str]:
    old, new = whole.weight, part.weight
    if new.ratio > old.ratio:
        yield f"the ratio rises from {old.printed} to {new.printed}"
    if new.low > old.low:
        yield f"the low end of the ratio rises from {old.low_printed} to {new.low_printed}"
    if _against(new.low) > _against(old.low):
        yield f"“{old.band}” becomes “{new.band}”"
    if _for(part) > _for(whole):
        yield f"“{old.band}” becomes “{new.band}”"


def _against(ratio: Fraction) -> int:
    """How strongly the findings speak for some other cause."""
    return level(1 / ratio) if ratio < 1 else 0


def _for(candidate: Candidate) -> int:
    """How strongly they speak for the mechanism, after ceilings; a band for another cause or none at all is below."""
    w = candidate.weight
    if w.side == "other":
        return -2
    if w.side == "none":
        return -1
    return min([level(w.low) if w.low >= 1 else 0, *(_AT[c.at] for c in candidate.ceilings)])


_AT = {"moderate support": 2, "weak support": 1, "no support": 0, "no statement": -1, "candidate only": -1}
# strongest word of a ceiling that is not listed there binds nothing below "strong"
_AT |= {"moderately strong support": 3, "strong support": 4}


def _ceilings(whole: Candidate, part: Candidate) -> Iterator[str]:
    lowest = {c.code: _AT[c.at] for c in part.ceilings}
    for ceiling in whole.ceilings:
        # Held against what disturbed departures add, it goes where their surplus goes; the bands are compared above.
        surplus = ceiling.code == "undisturbed" and any(map(_first_touch, whole.findings))
        if not surplus and lowest.get(ceiling.code, 5) > _AT[ceiling.at]:
            yield f"what held it at “{ceiling.at}” falls away ({ceiling.reason})"


def _first_touch(finding: FindingResult) -> bool:
    present = finding.limb == "D" and finding.answer == "met" and finding.undisturbed
    return present and finding.ratio is not None and finding.ratio > 1


def _contradictions(whole: Candidate, part: Candidate) -> Iterator[str]:
    left = Counter(c.about for c in part.contradictions)
    for contradiction in whole.contradictions:
        left[contradiction.about] -= 1
        if left[contradiction.about] < 0:
            yield f"a contradiction falls away: {contradiction.text}"


# From a status to those that say no more about the alternative. "Supported" is to be kept whatever is left out.
_WEAKER: dict[Status, tuple[Status, ...]] = {
    "excluded": ("excluded", "less supported", "open"), "less supported": ("less supported", "open"),
    "open": ("open",), "supported": ("supported",),
}  # fmt: skip


def _alternatives(whole: Candidate, part: Candidate) -> Iterator[str]:
    before = {a.id: a for a in whole.alternatives}
    for a in part.alternatives:
        old = before[a.id]
        if a.status not in _WEAKER[old.status]:
            yield f"{a.id} ({a.claim}) turns from {old.status} to {a.status}"
        elif a.resolved and not old.resolved:
            yield f"{a.id} ({a.claim}) becomes resolved"


def _elements(whole: Candidate, part: Candidate) -> Iterator[str]:
    before = {e.name: e for e in whole.elements}
    for element in part.elements:
        if element.complete and not before[element.name].complete:
            yield f"{element.name} becomes complete"


def _firm(candidate: Candidate) -> bool:
    return candidate.weight.side in ("mechanism", "other")


def _speaks(candidate: Candidate) -> bool:
    """Whether anything was found about the mechanism: then it may not fall out of the list."""
    answered = any(f.answer in ("met", "not met") for f in candidate.findings)
    turned = any(a.status == "supported" for a in candidate.alternatives)
    return _firm(candidate) or answered or turned or bool(candidate.contradictions)
