"""What was seen and read; and the waveforms. Measurements have a page of their own."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from evidence.model.base import say
from evidence.model.examination import (
    ActuatorTest,
    CodeScan,
    ModuleRead,
    Observation,
    Taken,
)
from evidence.model.vehicle import ModuleIdentity
from evidence.report.blocks import Block, Column, Heading, Para, Row, Section, Table
from evidence.report.given import ReportInput
from evidence.report.phrasing import NOT_STATED, first_up, joined, or_not_stated
from evidence.report.tables import Cell, records
from evidence.report.words import STATES, WHICH, labels, title, when


def circumstances(given: ReportInput, taken: Taken) -> str:
    """State, conditions and quantities that held."""
    held = ", ".join(f"{say(name)} {reading.words()}" for name, reading in taken.circumstances.items())
    after = f"after {given.dossier.label(taken.after)}" if taken.after else None
    state = STATES[taken.state] if taken.state else None if after else "state not stated"
    return joined([state, after, ", ".join(map(say, taken.conditions)) or None, held or None])


def taken_words(given: ReportInput, taken: Taken) -> str:
    """When, who, instrument, exhibits, note."""
    dossier = given.dossier
    instrument = dossier.label(taken.instrument) if taken.instrument else "no instrument named"
    who = joined([dossier.party(taken.by), instrument, labels(dossier, taken.exhibits), taken.note])
    return joined([when(dossier, taken.time), who], "\n")


def which_words(taken: Taken) -> str:
    """Which part it is of, where that is said."""
    return WHICH.get(taken.which or "", say(taken.which or ""))


def observations(given: ReportInput) -> Section:
    """Things seen, codes read, module identities, actuator tests."""
    dossier = given.dossier
    blocks: list[Block] = []
    blocks += records(
        dossier,
        Observation,
        [
            (Column("Where", 1.8), lambda r: joined([say(r.value.of + r.value.where()), which_words(r.value)], ", ")),
            (Column("Found", 3.4), lambda r: joined([f"{first_up(r.value.aspect)}: {say(r.value.seen)}", r.value.text], "\n")),
            *_taken_columns(given),
        ],
        heading="Observations",
        none="No observation recorded.",
    )  # fmt: skip
    blocks += _scans(given)
    blocks += records(
        dossier,
        ModuleIdentity,
        [
            (Column("Module", 1.8), lambda r: joined(
                [say(r.value.module), WHICH.get(r.value.which or "", say(r.value.which or ""))], ", ")),
            (Column("Part number, serial", 1.9), lambda r: joined([or_not_stated(r.value.part_number), r.value.serial], "\n")),
            (Column("Software", 1.4), lambda r: or_not_stated(r.value.software)),
            (Column("Coding", 1.1), lambda r: say(r.value.coding) if r.value.coding else NOT_STATED),
            (Column("VIN stored", 1.9), lambda r: or_not_stated(r.value.vin_stored)),
            (Column("Built; read when, by, exhibits", 2.3), lambda r: joined(
                [when(dossier, r.value.build_date), when(dossier, r.value.time), dossier.party(r.value.by),
                 labels(dossier, r.value.exhibits)], "\n")),
        ],
        heading="Module identities",
    )  # fmt: skip
    blocks += records(
        dossier,
        ActuatorTest,
        [
            (Column("Part", 1.8), lambda r: joined([say(r.value.of + r.value.where()), which_words(r.value)], ", ")),
            (Column("Commanded and answer", 3.4), lambda r: joined(
                [f"{r.value.commanded}: {say(r.value.response)}", r.value.text], "\n")),
            *_taken_columns(given),
        ],
        heading="Actuator tests",
    )  # fmt: skip
    return Section("Observations and read-outs", tuple(blocks))


def _taken_columns(given: ReportInput) -> Sequence[tuple[Column, Cell[Any]]]:
    return (
        (Column("State and conditions", 2.1), lambda r: circumstances(given, r.value)),
        (Column("When, who, instrument", 2.5), lambda r: taken_words(given, r.value)),
    )


def _scans(given: ReportInput) -> list[Block]:
    scans = given.dossier.all_of(CodeScan)
    if not scans:
        return [Heading("Trouble codes"), Para("No read-out of trouble codes recorded.", tone="muted")]
    columns = (Column("No.", 1.35), Column("Modules", 2.6), Column("Answer and codes", 2.6), Column("State and conditions", 2.1),
               Column("When, who, instrument", 2.1))  # fmt: skip
    rows: list[Row] = []
    for scan in scans:
        s = scan.value
        scope = {
            True: "all modules read",
            False: "not all modules read",
            None: "whether all modules were read is not stated",
        }
        head = joined(["before clearing" if s.before_clearing else "after clearing", scope[s.all_modules],
                       f"{s.distance_since_cleared.words()} since cleared" if s.distance_since_cleared else None])  # fmt: skip
        answers: dict[str, list[str]] = {}  # modules of the same answer stand together
        for module in s.modules:
            answers.setdefault(_codes(module), []).append(say(module.module))
        for number, (answer, modules) in enumerate(answers.items()):
            first = number == 0
            rows.append(Row((title(scan) if first else "", ", ".join(modules), answer,
                             joined([head, circumstances(given, s)], "\n") if first else "",
                             taken_words(given, s) if first else ""),
                            key=scan.label if first else "", faded=scan.withdrawn))  # fmt: skip
    return [Heading("Trouble codes"), Table(columns, tuple(rows))]


def _codes(module: ModuleRead) -> str:
    if module.result == "no_communication":
        return "no communication"
    if module.result == "none_stored":
        return "answered: none stored"
    lines = []
    for code in module.codes:
        status = f" ({', '.join(map(say, code.status))})" if code.status else ""
        lines.append(joined([code.code + status, code.text], ": "))
    return "\n".join(lines)
