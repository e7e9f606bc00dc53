"""What an assessment says: plain frozen values, in printing order, records named by label such as ``Exhibit 7``.

The rules never say who is liable. They say which known mechanism fits, what has been shown for it and by which
records, what speaks against it, which alternatives remain and which test would separate them.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from evidence.rules.capture_plan import CapturePlan

Answer = Literal["met", "not met", "undecided", "not measured", "not applicable"]
Status = Literal["excluded", "less supported", "open", "supported"]
Labels = tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One statement and the records that carry it."""

    text: str
    records: Labels = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Near:
    """A record of the right thing that does not answer, and why not."""

    record: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingResult:
    """One finding of the entry, or one of the common ones (C1 to C10), with its answer."""

    id: str
    limb: str  # D, L, E, X; for common findings: opportunity, time order, custody ...
    limb_words: str  # departure, link, effect, exclusion ...
    kind: str  # measurement, observation, record
    statement: str
    answer: Answer
    records: Labels  # that carry the answer
    coverage: str  # "3 of 4 coils", or empty
    near: tuple[Near, ...]
    reasons: tuple[str, ...]  # why this answer, one sentence each
    if_true: str  # the grade in words: "normally there"
    if_not: str
    ratio: Fraction | None  # present p/q, absent (1-p)/(1-q); None where the answer gives none
    ratio_low: Fraction | None  # what it may weigh at the low end, which carries the statement
    ratio_high: Fraction | None
    weighs: bool  # whether it is the one that counts in its limb at the low end
    separates: bool  # whether an answer could tell this explanation from any other
    low_answer: Answer  # without what rests on a person's word alone
    alters: bool
    branch: str
    test: str
    undisturbed: bool  # met by a record of the undisturbed state
    word: tuple[Point, ...]  # a person's bindings and resolutions about it


@dataclass(frozen=True, slots=True, kw_only=True)
class LimbWeight:
    """What one limb contributes at the low end: the single strongest present times the single worst absent."""

    limb: str  # D, L, E
    words: str
    present: str  # finding id, or empty
    present_ratio: Fraction
    absent: str
    absent_ratio: Fraction
    product: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Ceiling:
    """A ceiling that no arithmetic may lift."""

    code: Literal[
        "undisturbed", "guarded", "link", "effect", "latency", "prior_order", "effect_before", "supported_alternative",
    ]  # fmt: skip
    at: str  # the band it holds at: "moderate", "weak", "no support", "candidate only"
    reason: str
    holds: bool  # True where the ratio alone would have gone higher


@dataclass(frozen=True, slots=True, kw_only=True)
class Weight:
    """The ratio as an interval, and its words before and after the ceilings. The low end carries what is said."""

    ratio: Fraction  # by the grades as they stand
    printed: str  # "58.8"; below one "1/17"
    low: Fraction  # the least that grades and persons' words leave
    low_printed: str
    high: Fraction
    high_printed: str
    capped: bool
    limbs: tuple[LimbWeight, ...]  # of the low end
    scale_words: str  # words of the low end alone: "moderate support"
    band: str  # after ceilings: "moderate support", "candidate only", "no statement", "weak support for another cause"
    wordless: Fraction  # the low end without what rests on a person's word alone
    wordless_printed: str
    by_word: bool  # whether a person's word bears on the ratio
    break_even: tuple[Fraction, Fraction]  # least and greatest prior probability at which the odds are even
    break_even_words: str
    side: Literal["mechanism", "other", "neither", "none"]  # what the band speaks for; none: no statement
    statement: str  # the full sentence with both propositions named


@dataclass(frozen=True, slots=True, kw_only=True)
class Versus:
    """A candidate against another one on the same record, or against something not listed (no ``mechanism``)."""

    mechanism: str
    title: str
    low: Fraction
    ratio: Fraction
    high: Fraction
    printed: str  # "14.7 to 941"
    words: str  # "moderate support for this one", "does not tell the two apart"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fall:
    """One record or finding whose loss alone would change the band."""

    what: str  # "Measurement 4", or the id of a finding
    text: str
    band: str  # what would be left


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Something still open whose result would change the band; a band is empty where it would not."""

    what: tuple[str, ...]  # ids of findings, or of alternatives
    text: str
    of_rival: bool  # alternatives, which are excluded or supported where findings are met or not
    if_met: str
    if_not: str

    @property
    def outcome(self) -> str:
        """Either result in words: "if met, moderate support; if not met, no support either way"."""
        yes, no = ("excluded", "supported") if self.of_rival else ("met", "not met")
        every = "all are " if len(self.what) > 1 else ""
        told = [f"if {every}{yes}, {self.if_met}"] if self.if_met else []
        return "; ".join([*told, *([f"if {no}, {self.if_not}"] if self.if_not else [])])


@dataclass(frozen=True, slots=True, kw_only=True)
class AlternativeResult:
    """One alternative, the entry's own (A..) or a general one (G..)."""

    id: str
    kind: str
    kind_words: str  # "owner's own work"
    claim: str
    test: str
    standing_result: str
    status: Status
    by: tuple[str, ...]  # ids of the findings that settle it, "own test" for its own question
    records: Labels
    reasons: tuple[str, ...]
    guarded: bool  # holds the band at moderate until excluded
    general: bool
    resolved: str  # a person's written answer, or empty
    needs: tuple[str, ...]  # what would settle it: finding ids still open, or the test in words


