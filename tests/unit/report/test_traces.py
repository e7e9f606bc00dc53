"""The page of waveforms: readings of persons and of the program, what could not be read, marks in the plot's own units."""

from types import SimpleNamespace

from evidence.model.waveform import Feature, Marked, NotRead, TraceReading, Waveform
from evidence.report.blocks import Table
from evidence.report.pages import traces

PROGRAM = "comeback-evidence 9"
READING = TraceReading(
    program=PROGRAM,
    features=(
        Feature(feature="pulse_width", value="11.18", unit="ms", uncertainty="0.10", of="injector-control", position="1", read_by=PROGRAM, note="mean of 4 pulses"),
        Feature(feature="missing_events", value="3", unit="count", of="coil-control", position="2", read_by=PROGRAM),
    ),
    not_read=(NotRead(feature="voltage_drop", of="battery-positive", why="it does not show both states"),),
    marked=(Marked(column="v", what="level", at=("0.1", "5"), more=None), Marked(column="w", what="pulse_start", at=("1.5",), more=40)),
)  # fmt: skip
WAVE = Waveform(
    trace="x", title="t", time_column="t", time_unit="ms", read=READING,
    channels=[{"column": "v", "quantity": "voltage", "unit": "V", "scale": "20"}, {"column": "w", "quantity": "voltage", "unit": "V"}],
    features=[{"feature": "pulse_width", "value": "11.2", "unit": "ms", "of": "injector-control", "read_by": "Ida Ansgar"}],
)  # fmt: skip


def test_numbers_and_reasons_stand_in_one_table():
    table, note = traces._features(WAVE)
    assert isinstance(table, Table)
    assert [row.cells for row in table.rows] == [
        ("Pulse width", "11.2 ms", "not stated", "injector control", "", "Ida Ansgar"),
        ("Pulse width", "11.18 ms", "± 0.10 ms", "injector control 1", "mean of 4 pulses", PROGRAM),
        ("Missing events", "3", "exact", "coil control 2", "", PROGRAM),
        ("Voltage drop", "cannot be read", "", "battery positive", "it does not show both states", PROGRAM),
    ]
    assert "stands with the instrument" in note.text
    assert traces._features(WAVE.model_copy(update={"features": (), "read": None})) == []


def test_marks_are_in_the_units_of_the_plot():
    curves = [SimpleNamespace(name=n, low=(0.0, 1.0), high=(0.0, 1.0)) for n in "vw"]
    plot = traces._plot(SimpleNamespace(times=(0.0, 3.0), channels=curves), WAVE, {"v": "V", "w": "W"})
    (levels,), (starts,) = (p.marks for p in plot.panels)
    assert (levels.what, levels.at) == ("level", (2.0, 100.0))  # the record's scale is on the curve as well
    assert (starts.what, starts.at, starts.more) == ("pulse_start", (1.5,), 40)
