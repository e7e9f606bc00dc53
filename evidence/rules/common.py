"""Common findings C1 to C10 and general alternatives G1 to G8: they apply to every entry and are not repeated in it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from evidence.model.people import Grade
from evidence.rules.asks import AllOf, Computed, Document, Observe
from evidence.rules.criteria import Closed
from evidence.rules.pack import Alternative


@dataclass(frozen=True, slots=True, kw_only=True)
class CommonFinding:
    """One thing that every entry must show. Common findings bound what may be said; they do not weigh."""

    id: str
    limb: str
    kind: str
    statement: str
    asks: Closed
    if_true: Grade
    if_not: Grade


def _common(
    name: str, limb: str, kind: str, statement: str, asks: Closed, if_true: Grade, if_not: Grade
) -> CommonFinding:
    return CommonFinding(id=name, limb=limb, kind=kind, statement=statement, asks=asks, if_true=if_true, if_not=if_not)


COMMON: tuple[CommonFinding, ...] = (
    _common(
        "C1", "opportunity", "record",
        "prior work order in hand, with date, odometer in and out, labour lines and parts; the operation has hands on "
        "the components named",
        Computed(computed="prior_work_in_hand"), "certain", "possible",
    ),
    _common(
        "C2", "time order", "record",
        "the effect was absent before: prior complaint text, drive-in record, pre-scan, inspection record, or the "
        "owner's signed statement",
        Computed(computed="absent_before"), "expected", "possible",
    ),
    _common(
        "C3", "time order", "record",
        "onset lies inside the latency window in time and in distance",
        Computed(computed="latency"), "expected", "possible",
    ),
    _common(
        "C4", "custody", "record",
        "nobody else worked there in between: owner declaration, other work orders",
        Computed(computed="nobody_else"), "expected", "possible",
    ),
    _common(
        "C5", "departure", "observation",
        "the state was captured before first touch, with a time base",
        Computed(computed="captured_undisturbed"), "expected", "expected",
    ),
    _common(
        "C6", "quality", "record",
        "every instrument that carries a verdict: type, serial, calibration or check against a reference, date",
        Computed(computed="instruments_known"), "expected", "expected",
    ),
    _common(
        "C7", "standard of work", "record",
        "what the maker's document required on the prior date, cited by document number and page",
        Computed(computed="standard_cited"), "expected", "expected",
    ),
    _common(
        "C8", "extent", "observation",
        "damage lies only on the causal path; damage elsewhere is listed and explained",
        Computed(computed="damage_on_path"), "expected", "possible",
    ),
    _common(
        "C9", "cure", "measurement",
        "what was put right, one change at a time, with the same test before and after",
        Computed(computed="cured"), "expected", "possible",
    ),
    _common(
        "C10", "rivals", "record",
        "each alternative has been dealt with: excluded, or less supported",
        Computed(computed="rivals_dealt_with"), "expected", "expected",
    ),
)  # fmt: skip


_GENERAL: tuple[Alternative, ...] = (
    Alternative(
        id="G1", kind="owner_work", claim="the owner or a friend was at it",
        test="signed owner declaration taken before the findings are shown; receipts; tool marks; part date codes",
        standing_result="no owner work on these parts, parts as invoiced",
        asks=Computed(computed="nobody_else", by="owner"),
    ),
    Alternative(
        id="G2", kind="pre_existing", claim="it was like that when it came to the prior repairer",
        test="complaint text and scan of the prior visit, photos, freeze-frame distance, dirt and corrosion inside the "
        "wound or under the part",
        standing_result="absent before, or wound fresh",
        asks=Computed(computed="absent_before"),
    ),
    Alternative(
        id="G3", kind="later_repairer", claim="the present shop or a later one did it",
        test="undisturbed-state record with a time base earlier than any labour line; scan before any write",
        standing_result="state present at arrival",
        asks=Computed(computed="captured_undisturbed", by="later_repairer"),
    ),
    Alternative(
        id="G4", kind="wear", claim="it was due anyway",
        test="age, distance, part life, condition of twin parts on the same vehicle",
        standing_result="twins sound, part recent, failure local to the departure",
    ),
    Alternative(
        id="G5", kind="wrong_part", claim="the part supplied was at fault",
        test="part number against catalogue, supplier's strip report; a part that the prior shop chose or supplied "
        "remains a departure of that shop toward the owner",
        standing_result="part right, or supplied by the prior shop",
    ),
    Alternative(
        id="G6", kind="unrelated", claim="coincidence",
        test="the exclusion findings of the entry, and the cure test with one change at a time",
        standing_result="rival function in order",
        asks=AllOf.model_validate({"all": [{"computed": "exclusions_hold"}, {"computed": "cured"}]}),
    ),
    Alternative(
        id="G7", kind="abuse", claim="driven hard, or driven on after the lamp",
        test="data that the modules stored, how soon it was stopped after the lamp came on, loads carried, tyres; bears on the share "
        "of fault and on keeping the damage small more often than on the cause",
        standing_result="within normal use",
        asks=Document.model_validate(
            {"document": "owner_declaration", "says": ["driven_on"], "is": ["none"]}
        ),
    ),
    Alternative(
        id="G8", kind="water", claim="flood or wash",
        test="tide marks, deposits, laboratory",
        standing_result="dry, or path made by prior work",
    ),
)  # fmt: skip
# Those that an observation on the mechanism's own components settles: aspect, and the words that leave it standing.
_SEEN: dict[str, tuple[str, tuple[str, ...]]] = {
    "G4": ("twin_state", ("sound",)),
    "G5": ("part_fitness", ("right", "wrong-from-prior-shop")),
    "G8": ("deposits", ("dry",)),
}


@cache
def general_alternatives(components: tuple[str, ...]) -> tuple[Alternative, ...]:
    """G1 to G8, asked of the components of the mechanism at hand."""

    def asked(name: str) -> Observe:
        aspect, words = _SEEN[name]
        return Observe.model_validate({"observe": aspect, "of": components, "lasting": True, "is": words})

    return tuple(a.model_copy(update={"asks": asked(a.id)}) if a.id in _SEEN else a for a in _GENERAL)


RIVAL_WORDS: dict[str, str] = {
    "owner_work": "owner's own work", "pre_existing": "pre-existing", "later_repairer": "later repairer",
    "wear": "wear or age", "wrong_part": "wrong or defective part", "unrelated": "unrelated failure",
    "abuse": "abuse or overload", "water": "water",
}  # fmt: skip
