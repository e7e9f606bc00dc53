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
    weighs: bool  # whether it is the one that counts in its limb
    low_answer: Answer  # without what rests on a person's word alone
    alters: bool
    branch: str
    test: str
    undisturbed: bool  # met by a record of the undisturbed state
    word: tuple[Point, ...]  # a person's bindings and resolutions about it


@dataclass(frozen=True, slots=True, kw_only=True)
class LimbWeight:
    """What one limb contributes: the single strongest present times the single worst absent."""

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
    """The ratio with its words, before and after the ceilings."""

    ratio: Fraction
    printed: str  # "58.8"; below one "1/17"
    capped: bool
    low: Fraction
    low_printed: str
    limbs: tuple[LimbWeight, ...]
    scale_words: str  # words of the ratio alone: "moderate support"
    band: str  # after ceilings: "moderate support", "candidate only", "no statement", "weak support for another cause"
    low_band: str
    side: Literal["mechanism", "other", "neither", "none"]  # what the band speaks for; none: no statement
    statement: str  # the full sentence with both propositions named


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
    not_called: tuple[Point, ...]  # prior operations no mechanism of these packs speaks of
    scale: tuple[tuple[str, str], ...]  # "2 to 10", "weak support"
    grades: tuple[tuple[str, str], ...]  # "cannot be missing", "0.98"
    notes: tuple[str, ...]  # what the numbers are and are not
