"""What the record as a whole allows of each moment, why, and what cannot all be true."""

import datetime as dt

import pytest
from evidence.model.happening import TimeRelation
from evidence.timeline.stated import stated
from evidence.timeline.supposed import usual_use
from evidence.timeline.tightened import steps, tighten
from evidence.usecases.timeline import timeline_json, timeline_report
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from build import coil_case, shown_case
from shoots import Shoot


def utc(text):
    return dt.datetime.fromisoformat(text + "+00:00")


def whole(case):
    return tighten(stated(case.dossier()))


def span(case, key):
    found = whole(case).of(key)
    return found.earliest, found.latest


def relate(case, what, relation, other, **more):
    case.record("time_relation", what=what, relation=relation, other=other, text="as told", basis="told", **more)
    return case


def test_nothing_is_tighter_than_the_record_says_where_nothing_bears_on_it():
    found = whole(shown_case())
    assert not found.clashes
    assert [t.moment.key for t in found.moments if t.narrowed] == []
    assert found.moments[0].moment.key == "Work order 1, opened"


def test_a_reading_after_an_intervention_bounds_it():
    case = coil_case()
    step = case.touch("coil-ground-eyelet", time="2026-05-05 / 2026-05-09")
    case.observe("coil-ground-eyelet", "ground_seat", "seated", time="2026-05-06 10:00", after=step)
    found = whole(case).of("Intervention 1")
    assert found.latest == utc("2026-05-06T09:01:00")  # the minute of the observation, Lisbon is an hour ahead
    assert found.earliest == utc("2026-05-04T23:00:00")
    assert found.by == ("Observation 1",)
    assert list(steps(found.until)) == [
        "Observation 1: 2026-05-06 10:00 (Europe/Lisbon)", "Observation 1 came after Intervention 1",
    ]  # fmt: skip


def test_work_under_an_order_lies_between_its_opening_and_closing():
    case = coil_case()
    order = case.record(
        "work_order", side="present_repairer", repairer="party-1", opened="2026-05-05 08:00", closed="2026-05-07 17:00",
        operations=[{"text": "looked"}],
    )  # fmt: skip
    case.touch("coil", time="2026-05", work_order=order)
    assert span(case, "Intervention 1") == (utc("2026-05-05T07:00:00"), utc("2026-05-07T16:01:00"))


def test_the_odometer_orders_what_the_calendar_leaves_open():
    case = coil_case().change("event-1", time="2026-05")  # a month; it read 61 044
    case.record("odometer_reading", reading="61050 km", time="2026-05-05 10:00", basis="seen")
    assert span(case, "Event 1") == (utc("2026-05-01T23:00:00"), utc("2026-05-05T09:01:00"))


@pytest.mark.parametrize(
    ("read", "before"),
    [
        ("61044 km", False),  # the same figure: no order between the two
        ("61044.9 km", False),  # inside the kilometre that 61 044 stands for
        ("61045 km", True),
        ("37931.5 mi", False),  # 61 044.83 km (international mile, NIST SP 811)
        ("37931.7 mi", True),  # 61 045.15 km
    ],
)
def test_a_reading_stands_for_a_whole_unit_of_its_last_digit(read, before):
    case = coil_case().change("event-1", time="2026-05")
    case.record("odometer_reading", reading=read, time="2026-05-05 10:00", basis="seen")
    latest = span(case, "Event 1")[1]
    assert (latest == utc("2026-05-05T09:01:00")) == before


def test_a_reading_that_explains_itself_orders_nothing():
    case = coil_case()
    case.record("odometer_reading", reading="12 km", time="2026-05-20", basis="seen", note="instrument replaced")
    assert not whole(case).clashes
    assert whole(case.change("odometer_reading-1", note=None)).clashes


def test_a_clock_put_right_is_what_counts():
    shoot = Shoot()
    photo = shoot.photo("2026-06-10 09:00:00+00:00")
    event = shoot.record("event", what="other", text="seen in it", time="2026-06-10", basis="seen")
    relate(shoot, event, "before", photo)
    assert span(shoot, "Event 1")[1] == utc("2026-06-10T09:00:01")
    shoot.reference("2026-06-10 08:00:00+00:00", "2026-06-10 08:10:00+00:00")  # ten minutes slow
    found = whole(shoot).of("Event 1")
    assert found.latest == shoot.clocks().corrections[photo].after.latest
    assert found.latest > utc("2026-06-10T09:09:00")
    assert found.by == ("Exhibit 1", "Clock reference 1", "Time relation 1")


@pytest.mark.parametrize(
    ("relation", "more", "wanted"),
    [
        ("after", {}, ("2026-05-02T23:00:00", "2026-05-31T23:00:00")),
        ("after", {"least": "2 d", "most": "72 h"}, ("2026-05-04T23:00:00", "2026-05-06T23:00:00")),
        ("before", {}, ("2026-04-30T23:00:00", "2026-05-03T23:00:00")),
        ("before", {"most": "3 h"}, ("2026-05-02T20:00:00", "2026-05-03T23:00:00")),
        ("within", {"most": "90 min"}, ("2026-05-02T21:30:00", "2026-05-04T00:30:00")),
        ("during", {}, ("2026-05-02T23:00:00", "2026-05-03T23:00:00")),
    ],
)
def test_relations_between_two_moments(relation, more, wanted):
    case = coil_case().change("event-1", time="2026-05", odometer=None)
    other = case.record("event", what="other", text="the fair", time="2026-05-03", basis="told")
    assert span(relate(case, "event-1", relation, other, **more), "Event 1") == tuple(map(utc, wanted))


