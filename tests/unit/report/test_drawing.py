"""The drawn pictures: nothing runs off, no text over text, ticks are round, time goes from left to right."""

import datetime as dt
from dataclasses import replace
from itertools import combinations

from evidence.model.when import TimeSpan
from evidence.report import describing, drawing, fonts
from evidence.report.axis import ticks, time_axis
from evidence.report.blocks import Happening, Mark, Matrix, Panel, Plot, Reach
from evidence.report.matrix import ROWS_A_PICTURE, matrix
from hypothesis import given, settings
from hypothesis import strategies as st
from reportlab.graphics.shapes import Group, PolyLine, Rect, String

WIDTH = 479.0
START = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)


def boxes(picture):
    """(left, bottom, right, top, text) of every text."""
    found = []

    def walk(node):
        for item in node.contents:
            if isinstance(item, String):
                width = fonts.width_of(item.text, item.fontName, item.fontSize)
                found.append((item.x, item.y - 0.15 * item.fontSize, item.x + width, item.y + 0.7 * item.fontSize, item.text))
            elif isinstance(item, Group):
                walk(item)

    walk(picture)
    return found


def assert_clear(picture):
    found = boxes(picture)
    for left, bottom, right, top, text in found:
        assert left >= -0.5, text
        assert right <= picture.width + 0.5, text
        assert bottom >= -0.5, text
        assert top <= picture.height + 0.5, text
    for a, b in combinations(found, 2):
        apart = a[2] <= b[0] + 0.1 or b[2] <= a[0] + 0.1 or a[3] <= b[1] + 0.1 or b[3] <= a[1] + 0.1
        assert apart, (a, b)


spans = st.builds(
    lambda start, width: TimeSpan(START + start, START + start + width),
    st.timedeltas(min_value=dt.timedelta(0), max_value=dt.timedelta(days=2500)),
    st.timedeltas(min_value=dt.timedelta(0), max_value=dt.timedelta(days=90)),
)
labels = st.text(st.characters(categories=("Lu", "Ll", "Nd", "Zs", "Po", "Sm", "So")), min_size=0, max_size=200)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(labels, spans), min_size=1, max_size=34))
def test_a_timeline_of_anything_is_readable(items):
    happenings = [
        Happening(f"Event {n}", text, span, f"lane {n % 5}", (f"Event {n - 1}",) if n else ()) for n, (text, span) in enumerate(items)
    ]
    assert_clear(drawing.timeline(happenings, WIDTH))


@settings(max_examples=100, deadline=None)
@given(st.lists(spans, min_size=1, max_size=40))
def test_the_time_axis_keeps_the_order_and_stays_on_paper(some):
    axis = time_axis(some, 266)
    moments = sorted({m for s in some for m in (s.earliest, s.latest)})
    places = [axis.x(m) for m in moments]
    assert places == sorted(places)
    assert places[0] >= 0
    assert places[-1] <= 266 + 1e-6
    for before, after in zip(axis.stretches, axis.stretches[1:], strict=False):
        assert before.right < after.left
        assert before.end < after.start


@given(st.floats(-1e9, 1e9), st.floats(1e-6, 1e9), st.integers(2, 10))
def test_ticks_are_few_round_and_inside(low, width, most):
    high = low + width
    found = ticks(low, high, most)
    if high > low:
        assert len(found) <= most + 2
        values = [value for value, _ in found]
        assert values == sorted(values)
        slack = width * 1e-3 + abs(low) * 1e-9
        assert all(low - slack <= value <= high + slack for value in values)


def test_ticks_of_a_known_range():
    assert [text for _, text in ticks(-0.3, 1.05, 5)] == ["0", "0.5", "1"]
    assert [text for _, text in ticks(0, 120, 6)] == ["0", "20", "40", "60", "80", "100", "120"]


def panel(name="Voltage, coil control", low=(0.0, -1.0, 2.0), high=(1.0, 5.0, 2.5)):
    return Panel(name, "V", low, high)


def test_a_plot_is_readable_and_keeps_its_spikes():
    plot = Plot((0.0, 1.0, 2.0), "ms", (panel(), panel("Ω" * 300, (0.0,) * 3, (0.0,) * 3), panel(low=(1e-9,) * 3, high=(2e6,) * 3)))
    picture = drawing.waveform(plot, WIDTH)
    assert_clear(picture)
    curve = next(item for item in picture.contents if isinstance(item, PolyLine))
    heights = curve.points[1::2]
    assert max(heights) == heights[3]  # the highest value of the second step
    assert min(heights) == heights[2]
    assert "in V" in [text for *_, text in boxes(picture)]
    assert "time in ms" in [text for *_, text in boxes(picture)]


