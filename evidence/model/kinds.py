"""The list of record kinds: one place that knows them all, in the order in which they are recorded and shown."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from itertools import groupby

from evidence.model.base import Record, nearest
from evidence.model.clock import ClockReference
from evidence.model.course import CourseStep, DueDate
from evidence.model.examination import ActuatorTest, CodeScan, Measurement, Observation
from evidence.model.exhibit import Exhibit
from evidence.model.happening import DossierOpening, Event, TimeRelation
from evidence.model.instrument import Instrument
from evidence.model.loss import LossItem
from evidence.model.people import (
    Binding,
    CallNote,
    Consent,
    Correspondence,
    CustodyTransfer,
    Opinion,
    Outcome,
    OwnerDeclaration,
    Party,
    Resolution,
)
from evidence.model.repair import Intervention, WorkOrder
from evidence.model.reviewing import ReviewAnswer, ReviewMark
from evidence.model.vehicle import MakerFigure, ModuleIdentity, OdometerReading, Vehicle
from evidence.model.waveform import Waveform

# key in a dossier file -> kind. The order is the order of recording where references leave it open.
SECTIONS: dict[str, type[Record]] = {
    "parties": Party,
    "vehicles": Vehicle,
    "exhibits": Exhibit,
    "instruments": Instrument,
    "clock_references": ClockReference,
    "maker_figures": MakerFigure,
    "call_notes": CallNote,
    "consents": Consent,
    "owner_declarations": OwnerDeclaration,
    "work_orders": WorkOrder,
    "odometer_readings": OdometerReading,
    "interventions": Intervention,
    "events": Event,
    "code_scans": CodeScan,
    "module_identities": ModuleIdentity,
    "observations": Observation,
    "measurements": Measurement,
    "actuator_tests": ActuatorTest,
    "waveforms": Waveform,
    "custody_transfers": CustodyTransfer,
    "correspondence": Correspondence,
    "time_relations": TimeRelation,
    "loss_items": LossItem,
    "opinions": Opinion,
    "course_steps": CourseStep,
    "due_dates": DueDate,
    "bindings": Binding,
    "resolutions": Resolution,
    "outcomes": Outcome,
    "review_marks": ReviewMark,
    "review_answers": ReviewAnswer,
}

KINDS: dict[str, type[Record]] = {"dossier": DossierOpening, **{cls.kind: cls for cls in SECTIONS.values()}}


def kind_of(name: str) -> type[Record]:
    """The record type called ``name``; ``ValueError`` with the nearest known one."""
    if name not in KINDS:
        raise ValueError(f"{name!r} is not a kind of record{nearest(name, KINDS)}")
    return KINDS[name]


@lru_cache(maxsize=4096)  # where thousands of matters stand names the same few again and again
def label_of(kind: str, number: int) -> str:
    """``Exhibit 7``: the number that is used in letters and at a hearing."""
    label = KINDS[kind].label if kind in KINDS else kind.replace("_", " ").capitalize()
    return f"{label} {number}"


_MANY = {"Party": "Parties", "Module identity": "Module identities", "Correspondence": "Correspondence"}


def many(label: str) -> str:
    """The plural of a record's label: ``Measurements``."""
    return _MANY.get(label, label + "s")


def enumerated(labels: Iterable[str]) -> str:
    """Labels for a sentence, each kind together, runs drawn together: ``Exhibit 7, Measurements 21 to 32``."""
    kinds: dict[str, set[int]] = {}
    others: list[str] = []
    for label in dict.fromkeys(labels):
        kind, _, number = label.rpartition(" ")
        if kind and number.isdecimal():
            kinds.setdefault(kind, set()).add(int(number))
        else:
            others.append(label)
    said: list[str] = []
    for kind, numbers in kinds.items():
        for _, group in groupby(enumerate(sorted(numbers)), lambda pair: pair[1] - pair[0]):
            row = [number for _, number in group]
            said += [f"{many(kind)} {row[0]} to {row[-1]}"] if len(row) > 2 else [f"{kind} {n}" for n in row]
    return ", ".join(said + others)
