"""What a challenge says: one weakness that an opponent would raise, what it costs, and what would answer it.

Codes are closed and never reused. Where several challenges cost the same, they stand in the order of this list.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from evidence.model.dossier import Dossier

Code = Literal[
    "prior_order_missing", "contradiction", "alternative_supported", "state_disturbed", "owner_work", "effect_before",
    "outside_window", "alternative_untested", "custody", "photo_signs", "two_changes", "consent_missing", "part_scrapped",
    "codes_cleared", "calibration_out_of_date", "calibration_absent", "instrument_unnamed", "inside_uncertainty",
    "single_witness", "clock_unreferenced", "capture_time_asserted", "amended_late", "recorded_late", "withheld",
    "notice_missing", "inspection_missing", "opinion_without_basis", "opinion_interested", "cost_without_document",
    "standard_not_cited",
]  # fmt: skip

# What the other side will say, in its own voice: the heading under which a challenge is listed.
SAID: dict[Code, str] = {
    "prior_order_missing": "You cannot show what the earlier work was",
    "contradiction": "Your own record contradicts itself",
    "alternative_supported": "Your own record speaks for another cause",
    "state_disturbed": "You had your hands on it before you photographed it",
    "owner_work": "The owner was at it himself",
    "effect_before": "It was like that before the earlier work",
    "outside_window": "It came too late, or too early, to have come from the earlier work",
    "alternative_untested": "You did not test what else it could have been",
    "custody": "Nobody knows who had it in between",
    "photo_signs": "That picture is not what you say it is",
    "two_changes": "You changed two things and cannot say which one mattered",
    "consent_missing": "You altered it without the owner's leave",
    "part_scrapped": "The part is gone and we could not examine it",
    "codes_cleared": "You cleared the codes first",
    "calibration_out_of_date": "Your instrument was out of calibration",
    "calibration_absent": "Nobody knows whether your instrument was right",
    "instrument_unnamed": "We do not know what you measured with",
    "inside_uncertainty": "The value lies within what your instrument can be off",
    "single_witness": "That is one man's word",
    "clock_unreferenced": "Your camera's clock was wrong",
    "capture_time_asserted": "Nothing but your word says when that was taken",
    "amended_late": "You changed the record when you knew what you needed",
    "recorded_late": "You wrote that down long afterwards",
    "withheld": "You left something out",
    "notice_missing": "You never told us",
    "inspection_missing": "We had no chance to look",
    "opinion_without_basis": "That opinion rests on nothing",
    "opinion_interested": "He is paid if you win",
    "cost_without_document": "Where is the bill",
    "standard_not_cited": "Who says that it must be done that way",
}
_ORDER = tuple(SAID)

NO_SOURCE = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Harm:
    """What falls if the challenge succeeds, or what it costs already, by the assessment itself.

    ``steps`` counts bands between the better and the worse of the two assessments that were compared.
    """

    counted: bool = False  # the assessment counts the weakness already: compared is with the weakness mended
    mechanism: str = ""  # title of the candidate that loses most
    better: str = ""  # its band at best
    worse: str = ""
    steps: int = 0
    elements: tuple[str, ...] = ()  # complete in one, not in the other
    alternatives: tuple[str, ...] = ()  # dealt with in one, not in the other
    supported: tuple[str, ...] = ()  # alternatives that are open now, and supported if the challenge succeeds
    findings: tuple[str, ...] = ()  # met in one, not in the other
    factor: Fraction = Fraction(1)  # of the ratios


@dataclass(frozen=True, slots=True, kw_only=True)
class Raised:
    """A challenge before it is known what it costs.

    ``without`` makes the record as it would stand if the challenge succeeds; ``mended`` the record as it would stand
    if the weakness were mended, where the assessment counts it already. The rest names what the assessment itself says of
    it: the candidate, the ceiling that it is, the alternatives that it leaves open, the element that it leaves incomplete.
    """

    code: Code
    sentence: str
    answer: str
    subjects: tuple[str, ...] = ()
    labels: tuple[str, ...] = ()  # records by label where the caller knows no subject
    without: Callable[[], Dossier] | None = None
    mended: Callable[[], Dossier] | None = None
    mechanism: str = ""
    ceiling: str = ""
    alternatives: tuple[str, ...] = ()
    element: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Challenge:
    """One weakness, ready to be read."""

    place: int  # 1 hurts most
    code: Code
    said: str
    sentence: str
    hurts: str
    answer: str  # one line for each thing that would answer it
    records: tuple[str, ...]  # labels
    exhibits: tuple[str, ...]  # labels of the exhibits that these records show
    mechanism: str  # title of the candidate, or empty
    harm: Harm


def rank(harm: Harm, code: Code) -> tuple[int, int, int, int, Fraction, int]:
    """Exact order, worst first: bands, elements, alternatives, findings, factor of the ratio, place of the code."""
    return (
        -harm.steps, -len(harm.elements), -len(harm.alternatives) - len(harm.supported), -len(harm.findings), -harm.factor,
        _ORDER.index(code),
    )  # fmt: skip


RANKING = (
    "Order: bands that would be lost, or are lost already, in the candidate hit hardest; then elements left incomplete; then "
    "alternatives left open; then findings no longer met; then the factor between the ratios; then a fixed list. "
    "Each is found by assessing the record again without what the challenge takes away, or with what it lacks. No scores."
)