def test_relations_to_an_order_are_to_its_opening_and_its_closing():
    def related(relation):
        case = coil_case().change("event-1", time="2026-04 / 2026-05", odometer=None)
        return span(relate(case, "event-1", relation, "work_order-1"), "Event 1")

    assert related("before")[1] == utc("2026-04-30T23:00:00")
    assert related("after")[0] == utc("2026-05-01T23:00:00")
    assert related("during") == (utc("2026-04-29T23:00:00"), utc("2026-05-02T23:00:00"))


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"relation": "within"}, "at most how far apart"),
        ({"relation": "during", "most": "1 d"}, "takes no"),
        ({"least": "3 d", "most": "2 h"}, "is more than"),
        ({"most": "3 V"}, "no length of time"),
        ({"other": "event-1"}, "names one record twice"),
    ],
)
def test_a_relation_that_says_nothing_is_refused(changes, told):
    raw = {"what": "event-1", "relation": "before", "other": "event-2", "text": "x", "basis": "told", **changes}
    with pytest.raises(ValidationError, match=told):
        TimeRelation.handed_in(raw, {})


def contradicted():
    """Told to be before the job, but read with more on the clock than when the car left it."""
    return relate(coil_case().change("event-1", time="2026-05"), "event-1", "before", "work_order-1")


def test_what_cannot_all_be_true_is_named_and_set_aside():
    case = contradicted()
    case.touch("coil", time="2026-05-06 09:00")
    found = whole(case)
    (clash,) = found.clashes
    assert clash.records == ("Event 1", "Time relation 1", "Work order 1")
    assert "Time relation 1: as told" in clash.steps
    assert "an odometer only runs forward" in clash.words() or "2026-05" in clash.words()
    assert found.of("Event 1").set_aside
    assert not found.of("Intervention 1").set_aside
    for subject in ("event-1", "time_relation-1", "work_order-1"):
        assert not whole(case.drop(subject)).clashes


def test_suppositions_stay_apart_from_facts():
    case = coil_case().change("event-1", time="2026-05")
    effect = case.record("event", what="other", text="smoke", time="2026-05-03", basis="seen", caused_by=["event-1"])
    found = timeline_report(case.dossier())
    assert found.facts.of("Event 1").latest == utc("2026-05-31T23:00:00")
    assert found.under_them.of("Event 1").latest == utc("2026-05-03T23:00:00")
    assert "Event 1 led to Event 2, as recorded, and a cause comes first" in found.supposed
    assert all(not b.supposed for b in found.facts.network.bounds)
    late = case.change(effect, time="2026-04-20")
    found = timeline_report(late.dossier())
    assert not found.facts.clashes
    assert any(step.startswith("supposed: Event 1 led to Event 2") for c in found.misfits for step in c.steps)


def test_the_most_driven_in_a_day_is_the_records_own():
    case = coil_case()  # 61 004 on 2 May, 61 044 on 4 May: 41 km in no less than 31 hours
    case = case.change("event-1", time="2026-05-04 07:00")
    case.record("odometer_reading", reading="61140 km", time="2026-05-05 / 2026-05-20", basis="told")
    known = stated(case.dossier())
    found = list(usual_use(known, tighten(known).network))
    assert found
    assert len({b.supposed for b in found}) == 1
    assert not tighten(known, found).clashes  # what the readings themselves show never contradicts them
    assert all(b.most < 0 for b in found)


def test_as_json_every_narrowed_bound_has_its_reasons():
    case = coil_case().change("event-1", time="2026-05")
    case.record("odometer_reading", reading="61050 km", time="2026-05-05 10:00", basis="seen")
    told = timeline_json(timeline_report(case.dossier()))
    moment = next(m for m in told["moments"] if m["moment"] == "Event 1")
    assert moment["latest"] == "2026-05-05T09:01:00Z"
    assert moment["stated"]["latest"] == "2026-05-31T23:00:00Z"
    assert moment["narrowed_by"] == ["Work order 1", "Odometer reading 1"]
    assert moment["until"][0] == "Odometer reading 1: 2026-05-05 10:00 (Europe/Lisbon)"


days = st.integers(1, 28)
events = st.lists(st.tuples(days, days, st.integers(61000, 61100) | st.none()), min_size=2, max_size=6)
relations = st.lists(st.tuples(st.integers(1, 6), st.sampled_from(["before", "after"]), st.integers(1, 6)), max_size=5)


def drawn_case(happened, related):
    case = coil_case()
    for a, b, km in happened:
        low, high = min(a, b), max(a, b)
        more = {"odometer": f"{km} km"} if km else {}
        case.record(
            "event", what="other", text="e", time=f"2026-06-{low:02} / 2026-06-{high:02}", basis="told", **more
        )
    for a, relation, b in related:
        if a != b and max(a, b) <= len(happened):
            relate(case, f"event-{a + 1}", relation, f"event-{b + 1}")
    return case


@settings(max_examples=60)
@given(events, relations)
def test_one_more_record_never_widens_and_one_less_of_a_clash_mends_it(happened, related):
    case = drawn_case(happened, related)
    found = whole(case)
    for clash in found.clashes[:1]:
        known = stated(case.dossier())
        for record in clash.records:
            left = [b for b in known.bounds if set(b.records) <= set(clash.records) - {record}]
            assert not tighten(type(known)(moments=known.moments, bounds=tuple(left), reads=(), ends={})).clashes
    if found.clashes:
        return
    case.record("odometer_reading", reading="61050 km", time="2026-06-10 / 2026-06-12", basis="seen")
    more = whole(case)
    if not more.clashes:
        for before in found.moments:
            after = more.of(before.moment.key)
            assert after.earliest >= before.earliest
            assert after.latest <= before.latest
