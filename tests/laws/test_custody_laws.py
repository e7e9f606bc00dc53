"""Custody: a chain that fits has no fault, every planted fault is found, the order of recording does not matter."""

import datetime as dt

import pytest
from evidence.model.dossier import Step, fold
from evidence.model.kinds import KINDS
from evidence.timeline.custody import chains, doubts_of, faults_of
from hypothesis import given
from hypothesis import strategies as st

START = dt.datetime(2026, 5, 1, 8, 0, tzinfo=dt.UTC)
FIRMS = {"shop": ("Ann Teal", "Bo Finch"), "carrier": ("Cy Moss",), "lab": ("Di Vane", "Ed Holm"), "owner": ()}
STRANGER, OTHER = "p-stranger", "p-other"


def parties():
    """Firm parties ``f-…``, their people ``p-…``; (subject, raw)."""
    for firm, people in FIRMS.items():
        yield f"f-{firm}", {"full_name": f"The {firm}"}
        for number, name in enumerate(people):
            yield f"p-{firm}-{number}", {"full_name": name, "firm": f"The {firm}"}
    yield STRANGER, {"full_name": "Stan Ger", "firm": "Elsewhere"}
    yield OTHER, {"full_name": "Olga Ther"}


def dossier(item_kind, transfers, handlings):
    """A dossier with one item; transfers and handlings as raw records with a short name each."""
    item = {
        "vehicle": ("vehicle", {"description": "car"}),
        "part": ("exhibit", {"form": "physical", "description": "a nut"}),
        "device": ("instrument", {"description": "a meter"}),
    }[item_kind]
    entries = [
        *(("party", s, r) for s, r in parties()), ("dossier", "d", {"title": "t"}), (item[0], "item", item[1]),
        *(("custody_transfer", r["name"], {"item": "item", "place": "here", "purpose": "work", **r}) for r in transfers),
        *(("observation", r["name"], {"of": "coil", "aspect": "a", "seen": "b", "text": "c", "item": "item", **r}) for r in handlings),
    ]  # fmt: skip
    steps = [
        Step(seq=n, kind=kind, subject=subject, action="record", recorded_at=dt.datetime(2027, 1, 1, tzinfo=dt.UTC), recorded_by="f-shop",
             body=KINDS[kind].handed_in(raw, {"zone": "UTC"}).body())
        for n, (kind, subject, raw) in enumerate(entries, 1)
    ]  # fmt: skip
    return fold("law", steps)


def judged(held):
    """(code, short names of the records) of every fault, and of every doubt."""
    names = {r.label: r.name or r.subject for r in held.by_subject.values()}
    found = chains(held)
    return tuple(
        sorted((f.code, tuple(sorted(names[label] for label in f.records))) for f in some(found)) for some in (faults_of, doubts_of)
    )


def written(moment, precision):
    """A moment as a person writes it: to the minute, the day, or between two moments."""
    if precision == "day":
        return f"{moment:%Y-%m-%d}"
    if precision == "between":
        return f"{moment - dt.timedelta(hours=3):%Y-%m-%d %H:%M} / {moment + dt.timedelta(hours=2):%Y-%m-%d %H:%M}"
    return f"{moment:%Y-%m-%d %H:%M}"


@st.composite
def consistent(draw, *, exact=False, least=1):
    """(item kind, transfers, handlings, their moments): everybody releases what he holds, and only holders have hands on it."""
    kind = draw(st.sampled_from(["vehicle", "part", "device"]))
    precision = st.just("minute") if exact else st.sampled_from(["minute", "minute", "day", "between"])
    holder, seal, container = draw(st.sampled_from(sorted(FIRMS))), "", "bag 1"
    transfers, handlings, moment, seals = [], [], START, 0
    for number in range(draw(st.integers(least, 5))):
        moment += dt.timedelta(hours=draw(st.integers(5, 60)))
        taker = draw(st.sampled_from(sorted(FIRMS)))
        people = len(FIRMS[holder]), len(FIRMS[taker])
        raw = {
            "name": f"t{number}", "released_by": f"f-{holder}", "received_by": f"f-{taker}", "time": written(moment, draw(precision)),
        }  # fmt: skip
        if people[1] and draw(st.booleans()) and taker != holder:
            raw["received_by"] = f"p-{taker}-{draw(st.integers(0, people[1] - 1))}"
        if transfers and people[0] and not transfers[-1]["received_by"].startswith("p-") and draw(st.booleans()):
            raw["released_by"] = f"p-{holder}-{draw(st.integers(0, people[0] - 1))}"
        if seal and draw(st.booleans()):
            raw["seal_opened"], seal, container = seal, "", f"bag {number + 2}"
        if not seal and draw(st.booleans()):
            seals += 1
            seal = f"S-{seals}"
        raw.update({k: v for k, v in {"seal": seal, "container": container}.items() if v})
        transfers.append(raw)
        holder = taker
        if draw(st.booleans()):
            by = draw(st.sampled_from([f"f-{holder}", *(f"p-{holder}-{n}" for n in range(len(FIRMS[holder])))]))
            at = moment + dt.timedelta(hours=2)
            handlings.append({"name": f"{'sealed' if seal else 'open'}{number}", "by": by, "time": written(at, draw(precision))})
    return kind, transfers, handlings, moment


@given(consistent())
def test_a_chain_that_fits_has_no_fault_however_coarse_its_times(made):
    kind, transfers, handlings, _ = made
    faults, _doubts = judged(dossier(kind, transfers, handlings))
    assert faults == []


