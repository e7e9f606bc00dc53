"""``evidence timeline`` and ``evidence opportunity`` as a person meets them."""

import json

import pytest

from cli.test_commands import evidence, shop  # noqa: F401 - fixtures


def add(shop, *options):  # noqa: F811
    return shop("record", options[0], "first", *options[1:])


@pytest.fixture
def told(shop):  # noqa: F811
    """A fair of one day, and a first sign that is only told to be of that month."""
    for what, text, time in (("other", "The fair", "2026-03-10"), ("onset", "Went dead", "2026-03")):
        add(shop, "event", "--what", what, "--text", text, "--time", time, "--basis", "told")
    return shop


def test_a_told_order_narrows_a_month(told):
    assert "2 moments, 0 of them made tighter" in told("timeline", "first").stdout
    add(told, "time-relation", "--what", "event 2", "--relation", "before", "--other", "event 1", "--text", "The day before the fair",
        "--least", "1 d", "--basis", "told")  # fmt: skip
    shown = told("timeline", "first").stdout
    assert "2 moments, 1 of them made tighter" in shown
    assert "Time relation 1" in shown
    why = told("timeline", "first", "--why", "event 2").stdout
    assert "The day before the fair" in why
    assert why.index("not before") < why.index("not after")
    found = json.loads(told("timeline", "first", "--json").stdout)
    moment = next(m for m in found["moments"] if m["moment"] == "Event 2")
    assert moment["latest"] < moment["stated"]["latest"]
    assert moment["narrowed_by"] == ["Event 1", "Time relation 1"]


def test_what_cannot_all_be_true_is_told(told):
    add(told, "time-relation", "--what", "event 2", "--relation", "after", "--other", "event 1", "--text", "Weeks after",
        "--least", "60 d", "--basis", "told")  # fmt: skip
    shown = told("timeline", "first").stdout
    assert "CANNOT ALL BE TRUE: Event 1, Event 2, Time relation 1" in shown
    assert "If any one of them were otherwise" in shown
    assert json.loads(told("timeline", "first", "--json").stdout)["contradictions"][0]["records"] == [
        "Event 1", "Event 2", "Time relation 1",
    ]  # fmt: skip


def test_a_record_that_is_not_there(told):
    assert "no such record" in told("timeline", "first", "--why", "event 9", code=2).stderr
    assert "no mechanism of this id" in told("timeline", "first", "--mechanism", "ign-nothing", code=2).stderr


def test_nothing_found_is_said(told):
    assert "No departure is shown yet" in told("opportunity", "first").stdout
    assert json.loads(told("opportunity", "first", "--json").stdout)["departures"] == []
