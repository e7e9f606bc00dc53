"""Where a matter stands and what it cost, as a person meets it on the command line."""

import datetime as dt
import json

import pytest
from icalendar import Calendar

from commands import evidence


@pytest.fixture
def shop(tmp_path):
    def run(*words, code=0):
        done = evidence("--workspace", tmp_path / "shop", *words, cwd=tmp_path)
        assert done.returncode == code, f"{done.returncode}\n{done.stdout}\n{done.stderr}"
        return " ".join((done.stdout + done.stderr).split()) if "--json" not in words else json.loads(done.stdout)

    run("workspace", str(tmp_path / "shop"), "--recorder", "Ana Test", "--zone", "Europe/Lisbon")
    run("record", "dossier", "--name", "first", "--title", "A first matter", "--zone", "Europe/Lisbon", "--place", "vale")
    return run


def test_a_matter_from_its_first_step_to_a_calendar(shop, tmp_path):
    assert "no step recorded" in shop("status")
    refused = shop("record", "course-step", "first", "--stage", "demand", "--time", "2026-06-01", "--by", "party 1", code=2)
    assert "passes over what should come before it: undisturbed record, diagnosis, notice, inspection, estimate" in refused
    assert "Nothing was recorded" in refused
    shop("record", "course-step", "first", "--stage", "intake", "--time", "2026-05-05 09:00", "--by", "party 1", "--text", "Towed in")
    shop("record", "due-date", "first", "--what", "hearing", "--day", "2026-07-01", "--text", "Hearing", "--source", "summons")
    said = shop("status", "first", "--on", "2026-06-10", "--calendar", "due.ics")
    assert "Stands at: intake, 2026-05-05 (Step 1)" in said
    assert "2026-07-01, in 21 days" in said
    assert "names no exhibit that proves it" in said
    assert "vale" in said  # the place that the dossier names is not here, and that is told
    (event,) = Calendar.from_ical((tmp_path / "due.ics").read_bytes()).walk("VEVENT")
    assert str(event["summary"]) == "Hearing: Hearing (A first matter)"
    told = shop("status", "--json", "--on", "2026-07-03")["matters"][0]
    assert (told["stage"], told["next"]) == ("intake", "undisturbed_record")
    assert "OVERDUE by 2 days" in shop("status", "--on", "2026-07-03")


def test_a_place_is_filled_in_by_a_person(shop, tmp_path):
    file = tmp_path / "shop" / "places" / "vale.yaml"
    assert str(file) in shop("place", "new", "vale")
    assert "Nothing is filled in yet; nothing is assumed." in shop("place", "show", "vale")
    file.write_text('format: 1\nname: Vale\nlimitation: {text: two years, source: "Act, section 9", on: 2020-01-02}\n', "utf-8")
    assert "look it up again before relying on it" in shop("place", "show", "vale")
    assert "note: Vale, limitation: Act, section 9 (looked up 2020-01-02, " in shop("status")
    file.write_text("format: 1\nname: Vale\nlimitaton: {text: two years}\n", "utf-8")
    assert "vale.yaml:3:1" in shop("place", "show", "vale", code=2)
    assert "is not a day" in shop("status", "--on", "someday", code=2)


def test_a_broken_place_file_is_told_and_hides_nothing(shop, tmp_path):
    shop("record", "due-date", "first", "--what", "hearing", "--day", "2026-07-01", "--text", "Hearing", "--source", "summons")
    assert "note: told without the place: " in shop("status")
    shop("place", "new", "vale")
    (tmp_path / "shop" / "places" / "vale.yaml").write_text("format: 1\nname: [Vale\n", "utf-8")
    for words in (("status",), ("status", "first")):
        said = shop(*words, "--on", "2026-06-10")
        assert "note: told without the place: " in said
        assert "vale.yaml" in said
        assert "2026-07-01, in 21 days" in said
    told = shop("status", "--json")["matters"][0]
    assert told["place"] is None
    assert "vale.yaml" in told["place_problem"]
    assert "vale.yaml" in shop("status", "--place", "vale", code=2)  # named by hand, it must be readable


