"""All mistakes that a record shows, and those about which a reason is asked when a step is recorded."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from types import MappingProxyType
from typing import Final

from evidence.claim.mistakes import at_the_vehicle, in_letters, in_readings, in_the_claim
from evidence.claim.mistakes.ground import Made
from evidence.model.base import Record
from evidence.model.course import CourseStep
from evidence.model.despite import MISTAKE_CODES, MistakeCode
from evidence.model.dossier import Dossier
from evidence.model.examination import Taken
from evidence.model.people import Correspondence
from evidence.model.repair import Intervention
from evidence.model.vehicle import ModuleIdentity
from evidence.rules.assessment import Assessment

_Seen = Callable[[Dossier], Iterator[Made]]
_Judged = Callable[[Dossier, Assessment], Iterator[Made]]

# A reason is asked for these at the moment of recording. A core that goes back is asked about by the duty to keep
# (evidence.rules.keeping), with ``knowing``.
ASKED: Final[Mapping[MistakeCode, _Seen]] = MappingProxyType({
    "put_right_unseen": at_the_vehicle.put_right_unseen,
    "codes_cleared": at_the_vehicle.codes_cleared,
    "no_notice": at_the_vehicle.no_notice,
    "several_changes": at_the_vehicle.several_changes,
    "uncoded_module": at_the_vehicle.uncoded_module,
    "talk_among_evidence": in_letters.talk_among_evidence,
    "wrong_respondent": in_letters.wrong_respondent,
})  # fmt: skip

_SEEN: Final[Mapping[MistakeCode, _Seen]] = MappingProxyType({
    **ASKED,
    "part_let_go": in_the_claim.part_let_go,
    "no_time_base": in_readings.no_time_base,
    "no_odometer": in_readings.no_odometer,
    "instrument_unproven": in_readings.instrument_unproven,
    "reading_unrepeatable": in_readings.reading_unrepeatable,
    "owner_unheard": in_the_claim.owner_unheard,
    "hearsay": in_letters.hearsay,
    "harsh_words": in_letters.harsh_words,
    "picture_stripped": in_readings.picture_stripped,
    "picture_altered": in_readings.picture_altered,
    "custody_gap": in_the_claim.custody_gap,
    "driven_on": in_the_claim.driven_on,
    "cost_unexplained": in_the_claim.cost_unexplained,
    "one_lump_sum": in_the_claim.one_lump_sum,
    "interest_unstated": in_letters.interest_unstated,
    "day_missed": in_the_claim.day_missed,
    "private_data": in_letters.private_data,
})  # fmt: skip
_JUDGED: Final[Mapping[MistakeCode, _Judged]] = MappingProxyType({
    "one_part_only": in_readings.one_part_only,
    "rivals_untested": in_the_claim.rivals_untested,
})  # fmt: skip


def mistakes(dossier: Dossier, assessment: Assessment) -> tuple[Made, ...]:
    """Every mistake that the record shows, in the order of the catalogue, each where it was made."""
    return tuple(made for code in MISTAKE_CODES for made in _of(code, dossier, assessment))


def _of(code: MistakeCode, dossier: Dossier, assessment: Assessment) -> Iterable[Made]:
    return _SEEN[code](dossier) if code in _SEEN else _JUDGED[code](dossier, assessment)


def may_need_a_reason(record: Record) -> bool:
    """Whether recording it can be one of the mistakes that are asked about; what it is, :func:`asked` says."""
    if isinstance(record, Taken):
        return record.which == "uncoded_replacement"
    return isinstance(record, Intervention | ModuleIdentity | Correspondence | CourseStep)


def asked(dossier: Dossier, subjects: Collection[str]) -> tuple[Made, ...]:
    """The mistakes asked about that are made at these records, those with a reason included."""
    return tuple(made for detect in ASKED.values() for made in detect(dossier) if made.subject in subjects)
