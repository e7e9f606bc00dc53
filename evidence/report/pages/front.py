"""Cover and one-page summary."""

from __future__ import annotations

import re

from evidence.model.base import shorten
from evidence.model.dossier import Recorded
from evidence.model.examination import CodeScan, Measurement
from evidence.model.exhibit import Exhibit
from evidence.model.happening import Event, LossItem
from evidence.model.kinds import enumerated
from evidence.model.people import Correspondence, CustodyTransfer, Opinion, OwnerDeclaration, Party
from evidence.model.repair import WorkOrder
from evidence.model.vehicle import OdometerReading, Vehicle
from evidence.report.blocks import Block, Bullets, Cover, Para, Section
from evidence.report.given import ReportInput
from evidence.report.phrasing import capital, first_up, joined, sentence, whole_sentences
from evidence.rules.assessment import Candidate, FindingResult

NOT_MEANT = (
    "This says how well what was found fits one explanation rather than another. It is not the probability that "
    "anybody is to blame, and it decides nothing about liability."
)
DEMONSTRATION = "Demonstration data: persons, firms, vehicles and figures are invented"
_SHORT = 230
_MOST = 4
_MOST_STEPS = 6


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
    facts.append(("Report date", f"{given.at:%Y-%m-%d %H:%M} UTC"))
    return Cover(
        kicker="Evidence after a repair: technical dossier",
        title=dossier.title,
        subtitle="What was done, what was found, what it supports and what is not known",
        facts=tuple(facts),
        mark=DEMONSTRATION if dossier.opening.demonstration else "",
    )


def summary(given: ReportInput) -> Section:
    """One page in plain words."""
    blocks: list[Block] = [*_happened(given)]
    candidates = given.assessment.candidates
    if not candidates:
        blocks.append(
            Para(
                "No mechanism of the installed rules is called up by the earlier work or the complaint. The record "
                "stands as it is; nothing can be said from it about a cause.",
                head="What it supports.",
            )
        )
        if gaps := absent(given):
            rest = (f"{len(gaps) - 8} more under What is not known.",) if len(gaps) > 8 else ()
            blocks += [Para("", head="What is missing."), Bullets((*(sentence(g) for g in gaps[:8]), *rest))]
        return Section("Summary", tuple(blocks), new_page=True)
    leading = candidates[0]
    blocks += _found(leading)
    blocks += _supports(leading)
    blocks += _against(leading)
    blocks += _before_touch(leading) or _missing(leading)
    if len(candidates) > 1:
        others = "; ".join(f"{c.title} ({c.weight.band})" for c in candidates[1:5])
        more = f"; and {len(candidates) - 5} more" if len(candidates) > 5 else ""
        blocks.append(Para(f"{others}{more}. Each stands under Findings.", head="Also examined.", tone="small"))
    return Section("Summary", tuple(blocks), new_page=True)


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


def _happened(given: ReportInput) -> list[Block]:
    dossier = given.dossier
    parts: list[str] = []
    for order in [o for o in dossier.of(WorkOrder) if o.value.side != "present_repairer"][:3]:
        work = "; ".join(o.text for o in order.value.operations) or "work not itemised"
        date = order.value.closed or order.value.opened
        on = f"On {date.given}" if date else "At a time not stated"
        whose = " (the owner's own work)" if order.value.side == "owner" else ""
        parts.append(
            sentence(f"{on}, {dossier.party(order.value.repairer)}{whose}: {shorten(work, 140)} ({order.label})")
        )
    for event in [e for e in dossier.of(Event) if e.value.what == "onset"][:1]:
        said = f"First sign, {event.value.time.given}: {shorten(event.value.text, 160)} ({event.label})"
        parts.append(sentence(said))
    if complaint := dossier.opening.complaint:
        parts.append(f"The complaint in the customer's words: “{shorten(complaint, _SHORT)}”")
    return [Para(" ".join(parts) or "The record does not say yet.", head="What happened.")]


