"""The drawn curve and bars of the register: what is drawn is what was counted, inside the picture, and told in words."""

from __future__ import annotations

from decimal import Decimal

import pytest
from evidence.register.figures import cumulated
from evidence.register.intervals import curve
from evidence.register.views import CostBars, LastingCurve
from evidence.report import cost_bars, lasting_curve
from evidence.report.register_pictures import drawn, height
from evidence.report.strokes import INK
from reportlab.graphics.shapes import Circle, Line, PolyLine, Rect

# Freireich et al., Blood 21 (1963): weeks of remission under 6-MP; the second list left while still in remission.
SIX_MP = LastingCurve(curve([6, 6, 6, 7, 10, 13, 16, 22, 23], [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]), "days")


def of(drawing, kind):
    return [s for s in drawing.contents if isinstance(s, kind)]


def test_the_numbers_watched_are_those_printed_of_the_six_mp_arm():
    """At the events as in the published table of this arm; between them counted by hand."""
    assert [SIX_MP.curve.at_risk(t) for t in (0, 6, 6.5, 7, 10, 13, 16, 22, 23, 24)] == [21, 21, 17, 17, 15, 12, 11, 7, 6, 5]
    assert sum(p.came_back for p in SIX_MP.curve.steps) == 9
    assert sum(n for _, n in SIX_MP.curve.censored) == 12


def test_the_line_steps_where_the_curve_does():
    drawing = lasting_curve.lasting_curve(SIX_MP, 450)
    (line,) = of(drawing, PolyLine)
    xs, ys = line.points[::2], line.points[1::2]
    assert len(xs) == 2 * 8  # level to the first step, and seven steps
    assert ys == sorted(ys)
    left, right, base = min(xs), max(xs), min(ys)
    end = lasting_curve.drawn_to(SIX_MP)
    assert end == pytest.approx(25.3)  # a tenth beyond the last comeback
    for point, x in zip(SIX_MP.curve.steps, xs[2::2], strict=True):
        assert (x - left) / (right - left) == pytest.approx(point.at / end, abs=1e-3)
    by_height = [(y - base) / (max(ys) - base) for y in ys[2::2]]
    assert by_height == pytest.approx([p.share / SIX_MP.curve.steps[-1].share for p in SIX_MP.curve.steps], abs=1e-3)


def test_each_order_watched_no_longer_has_its_stroke_on_the_curve():
    drawing = lasting_curve.lasting_curve(SIX_MP, 450)
    strokes = [s for s in of(drawing, Line) if s.x1 == s.x2 and abs(s.y2 - s.y1 - 4) < 1e-9]
    assert len(strokes) == 8  # 6 9 10 11 17 19 20 25; those of 32 and later lie beyond the picture


def test_limits_are_drawn_on_both_sides_of_every_step():
    drawing = lasting_curve.lasting_curve(SIX_MP, 450)
    _frame, *bands = of(drawing, Rect)
    (line,) = of(drawing, PolyLine)
    for band, y in zip(bands, line.points[5::4], strict=True):
        assert band.y < y < band.y + band.height
    assert all(s.x >= 0 and s.x + s.width <= 450 and s.y + s.height <= lasting_curve.HEIGHT for s in of(drawing, Rect))


def test_the_words_say_what_the_curve_shows():
    told = lasting_curve.curve_words(SIX_MP)
    assert told.startswith("Kaplan-Meier steps of 21 orders, 9 of which came back: by 23 days 55.2 per cent had (95 % limits 3")
    assert told.endswith("Drawn to 25 days; the longest was watched 35.")


def test_a_curve_of_one_comeback_at_once_can_be_drawn():
    assert lasting_curve.lasting_curve(LastingCurve(curve([0], []), "km"), 450).height == lasting_curve.HEIGHT


# Own figures: 700 + 200 + 100.
COSTS = CostBars("EUR", tuple((p.name, p) for p in cumulated({"a": (Decimal("700.00"), 2), "b": (Decimal("200.00"), 5), "c": (Decimal("100.00"), 1)})))


def test_bars_are_as_long_as_their_share_and_dots_add_them_up():
    drawing, words = drawn(COSTS, 450)
    frame, *bars = of(drawing, Rect)
    assert [b.width / frame.width for b in bars] == pytest.approx([0.7, 0.2, 0.1])
    assert [(d.cx - frame.x) / frame.width for d in of(drawing, Circle)] == pytest.approx([0.7, 0.9, 1.0])
    assert len([s for s in of(drawing, Line) if s.strokeColor.hexval()[2:] == INK[1:]]) == 2
    assert words == "Pareto bars of cost, the dearest first: a 700.00 EUR, together 70 %; b 200.00 EUR, together 90 %; c 100.00 EUR, together 100 %."
    assert drawing.height == height(COSTS)


def test_many_bars_are_cut_off_and_told():
    many = CostBars("EUR", tuple((f"cause {p.name}", p) for p in cumulated({f"{n:02}": (Decimal(n), 1) for n in range(1, 31)})))
    assert len(of(cost_bars.cost_bars(many, 450), Circle)) == cost_bars.MOST
    assert cost_bars.bars_words(many).endswith(" 18 more are in the table.")


def test_what_cost_nothing_at_all_can_be_drawn():
    free = CostBars("EUR", tuple((p.name, p) for p in cumulated({"a": (Decimal(0), 1)})))
    assert cost_bars.cost_bars(free, 450).height == height(free)