@dataclass(frozen=True, slots=True, kw_only=True)
class Contradiction:
    """Something that must be resolved in writing by a person."""

    about: str  # finding id, or "record"
    text: str
    records: Labels
    resolved: str  # the written answer, or empty


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderInTime:
    """From the close of the prior work to the onset, by both clocks."""

    answer: Answer
    sentence: str
    days: tuple[Decimal, Decimal] | None  # least and most
    km: tuple[Decimal, Decimal] | None
    window: str  # "0 to 30 days and 0 to 1500 km"
    prior_order: str  # label
    onset: str  # label
    records: Labels


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """One of the five elements that must each be shown before a dossier is called complete."""

    name: Literal["prior work", "departure", "cause", "loss", "custody and notice"]
    question: str
    shown: tuple[Point, ...]
    missing: tuple[str, ...]
    complete: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStep:
    """One thing to capture next."""

    place: int  # in the plan for all candidates
    findings: tuple[str, ...]
    what: str
    how: str  # the typed question in words: quantity, points, circumstances, limit
    undisturbed: bool  # only of use before anything is touched
    alters: bool
    one_shot: bool
    waiting: str  # why it must not be opened yet, or empty
    cautions: tuple[tuple[str, str], ...]  # code and text
    separates: tuple[str, ...]  # alternatives it would settle, "A6: speed sensor, immobiliser ..."
    settles: str  # one sentence: what a result would do
    bits: Decimal = Decimal(0)  # what it is expected to tell about the open questions of all candidates


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A mechanism that the prior work or the complaint calls up, tested against the record."""

    mechanism: str
    title: str
    system: str
    pack: str  # "ignition 1"
    why: tuple[Point, ...]
    called_by: Literal["work and complaint", "work", "complaint"]
    departure_code: str
    departure: str
    chain: tuple[str, ...]
    components: tuple[str, ...]
    branch: str
    findings: tuple[FindingResult, ...]
    common: tuple[FindingResult, ...]
    weight: Weight
    ceilings: tuple[Ceiling, ...]
    contradictions: tuple[Contradiction, ...]
    alternatives: tuple[AlternativeResult, ...]
    versus: tuple[Versus, ...]  # something not listed first, then the others, the closest first
    falls: tuple[Fall, ...]  # what carries the band alone
    changes: tuple[Change, ...]  # what would change it
    order: OrderInTime
    elements: tuple[Element, ...]
    plan: tuple[PlanStep, ...]
    capture_before: tuple[str, ...]
    capture_after: tuple[str, ...]
    retain: tuple[str, ...]
    loss_items: tuple[str, ...]
    cautions: tuple[tuple[str, str], ...]
    safety_note: str
    sources: tuple[tuple[str, str, str], ...]  # key, text, status
    conclusion: str  # plain words for an owner

    @property
    def deciding(self) -> tuple[PlanStep, ...]:
        """What to capture next, the steps that are expected to tell most first."""
        return tuple(sorted(self.plan, key=lambda step: -step.bits))


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """The same test before and after what was done, and whether its result is another one."""

    what: str  # "voltage drop, coil ground 1 to battery negative, key on"
    before: str  # "4.80 V ± 0.03 V (Measurement 1)"
    after: str
    told: str  # "changed", "the same within the uncertainty of both"


@dataclass(frozen=True, slots=True, kw_only=True)
class Experiment:
    """What was changed between tests of the same kind, and what the comparison says."""

    interventions: Labels  # one, or several between which nothing was tested
    text: str  # what was done, in words
    pairs: tuple[Pair, ...]
    told: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PackUsed:
    """Which rules were used."""

    id: str
    version: str
    title: str
    mechanisms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """The whole result, candidates in order: band first, then ratio, then name."""

    title: str
    entries: int  # size of the ledger it was computed from
    packs: tuple[PackUsed, ...]
    candidates: tuple[Candidate, ...]
    plan: CapturePlan  # for all of them together
    experiments: tuple[Experiment, ...]  # what was changed, and the same tests before and after
    not_called: tuple[Point, ...]  # prior operations no mechanism of these packs speaks of
    scale: tuple[tuple[str, str], ...]  # "2 to 10", "weak support"
    grades: tuple[tuple[str, str], ...]  # "cannot be missing", "0.98"
    notes: tuple[str, ...]  # what the numbers are and are not

    @property
    def leading(self) -> tuple[Candidate, ...]:
        """The candidates that the record speaks for; where there is none, the one on which it says most, the first of equals."""
        found = tuple(c for c in self.candidates if c.weight.side == "mechanism")
        return found or tuple(sorted(self.candidates, key=_decided, reverse=True)[:1])


def _decided(candidate: Candidate) -> int:
    """How many of a candidate's own findings the record answers, for it or against it."""
    return sum(f.answer in ("met", "not met") for f in candidate.findings)
