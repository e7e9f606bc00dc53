"""Reasons that say the same of several records stand together, and nothing of them is lost."""

import re

from evidence.report.gathering import gathered, gathered_near, unnamed
from evidence.report.styles import Linker
from evidence.rules.assessment import Near
from hypothesis import given
from hypothesis import strategies as st

MET = "is above 0.1 V (maker's figure, WM 4, page 2) by more than the reading can be off: met"
DROPS = [f"Measurement {n}, coil {n - 1}: voltage drop 4.8{n} V ± 0.030 V {MET}" for n in (2, 3, 4, 5)]


def test_readings_of_one_quantity_and_limit_are_one_line_with_every_value():
    values = "4.82 V ± 0.030 V, 4.83 V ± 0.030 V, 4.84 V ± 0.030 V, 4.85 V ± 0.030 V"
    assert gathered(DROPS) == [f"Measurements 2 to 5, coils 1 to 4: voltage drop {values}; each {MET}"]


def test_another_verdict_another_limit_or_another_quantity_is_another_line():
    other = [
        "Measurement 6, coil 1: voltage drop 0.05 V ± 0.030 V is below 0.1 V (maker's figure, WM 4) by more than the reading can be off: not met",
        "Measurement 7, coil 1: voltage drop 4.85 V ± 0.030 V is above 0.2 V (maker's figure, WM 4) by more than the reading can be off: met",
        "Measurement 8, coil 1: peak voltage 4.85 V ± 0.030 V is above 0.1 V (maker's figure, WM 4) by more than the reading can be off: met",
    ]
    assert gathered([*DROPS, *other])[1:] == other


def test_observations_of_the_same_word_are_one_line():
    seen = [f"Observation {n}, cylinder {n - 25}: bench output: dead" for n in (26, 27, 28, 29)]
    assert gathered([*seen, "Observation 30, cylinder 1: bench output: live"]) == [
        "Observations 26 to 29, cylinders 1 to 4: bench output: dead",
        "Observation 30, cylinder 1: bench output: live",
    ]


def test_what_is_no_reading_stays_as_it_is_and_in_its_place():
    told = ["before Intervention 2: met", "F3: met", "1.3 to 2.3 days and 103 km from the close of the prior work"]
    assert gathered(told) == told


def test_reasons_under_two_findings_are_not_mixed():
    assert gathered(["F3: Observation 1: deposits: dry", "F4: Observation 2: deposits: dry"]) == [
        "F3: Observation 1: deposits: dry",
        "F4: Observation 2: deposits: dry",
    ]


readings = st.builds(
    "Measurement {}, coil {}: voltage drop {}.{} V ± 0.030 V is {} 0.{} V (by S1) by more than the reading can be off: {}".format,
    st.integers(1, 40), st.integers(1, 9), st.integers(0, 9), st.integers(0, 9), st.sampled_from(("above", "below")), st.integers(1, 3),
    st.sampled_from(("met", "not met")),
)  # fmt: skip


@given(st.lists(readings, max_size=12, unique=True))
def test_every_value_limit_and_verdict_that_went_in_comes_out(reasons):
    lines = gathered(reasons)
    for reason in reasons:
        value, test = re.search(r"drop (\S+ V ± \S+ V) (.+)", reason).groups()
        assert any(value in line and line.endswith(test) for line in lines), (reason, lines)


def test_records_with_the_same_obstacle_come_near_together():
    near = [Near(record=f"Measurement {n}", why="came before Intervention 2") for n in (2, 3, 4)]
    assert gathered_near([*near, Near(record="Waveform 5", why="is of the replacement")]) == [
        "Measurements 2 to 4 come near: came before Intervention 2.",
        "Waveform 5 comes near: is of the replacement.",
    ]


def test_records_that_no_reason_speaks_of_are_still_named():
    assert unnamed(["Measurement 2", "Exhibit 9"], DROPS) == ["Exhibit 9"]


def test_the_first_and_the_last_of_a_run_are_links():
    markup = Linker(["Measurement 21", "Measurement 32"]).markup("Measurements 21 to 32, Exhibit 1 to 4")
    assert '<a href="#measurement-21"' in markup
    assert ">32</a>" in markup
    assert '<a href="#measurement-32"' in markup
    assert markup.endswith(", Exhibit 1 to 4")


def test_a_number_after_a_single_record_is_no_run():
    markup = Linker(["Exhibit 1", "Exhibit 4"]).markup("Exhibit 1 to 4 persons")
    assert "exhibit-4" not in markup
