"""How long work held, drawn: the Kaplan-Meier steps with their limits, and a stroke for each order that was not watched longer."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from evidence.register.views import LastingCurve
from evidence.report import fonts
from evidence.report.axis import ticks
from evidence.report.strokes import ACCENT, GREY, INK, PALE, RULE, line, rect, text

HEIGHT: Final = 214.0
BEYOND: Final = 1.1  # drawn this many times as far as the last comeback; beyond it the curve is level
_FOOT, _LEFT, _APART = 62.0, 46.0, 0.8


def drawn_to(what: LastingCurve) -> float:
    """Where the picture ends, in days or kilometres."""
    return min(what.curve.longest, what.curve.steps[-1].at * BEYOND) or 1.0


def lasting_curve(what: LastingCurve, width: float) -> Any:
    """Share come back over time or distance in per cent, its 95 % limits shaded; beneath, how many were still watched."""
    from reportlab.graphics.shapes import Drawing, PolyLine
    from reportlab.lib.colors import HexColor

    fonts.ready()
    end, right, high = drawn_to(what), width - 12, HEIGHT - 8
    top = min(100.0, max(max(p.share, p.high or 0) for p in what.curve.steps) * 106) or 1.0

    def x(at: float) -> float:
        return _LEFT + (right - _LEFT) * at / end

    def y(share: float) -> float:
        return _FOOT + (high - _FOOT) * share * 100 / top

    drawing = Drawing(width, HEIGHT)
    rect(drawing, _LEFT, _FOOT, right - _LEFT, high - _FOOT, "#ffffff", RULE)
    flat: list[float] = []
    for start, until, share, limits in _stretches(what):
        if limits:
            rect(drawing, x(start), y(limits[0]), x(until) - x(start), y(limits[1]) - y(limits[0]), PALE)
            for edge in limits:
                line(drawing, x(start), y(edge), x(until), y(edge), GREY, 0.6, dashed=True)
        flat += [x(start), y(share), x(until), y(share)]
    _axes(drawing, what, x, y, (end, top))
    drawing.add(PolyLine([round(v, 2) for v in flat], strokeWidth=1.1, strokeColor=HexColor(ACCENT)))
    for at, share in _strokes(what, (right - _LEFT) / end):
        line(drawing, x(at), y(share), x(at), y(share) + 4, INK, 0.5)
    of = "time since the work" if what.unit == "days" else "distance since the work"
    text(
        drawing,
        _LEFT,
        20,
        f"per cent come back, by {of} in {what.unit}; 95 % limits shaded between dashed lines",
        6.5,
        GREY,
    )
    text(drawing, _LEFT, 10, "upright strokes: watched until there and not come back by then", 6.5, GREY)
    return drawing


def _axes(drawing: Any, what: LastingCurve, x: Any, y: Any, ends: tuple[float, float]) -> None:
    for value, words in ticks(0, ends[1], 5):
        line(drawing, _LEFT - 3, y(value / 100), _LEFT, y(value / 100), GREY)
        text(drawing, _LEFT - 5 - fonts.width_of(words, fonts.SANS, 6), y(value / 100) - 2, words, 6, GREY)
    text(drawing, 0, _FOOT - 23, "watched", 6, GREY)
    for value, words in ticks(0, ends[0], 8):
        line(drawing, x(value), _FOOT - 3, x(value), _FOOT, GREY)
        for below, shown in ((11, f"{value:,.0f}" if value >= 1000 else words), (23, f"{what.curve.at_risk(value):,}")):
            text(drawing, x(value) - fonts.width_of(shown, fonts.SANS, 6) / 2, _FOOT - below, shown, 6, GREY)


def _stretches(what: LastingCurve) -> Iterator[tuple[float, float, float, tuple[float, float] | None]]:
    """From, to, share and limits of each level stretch of the steps."""
    steps = what.curve.steps
    ends = [*(p.at for p in steps[1:]), drawn_to(what)]
    yield 0.0, steps[0].at, 0.0, None
    for point, end in zip(steps, ends, strict=True):
        limits = None if point.low is None or point.high is None else (point.low, point.high)
        yield point.at, end, point.share, limits


def _strokes(what: LastingCurve, a_unit: float) -> Iterator[tuple[float, float]]:
    """Where a stroke stands and how high the curve is there; those that would fall on each other are drawn once."""
    last = -1.0
    steps, share, place = what.curve.steps, 0.0, 0
    for at, _count in what.curve.censored:
        if at > drawn_to(what):
            return
        while place < len(steps) and steps[place].at <= at:
            share, place = steps[place].share, place + 1
        if last < 0 or (at - last) * a_unit >= _APART:
            last = at
            yield at, share


def curve_words(what: LastingCurve) -> str:
    """What the picture shows, in words."""
    curve, end = what.curve, what.curve.steps[-1]
    limits = (
        "" if end.low is None or end.high is None else f" (95 % limits {end.low * 100:.1f} to {end.high * 100:.1f})"
    )
    return (
        f"Kaplan-Meier steps of {curve.watched:,} orders, {curve.came_back:,} of which came back: by {end.at:,.0f} {what.unit} "
        f"{end.share * 100:.1f} per cent had{limits}. Drawn to {drawn_to(what):,.0f} {what.unit}; the longest was watched "
        f"{curve.longest:,.0f}."
    )
