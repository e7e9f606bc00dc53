"""Who and what the matter is about: vehicle, complaint, parties, distances, the maker's figures."""

from __future__ import annotations

from evidence.model.base import say
from evidence.model.people import Party
from evidence.model.vehicle import MakerFigure, OdometerReading, Vehicle
from evidence.report.blocks import Block, Column, Facts, Para, Section
from evidence.report.given import ReportInput
from evidence.report.phrasing import joined, or_not_stated
from evidence.report.tables import records
from evidence.report.words import labels, parts, when


def people_and_vehicle(given: ReportInput) -> Section:
    """Parties, vehicle, odometer, the maker's figures."""
    dossier = given.dossier
    blocks = _vehicles(given)
    opening = dossier.opening
    said = [("Complaint", or_not_stated(opening.complaint))]
    if opening.complaint_tags:
        said.append(("Kind of complaint", ", ".join(map(say, opening.complaint_tags))))
    if opening.claimed_damage:
        said.append(("Damage claimed", parts(opening.claimed_damage)))
    said.append(("Times without a zone", f"read as {opening.zone}" if opening.zone else "kept as of unknown zone"))
    blocks.append(Facts(tuple(said)))
    blocks += records(
        dossier,
        Party,
        [
            (Column("Name", 2.4), lambda r: joined([r.value.full_name, r.value.firm, r.value.legal_name], "\n")),
            (Column("Role", 1.6), lambda r: ", ".join(map(say, r.value.roles)) or "not stated"),
            (Column("Qualification", 2.2), lambda r: or_not_stated(r.value.qualification)),
            (Column("Interest in the result", 2.2), lambda r: or_not_stated(r.value.interest)),
            (Column("Address and contact", 2.4), lambda r: joined(
                [r.value.address, r.value.contact, r.value.registration], "\n") or "not stated"),
        ],
        heading="Parties",
        none="No party recorded.",
    )  # fmt: skip
    blocks += _readings(given)
    return Section("Vehicle and parties", tuple(blocks))


def _vehicles(given: ReportInput) -> list[Block]:
    dossier = given.dossier
    blocks: list[Block] = []
    for vehicle in dossier.all_of(Vehicle):
        v = vehicle.value
        counts = ", ".join(f"{say(name)}: {n}" for name, n in v.counts.items())
        rows = [
            ("Vehicle", joined([v.description, "withdrawn" if vehicle.withdrawn else None])),
            ("VIN", joined([or_not_stated(v.vin), v.vin_note])),
            ("Plate", or_not_stated(v.plate)),
            ("Engine", or_not_stated(v.engine)),
            ("Build date", when(dossier, v.build_date)),
            ("Parts counted", or_not_stated(counts)),
            ("Owner", dossier.party(v.owner)),
            ("Exhibits", labels(dossier, v.exhibits) or "none"),
        ]
        blocks.append(Facts(tuple(rows), key=vehicle.label, faded=vehicle.withdrawn))
    if not blocks:
        blocks.append(Para("No vehicle recorded.", tone="muted"))
    return blocks


def _readings(given: ReportInput) -> list[Block]:
    dossier = given.dossier
    blocks: list[Block] = []
    blocks += records(
        dossier,
        OdometerReading,
        [
            (Column("Reading", 1.4, "right"), lambda r: r.value.reading.words()),
            (Column("When", 2.6), lambda r: when(dossier, r.value.time)),
            (Column("How known", 1.6), lambda r: say(r.value.basis)),
            (Column("By", 1.8), lambda r: dossier.party(r.value.by)),
            (Column("Exhibits and note", 2.4), lambda r: joined([labels(dossier, r.value.exhibits), r.value.note])),
        ],
        heading="Odometer readings",
        none="No odometer reading of its own recorded.",
    )
    blocks += records(
        dossier,
        MakerFigure,
        [
            (Column("Figure", 2.2), lambda r: say(r.value.figure)),
            (Column("Value", 1.4, "right"), lambda r: joined(
                [r.value.value or " to ".join(r.value.between or ()), r.value.unit], " ")),
            (Column("Maker's document", 2.8), lambda r: joined([r.value.document, r.value.page])),
            (Column("Valid on", 1.6), lambda r: when(dossier, r.value.valid_on)),
            (Column("Note and exhibits", 2.2), lambda r: joined([r.value.text, labels(dossier, r.value.exhibits)])),
        ],
        heading="Maker's figures used in place of default limits",
    )  # fmt: skip
    return blocks
