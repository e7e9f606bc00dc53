"""The Pareto table of the comeback register, drawn: a bar for each cause, the dearest first, and the share of all so far."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, Final

from evidence.register.views import CostBars, money
from evidence.report import fonts
from evidence.report.strokes import ACCENT, GREY, INK, PALE, RULE, line, rect, text

MOST: Final = 12  # bars in one picture; the table holds all
_ROW, _HEAD, _FOOT, _WORDS, _SUM = 15.0, 14.0, 20.0, 168.0, 70.0


def height(what: CostBars) -> float:
    """In points."""
    return _HEAD + _FOOT + _ROW * min(len(what.pieces), MOST)


def cost_bars(what: CostBars, width: float) -> Any:
    """Bars from nothing to all that was spent, in per cent of it; the step line adds them up."""
    from reportlab.graphics.shapes import Circle, Drawing
    from reportlab.lib.colors import HexColor

    fonts.ready()
    shown, high = what.pieces[:MOST], height(what)
    left, right = _WORDS, width - _SUM
    whole = sum((p.cost for _, p in what.pieces), Decimal())

    def x(share: float) -> float:
        return left + (right - left) * share

    drawing = Drawing(width, high)
    rect(drawing, left, _FOOT, right - left, high - _HEAD - _FOOT, "#ffffff", RULE)
    for tenth in (0, 2, 4, 6, 8, 10):
        words = f"{tenth * 10} %"
        line(drawing, x(tenth / 10), _FOOT, x(tenth / 10), high - _HEAD, PALE)
        text(drawing, x(tenth / 10) - fonts.width_of(words, fonts.SANS, 6) / 2, high - _HEAD + 4, words, 6, GREY)
    before: tuple[float, float] | None = None
    for row, (words, piece) in enumerate(shown):
        low = high - _HEAD - (row + 1) * _ROW
        part = float(piece.cost / whole) if whole else 0.0
        text(drawing, 0, low + 5, _fitted(words), 7, INK)
        rect(drawing, left, low + 3, x(part) - left, _ROW - 6, ACCENT)
        told = money(piece.cost, what.currency)
        text(drawing, width - fonts.width_of(told, fonts.SANS, 7), low + 5, told, 7, INK)
        here = (x(float(piece.cumulative)), low + _ROW / 2)
        if before:
            line(drawing, *before, *here, INK, 0.8)
        drawing.add(Circle(*here, 1.6, fillColor=HexColor(INK), strokeColor=None))
        before = here
    text(drawing, left, 6, f"share of all that it cost ({what.currency}); dots: together with those above", 6.5, GREY)
    return drawing


def _fitted(words: str) -> str:
    if fonts.width_of(words, fonts.SANS, 7) <= _WORDS - 6:
        return words
    while fonts.width_of(words + "…", fonts.SANS, 7) > _WORDS - 6:
        words = words[:-1]
    return words.rstrip() + "…"


def bars_words(what: CostBars) -> str:
    """What the picture shows, in words."""
    shown = what.pieces[:MOST]
    told = "; ".join(
        f"{words} {money(p.cost, what.currency)}, together {p.cumulative * 100:.0f} %" for words, p in shown
    )
    more = f" {len(what.pieces) - MOST} more are in the table." if len(what.pieces) > MOST else ""
    return f"Pareto bars of cost, the dearest first: {told}.{more}"
