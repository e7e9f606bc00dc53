"""The list of record kinds: one place that knows them all, in the order in which they are recorded and shown."""

from __future__ import annotations

import re
from collections.abc import Iterable

from evidence.model.base import Record, nearest
from evidence.model.examination import ActuatorTest, CodeScan, Instrument, Measurement, Observation, Waveform
from evidence.model.exhibit import Exhibit
from evidence.model.happening import DossierOpening, Event, LossItem
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
from evidence.model.vehicle import MakerFigure, ModuleIdentity, OdometerReading, Vehicle

# key in a dossier file -> kind. The order is the order of recording where references leave it open.
SECTIONS: dict[str, type[Record]] = {
    "parties": Party,
    "vehicles": Vehicle,
    "exhibits": Exhibit,
    "instruments": Instrument,
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
    "loss_items": LossItem,
    "opinions": Opinion,
    "bindings": Binding,
    "resolutions": Resolution,
    "outcomes": Outcome,
}

KINDS: dict[str, type[Record]] = {"dossier": DossierOpening, **{cls.kind: cls for cls in SECTIONS.values()}}


def kind_of(name: str) -> type[Record]:
    """The record type called ``name``; ``ValueError`` with the nearest known one."""
    if name not in KINDS:
        raise ValueError(f"{name!r} is not a kind of record{nearest(name, KINDS)}")
    return KINDS[name]


def label_of(kind: str, number: int) -> str:
    """``Exhibit 7``: the number that is used in letters and at a hearing."""
    label = KINDS[kind].label if kind in KINDS else kind.replace("_", " ").capitalize()
    return f"{label} {number}"


_MANY = {"Party": "Parties", "Module identity": "Module identities", "Correspondence": "Correspondence"}


def enumerated(labels: Iterable[str]) -> str:
    """Labels for a sentence, runs of three and more drawn together: ``Exhibit 7, Measurements 21 to 32``."""
    runs: list[tuple[str, int, int] | str] = []
    for label in dict.fromkeys(labels):
        match = re.fullmatch(r"(.+) (\d+)", label)
        if match is None:
            runs.append(label)
            continue
        kind, number = match[1], int(match[2])
        last = runs[-1] if runs else ""
        if isinstance(last, tuple) and last[0] == kind and number == last[2] + 1:
            runs[-1] = (kind, last[1], number)
        else:
            runs.append((kind, number, number))
    return ", ".join(run if isinstance(run, str) else _run(*run) for run in runs)


def _run(kind: str, first: int, last: int) -> str:
    if last - first < 2:
        return ", ".join(f"{kind} {n}" for n in range(first, last + 1))
    return f"{_MANY.get(kind, kind + 's')} {first} to {last}"
