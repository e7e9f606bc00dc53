"""Latency by the calendar and by the odometer."""

from decimal import Decimal

from evidence.model.repair import WorkOrder
from evidence.timeline.order import between, inside, milestone

from build import coil_case


def latency(case):
    dossier = case.dossier()
    prior = next(o for o in dossier.of(WorkOrder) if o.value.side == "prior_repairer")
    start, end = milestone(dossier, "prior_work_closed", prior), milestone(dossier, "onset", prior)
    return between(dossier, start, end)


def test_dates_are_a_day_wide():
    got = latency(coil_case())  # closed on 2 May, onset on 4 May at 07:00 (a minute wide)
    assert got.days == (Decimal("1.29"), Decimal("2.29"))
    assert got.km == (40, 40)
    assert got.records == ("Work order 1", "Event 1")


def test_a_month_is_a_month_wide():
    got = latency(coil_case(closed="2026-04", opened="2026-04"))
    assert got.days[1] - got.days[0] >= 30


def test_same_day_leaves_the_order_open():
    got = latency(coil_case().change("event-1", time="2026-05-02"))
    assert got.days == (Decimal("-1.00"), Decimal("1.00"))
    assert inside(got.days, Decimal(0), Decimal(30)) == "undecided"


def test_miles_are_brought_to_kilometres():  # NIST SP 811: 62.5 miles are 100.584 km exactly
    case = coil_case(odometer_in="37890.0 mi", odometer_out="37900.0 mi")
    got = latency(case.change("event-1", odometer="37962.5 mi"))
    assert got.km == (Decimal("100.584"), Decimal("100.584"))


def test_the_readings_on_either_side_bound_an_onset_without_one():
    case = coil_case().change("event-1", odometer=None)
    assert latency(case).km is None
    case.record("odometer_reading", reading="61020 km", time="2026-05-03 12:00", basis="photographed")
    case.record("odometer_reading", reading="61050 km", time="2026-05-05 09:00", basis="seen")
    assert latency(case).km == (16, 46)
    assert latency(case).records[-2:] == ("Odometer reading 1", "Odometer reading 2")


def test_inside_outside_and_across():
    window = Decimal(0), Decimal(30)
    assert inside((Decimal(1), Decimal(2)), *window) == "met"
    assert inside((Decimal(31), Decimal(40)), *window) == "not met"
    assert inside((Decimal(29), Decimal(31)), *window) == "undecided"
    assert inside(None, *window) == "not measured"
