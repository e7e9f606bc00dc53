"""The control chart of the comeback register, drawn: each month's rate between its own limits, signals marked and named."""

from __future__ import annotations

from typing import Any, Final

from evidence.register.intervals import Chart
from evidence.report import fonts
from evidence.report.axis import ticks
from evidence.report.strokes import ACCENT, GREY, INK, PALE, RULE, line, rect, text

HEIGHT: Final = 190.0
MONTHS: Final = 60  # in one picture
_FOOT, _LEFT = 40.0, 34.0


def control_chart(chart: Chart, width: float) -> Any:
    """The last :data:`MONTHS` months: rate in per cent, centre line, and limits that step with the orders of each month."""
    from reportlab.graphics.shapes import Circle, Drawing, PolyLine
    from reportlab.lib.colors import HexColor

    fonts.ready()
    points = chart.points[-MONTHS:]
    top = max(max(p.rate, p.high) for p in points) * 100 * 1.06 or 1.0
    right, base, high = width - 8, _FOOT, HEIGHT - 6
    step = (right - _LEFT) / len(points)

    def at(share: float) -> float:
        return base + (high - base) * share * 100 / top

    drawing = Drawing(width, HEIGHT)
    rect(drawing, _LEFT, base, right - _LEFT, high - base, "#ffffff", RULE)
    for i, p in enumerate(points):
        x = _LEFT + i * step
        rect(drawing, x, at(p.low), step, at(p.high) - at(p.low), PALE)
        line(drawing, x, at(p.high), x + step, at(p.high), GREY, 0.6, dashed=True)
        line(drawing, x, at(p.low), x + step, at(p.low), GREY, 0.6, dashed=True)
    for value, words in ticks(0, top, 5):
        y = at(value / 100)
        line(drawing, _LEFT - 3, y, _LEFT, y, GREY)
        text(drawing, _LEFT - 5 - fonts.width_of(words, fonts.SANS, 6), y - 2, words, 6, GREY)
    line(drawing, _LEFT, at(chart.centre), right, at(chart.centre), INK)
    middles = [(_LEFT + (i + 0.5) * step, at(p.rate)) for i, p in enumerate(points)]
    flat = [round(v, 2) for xy in middles for v in xy]
    drawing.add(PolyLine(flat, strokeWidth=0.8, strokeColor=HexColor(ACCENT)))
    every = -(-len(points) // 12)
    for i, (p, (x, y)) in enumerate(zip(points, middles, strict=True)):
        drawing.add(
            Circle(x, y, 3.2 if p.signal else 1.6, fillColor=HexColor(INK if p.signal else ACCENT), strokeColor=None)
        )
        if i % every == 0:
            text(drawing, x - fonts.width_of(p.period, fonts.SANS, 6) / 2, base - 11, p.period, 6, GREY)
    legend = "per cent come back, by month of the work; centre line, limits dashed, large dots are signals"
    text(drawing, _LEFT, 8, legend, 6.5, GREY)
    return drawing


def chart_words(chart: Chart) -> str:
    """What the picture shows, in words."""
    points = chart.points[-MONTHS:]
    signals = "; ".join(f"{p.period} {p.signal}" for p in points if p.signal) or "none"
    low, high = min(p.rate for p in points) * 100, max(p.rate for p in points) * 100
    return (
        f"Control chart of {len(points)} months, {points[0].period} to {points[-1].period}: rates between {low:.1f} and {high:.1f} per "
        f"cent around a centre of {chart.centre * 100:.1f} per cent. Signals: {signals}."
    )