def test_marks_stand_where_they_were_read_and_the_legend_says_what_they_are():
    marks = (Mark("pulse_start", (0.5,)), Mark("pulse_end", (1.0,), more=7), Mark("top", (1.5, 99.0)), Mark("level", (2.0, 400.0)))
    marked = Plot((0.0, 1.0, 2.0), "ms", (replace(panel(), marks=marks), panel()))
    picture = drawing.waveform(marked, WIDTH)
    assert_clear(picture)
    said = [text for *_, text in boxes(picture)]
    assert said[-4:] == ["pulse begins", "pulse ends (the first ones; 7 more)", "compression top", "level read"]
    signs = [i for i in picture.contents if type(i).__name__ == "Polygon"]
    assert len(signs) == 3 + 3  # one of each in the plot (one top lies outside of it), one of each in the legend
    left, right = 46.0, WIDTH - 8
    assert signs[0].points[0] == left + (right - left) / 4
    assert picture.height == drawing.plot_height(2, marked=True) > drawing.waveform(Plot(marked.times, "ms", (panel(), panel())), WIDTH).height
    assert describing.plot_words(marked).endswith("Marked: pulse begins, pulse ends, compression top, level read.")


def test_a_long_label_is_cut_with_an_ellipsis_and_fits():
    lines = drawing.wrap("Donaudampfschifffahrtselektrizitätenhauptbetriebswerk " * 4, 90, 2)
    assert len(lines) == 2
    assert lines[-1].endswith("…")
    assert all(fonts.width_of(line, fonts.SANS, 7) <= 90 for line in lines)
    assert drawing.wrap("short", 90, 2) == ("short",)


def test_uncertain_times_are_bars_and_sure_ones_are_points():
    sure = Happening("Event 1", "sure", TimeSpan(START, START), "a")
    wide = Happening("Event 2", "wide", TimeSpan(START, START + dt.timedelta(days=3)), "a")
    placed = drawing.lay_out([sure, wide], time_axis([sure.span, wide.span], 266), 100)
    assert placed[0].right == placed[0].left
    assert placed[1].right - placed[1].left > 100


def lines(picture):
    return [(i.x1, i.y1, i.x2, i.y2) for i in picture.contents if type(i).__name__ == "Line" and i.strokeColor.hexval() == "0x1b1f23"]


def at(hours):
    return TimeSpan(START + dt.timedelta(hours=hours), START + dt.timedelta(hours=hours))


def test_every_cause_has_an_arrow_head_of_its_own_also_where_bars_stand_below_each_other():
    told = [Happening("Event 1", "a", at(0), "l"), Happening("Event 2", "b", at(0), "l", ("Event 1",)), Happening("Event 3", "c", at(90), "l", ("Event 1", "Event 9"))]
    heads = [i for i in drawing.timeline(told, WIDTH).contents if type(i).__name__ == "Polygon"]
    assert len(heads) == 2 + 1  # and the one in the legend
    assert len({tuple(h.points) for h in heads}) == 3
    assert len(lines(drawing.timeline(told, WIDTH))) >= 5


def test_without_a_recorded_cause_there_is_no_arrow_and_no_word_of_one():
    picture = drawing.timeline([Happening("Event 1", "a", at(0), "l"), Happening("Event 2", "b", at(9), "l")], WIDTH)
    assert [i for i in picture.contents if type(i).__name__ == "Polygon"] == []
    assert not any("led to" in text for *_, text in boxes(picture))


def test_five_panels_leave_room_for_what_is_said_of_them_and_fewer_are_higher():
    heights = [drawing.plot_height(n) for n in range(1, 6)]
    assert heights == sorted(heights)
    assert heights[-1] < 420


rows = st.builds(
    Reach, name=labels.filter(str.strip), note=labels, sure=st.lists(spans, max_size=3).map(tuple),
    possible=st.lists(spans, max_size=3).map(tuple), work=st.lists(spans, max_size=2).map(tuple), open=st.booleans(),
)  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(st.lists(rows, min_size=1, max_size=ROWS_A_PICTURE), st.booleans())
def test_a_matrix_of_anyone_is_readable(found, known):
    window = TimeSpan(START, START + dt.timedelta(days=2600))
    good = ("Observation 12", TimeSpan(START, START)) if known else None
    assert_clear(matrix(Matrix(window, good, ("Measurement 1234", window), tuple(found)), WIDTH))


def test_a_bar_of_the_matrix_stands_where_its_time_is():
    day = dt.timedelta(days=1)
    window = TimeSpan(START, START + 10 * day)
    half = TimeSpan(START, START + 5 * day)
    row = Reach("Garage", "prior repairer", (half,), (window,), (), open=True)
    bars = [i for i in matrix(Matrix(window, None, ("Observation 1", window), (row,)), WIDTH).contents if isinstance(i, Rect) and i.height == 8]
    whole, sure = sorted(bars, key=lambda b: -b.width)
    assert whole.x == sure.x
    assert abs(sure.width * 2 - whole.width) < 0.01