def _found(candidate: Candidate) -> list[Block]:
    met = [f for f in candidate.findings if f.answer == "met"]
    met.sort(key=lambda f: (not f.weighs, "DLEX".find(f.limb) % 5))
    head = f"What was found. The question put to the record: {candidate.title}."
    if not met:
        return [Para("Nothing that this explanation asks for has been shown yet.", head=head)]
    more = (f"{len(met) - _MOST} more under Findings.",) if len(met) > _MOST else ()
    return [Para("", head=head), Bullets((*map(_said, met[:_MOST]), *more))]


def _said(finding: FindingResult) -> str:
    carried = f"({shorten(enumerated(finding.records), 120)})" if finding.records else None
    return joined([capital(shorten(finding.statement, 170)), carried], " ")


def _supports(candidate: Candidate) -> list[Block]:
    weight = candidate.weight
    table = f"ratio {weight.printed}; the table of words stands under Findings"
    said = {
        "mechanism": f"Together the findings give {weight.band} to this explanation, held against the same complaint "
        f"having arisen some other way ({table}).",
        "other": f"Together the findings speak for another cause rather than for this explanation: {weight.band} ({table}).",
        "neither": f"Together the findings support neither this explanation nor another one ({table}).",
        "none": sentence(weight.band),
    }[weight.side]
    held = [whole_sentences(sentence(_plainly(c.reason)), 190) for c in candidate.ceilings if c.holds][:2]
    why = f" It goes no further because: {' '.join(held)}" if held else ""
    return [Para(f"{said}{why} {NOT_MEANT}", head="What it supports, and how strongly.")]


def _against(candidate: Candidate) -> list[Block]:
    points = [f"Looked for and not there: {_said(f)}" for f in candidate.findings if f.answer == "not met"]
    points += [f"Not shown: {_said(f)}" for f in candidate.common if f.answer == "not met"]
    points += [f"To be resolved: {shorten(c.text, 170)}" for c in candidate.contradictions if not c.resolved]
    for other in candidate.alternatives:
        if other.status == "supported" and not other.resolved:
            points.append(f"Supported by the record: {shorten(other.claim, 150)}")
        elif other.status == "open" and other.guarded:
            points.append(f"Still open: {other.kind_words}: {shorten(other.claim, 150)}")
    if not points:
        calm = "Nothing recorded so far. That is not the same as everything having been looked for."
        return [Para(calm, head="What speaks against it.")]
    more = (f"{len(points) - _MOST} more in the parts that follow.",) if len(points) > _MOST else ()
    return [Para("", head="What speaks against it."), Bullets((*points[:_MOST], *more))]


def _missing(candidate: Candidate) -> list[Block]:
    points = [f"{first_up(e.name)}: {shorten(_plainly(m), 150)}" for e in candidate.elements for m in e.missing]
    points += [f"Next: {shorten(p.what, 150)}" for p in candidate.plan[:2]]
    if not points:
        return [Para("All five elements are shown and no capture step is open.", head="What is missing.")]
    more = (f"{len(points) - _MOST} more under What is not known.",) if len(points) > _MOST else ()
    return [Para("", head="What is missing."), Bullets((*points[:_MOST], *more))]


def _before_touch(candidate: Candidate) -> list[Block]:
    """Where something can still be had only now, that is the most useful thing an owner and a shop can read."""
    if not any(step.undisturbed for step in candidate.plan):
        return []
    steps = [step for step in candidate.plan if not step.alters][:_MOST_STEPS]
    caution = next((text for _code, text in candidate.cautions), "")
    blocks: list[Block] = [
        Para("", head="What to capture next, before anything is touched."),
        Bullets(tuple(sentence(shorten(step.what, 150)) for step in steps)),
    ]
    if caution:
        blocks.append(
            Para(f"{sentence(caution)} The maker's procedure, local codes and licensed practice rule.", head="Caution.")
        )
    return blocks


def _plainly(missing: str) -> str:
    """Without the numbers of findings and alternatives, which mean nothing to an owner."""
    text = re.sub(r"^(?:\w+, )?[A-Z]+\d+ \(([^)]*)\): ", r"\1: ", missing)
    text = re.sub(r"^[A-Z]+\d+ is (open|supported): ", r"\1: ", text)
    return re.sub(r"\b[AG]\d+ \(([^)]*)\)", r"“\1”", text).replace("by its own test", "by the record")
