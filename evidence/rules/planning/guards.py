"""Which mistakes of the catalogue are told beforehand: those that can still be made as the record and the plan stand."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from evidence.model.clock import ClockReference
from evidence.model.course import DueDate
from evidence.model.despite import MistakeCode
from evidence.model.examination import CodeScan
from evidence.model.exhibit import Exhibit
from evidence.model.happening import Event
from evidence.model.instrument import Instrument
from evidence.model.loss import LossItem
from evidence.model.people import Correspondence, CustodyTransfer, Opinion, OwnerDeclaration, Party
from evidence.model.vehicle import OdometerReading
from evidence.rules.asks import Change, Measure, Read, Taken
from evidence.rules.capture_plan import Warned
from evidence.rules.holdings import Holdings
from evidence.rules.mistakes import MISTAKES
from evidence.rules.planning.asked import Asked, Judged

_MODULE_WORDS = ("module", "control unit")


@dataclass(frozen=True, slots=True)
class _Standing:
    """What the candidates ask, what of it is open, and what is on record."""

    judged: Sequence[Judged]
    questions: Sequence[Asked]
    holdings: Holdings


def warnings(all_judged: Sequence[Judged], open_questions: Sequence[Asked], holdings: Holdings) -> tuple[Warned, ...]:
    """Those that still can be made, in the order in which they bite."""
    if not all_judged:
        return ()
    standing = _Standing(all_judged, open_questions, holdings)
    return tuple(_told(code, standing) for code, ahead in _AHEAD.items() if ahead(standing))


def _told(code: MistakeCode, standing: _Standing) -> Warned:
    kinds = _listed(_likes(standing)) if code == "one_part_only" else ""
    row = MISTAKES[code]
    return Warned(text=f"{row.guard[:-1]} ({kinds})." if kinds else row.guard, why=row.why)


def _untouched(s: _Standing) -> bool:
    return any(a.stage == "untouched" for a in s.questions)


def _codes(s: _Standing) -> bool:
    scanned = any(c.value.before_clearing and c.value.all_modules for c in s.holdings.dossier.of(CodeScan))
    reads = (p for j in s.judged for f in j.examined.call.mechanism.findings for p in f.parts)
    return not scanned and any(isinstance(p, Read) for p in reads)


def _two_changes(s: _Standing) -> bool:
    uncured = any(j.common["C9"].answer != "met" for j in s.judged)
    parts = (p for a in s.questions for p in a.parts)
    return uncured and any(isinstance(p, Change) or (isinstance(p, Taken) and bool(p.after)) for p in parts)


def _uncoded(s: _Standing) -> bool:
    kept = (text.lower() for j in s.judged for text in j.examined.call.mechanism.retain)
    replaced = any(isinstance(p, Taken) and p.which == "coded_replacement" for a in s.questions for p in a.parts)
    return replaced or any(word in text for text in kept for word in _MODULE_WORDS)


def _retained(s: _Standing) -> bool:
    return any(j.examined.call.mechanism.retain for a in s.questions for j in a.askers)


def _likes(s: _Standing) -> list[str]:
    return [p.over.every for a in s.questions for p in a.parts if isinstance(p, Taken) and p.over]


def _measures(s: _Standing) -> bool:
    return any(isinstance(p, Measure) for a in s.questions for p in a.parts)


def _instruments(s: _Standing) -> bool:
    named = (i.value for i in s.holdings.dossier.of(Instrument))
    return _measures(s) and not any(i.serial and (i.calibrated or i.checked_against) for i in named)


def _hearsay(s: _Standing) -> bool:
    return any(e.value.basis == "told" and not e.value.exhibits for e in s.holdings.dossier.of(Event))


def _letters(s: _Standing, *about: str) -> bool:
    return any(c.value.about in about for c in s.holdings.dossier.of(Correspondence))


def _pictures(s: _Standing) -> bool:
    return _untouched(s) or not s.holdings.dossier.of(Exhibit)


def _respondent(s: _Standing) -> bool:
    prior = (p.value for p in s.holdings.dossier.of(Party) if "prior_repairer" in p.value.roles)
    return any(not (p.legal_name and p.address) for p in prior)


def _unexplained(s: _Standing) -> bool:
    return not s.holdings.dossier.of(LossItem)


def _third(s: _Standing) -> bool:
    roles = (frozenset(p.value.roles) for p in s.holdings.dossier.of(Party))
    return any({"witness", "driver"} & had and "owner" not in had for had in roles)


def _days(s: _Standing) -> bool:
    return not any(d.value.what in ("limitation", "filing") for d in s.holdings.dossier.of(DueDate))


def _listed(kinds: Iterable[str]) -> str:
    names = [k.replace("-", " ") for k in dict.fromkeys(kinds)]
    return ", ".join(names[:6]) + (" and others" if len(names) > 6 else "")


# The order is that in which they bite. A mistake about which the record has settled everything is not told any more.
_AHEAD: Final[Mapping[MistakeCode, Callable[[_Standing], bool]]] = MappingProxyType({
    "put_right_unseen": _untouched,
    "codes_cleared": _codes,
    "no_notice": lambda s: not _letters(s, "notice", "inspection_opportunity"),
    "several_changes": _two_changes,
    "uncoded_module": _uncoded,
    "part_let_go": _retained,
    "one_part_only": lambda s: bool(_likes(s)),
    "instrument_unproven": _instruments,
    "reading_unrepeatable": _measures,
    "owner_unheard": lambda s: not s.holdings.dossier.of(OwnerDeclaration),
    "driven_on": lambda s: not s.holdings.dossier.of(OwnerDeclaration),
    "no_time_base": lambda s: not s.holdings.dossier.of(ClockReference),
    "no_odometer": lambda s: not s.holdings.dossier.of(OdometerReading),
    "picture_stripped": _pictures,
    "picture_altered": _pictures,
    "custody_gap": lambda s: not s.holdings.dossier.of(CustodyTransfer),
    "hearsay": _hearsay,
    "rivals_untested": lambda s: any(r.guarded and r.status == "open" for j in s.judged for r in j.rivals),
    "harsh_words": lambda s: not _letters(s, "demand_letter"),
    "talk_among_evidence": lambda s: not _letters(s, "demand_letter"),
    "wrong_respondent": _respondent,
    "cost_unexplained": _unexplained,
    "one_lump_sum": _unexplained,
    "interest_unstated": lambda s: not s.holdings.dossier.of(Opinion),
    "day_missed": _days,
    "private_data": _third,
})  # fmt: skip
