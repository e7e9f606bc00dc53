"""Measurements: value and uncertainty, limit and its source, verdict with its rule and probability; and the instruments."""

from __future__ import annotations

from collections.abc import Iterable

from evidence.measure.figures import chance_words, cut_to, two_digits, with_unit
from evidence.measure.uncertainty import Value
from evidence.measure.verdicts import RULES
from evidence.model.base import say
from evidence.model.examination import Measurement
from evidence.model.instrument import Accuracy, Instrument
from evidence.model.kinds import enumerated
from evidence.model.quantity import DecisionRule, Limit
from evidence.report.blocks import Block, Bullets, Column, Heading, Para, Section
from evidence.report.given import ReportInput
from evidence.report.pages.readings import circumstances, taken_words, which_words
from evidence.report.phrasing import NOT_STATED, first_up, joined, or_not_stated
from evidence.report.tables import records
from evidence.report.words import labels, when
from evidence.rules.holdings import Holdings
from evidence.rules.own_limits import OwnVerdict, own_verdict, rules_used

_READ_SO = (
    "Values are printed as read. Uncertainties are expanded (k = 2 unless it is said below), about 95 %. p is the probability that "
    "the true value is as the limit says, by a normal model."
)


def measurements(given: ReportInput) -> Section:
    """Numbers with their conditions, instrument, limit, uncertainty and verdict; then the instruments."""
    dossier, holdings = given.dossier, Holdings(given.dossier)
    found = {r.subject: own_verdict(holdings, r) for r in dossier.all_of(Measurement)}
    usual, *others = rules_used(holdings, list(found.values()))
    rows = records(
        dossier,
        Measurement,
        [
            (Column("Quantity and points", 1.7), lambda r: f"{first_up(r.value.quantity)}, {say(r.value.point())}"
                + (f" ({which_words(r.value)})" if r.value.which else "")),
            (Column("Value and uncertainty", 1.05, "right"), lambda r: _reading(r.value, found[r.subject].value)),
            (Column("Limit and its source", 1.4), lambda r: limit_words(r.value.limit)),
            (Column("Verdict", 1.4), lambda r: verdict_words(found[r.subject], usual)),
            (Column("Conditions", 1.7), lambda r: circumstances(given, r.value)),
            (Column("When, who, instrument", 1.65), lambda r: taken_words(given, r.value)),
        ],
        none="No measurement recorded.",
    )  # fmt: skip
    standing = dossier.of(Measurement)
    blocks: tuple[Block, ...] = (
        Para(f"Decision rule: {RULES[usual]}.", tone="small"),
        *(Para(f"Where a verdict says so, it is by another rule: {RULES[rule]}.", tone="small") for rule in others),
        Para(_READ_SO, tone="small"),
        *rows,
        *_listed("Where the uncertainties come from", ((found[r.subject].value.basis, r.label) for r in standing)),
        *_listed("Readings that support nothing", ((found[r.subject].unusable, r.label) for r in standing)),
        *instruments(given),
    )
    return Section("Measurements", blocks)


def _reading(measurement: Measurement, value: Value) -> str:
    """As read, with repeats and their mean, and how far it can be off."""
    spread = f"± {with_unit(two_digits(value.expanded), value.unit)}" if value.standard and not value.beyond else None
    repeats = (
        f"repeats {', '.join(measurement.repeats)}\nmean {value.words().partition(' ±')[0]}"
        if measurement.repeats
        else None
    )
    return joined([measurement.reading_words(), repeats, spread], "\n")


def _listed(heading: str, told: Iterable[tuple[str, str]]) -> tuple[Block, ...]:
    """What is said of several records alike, once each."""
    together: dict[str, list[str]] = {}
    for text, label in told:
        if text:
            together.setdefault(text, []).append(label)
    if not together:
        return ()
    return (
        Heading(heading),
        Bullets(tuple(f"{text[:1].upper()}{text[1:]}: {enumerated(found)}" for text, found in together.items())),
    )


def verdict_words(found: OwnVerdict, usual: DecisionRule) -> str:
    """Verdict, its rule where that is not the ``usual`` one, probability, and what would decide it."""
    held = found.judgement
    if held is None:
        told = [found.incomparable[:1].upper() + found.incomparable[1:]] if found.incomparable else ["–"]
    else:
        needed = with_unit(f"{cut_to(held.needed, 2):f}", held.unit) if held.needed is not None else ""
        told = [
            first_up(held.verdict),
            f"({RULES[held.rule].partition(':')[0]})" if held.rule and held.rule != usual else "",
            f"p {chance_words(held.probability)}" if held.probability is not None else "",
            f"a reading good to ± {needed} would decide it" if needed else "",
        ]
    told.append("supports nothing (below)" if found.unusable else "")
    return joined([t for t in told if t], "\n")


def limit_words(limit: Limit | None) -> str:
    """The limit with its conditions, its source and the document."""
    return joined([limit.words(), limit.source_words()], "\n") if limit else "none given"


def instruments(given: ReportInput) -> tuple[Block, ...]:
    """What was measured with, how far it can be off, and when that was last shown."""
    dossier = given.dossier
    return records(
        dossier,
        Instrument,
        [
            (Column("What", 2.0), lambda r: joined([r.value.description, r.value.software], "\n")),
            (Column("Serial", 1.1), lambda r: or_not_stated(r.value.serial)),
            (Column("Accuracy", 3.0), lambda r: "\n".join(map(accuracy_words, r.value.accuracies)) or NOT_STATED),
            (Column("Calibrated, due", 1.8), lambda r: joined([when(dossier, r.value.calibrated),
                f"due {when(dossier, r.value.calibration_due)}", r.value.calibration_document], "\n")),
            (Column("Checked against, owner", 1.9), lambda r: joined(
                [or_not_stated(r.value.checked_against), dossier.party(r.value.owner), labels(dossier, r.value.exhibits)], "\n")),
        ],
        heading="Instruments",
        none="No instrument recorded: a reading without one carries no weight.",
    )  # fmt: skip


def accuracy_words(a: Accuracy) -> str:
    """One statement: function, range, limits of error, temperatures, and how long it holds."""
    terms = [
        f"{a.percent} % of reading" if a.percent else None,
        f"{a.percent_of_range} % of {a.high} {a.unit}" if a.percent_of_range else None,
        f"{a.counts} counts" if a.counts else None, f"{a.fixed} {a.unit}" if a.fixed else None,
    ]  # fmt: skip
    ends = [f"from {a.low}" if a.low else None, f"to {a.high}" if a.high else None]
    span = f" {joined(ends, ' ')} {a.unit}" if any(ends) else f" in {a.unit}"
    step = (
        f"{a.per_degree} of it"
        if a.per_degree
        else f"{a.percent_per_degree} % of reading"
        if a.percent_per_degree
        else None
    )
    return joined(
        [
            f"{first_up(a.quantity)}{span}: ± ({' + '.join(t for t in terms if t)})",
            f"resolution {a.resolution} {a.unit}" if a.resolution else None,
            f"at {a.temperature.words()}" if a.temperature else None,
            f"{step} more for each degree outside" if step else None,
            f"usable at {a.operating.words()}" if a.operating else None,
            f"for {a.valid_months} months after calibration" if a.valid_months else None,
        ],
        ", ",
    )
