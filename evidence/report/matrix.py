"""The picture of an opportunity: who had the vehicle when, over the window of one departure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from evidence.model.when import TimeSpan
from evidence.report import fonts
from evidence.report.axis import TimeAxis, time_axis
from evidence.report.blocks import Matrix, Reach
from evidence.report.drawing import wrap
from evidence.report.strokes import ACCENT, GREY, INK, PALE, RULE, arrow, line, rect, text

ROWS_A_PICTURE = 18
_ROW, _LABEL, _RIGHT = 24.0, 168.0, 12.0
_FOOT, _HEAD = 28.0, 34.0
_MAYBE, _SURE_CLOSED, _MAYBE_CLOSED, _WORK = "#bcd3da", "#8a8f94", "#dfe3e5", "#b5651d"


def height(rows: int) -> float:
    """Height of a picture with so many lines."""
    return rows * _ROW + _FOOT + _HEAD


def matrix(block: Matrix, width: float) -> Any:
    """A line for each: surely had it (dark), may have had it (light), worked on the part (a band below)."""
    from reportlab.graphics.shapes import Drawing

    fonts.ready()
    high = height(len(block.rows))
    drawing = Drawing(width, high)
    axis = time_axis([block.window], width - _LABEL - _RIGHT)
    top = high - _HEAD
    for index in range(0, len(block.rows), 2):
        rect(drawing, 0, top - (index + 1) * _ROW, width, _ROW, PALE)
    _draw_axis(drawing, axis, width, top)
    for index, row in enumerate(block.rows):
        _draw_row(drawing, row, top - (index + 1) * _ROW, axis)
    _draw_ends(drawing, block, axis, top)
    _draw_legend(drawing, block.rows, high - 8)
    return drawing


def _draw_row(drawing: Any, row: Reach, base: float, axis: TimeAxis) -> None:
    name = " ".join(wrap(row.name, _LABEL - 12, 1))
    text(drawing, 4, base + 13.6, name, 7, INK if row.open else GREY)
    text(drawing, 4, base + 5, " ".join(wrap(row.note, _LABEL - 12, 1, size=6)), 6, GREY)
    for spans, colour in (
        (row.possible, _MAYBE if row.open else _MAYBE_CLOSED),
        (row.sure, ACCENT if row.open else _SURE_CLOSED),
    ):
        for span in spans:
            _bar(drawing, axis, span, base + 10, 8, colour)
    for span in row.work:
        _bar(drawing, axis, span, base + 4, 3.2, _WORK)


def _bar(drawing: Any, axis: TimeAxis, span: TimeSpan, y: float, high: float, colour: str) -> None:
    left, right = _LABEL + axis.x(span.earliest), _LABEL + axis.x(span.latest)
    rect(drawing, left, y, max(right - left, 1.2), high, colour)


def _draw_axis(drawing: Any, axis: TimeAxis, width: float, top: float) -> None:
    line(drawing, 0, _FOOT, width, _FOOT, RULE)
    for x, words in axis.ticks(52):
        half = fonts.width_of(words, fonts.SANS, 6) / 2
        text(drawing, min(max(_LABEL + x - half, _LABEL - 14), width - 2 * half), _FOOT - 10, words, 6, GREY)
        line(drawing, _LABEL + x, _FOOT - 2, _LABEL + x, top, RULE, 0.4)


def _draw_ends(drawing: Any, block: Matrix, axis: TimeAxis, top: float) -> None:
    """The two sides of the window, with the records that bound it."""
    left, right = _LABEL + axis.x(block.window.earliest), _LABEL + axis.x(block.window.latest)
    words = f"in order: {block.good[0]}" if block.good else "open to the past"
    line(drawing, left, _FOOT, left, top + 2, INK, 0.9, dashed=block.good is None)
    text(drawing, left, top + 5, words, 6, INK)
    if block.good is None:
        line(drawing, left - 2, _FOOT + 3, left - 12, _FOOT + 3, INK, 0.8)
        arrow(drawing, left - 14, _FOOT + 3, -1, 0)
    line(drawing, right, _FOOT, right, top + 2, INK, 0.9)
    words = f"otherwise: {block.bad[0]}"
    text(drawing, right - fonts.width_of(words, fonts.SANS, 6), top + 5, words, 6, INK)


def _draw_legend(drawing: Any, rows: Sequence[Reach], y: float) -> None:
    shown = [("surely had it", ACCENT), ("may have had it", _MAYBE)]
    if any(not r.open for r in rows):
        shown += [("the same, excluded by record", _SURE_CLOSED)]
    if any(r.work for r in rows):
        shown += [("time of work on the part", _WORK)]
    x = 4.0
    for words, colour in shown:
        rect(drawing, x, y, 8, 6, colour)
        text(drawing, x + 11, y, words, 6.5, GREY)
        x += 22 + fonts.width_of(words, fonts.SANS, 6.5)
