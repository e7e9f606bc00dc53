"""``evidence plan`` as a technician meets it."""

import json
import re

import pytest
from evidence.cli.main import app
from typer.testing import CliRunner

from van import NAME, van_to_look_at


def run(*words):
    return CliRunner().invoke(app, ["--workspace", str(van_to_look_at()), "plan", *words])


@pytest.fixture(scope="module")
def whole():
    done = run(NAME)
    assert done.exit_code == 0, done.output
    return done.output


def test_the_steps_are_numbered_with_minutes_and_a_running_total(whole):
    numbers = [int(n) for n in re.findall(r"^\[ \] +(\d+)\. ", whole, re.MULTILINE)]
    assert numbers == list(range(1, len(numbers) + 1))
    assert re.search(r"What to capture next: \d+ steps, \d+ h \d\d min; \d+ more that tell little", whole)
    assert re.search(r"For [A-Z, ]+; \d+ min, the usual, .* so far", whole)
    for told in ("Before anything is touched", "If so:", "If not:", "In between:", "Caution:", "Keep until the dispute", "Cannot be had any more", "Wait:"):
        assert told in whole, told


def test_nothing_raw_stands_on_the_screen(whole):
    assert not re.search(r"\b[FAG]\d{1,2}\b", whole)
    assert not re.search(r"\b[a-z]+_[a-z]+\b", whole)
    assert not re.search(r"[0-9a-f]{8}-[0-9a-f]{4}", whole)
    assert max(map(len, whole.splitlines())) <= 118


def test_brief_is_one_entry_a_step(whole):
    brief = run(NAME, "--brief").output
    assert len(re.findall(r"^\[ \] +\d+\. ", brief, re.MULTILINE)) == len(re.findall(r"^\[ \] +\d+\. ", whole, re.MULTILINE))
    assert "If so:" not in brief
    assert len(brief) < len(whole) / 2


def test_json_is_the_plan_whole(whole):
    plain = json.loads(run(NAME, "--json").output)
    assert plain["format"] == 1
    assert plain["title"] in whole
    assert [s["place"] for s in plain["steps"]] == list(range(1, len(plain["steps"]) + 1))
    assert {"bits", "minutes", "if_met", "if_not", "between", "waiting", "invite", "keep", "cautions"} <= set(plain["steps"][0])


def test_an_unknown_dossier_is_a_plain_error():
    done = CliRunner().invoke(app, ["--workspace", str(van_to_look_at()), "plan", "nothing"])
    assert done.exit_code != 0