@given(consistent(exact=True))
def test_a_chain_that_fits_to_the_minute_leaves_no_doubt_but_who_of_a_firm_passed_it_on_and_what_was_done_under_seal(made):
    kind, transfers, handlings, _ = made
    faults, doubts = judged(dossier(kind, transfers, handlings))
    assert faults == []
    assert {code for code, _ in doubts} <= {"colleagues", "examined_sealed"}
    told = {name for code, names in doubts if code == "examined_sealed" for name in names if not name.startswith("t")}
    assert told == {h["name"] for h in handlings if h["name"].startswith("sealed")}


@given(consistent(), st.randoms(use_true_random=False))
def test_the_order_of_recording_does_not_matter(made, random):
    kind, transfers, handlings, _ = made
    if len(transfers) > 2:  # and a chain that does not fit
        transfers = [*transfers[:1], {**transfers[1], "released_by": STRANGER}, *transfers[2:]]
    mixed = transfers.copy(), handlings.copy()
    for part in mixed:
        random.shuffle(part)
    assert judged(dossier(kind, transfers, handlings)) == judged(dossier(kind, *mixed))


def later(moment, hours):
    return written(moment + dt.timedelta(hours=hours), "minute")


def plant_gap(t, h, end):
    t.append({**onward(t, "x", later(end, 10), STRANGER), "received": later(end, 40)})
    return ["x"]


def plant_examined_unheld(t, h, end):
    plant_gap(t, h, end)
    h.append({"name": "planted", "by": STRANGER, "time": later(end, 20)})
    return ["planted", "x"]


def plant_times(t, h, end):
    plant_gap(t, h, end)
    t.append(onward(t, "y", later(end, 20), OTHER))
    return ["x", "y"]


def plant_not_holder(t, h, end):
    t.append({**onward(t, "x", later(end, 10), "f-lab"), "released_by": STRANGER})
    return ["t-last", "x"]


def plant_never_received(t, h, end):
    t.append(onward(t, "x", later(end, 10), STRANGER))
    t.append({**onward(t, "y", later(end, 20), OTHER), "released_by": t[-1]["released_by"]})
    return ["x", "y"]


def plant_overlap(t, h, end):
    plant_never_received(t, h, end)
    h.append({"name": "planted", "by": STRANGER, "time": later(end, 15)})
    return ["planted", "x", "y"]


def plant_seal_changed(t, h, end):
    t.append({**onward(t, "x", later(end, 10), STRANGER), "seal": "S-90"})
    t[-2]["seal"] = "S-80"
    return ["t-last", "x"]


def plant_wrong_seal_opened(t, h, end):
    t.append({**onward(t, "x", later(end, 10), STRANGER), "seal_opened": "S-90"})
    t[-2]["seal"] = "S-80"
    return ["t-last", "x"]


def plant_container_changed(t, h, end):
    t.append({**onward(t, "x", later(end, 10), STRANGER), "container": "another box"})
    return ["t-last", "x"]


def plant_examined_elsewhere(t, h, end):
    h.append({"name": "planted", "by": STRANGER, "time": later(end, 10)})
    return ["planted", "t-last"]


def plant_examined_after_end(t, h, end):
    t.append({**onward(t, "x", later(end, 10), "f-carrier"), "fate": "scrapped"})
    h.append({"name": "planted", "time": later(end, 20)})
    return ["planted", "x"]


def plant_released_after_end(t, h, end):
    t.append({**onward(t, "x", later(end, 10), "f-carrier"), "fate": "returned_as_core"})
    t.append(onward(t, "y", later(end, 20), STRANGER))
    return ["x", "y"]


def onward(t, name, time, receiver):
    kept = {k: t[-1][k] for k in ("container", "seal") if k in t[-1]}
    return {"name": name, "released_by": t[-1]["received_by"], "received_by": receiver, "time": time, **kept}


PLANTED = {name.removeprefix("plant_"): made for name, made in globals().copy().items() if name.startswith("plant_")}
CODE = {"wrong_seal_opened": "seal_changed"}


@pytest.mark.parametrize("what", PLANTED)
@given(made=consistent(exact=True))
def test_every_planted_fault_is_found_with_its_records(what, made):
    kind, transfers, handlings, end = made
    transfers, handlings = [dict(t) for t in transfers], [dict(h) for h in handlings]
    last = transfers[-1]["name"]
    records = sorted(last if name == "t-last" else name for name in PLANTED[what](transfers, handlings, end))
    faults, _doubts = judged(dossier(kind, transfers, handlings))
    assert (CODE.get(what, what), tuple(records)) in faults


@given(made=consistent(exact=True))
def test_an_examination_that_may_have_been_before_all_hand_overs_is_in_doubt_and_no_fault(made):
    kind, transfers, handlings, end = made
    wide = {"name": "planted", "by": STRANGER, "time": f"2026-04-01 / {later(end, 10)}"}
    faults, doubts = judged(dossier(kind, transfers, [*handlings, wide]))
    assert faults == []
    assert any(code == "examined_when" and "planted" in names for code, names in doubts)


@given(made=consistent(exact=True), days=st.integers(0, 1))
def test_two_hand_overs_of_one_day_are_put_in_the_order_that_fits(made, days):
    kind, transfers, _handlings, end = made
    day = f"{end + dt.timedelta(days=2 + days):%Y-%m-%d}"
    first = onward(transfers, "x", day, STRANGER)
    second = {**onward(transfers, "a-y", day, OTHER), "released_by": STRANGER}
    for pair in ([first, second], [second, first]):
        held = dossier(kind, [*transfers, *pair], [])
        assert judged(held)[0] == []
        assert [link.taken_by.subject for link in chains(held)[0].links][-2:] == [STRANGER, OTHER]
