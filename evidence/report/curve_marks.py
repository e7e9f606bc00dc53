"""Marks on the curves of a waveform: where pulses begin and end, humps, compression tops, levels; and what they mean."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Final

from evidence.report import fonts
from evidence.report.blocks import Mark, Plot

LEGEND_HEIGHT: Final = 14.0
_WORDS: Final = {
    "pulse_start": "pulse begins", "pulse_end": "pulse ends", "top": "compression top", "hump": "hump of the ripple",
    "level": "level read",
}  # fmt: skip
_COLOURS: Final = {
    "pulse_start": "#b5651d",
    "pulse_end": "#7a4a78",
    "top": "#b5651d",
    "hump": "#b5651d",
    "level": "#6b7a3a",
}
_SIZE: Final = 6.5
Place = Callable[[float], float]  # a value to points


def legend_of(plot: Plot) -> tuple[str, ...]:
    """The sorts of marks in a plot, in the order of the legend."""
    used = {mark.what for panel in plot.panels for mark in panel.marks if mark.at}
    return tuple(what for what in _WORDS if what in used)


def draw_marks(
    drawing: Any, marks: Sequence[Mark], box: tuple[float, float, float, float], x_of: Place, y_of: Place
) -> None:  # fmt: skip
    """Marks of one panel; ``box`` is left, base, right, top."""
    left, base, right, top = box
    for mark in marks:
        for at in mark.at:
            if mark.what == "level":
                y = y_of(at)
                if base < y < top:
                    _line(drawing, left, y, right, y, _COLOURS["level"])
                continue
            x = x_of(at)
            if not left <= x <= right:
                continue
            if mark.what == "top":
                _line(drawing, x, base, x, top - 5, _COLOURS["top"])
            _sign(drawing, mark.what, x, base + 4 if mark.what.startswith("pulse") else top - 3)


def draw_legend(drawing: Any, plot: Plot, left: float, y: float) -> None:
    """What the marks mean, in one line; and how many were left out because they would hide the curve."""
    from reportlab.graphics.shapes import String
    from reportlab.lib.colors import HexColor

    fonts.ready()
    x = left
    for what in legend_of(plot):
        words = _WORDS[what]
        more = sum(mark.more for panel in plot.panels for mark in panel.marks if mark.what == what)
        words += f" (the first ones; {more} more)" if more else ""
        if what == "level":
            _line(drawing, x - 3, y + 2.2, x + 5, y + 2.2, _COLOURS[what])
        else:
            _sign(drawing, what, x, y + 2.2)
        drawing.add(String(x + 8, y, words, fontName=fonts.SANS, fontSize=_SIZE, fillColor=HexColor("#667077")))
        x += 22 + fonts.width_of(words, fonts.SANS, _SIZE)


def marks_words(plot: Plot) -> str:
    """For who cannot see the picture."""
    used = legend_of(plot)
    return f" Marked: {', '.join(_WORDS[what] for what in used)}." if used else ""


def _sign(drawing: Any, what: str, x: float, y: float) -> None:
    from reportlab.graphics.shapes import Polygon
    from reportlab.lib.colors import HexColor

    points = {
        "pulse_start": (x, y - 3, x, y + 3, x + 4, y),
        "pulse_end": (x, y - 3, x, y + 3, x - 4, y),
        "top": (x - 2.6, y + 3, x + 2.6, y + 3, x, y - 2),
        "hump": (x - 1.6, y + 2, x + 1.6, y + 2, x, y - 2),
    }[what]
    drawing.add(Polygon(list(points), fillColor=HexColor(_COLOURS[what]), strokeColor=None))


def _line(drawing: Any, x: float, y: float, to_x: float, to_y: float, colour: str) -> None:
    from reportlab.graphics.shapes import Line
    from reportlab.lib.colors import HexColor

    drawing.add(Line(x, y, to_x, to_y, strokeColor=HexColor(colour), strokeWidth=0.4, strokeDashArray=[2, 1.5]))
