"""The pictures that the report draws itself: the timeline and the waveforms. Vector, in points, no text over text."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from evidence.model.when import TimeSpan
from evidence.report import fonts, strokes
from evidence.report.axis import TimeAxis, ticks, time_axis
from evidence.report.blocks import Happening, Panel, Plot
from evidence.report.curve_marks import LEGEND_HEIGHT, draw_legend, draw_marks, legend_of
from evidence.report.strokes import arrow as _arrow
from evidence.report.strokes import line as _line
from evidence.report.strokes import rect as _rect
from evidence.report.strokes import text as _text

ACCENT, INK, GREY, RULE, PALE = strokes.ACCENT, strokes.INK, strokes.GREY, strokes.RULE, strokes.PALE
LANES = ("#1d5263", "#b5651d", "#6b7a3a", "#7a4a78", "#8a8f94", "#2f7f79")
_ROW, _LABEL, _SIZE = 17.0, 205.0, strokes.SIZE
ROWS_A_PICTURE = 34


@dataclass(frozen=True, slots=True)
class Placed:
    """A happening with its place: label box and bar, in points from the lower left corner."""

    happening: Happening
    y: float
    lines: tuple[str, ...]
    left: float
    right: float


def lay_out(happenings: Sequence[Happening], axis: TimeAxis, height: float) -> list[Placed]:
    """One row for each happening, from top to bottom; labels are cut to two lines of their column."""
    placed = []
    for index, happening in enumerate(happenings):
        left = _LABEL + axis.x(happening.span.earliest)
        right = _LABEL + axis.x(happening.span.latest)
        lines = wrap(f"{happening.key}: {happening.text}", _LABEL - 14, 2)
        placed.append(Placed(happening, height - (index + 0.5) * _ROW, lines, left, max(right, left)))
    return placed


def wrap(text: str, width: float, most: int, font: str = fonts.SANS, size: float = _SIZE) -> tuple[str, ...]:
    """Break ``text`` into at most ``most`` lines that fit ``width``; what is left over is cut with an ellipsis."""
    lines: list[str] = []
    words = fonts.drawable(" ".join(text.split())).split(" ")
    line = ""
    while words:
        word = words.pop(0)
        tried = f"{line} {word}" if line else word
        if fonts.width_of(tried, font, size) <= width:
            line = tried
        elif line:
            lines.append(line)
            line = ""
            words.insert(0, word)
        else:  # a single word wider than the column
            cut = next(n for n in range(len(word), 0, -1) if n == 1 or fonts.width_of(word[:n], font, size) <= width)
            lines.append(word[:cut])
            words[:0] = [word[cut:]] if word[cut:] else []
    lines += [line] if line else []
    if len(lines) > most:
        last = lines[most - 1]
        while last and fonts.width_of(last + "…", font, size) > width:
            last = last[:-1]
        lines = [*lines[: most - 1], last.rstrip() + "…"]
    return tuple(lines)


def timeline(
    happenings: Sequence[Happening], width: float, spans: Sequence[TimeSpan] = (), lanes: Sequence[str] = ()
) -> Any:
    """The picture: labels left, bars right; uncertain times are bars, causes are arrows, pauses are cut.

    ``spans`` and ``lanes`` set axis and colours where a timeline is continued on another page.
    """
    from reportlab.graphics.shapes import Drawing

    fonts.ready()
    axis = time_axis(spans or [h.span for h in happenings], width - _LABEL - 8)
    body = len(happenings) * _ROW
    drawing = Drawing(width, body + 46)
    placed = lay_out(happenings, axis, body + 24)
    lanes = lanes or list(dict.fromkeys(h.lane for h in happenings))
    _draw_axis(drawing, axis, width)
    for index, item in enumerate(placed):
        if index % 2 == 0:
            _rect(drawing, 0, item.y - _ROW / 2, width, _ROW, PALE)
    _draw_axis_lines(drawing, axis, body)
    for item in placed:
        _draw_item(drawing, item, LANES[lanes.index(item.happening.lane) % len(LANES)])
    _draw_causes(drawing, placed)
    _draw_legend(drawing, lanes, body + 34, causes=any(item.happening.causes for item in placed))
    return drawing


def _draw_item(drawing: Any, item: Placed, colour: str) -> None:
    top = item.y + (1.2 if len(item.lines) == 2 else -2.4)
    for index, line in enumerate(item.lines):
        _text(drawing, 4, top - index * 7.6, line)
    _rect(drawing, item.left - 1.6, item.y - 3.2, max(item.right - item.left, 0) + 3.2, 6.4, colour)


def _draw_axis(drawing: Any, axis: TimeAxis, width: float) -> None:
    _line(drawing, 0, 24, width, 24, RULE)
    for x, text in axis.ticks(46):
        half = fonts.width_of(text, fonts.SANS, 6) / 2
        _text(drawing, min(max(_LABEL + x - half, _LABEL - 8), width - 2 * half), 12, text, 6, GREY)
    for left, right, length in axis.pauses():
        days = length.days
        words = f"{days} days" if days > 1 else f"{length.seconds // 3600 + days * 24} h"
        half = fonts.width_of(words, fonts.SANS, 5.5) / 2
        _text(drawing, _LABEL + (left + right) / 2 - half, 2, words, 5.5, GREY)


def _draw_axis_lines(drawing: Any, axis: TimeAxis, body: float) -> None:
    for x, _ in axis.ticks(46):
        _line(drawing, _LABEL + x, 22, _LABEL + x, 24 + body, RULE, 0.4)
    for left, right, _length in axis.pauses():
        middle = _LABEL + (left + right) / 2
        for shift in (-2, 2):
            _line(drawing, middle + shift - 1.5, 21, middle + shift + 1.5, 27, GREY, 0.8)
            _line(drawing, middle + shift, 24, middle + shift, 24 + body, RULE, 0.4, dashed=True)


def _draw_causes(drawing: Any, placed: Sequence[Placed]) -> None:
    """An arrow from each cause to its effect; where both stand below each other it runs along their left side."""
    by_key = {item.happening.key: item for item in placed}
    pairs = [(by_key[c], item) for item in placed for c in item.happening.causes if c in by_key]
    for number, (source, item) in enumerate(pairs):
        x = (source.left + source.right) / 2
        down = 1 if source.y > item.y else -1
        if item.right + 6 < x or x < item.left - 6:
            right = 1 if x < item.left else -1
            edge = item.left - 1.6 if right > 0 else item.right + 1.6
            _path(drawing, (x, source.y - 3.2 * down), (x, item.y), (edge - 3 * right, item.y))
            _arrow(drawing, edge, item.y, right, 0)
        else:
            side = min(source.left, item.left) - 1.6 - 7 - 3 * (number % 3)
            _path(
                drawing,
                (source.left - 1.6, source.y - down),
                (side, source.y - down),
                (side, item.y),
                (item.left - 4, item.y),
            )
            _arrow(drawing, item.left - 1.6, item.y, 1, 0)


def _path(drawing: Any, *points: tuple[float, float]) -> None:
    for (x, y), (to_x, to_y) in itertools.pairwise(points):
        _line(drawing, x, y, to_x, to_y, INK, 0.9)


def _draw_legend(drawing: Any, lanes: Sequence[str], y: float, *, causes: bool) -> None:
    x = 4.0
    for index, lane in enumerate(lanes):
        _rect(drawing, x, y, 8, 6, LANES[index % len(LANES)])
        _text(drawing, x + 11, y, lane, 6.5, GREY)
        x += 22 + fonts.width_of(lane, fonts.SANS, 6.5)
    if not causes:
        return
    _line(drawing, x, y + 3, x + 12, y + 3, INK, 0.8)
    _arrow(drawing, x + 14, y + 3, 1, 0)
    _text(drawing, x + 18, y, "led to, as recorded", 6.5, GREY)


PANELS_A_PICTURE = 5


def panel_height(panels: int) -> float:
    """Height of one of so many panels: five leave room on the page for what is said of them."""
    return 84.0 if panels <= 2 else 56.0 + 12 * (PANELS_A_PICTURE - panels)


def plot_height(panels: int, *, marked: bool = False) -> float:
    """Height of a picture with so many panels, ``marked``: with a line that says what the marks mean."""
    return panels * (panel_height(panels) + 20) + 24 + (LEGEND_HEIGHT if marked else 0)


def waveform(plot: Plot, width: float) -> Any:
    """One panel for each channel: lowest to highest value in each step, axes with round values and units."""
    from reportlab.graphics.shapes import Drawing

    fonts.ready()
    marked = bool(legend_of(plot))
    height = plot_height(len(plot.panels), marked=marked)
    foot = LEGEND_HEIGHT if marked else 0.0
    drawing = Drawing(width, height)
    left, right = 46.0, width - 8
    high = panel_height(len(plot.panels))
    for index, panel in enumerate(plot.panels):
        base = height - (index + 1) * (high + 20) + 4
        _panel(drawing, panel, plot.times, (left, base, right, base + high))
    start, end = plot.times[0], plot.times[-1]
    for value, text in ticks(start, end, 8):
        x = _scale(value, start, end, left, right)
        _line(drawing, x, foot + 28, x, foot + 25, GREY)
        half = fonts.width_of(text, fonts.SANS, 6) / 2
        _text(drawing, min(x - half, width - 2 * half), foot + 17, text, 6, GREY)
    words = f"time in {plot.time_unit}"
    _text(drawing, (left + right - fonts.width_of(words, fonts.SANS, 6.5)) / 2, foot + 5, words, 6.5, GREY)
    if marked:
        draw_legend(drawing, plot, left, 4)
    return drawing


def _panel(drawing: Any, panel: Panel, times: Sequence[float], box: tuple[float, float, float, float]) -> None:
    from reportlab.graphics.shapes import PolyLine
    from reportlab.lib.colors import HexColor

    left, base, right, top = box
    low, high = min(panel.low), max(panel.high)
    margin = (high - low) * 0.06 or abs(high) * 0.1 or 1.0
    low, high = low - margin, high + margin
    _rect(drawing, left, base, right - left, top - base, "#ffffff", RULE)
    for value, text in ticks(low, high, 5):
        y = _scale(value, low, high, base, top)
        _line(drawing, left, y, right, y, RULE, 0.3)
        _text(drawing, left - 4 - fonts.width_of(text, fonts.SANS, 6), y - 2, text, 6, GREY)
    points: list[float] = []
    for time, lo, hi in zip(times, panel.low, panel.high, strict=True):
        x = _scale(time, times[0], times[-1], left, right)
        points += [x, _scale(lo, low, high, base, top), x, _scale(hi, low, high, base, top)]
    drawing.add(PolyLine([round(p, 2) for p in points], strokeWidth=0.5, strokeColor=HexColor(ACCENT)))
    draw_marks(
        drawing, panel.marks, box, lambda t: _scale(t, times[0], times[-1], left, right),
        lambda v: _scale(v, low, high, base, top),
    )  # fmt: skip
    name = wrap(panel.name, right - left - 60, 1, size=7)
    _text(drawing, left, top + 4, " ".join(name), 7)
    unit = f"in {panel.unit}"
    _text(drawing, right - fonts.width_of(unit, fonts.SANS, 6.5), top + 4, unit, 6.5, GREY)


def _scale(value: float, low: float, high: float, start: float, end: float) -> float:
    return start + (end - start) * ((value - low) / (high - low) if high > low else 0.5)
