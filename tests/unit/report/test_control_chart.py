"""The drawn control chart: what it shows stands in words as well, and long ones show their last months."""

from __future__ import annotations

from evidence.register.intervals import p_chart
from evidence.report.control_chart import HEIGHT, MONTHS, chart_words, control_chart
from reportlab.graphics.shapes import Circle


def months(count: int, bad: int):
    return p_chart([(f"{2010 + i // 12}-{1 + i % 12:02}", 30 if i == bad else 3 + 5 * (i % 2), 100) for i in range(count)])


def test_each_month_has_its_dot_inside_the_picture_and_signals_are_larger():
    drawing = control_chart(months(24, 5), 450)
    dots = [s for s in drawing.contents if isinstance(s, Circle)]
    assert len(dots) == 24
    assert [i for i, d in enumerate(dots) if d.r > 2] == [5]
    assert all(0 < d.cx < 450 and 0 < d.cy < HEIGHT for d in dots)
    assert dots[5].cy == max(d.cy for d in dots)


def test_the_words_name_the_signals():
    told = chart_words(months(24, 5))
    assert told.startswith("Control chart of 24 months, 2010-01 to 2011-12: rates between 3.0 and 30.0 per cent")
    assert "Signals: 2010-06 above the upper limit." in told


def test_a_long_chart_shows_its_last_months():
    assert chart_words(months(100, 5)).startswith(f"Control chart of {MONTHS} months, 2013-05 to")
    assert len([s for s in control_chart(months(100, 5), 450).contents if isinstance(s, Circle)]) == MONTHS


def test_one_month_without_a_comeback_can_be_drawn():
    assert control_chart(p_chart([("2026-01", 0, 7)]), 450).height == HEIGHT
