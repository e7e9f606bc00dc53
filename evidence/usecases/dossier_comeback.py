"""What a dossier says for the register. Nothing is inferred: what is not recorded is left empty, and a mechanism is named only
where the findings support it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal

from evidence.claim.course import course
from evidence.claim.loss.statement import loss_statement
from evidence.claim.marks import day_of
from evidence.errors import MixedCurrency
from evidence.model.dossier import Dossier
from evidence.model.happening import Event
from evidence.model.people import CallNote, Outcome, Party
from evidence.model.quantity import Money
from evidence.model.repair import WorkOrder
from evidence.model.vehicle import OdometerReading, Vehicle
from evidence.register.lines import OWN, Comeback, Ended
from evidence.register.mapping import plate
from evidence.rules.assessment import Assessment, Candidate

_PAYMENTS = ("paid", "part_paid", "settled")  # a judgment is a sum awarded, not yet paid


def comeback_of(held: Dossier, judged: Assessment, own_firm: str) -> Comeback | None:
    """The comeback that a dossier is about; ``None`` where it has no prior work order.

    Of several prior orders it is the last of those that call up the supported mechanism, else the last before the return.
    """
    came, came_km = _return(held)
    order = _prior_order(held, _supported(judged), came)
    if order is None:
        return None
    firm, technician = _whose(held, order, own_firm)
    cost, currency = _claimed(held, judged)
    mechanism = _supported(judged)
    vehicle = next((v.value for v in held.of(Vehicle)), None)
    ended, recovered = _end(held, currency)
    left = order.odometer_at_close
    return Comeback(
        f"dossier {held.opening.name or held.ledger[:8]}", firm=firm, number=order.number or "",
        vehicle=plate((vehicle.plate or vehicle.vin or "") if vehicle else ""), technician=technician,
        operations=tuple(dict.fromkeys(o.operation or o.text for o in order.operations)),
        origins=tuple(dict.fromkeys(p.origin for p in order.parts if p.origin)),
        worked=_day(order), back=came.toordinal() if came else None,
        worked_km=int(left) if left is not None else None, back_km=came_km,
        mechanism=mechanism.mechanism if mechanism else "", cost=cost, currency=currency, recovered=recovered, ended=ended,
    )  # fmt: skip


def _supported(judged: Assessment) -> Candidate | None:
    """The leading candidate, where its findings speak for it at all."""
    leading = judged.candidates[0] if judged.candidates else None
    return leading if leading and leading.weight.side == "mechanism" else None


def _day(order: WorkOrder) -> int | None:
    ended = order.closed or order.opened
    return day_of(ended).toordinal() if ended else None


def _prior_order(held: Dossier, mechanism: Candidate | None, came: dt.date | None) -> WorkOrder | None:
    last = came.toordinal() if came else dt.date.max.toordinal()
    prior = [o for o in held.of(WorkOrder) if o.value.side == "prior_repairer" and (_day(o.value) or 0) <= last]
    named = {label for point in mechanism.why for label in point.records} if mechanism else set()
    calling = [o for o in prior if o.label in named]
    chosen = max(calling or prior, key=lambda o: _day(o.value) or 0, default=None)
    return chosen.value if chosen else None


def _whose(held: Dossier, order: WorkOrder, own_firm: str) -> tuple[str, str]:
    found = held.get(order.repairer)
    party = found.value if found and isinstance(found.value, Party) else None
    if party is None:
        return "not stated", ""
    firm = party.firm or party.full_name
    if own_firm and _plain(firm) == _plain(own_firm):
        return OWN, party.full_name if party.firm else ""
    return firm, party.full_name if party.firm else ""


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())


def _return(held: Dossier) -> tuple[dt.date | None, int | None]:
    """When the vehicle came back, and at what distance: the present shop's order, else the call, else the onset."""
    present = [o.value for o in held.of(WorkOrder) if o.value.side == "present_repairer" and o.value.opened]
    first = min(present, key=lambda o: o.opened.earliest if o.opened else "", default=None)
    km = int(first.odometer_in.km()) if first and first.odometer_in else _first_reading(held)
    if first and first.opened:
        return day_of(first.opened), km
    calls = [c.value.time for c in held.of(CallNote)]
    onsets = [e.value.time for e in held.of(Event) if e.value.what in ("onset", "first_shown_bad")]
    for times in (calls, onsets):
        if times:
            return day_of(min(times, key=lambda t: t.earliest)), km
    return None, km


def _first_reading(held: Dossier) -> int | None:
    seen = [r.value for r in held.of(OdometerReading) if r.value.basis in ("seen", "photographed", "read_from_module")]
    first = min(seen, key=lambda r: r.time.earliest, default=None)
    return int(first.reading.km()) if first else None


def _claimed(held: Dossier, assessment: Assessment) -> tuple[Decimal | None, str]:
    """What is claimed by the loss statement, before payments; nothing where its lines are in more than one currency."""
    try:
        found = loss_statement(held, assessment)
    except MixedCurrency:
        return None, ""
    return (found.claimed.total + found.claimed.payments, found.currency) if found else (None, "")


def _amount(money: Money) -> Decimal:
    return Decimal(money.amount)


def _end(held: Dossier, currency: str) -> tuple[Ended, Decimal | None]:
    """The last outcome recorded, and what was paid in the currency of the claim.

    Where no outcome says it, a recorded step does: paid, or closed. A judgment ends nothing until then.
    """
    outcomes = sorted((o.value for o in held.of(Outcome)), key=lambda o: o.time.earliest)
    paid = _sum(o.amount for o in outcomes if o.result in _PAYMENTS and o.amount and o.amount.currency == currency)
    ended: Ended = outcomes[-1].result if outcomes else ""
    if ended in ("", "judgment"):
        steps = course(held)
        ended = "paid" if steps.stage("paid").steps else "closed" if steps.closed else ended
    return ended, paid


def _sum(amounts: Iterable[Money | None]) -> Decimal | None:
    found = [_amount(a) for a in amounts if a]
    return sum(found, Decimal()) if found else None