@pytest.mark.parametrize(
    ("zone", "utc", "day"),
    [
        ("Pacific/Auckland", "2026-06-09T12:30:00Z", "2026-06-10"),
        ("Pacific/Auckland", "2026-06-09T11:59:59Z", "2026-06-09"),
        ("Pacific/Honolulu", "2026-06-10T09:59:59Z", "2026-06-09"),
        ("Pacific/Honolulu", "2026-06-10T10:00:00Z", "2026-06-10"),
        ("Europe/Lisbon", "2026-03-28T23:59:59Z", "2026-03-28"),  # winter time still: the clocks change at 01:00 UTC on 29 March
        ("Europe/Lisbon", "2026-03-29T22:59:59Z", "2026-03-29"),
        ("Europe/Lisbon", "2026-03-29T23:00:00Z", "2026-03-30"),
    ],
)
def test_today_is_the_day_where_the_shop_is(tmp_path, monkeypatch, zone, utc, day):
    """Offsets by the IANA time-zone database: Auckland UTC+12 in June, Honolulu UTC-10, Lisbon UTC+1 from 29 March 2026."""
    from evidence.bootstrap import make_workspace
    from evidence.cli.main import app
    from evidence.edges.system import SystemClock
    from typer.testing import CliRunner

    make_workspace(tmp_path / "w", recorder="Ana Test", zone=zone)
    monkeypatch.setattr(SystemClock, "now", lambda _self: dt.datetime.fromisoformat(utc))
    call = lambda *words: CliRunner().invoke(app, ["-w", str(tmp_path / "w"), *words])  # noqa: E731
    assert call("record", "dossier", "--name", "x", "--title", "X").exit_code == 0
    due = (dt.date.fromisoformat(day) + dt.timedelta(days=1)).isoformat()
    assert call("record", "due-date", "x", "--what", "hearing", "--day", due, "--text", "H", "--source", "summons").exit_code == 0
    assert f"{due}, in 1 day " in call("status").output
    assert f"Up to {day}: 0 orders" in call("comebacks").output


def test_many_matters_are_printed_a_line_each_and_as_the_same_json(tmp_path, monkeypatch):
    import evidence.cli.common
    from evidence.bootstrap import make_workspace
    from evidence.cli.main import app
    from typer.testing import CliRunner

    make_workspace(tmp_path / "w", recorder="Ana Test")
    call = lambda *words: CliRunner().invoke(app, ["-w", str(tmp_path / "w"), *words]).stdout  # noqa: E731
    for n in range(3):
        call("record", "dossier", "--name", f"car-{n}", "--title", "Car")
        call("record", "due-date", f"car-{n}", "--what", "hearing", "--day", "2026-07-01", "--text", "Room 5", "--source", "summons")
    drawn, read = call("status", "--on", "2026-06-30"), json.loads(call("status", "--json", "--on", "2026-06-30"))
    monkeypatch.setattr(evidence.cli.common, "MOST_DRAWN", 2)
    plain, lines = call("status", "--on", "2026-06-30").splitlines(), call("status", "--json", "--on", "2026-06-30")
    assert [line.split()[0] for line in plain] == ["Dossier", "car-0", "car-1", "car-2"]
    assert all("in 1 day; Hearing: Room 5" in line for line in plain[1:])
    assert "─" in drawn
    assert json.loads(lines) == read
    assert len(lines.splitlines()) == 5


def test_the_loss_and_what_is_refused(shop):
    line = ("record", "loss-item", "first", "--head", "towing", "--nature", "incidental", "--text", "Tow", "--status", "paid")
    assert "No loss item is recorded" in shop("loss", "first")
    assert "negative" in shop(*line, "--amount", "-5.00 EUR", code=2)
    assert "not between 0 and 100" in shop(*line, "--amount", "5.00 EUR", "--tax-rate", "120", code=2)
    shop(*line, "--amount", "95.00 EUR", "--tax-rate", "20")
    said = shop("loss", "first")
    assert "Total 114.00 EUR 114.00 EUR 114.00 EUR" in said
    assert "of it incidental 114.00 EUR" in said
    assert "together 114.00 EUR 114.00 EUR 114.00 EUR 0.00 EUR 114.00 EUR" in said
    assert "the record speaks for no explanation so far" in said
    assert shop("loss", "first", "--json")["claimed"]["total"] == "114.00"
    shop(*line, "--amount", "95.00 USD")
    assert "no total" in shop("loss", "first", code=2)


def test_a_person_chooses_what_counts_of_two_lines_for_the_same(shop):
    common = ("--nature", "incidental", "--status", "estimated", "--unit", "d", "--begins", "2026-05-04")
    shop("record", "loss-item", "first", "--name", "van", "--head", "hire", "--text", "Van", "--quantity", "4", "--rate", "44.00 EUR", *common)
    lost = ("record", "loss-item", "first", "--head", "loss_of_use", "--text", "Rounds", "--quantity", "2", "--rate", "35.00 EUR", *common)
    assert "gives no reason" in shop(*lost, "--beside", "van", code=2)
    shop(*lost, "--name", "rounds")
    said = shop("loss", "first")
    assert "Loss item 1, 2 days of it, 88.00 EUR, left out beside Loss item 2" in said
    assert "To choose the other, 'evidence record amend' it with '--set claimed=yes'" in said
    assert shop("loss", "first", "--json")["claimed"]["total"] == "158.00"
    shop("record", "amend", "first", "loss item 1", "--set", "claimed=yes", "--reason", "It was paid.")
    assert shop("loss", "first", "--json")["claimed"]["total"] == "176.00"
    shop("record", "amend", "first", "loss item 2", "--set", 'beside=["van: it was too small for the second round"]', "--reason", "Both were needed.")
    found = shop("loss", "first", "--json")
    assert (found["claimed"]["total"], found["left_out"]) == ("246.00", [])
    assert "needs a reason under why" in shop("record", "loss-item", "first", "--head", "share_of_fault", "--nature", "deduction", "--text", "Lamp", "--percent", "10", "--status", "estimated", code=2)
