"""Which state a record met: said only where the spans or the record itself decide it."""

from evidence.model.examination import Taken
from evidence.model.when import TimeSpan, When
from evidence.timeline.states import States, sure_before

from build import coil_case


def span(text):
    return When.model_validate({"given": text, "zone": "Europe/Lisbon"}).span


def met(case, text=None, **more):
    states = States.of(case.dossier())
    taken = Taken.model_validate({"time": {"given": text, "zone": "Europe/Lisbon"} if text else None, **more})
    return states.met_by(taken, taken.time.span if taken.time else None)


def two():
    case = coil_case()
    case.touch("battery", time="2026-05-05 09:00")
    case.touch("battery", time="2026-05-06 09:00")
    return case


def test_spans_that_do_not_overlap_decide():
    got = met(two(), "2026-05-05 12:00")
    assert (got.after, got.before, got.unclear) == ({"intervention-1"}, {"intervention-2"}, frozenset())


def test_a_date_that_covers_the_intervention_decides_nothing():
    got = met(two(), "2026-05-06")
    assert got.unclear == {"intervention-2"}
    assert got.after == {"intervention-1"}


def test_no_time_decides_nothing():
    assert met(two()).unclear == {"intervention-1", "intervention-2"}


def test_a_stated_after_decides_without_a_time_and_reaches_along_the_chain():
    got = met(two(), after="intervention-2")
    assert got.after == {"intervention-1", "intervention-2"}
    assert met(two(), after="intervention-1").before == {"intervention-2"}


def test_a_stated_after_that_the_clock_contradicts_is_told():
    assert "its time is earlier" in met(two(), "2026-05-04 09:00", after="intervention-1").contradicted


def test_a_stated_chain_orders_interventions_of_one_day():
    case = coil_case()
    case.touch("battery", time="2026-05-05")
    case.touch("battery", time="2026-05-05", after="intervention-1")
    assert States.of(case.dossier()).earlier["intervention-2"] == {"intervention-1"}


def test_the_prior_repairers_work_is_no_state_of_its_own():
    case = two()
    case.record("intervention", action="refitted", components=["battery"], by="party-2", time="2026-05-02")
    assert set(States.of(case.dossier()).steps) == {"intervention-1", "intervention-2"}


def test_touching_spans_are_in_order_and_equal_ones_are_not():
    one, other = span("2026-05-05 09:00"), span("2026-05-05 09:01")
    assert sure_before(one, other)
    assert not sure_before(other, one)
    instant = TimeSpan(one.earliest, one.earliest)
    assert not sure_before(instant, instant)
