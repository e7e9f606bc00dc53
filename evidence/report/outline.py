"""What the report says, in the order in which it says it: from values to a tree of blocks. No file is opened here."""

from __future__ import annotations

from evidence.model.people import Party
from evidence.report.blocks import Facts, Plate, Report, Section, Table
from evidence.report.given import ReportInput
from evidence.report.long_texts import moved_out
from evidence.report.pages import (
    clocks,
    course,
    custody,
    dealings,
    exhibits,
    findings,
    front,
    history,
    integrity,
    loss,
    matter,
    measurements,
    mistakes,
    next_steps,
    photo_signs,
    proof,
    reach,
    readings,
    reviews,
    summary,
    traces,
    weight,
)
from evidence.report.review_report import review_outline


def outline(given: ReportInput) -> Report:
    """The whole report as values; the same input gives an equal tree."""
    if given.review:
        return review_outline(given, given.review)
    plan = next_steps.plan(given)
    first = next_steps.untouched(given)
    parts: tuple[Section | None, ...] = (
        summary.summary(given),
        plan if first else None,
        integrity.withheld(given),
        history.timeline(given),
        matter.people_and_vehicle(given),
        history.work_orders(given),
        findings.findings(given),
        reach.reach(given),
        measurements.measurements(given),
        readings.observations(given),
        history.interventions(given),
        weight.experiments(given),
        exhibits.listing(given),
        exhibits.plates(given),
        photo_signs.signs(given),
        traces.waveforms(given),
        findings.alternatives(given),
        next_steps.unknowns(given),
        None if first else plan,
        course.course(given),
        loss.loss(given),
        mistakes.mistakes(given),
        dealings.statements(given),
        reviews.reviews(given),
        custody.custody(given),
        clocks.clocks(given),
        proof.corrections(given),
        exhibits.manifest(given),
        integrity.integrity(given),
        proof.cautions(given),
        proof.declaration(given),
    )
    sections = tuple(part for part in parts if part is not None)
    sections = moved_out(sections[:-1]) + sections[-1:]  # the page to sign stays the last
    shops = [p.value for p in given.dossier.of(Party) if "present_repairer" in p.value.roles]
    return Report(
        cover=front.cover(given),
        sections=sections,
        keys=_keys(sections),
        author=(shops[0].firm or shops[0].full_name) if shops else "not stated",
        at=given.at,
        zone_note=f"; other times in {given.dossier.opening.zone} unless said" if given.dossier.opening.zone else "",
    )


def _keys(sections: tuple[Section, ...]) -> frozenset[str]:
    """Labels of records that have their place in the report, so that a link can lead there."""
    found: set[str] = set()
    for section in sections:
        for block in section.blocks:
            if isinstance(block, Table):
                found.update(row.key for row in block.rows if row.key)
            elif isinstance(block, (Facts, Plate)) and block.key:
                found.add(block.key)
    return frozenset(found)
