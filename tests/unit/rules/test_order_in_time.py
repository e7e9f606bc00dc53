"""From the prior work to the onset: where the two times alone do not decide, the record as a whole may."""

from decimal import Decimal

from build import coil_case


def order(case):
    return case.candidate().order


def same_day(odometer):
    """Job and onset on 2 May; the order of the two stands in neither."""
    case = coil_case(opened="2026-05-02").change("event-1", time="2026-05-02", odometer=odometer)
    case.record("odometer_reading", reading="61100 km", time="2026-05-05 09:00", basis="seen")
    return case


def test_the_odometer_decides_what_one_day_leaves_open():
    found = order(same_day("61044 km"))
    assert found.answer == "met"
    assert found.days == (Decimal(0), Decimal(1))
    assert {"Work order 1", "Event 1"} <= set(found.records)


def test_without_it_the_order_stays_open():
    assert order(same_day(None)).answer == "undecided"
    assert "not decided" in order(same_day(None)).sentence


def test_a_told_order_decides_either_way():
    def told(relation):
        case = same_day(None)
        case.record("time_relation", what="event-1", relation=relation, other="work_order-1", text="t", basis="told", least="1 h")
        return order(case)

    assert told("after").days[0] == Decimal("0.04")  # an hour
    assert "Time relation 1" in told("after").records
    assert told("before").answer == "not met"
    assert told("before").sentence == "the onset lies before the prior work was finished"


def test_records_that_contradict_each_other_decide_nothing():
    case = same_day("61044 km")
    case.record("time_relation", what="event-1", relation="before", other="work_order-1", text="t", basis="told", least="1 h")
    assert order(case).answer == "undecided"
