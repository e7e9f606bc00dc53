"""Mistakes of the trade that sink a claim and can still be avoided: told where they apply to the candidates at hand."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from evidence.model.examination import CodeScan
from evidence.model.instrument import Instrument
from evidence.model.people import OwnerDeclaration
from evidence.rules.asks import Change, Measure, Read, Taken
from evidence.rules.capture_plan import Warned
from evidence.rules.holdings import Holdings
from evidence.rules.planning.asked import Asked, Judged

_MODULE_WORDS = ("module", "control unit")


def warnings(all_judged: Sequence[Judged], open_questions: Sequence[Asked], holdings: Holdings) -> tuple[Warned, ...]:
    """In the order in which they bite."""
    found = (
        *_cure_first(open_questions), *_codes(all_judged, holdings), *_two_changes(all_judged, open_questions),
        *_uncoded(all_judged, open_questions), *_core(open_questions), *_one_part_only(open_questions),
        *_instruments(open_questions, holdings), *_declaration(holdings),
    )  # fmt: skip
    return tuple(Warned(text=text, why=why) for text, why in found)


def _cure_first(open_questions: Sequence[Asked]) -> Iterator[tuple[str, str]]:
    if any(a.stage == "untouched" for a in open_questions):
        yield (
            "Put nothing right, refit, clean or exchange nothing until what can be seen only now is on record.",
            "Put right first, the departure is one person's word, and no more than moderate support can be reached.",
        )


def _codes(all_judged: Sequence[Judged], holdings: Holdings) -> Iterator[tuple[str, str]]:
    scanned = [s.value for s in holdings.dossier.of(CodeScan) if s.value.before_clearing]
    reads = any(isinstance(p, Read) for j in all_judged for p in _every_ask(j))
    if reads and not any(s.all_modules for s in scanned):
        yield (
            "Store a scan of all modules before any code is cleared, any module written to or the battery disconnected.",
            "Once cleared, time and distance of the first fault are gone.",
        )


def _two_changes(all_judged: Sequence[Judged], open_questions: Sequence[Asked]) -> Iterator[tuple[str, str]]:
    uncured = any(j.common["C9"].answer != "met" for j in all_judged)
    if uncured and any(
        isinstance(p, Change) or (isinstance(p, Taken) and p.after) for a in open_questions for p in a.parts
    ):
        yield (
            "Change one thing at a time, with the same test by the same instrument before and after it.",
            "After two changes between two tests nobody can say which of them mattered.",
        )


def _uncoded(all_judged: Sequence[Judged], open_questions: Sequence[Asked]) -> Iterator[tuple[str, str]]:
    replaced = any(isinstance(p, Taken) and p.which == "coded_replacement" for a in open_questions for p in a.parts)
    kept = any(
        word in text.lower() for j in all_judged for text in j.examined.call.mechanism.retain for word in _MODULE_WORDS
    )
    if replaced or kept:
        yield (
            "Try a substitute module only coded to this vehicle, and note part number and coding of every one that is tried.",
            "An uncoded one proves nothing and may itself stop the engine.",
        )


def _core(open_questions: Sequence[Asked]) -> Iterator[tuple[str, str]]:
    if any(j.examined.call.mechanism.retain for a in open_questions for j in a.askers):
        yield (
            "Let no removed part go back as a core, to the owner or to scrap; note when a core is due.",
            "What is gone cannot be examined by the other side, and that may be held against whoever let it go.",
        )


def _one_part_only(open_questions: Sequence[Asked]) -> Iterator[tuple[str, str]]:
    kinds = [p.over.every for a in open_questions for p in a.parts if isinstance(p, Taken) and p.over]
    if kinds:
        yield (
            f"Measure every like part and the other side too, in the same way ({_listed(kinds)}).",
            "Without a twin reading the departure may be this vehicle's normal; one part alone never answers for all.",
        )


def _instruments(open_questions: Sequence[Asked], holdings: Holdings) -> Iterator[tuple[str, str]]:
    named = [i.value for i in holdings.dossier.of(Instrument)]
    measures = any(isinstance(p, Measure) for a in open_questions for p in a.parts)
    if measures and not any(i.serial and (i.calibrated or i.checked_against) for i in named):
        yield (
            "Enter the instrument first: type, serial, and its calibration or its check against a reference.",
            "A number from an instrument without a name carries no verdict.",
        )


def _declaration(holdings: Holdings) -> Iterator[tuple[str, str]]:
    if not holdings.dossier.of(OwnerDeclaration):
        yield (
            "Take the owner's declaration before any finding is shown to him.",
            "What comes up later about his own attempts takes the trust from all the rest.",
        )


def _every_ask(judged: Judged) -> Iterator[object]:
    for finding in judged.examined.call.mechanism.findings:
        yield from finding.parts


def _listed(kinds: Iterable[str]) -> str:
    names = [k.replace("-", " ") for k in dict.fromkeys(kinds)]
    return ", ".join(names[:6]) + (" and others" if len(names) > 6 else "")
