"""The cover, and what a reader of a claim asks for first."""

from __future__ import annotations

from evidence.model.base import shorten
from evidence.model.dossier import Recorded
from evidence.model.examination import CodeScan, Measurement
from evidence.model.exhibit import Exhibit
from evidence.model.loss import LossItem
from evidence.model.people import Correspondence, CustodyTransfer, Opinion, OwnerDeclaration, Party
from evidence.model.repair import WorkOrder
from evidence.model.vehicle import OdometerReading, Vehicle
from evidence.report.blocks import Cover
from evidence.report.given import ReportInput
from evidence.report.phrasing import first_up

DEMONSTRATION = "Demonstration data: persons, firms, vehicles and figures are invented"


def cover(given: ReportInput) -> Cover:
    """Title, vehicle, parties, number of exhibits, date."""
    dossier = given.dossier
    exhibits = dossier.of(Exhibit)
    physical = sum(e.value.form == "physical" for e in exhibits)
    withdrawn = len(dossier.all_of(Exhibit)) - len(exhibits)
    vehicles = [v.value for v in dossier.of(Vehicle)]
    facts: list[tuple[str, str]] = [("Vehicle", v.summary()) for v in vehicles] or [("Vehicle", "none recorded")]
    by_role: dict[str, list[str]] = {}
    for party in dossier.of(Party):
        for role in party.value.roles or ("role not stated",):
            by_role.setdefault(first_up(role), []).append(party.value.full_name)
    facts += [(role, shorten(", ".join(names), 160)) for role, names in by_role.items()]
    counted = f"{len(exhibits)}: {len(exhibits) - physical} files, {physical} physical" if exhibits else "none"
    facts.append(("Exhibits", counted + (f"; {withdrawn} withdrawn" if withdrawn else "")))
    facts.append(("Record", f"{dossier.size} entries in the ledger"))
    if hidden := _hidden(given):
        facts.append(("Withheld", f"{hidden}; see the page 'What is withheld'"))
    facts.append(("Report date", f"{given.at:%Y-%m-%d %H:%M} UTC"))
    return Cover(
        kicker="Evidence after a repair: technical dossier",
        title=dossier.title,
        subtitle="What was done, what was found, what it supports and what is not known",
        facts=tuple(facts),
        mark=DEMONSTRATION if dossier.opening.demonstration else "",
    )


def _hidden(given: ReportInput) -> str:
    counts = (("record", sum(given.withheld.values())), ("file", len(given.withheld_files)))
    return " and ".join(f"{n} {what}{'s' * (n != 1)}" for what, n in counts if n)


def absent(given: ReportInput) -> list[str]:
    """What a reader of a claim asks for first and the record does not hold yet."""
    dossier = given.dossier
    undisturbed = [e for e in dossier.of(Exhibit) if e.value.state == "undisturbed"]
    asked: list[tuple[str, bool]] = [
        ("identity of the vehicle", bool(dossier.of(Vehicle))),
        ("odometer at the prior work", any(o.value.odometer_at_close for o in _of_prior(given))),
        ("odometer now", bool(dossier.of(OdometerReading))),
        ("the complaint in the customer's own words", bool(dossier.opening.complaint)),
        ("the prior work order", bool(_of_prior(given))),
        ("the owner's declaration, taken before the findings are shown", bool(dossier.of(OwnerDeclaration))),
        ("pictures of the undisturbed state", bool(undisturbed)),
        ("a read-out of all modules before clearing", any(s.value.before_clearing for s in dossier.of(CodeScan))),
        ("measurements with instrument and time", any(m.value.instrument and m.value.time for m in dossier.of(Measurement))),
        ("notice to the prior repairer, with proof", any(c.value.about == "notice" for c in dossier.of(Correspondence))),
        ("an offer to inspect", any(c.value.about == "inspection_opportunity" for c in dossier.of(Correspondence))),
        ("custody of the vehicle and the retained parts", bool(dossier.of(CustodyTransfer))),
        ("loss lines with receipts", any(item.value.exhibits for item in dossier.of(LossItem))),
        ("a signed opinion", bool(dossier.of(Opinion))),
    ]  # fmt: skip
    return [what for what, there in asked if not there]


def _of_prior(given: ReportInput) -> list[Recorded[WorkOrder]]:
    return [o for o in given.dossier.of(WorkOrder) if o.value.side == "prior_repairer"]
