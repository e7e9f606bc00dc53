"""Rule packs: mechanisms as typed values, read from loaded YAML whose scalars are all text.

Enforced here: every key of an entry, the five grades, a chain of two to five steps, findings for the limbs D, L and E,
a test for every alternative, known sources, known words of the vocabulary, ids that exist once and are there when named.
A badly written pack is refused with every fault in it.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from functools import cached_property
from typing import Annotated, Any, Literal, Self, TypeAlias

from pydantic import AfterValidator, BeforeValidator, ValidationInfo, field_validator, model_validator

from evidence.model.base import ComplaintTag, Component, Line, OperationName, Plain, Slug, Text
from evidence.model.people import Grade
from evidence.rules.asks import Ask, FindingId, Taken, parts_of
from evidence.rules.criteria import Closed, listed, one_or_more

Limb = Literal["D", "L", "E", "X"]
LIMBS: dict[str, str] = {"D": "departure", "L": "link", "E": "effect", "X": "exclusion"}
RivalKind = Literal["owner_work", "pre_existing", "later_repairer", "wear", "wrong_part", "unrelated", "abuse", "water"]
GUARDED: tuple[RivalKind, ...] = ("pre_existing", "owner_work", "later_repairer")
SourceStatus = Literal["verified", "seen", "memory", "common_practice"]
# The class of instrument a test needs; ``papers`` are asked for, ``senses`` need a light and a mirror at most.
InstrumentClass = Literal[
    "papers", "senses", "camera", "borescope", "scan-tool", "multimeter", "test-lamp", "clamp-meter", "oscilloscope",
    "insulation-tester", "battery-tester", "torque-wrench", "pressure-gauge", "compression-gauge", "vacuum-gauge",
    "leak-tester", "smoke-machine", "gas-analyser", "thermometer", "length-gauge", "dial-gauge", "angle-gauge",
    "alignment-rig", "balance", "measuring-cup", "refractometer", "moisture-meter", "uv-lamp", "refrigerant-machine",
    "listening-aid", "test-bench", "laboratory",
]  # fmt: skip

# A design choice of this project, taken from no publication and measured nowhere; a pack may bring its own.
GRADES: dict[str, Fraction] = {
    "certain": Fraction(98, 100), "expected": Fraction(80, 100), "possible": Fraction(40, 100),
    "unlikely": Fraction(10, 100), "excluded": Fraction(2, 100),
}  # fmt: skip

# How a grade reads on paper: nothing in the program claims more than a judgement.
GRADE_WORDS: dict[str, str] = {
    "certain": "cannot be missing", "expected": "normally there", "possible": "about as often as not",
    "unlikely": "now and then", "excluded": "should not be there",
}  # fmt: skip


Listed: TypeAlias = Annotated[tuple[Text, ...], BeforeValidator(listed)]


class Source(Closed):
    """Where a statement comes from, and how far that was checked."""

    text: Text
    status: SourceStatus


class Threshold(Closed):
    """The limit in words for a reader; what is compared stands in ``asks``."""

    op: Literal["<", "<=", "==", ">=", ">"] | None = None
    value: Plain | None = None
    between: tuple[Plain, Plain] | None = None
    relative_to: Literal["maker_figure"] | None = None
    factor: Plain | None = None
    observe: Line | None = None

    @model_validator(mode="after")
    def _one_of_four(self) -> Threshold:
        forms = [
            self.op is not None and self.value is not None,
            self.between is not None,
            self.relative_to is not None and self.op is not None and self.factor is not None,
            self.observe is not None,
        ]
        if sum(forms) != 1:
            raise ValueError("is not {op, value}, {between}, {relative_to, op, factor} or {observe}")
        return self


class Finding(Closed):
    """One thing that must be shown, how it is asked, and how expected it is either way."""

    id: FindingId
    limb: Limb
    kind: Literal["measurement", "observation", "record"]
    statement: Text
    asks: Ask | None = None
    unit: Line | None = None
    threshold: Threshold | None = None
    if_true: Grade
    if_not: Grade
    if_true_range: tuple[Grade, Grade] | None = None  # the lower probability first, with a source in the entry
    if_not_range: tuple[Grade, Grade] | None = None
    alters: bool
    branch: Slug | None = None
    test: Slug | None = None
    minutes: Plain | None = None  # working time of the test once the place is reached; common practice, no source
    instrument: InstrumentClass | None = None
    kept_for: Line | None = None  # why it is asked although it separates nothing: equal grades either way

    @model_validator(mode="after")
    def _ranges(self) -> Self:
        order = list(reversed(GRADES))
        for grade, stated in ((self.if_true, self.if_true_range), (self.if_not, self.if_not_range)):
            if stated and not order.index(stated[0]) <= order.index(grade) <= order.index(stated[1]):
                raise ValueError(
                    f"the grade {grade!r} does not lie between {stated[0]!r} and {stated[1]!r}, the lower first"
                )
        return self

    @cached_property
    def parts(self) -> tuple[Closed, ...]:
        """Every ask inside what is asked, itself first; none where it is asked in words only."""
        return parts_of(self.asks) if self.asks else ()

    @cached_property
    def as_found(self) -> bool:
        """Whether it asks for the undisturbed state."""
        return any(isinstance(a, Taken) and a.state == "undisturbed" for a in self.parts)

    @property
    def one_test(self) -> str:
        """The test whose outcome this is, or an empty text."""
        return self.test or (self.asks.test if self.asks and self.asks.test else "")


class Alternative(Closed):
    """Another explanation a fair opponent would raise, and what settles it."""

    id: FindingId
    kind: RivalKind
    claim: Text
    test: Text
    standing_result: Text
    asks: Ask | None = None
    excluded_by: tuple[FindingId, ...] = ()
    minutes: Plain | None = None
    instrument: InstrumentClass | None = None

    @field_validator("test", "standing_result")
    @classmethod
    def _said(cls, value: str) -> str:
        if value.strip() in ("-", "none"):
            raise ValueError("an alternative needs a test that would settle it")
        return value


class Departure(Closed):
    """The slip, as a code of the vocabulary and in words."""

    code: Slug
    text: Text

    @field_validator("code")
    @classmethod
    def _known(cls, value: str, info: ValidationInfo) -> str:
        return _word(value, info, "departure")


class Capture(Closed):
    """What to take down before anything is touched, and after."""

    before: Listed = ()
    after: Listed = ()


class Latency(Closed):
    """The window in which the effect plausibly appears after the prior work."""

    days: tuple[Plain, Plain]
    km: tuple[Plain, Plain]
    note: Text | None = None

    @model_validator(mode="after")
    def _rises(self) -> Latency:
        for low, high in (self.days, self.km):
            if Fraction(low) > Fraction(high):
                raise ValueError(f"the window {low} to {high} ends before it starts")
        return self


class Safety(Closed):
    """Caution codes of the vocabulary, and what else must be said."""

    codes: tuple[Line, ...] = ()
    note: Text | None = None

    @field_validator("codes")
    @classmethod
    def _known(cls, value: tuple[str, ...], info: ValidationInfo) -> tuple[str, ...]:
        return tuple(_word(code, info, "caution") for code in value)


class Mechanism(Closed):
    """A described chain from a departure to a damage."""

    id: Slug
    title: Line
    system: Line
    complaints: tuple[ComplaintTag, ...]
    prior_operations: tuple[OperationName, ...]
    components: tuple[Component, ...]
    departure: Departure
    chain: tuple[Text, ...]
    findings: tuple[Finding, ...]
    alternatives: tuple[Alternative, ...]
    capture: Capture
    retain: Listed
    latency: Latency
    loss_items: Listed
    safety: Safety
    sources: tuple[Line, ...]

    @field_validator("chain")
    @classmethod
    def _two_to_five(cls, value: tuple[str, ...]) -> tuple[str, ...]:
        if not 2 <= len(value) <= 5:
            raise ValueError(f"has {len(value)} step{'s' if len(value) != 1 else ''}; a chain has 2 to 5")
        return value

    @field_validator("system")
    @classmethod
    def _known(cls, value: str, info: ValidationInfo) -> str:
        return _word(value, info, "system")

    def finding(self, wanted: str) -> Finding | None:
        """The finding of this id."""
        return next((f for f in self.findings if f.id == wanted), None)

    @property
    def branches(self) -> tuple[str, ...]:
        """Branches of the departure that findings carry, in order of first use."""
        return tuple(dict.fromkeys(f.branch for f in self.findings if f.branch))


class Pack(Closed):
    """One file of mechanisms with its version, its sources and, if it wishes, its own grades."""

    id: Slug
    version: Line
    title: Line
    grades: dict[Grade, Plain] = {}
    sources: dict[Line, Source]
    mechanisms: Annotated[tuple[Mechanism, ...], AfterValidator(one_or_more)]

    @model_validator(mode="after")
    def _probabilities(self) -> Self:
        for grade, value in self.grades.items():
            if not 0 < Fraction(value) < 1:
                raise ValueError(f"the grade {grade!r} is {value}; a probability lies between 0 and 1, ends left out")
        return self

    def probability(self, grade: Grade) -> Fraction:
        """The working probability of a grade in this pack."""
        return Fraction(self.grades[grade]) if grade in self.grades else GRADES[grade]

    def limit_source(self, mechanism: Mechanism) -> str:
        """Where the limits in the asks of an entry come from, in words; what is common practice is called so."""
        known = [s for s in mechanism.sources if s in self.sources and self.sources[s].status != "common_practice"]
        common = len(known) < len(mechanism.sources)
        if not known:
            return "common practice, no source"
        return f"sources {', '.join(known)}" + (" and common practice" if common else "")


def _word(value: str, info: ValidationInfo, family: str) -> str:
    known: Mapping[str, Any] = info.context or {}
    return str(known[family](value)) if family in known else value
