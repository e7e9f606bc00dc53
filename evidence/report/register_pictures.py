"""Pictures of the comeback register: which drawing and which words each of them has."""

from __future__ import annotations

from typing import Any

from evidence.register.intervals import Chart
from evidence.register.views import CostBars, LastingCurve
from evidence.report import control_chart, cost_bars, lasting_curve

Pictured = Chart | LastingCurve | CostBars


def drawn(what: Pictured, width: float) -> tuple[Any, str]:
    """The drawing, and what it shows in words."""
    if isinstance(what, Chart):
        return control_chart.control_chart(what, width), control_chart.chart_words(what)
    if isinstance(what, LastingCurve):
        return lasting_curve.lasting_curve(what, width), lasting_curve.curve_words(what)
    return cost_bars.cost_bars(what, width), cost_bars.bars_words(what)


def height(what: Pictured) -> float:
    """How high the drawing is, in points."""
    if isinstance(what, Chart):
        return control_chart.HEIGHT
    return lasting_curve.HEIGHT if isinstance(what, LastingCurve) else cost_bars.height(what)
