"""What was measured, seen and read, with which instrument; and the waveforms."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from evidence.measure.uncertainty import Value, of_measurement, two_digits
from evidence.measure.verdicts import RULE, judge_limit
from evidence.model.base import say
from evidence.model.dossier import Recorded
from evidence.model.examination import (
    Accuracy,
    ActuatorTest,
    CodeScan,
    Instrument,
    Measurement,
    ModuleRead,
    Observation,
    Taken,
)
from evidence.model.kinds import enumerated
from evidence.model.quantity import Limit
from evidence.model.vehicle import ModuleIdentity
from evidence.report.blocks import Block, Bullets, Column, Heading, Para, Row, Section, Table
from evidence.report.given import ReportInput
from evidence.report.phrasing import NOT_STATED, first_up, joined, or_not_stated
from evidence.report.tables import Cell, records
from evidence.report.words import STATES, WHICH, labels, title, when


def measurements(given: ReportInput) -> Section:
    """Numbers with their conditions, instrument, limit, uncertainty and verdict; then the instruments."""
    dossier = given.dossier

    def value_of(r: Recorded[Measurement]) -> Value:
        instrument = dossier.get(r.value.instrument or "")
        return of_measurement(
            r.value, instrument.value if instrument and isinstance(instrument.value, Instrument) else None
        )

    def verdict(r: Recorded[Measurement]) -> str:
        if r.value.limit is None:
            return "–"
        return first_up(judge_limit(value_of(r), r.value.limit).verdict)

    def reading(r: Recorded[Measurement]) -> str:
        value = value_of(r)
        spread = f"± {two_digits(value.expanded)} {value.unit}" if value.standard and not value.beyond else None
        repeats = f"repeats {', '.join(r.value.repeats)}" if r.value.repeats else None
        return joined([r.value.reading_words(), spread, repeats], "\n")

    blocks: list[Block] = [
        Para(f"Rule for every verdict: {RULE}. Values are printed as read; uncertainties are expanded, k = 2.", tone="small")
    ]  # fmt: skip
    blocks += records(
        dossier,
        Measurement,
        [
            (Column("Quantity and points", 1.7), lambda r: f"{first_up(r.value.quantity)}, {say(r.value.point())}"
                + (f" ({_which(r.value)})" if r.value.which else "")),
            (Column("Value and uncertainty", 1.05, "right"), reading),
            (Column("Limit and its source", 1.4), lambda r: limit_words(r.value.limit)),
            (Column("Verdict", 0.9), verdict),
            (Column("Conditions", 2.0), lambda r: circumstances(given, r.value)),
            (Column("When, who, instrument", 1.85), lambda r: taken_words(given, r.value)),
        ],
        none="No measurement recorded.",
    )  # fmt: skip
    bases: dict[str, list[str]] = {}
    for r in dossier.of(Measurement):
        bases.setdefault(value_of(r).basis, []).append(r.label)
    if bases:
        blocks.append(Heading("Where the uncertainties come from"))
        blocks.append(Bullets(tuple(f"{first_up(basis)}: {enumerated(found)}" for basis, found in bases.items())))
    blocks += records(
        dossier,
        Instrument,
        [
            (Column("What", 2.2), lambda r: joined([r.value.description, r.value.software], "\n")),
            (Column("Serial", 1.2), lambda r: or_not_stated(r.value.serial)),
            (Column("Accuracy", 2.6), lambda r: "\n".join(map(_accuracy, r.value.accuracies)) or NOT_STATED),
            (Column("Calibrated, due", 1.9), lambda r: joined([when(dossier, r.value.calibrated),
                f"due {when(dossier, r.value.calibration_due)}", r.value.calibration_document], "\n")),
            (Column("Checked against, owner", 1.9), lambda r: joined(
                [or_not_stated(r.value.checked_against), dossier.party(r.value.owner), labels(dossier, r.value.exhibits)], "\n")),
        ],
        heading="Instruments",
        none="No instrument recorded: a reading without one carries no weight.",
    )  # fmt: skip
    return Section("Measurements", tuple(blocks))


def limit_words(limit: Limit | None) -> str:
    """The limit, its source and the document."""
    if limit is None:
        return "none given"
    sources = {
        "maker": "maker",
        "standard": "standard",
        "common_practice": "common practice, no source",
        "prior_document": "prior document",
    }
    source = joined([sources[limit.source] if limit.source else "source not stated", limit.document])
    return joined([limit.words(), source], "\n")


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


def _which(taken: Taken) -> str:
    return WHICH.get(taken.which or "", say(taken.which or ""))


def _accuracy(a: Accuracy) -> str:
    parts = [f"{a.percent} % of reading" if a.percent else None, f"{a.counts} counts" if a.counts else None,
             f"{a.fixed} {a.unit}" if a.fixed else None]  # fmt: skip
    span = joined([f"from {a.low}" if a.low else None, f"to {a.high}" if a.high else None], " ")
    resolution = f", resolution {a.resolution} {a.unit}" if a.resolution else ""
    return (
        f"{first_up(a.quantity)} {span} {a.unit}: ± ({' + '.join(p for p in parts if p) or 'not stated'}){resolution}"
    )


def observations(given: ReportInput) -> Section:
    """Things seen, codes read, module identities, actuator tests."""
    dossier = given.dossier
    blocks: list[Block] = []
    blocks += records(
        dossier,
        Observation,
        [
            (Column("Where", 1.8), lambda r: joined([say(r.value.of + r.value.where()), _which(r.value)], ", ")),
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
            (Column("Part", 1.8), lambda r: joined([say(r.value.of + r.value.where()), _which(r.value)], ", ")),
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
