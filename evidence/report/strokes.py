"""Colours and the few strokes that every drawn picture is made of. Vector, in points from the lower left corner."""

from __future__ import annotations

from typing import Any

from evidence.report import fonts

ACCENT, INK, GREY, RULE, PALE = "#1d5263", "#1b1f23", "#667077", "#c4ccd1", "#eef3f5"
SIZE = 7.0


def text(drawing: Any, x: float, y: float, words: str, size: float = SIZE, colour: str = INK) -> None:
    """Words from ``x`` on; what the font has no sign for is shown as such."""
    from reportlab.graphics.shapes import String
    from reportlab.lib.colors import HexColor

    shown = fonts.drawable(words)
    drawing.add(String(x, y, shown, fontName=fonts.SANS, fontSize=size, fillColor=HexColor(colour)))


def line(
    drawing: Any, x: float, y: float, to_x: float, to_y: float, colour: str, width: float = 0.6, *, dashed: bool = False
) -> None:
    """A straight line."""
    from reportlab.graphics.shapes import Line
    from reportlab.lib.colors import HexColor

    dash = [1.5, 1.5] if dashed else None
    drawing.add(Line(x, y, to_x, to_y, strokeColor=HexColor(colour), strokeWidth=width, strokeDashArray=dash))


def rect(drawing: Any, x: float, y: float, width: float, height: float, fill: str, edge: str | None = None) -> None:
    """A filled rectangle, with an edge where one is given."""
    from reportlab.graphics.shapes import Rect
    from reportlab.lib.colors import HexColor

    stroke = HexColor(edge) if edge else None
    drawing.add(Rect(x, y, width, height, fillColor=HexColor(fill), strokeColor=stroke, strokeWidth=0.5))


def arrow(drawing: Any, x: float, y: float, right: int, up: int) -> None:
    """The head of an arrow, its tip at ``x``, ``y``; one of ``right`` and ``up`` is 1 or -1, the other 0."""
    from reportlab.graphics.shapes import Polygon
    from reportlab.lib.colors import HexColor

    back, side = 3.6, 1.9
    base_x, base_y = x - back * right, y - back * up
    points = [x, y, base_x + side * up, base_y + side * right, base_x - side * up, base_y - side * right]
    drawing.add(Polygon(points, fillColor=HexColor(INK), strokeColor=None))
