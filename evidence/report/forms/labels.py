"""Exhibit labels on label sheets or one by one: number, dossier, what, who took it and when, container and seal or hash."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from evidence.errors import EvidenceError
from evidence.report import fonts
from evidence.report.drawing import GREY, RULE
from evidence.report.forms.paper import (
    A4,
    LETTER,
    MM,
    TITLE_COLOR,
    WARNING,
    block,
    demonstration_mark,
    field,
    line_of,
    new_canvas,
    qr_code,
    rule,
    save,
    wrapped,
)
from evidence.timeline.forms import LabelCard


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Where the labels lie on a sheet, in millimetres. Sizes of the stationery trade; common practice, no source."""

    words: str
    page: tuple[float, float]  # points
    width: float
    height: float
    columns: int = 1
    rows: int = 1
    left: float = 0.0
    top: float = 0.0
    gap: float = 0.0  # between columns


SHEETS = {
    "a4-8": Sheet(
        words="A4, 8 labels of 99.1 × 67.7 mm", page=A4, width=99.1, height=67.7, columns=2, rows=4, left=4.65, top=13.1,
        gap=2.5,
    ),
    "a4-14": Sheet(
        words="A4, 14 labels of 99.1 × 38.1 mm", page=A4, width=99.1, height=38.1, columns=2, rows=7, left=4.65,
        top=15.15, gap=2.5,
    ),
    "letter-10": Sheet(
        words="Letter, 10 labels of 4 × 2 in", page=LETTER, width=101.6, height=50.8, columns=2, rows=5, left=3.96,
        top=12.7, gap=4.78,
    ),
    "single": Sheet(words="one label of 100 × 62 mm a page", page=(100 * MM, 62 * MM), width=100, height=62),
}  # fmt: skip
_HIGH = 60.0  # millimetres from which a label has room for everything


def build_labels(cards: Sequence[LabelCard], out: Path, sheet: str = "a4-8", start: int = 1) -> int:
    """Write the labels, the first at place ``start`` of the sheet; returns the number of pages."""
    if sheet not in SHEETS:
        raise EvidenceError(
            "no such label sheet",
            item=sheet,
            advice="There are: " + ", ".join(f"{n} ({s.words})" for n, s in SHEETS.items()),
        )
    laid = SHEETS[sheet]
    places = laid.columns * laid.rows
    if not 1 <= start <= places:
        raise EvidenceError(f"a sheet of {sheet} has places 1 to {places}", item=f"--start {start}")
    canvas = new_canvas(laid.page, f"Exhibit labels of {cards[0].dossier}")
    pages = 1
    for number, card in enumerate(cards, start - 1):
        place = number % places
        if number >= places and place == 0:
            canvas.showPage()
            pages += 1
        column, row = place % laid.columns, place // laid.columns
        x = (laid.left + column * (laid.width + laid.gap)) * MM
        y = laid.page[1] - (laid.top + (row + 1) * laid.height) * MM
        (_large if laid.height >= _HIGH else _small)(canvas, card, x, y, laid.width * MM, laid.height * MM)
    save(canvas, out)
    return pages


def _large(canvas: Any, card: LabelCard, x: float, y: float, width: float, height: float) -> None:
    """Everything: number, what, who, when, where, container, seal or hash, code, and what not to do."""
    pad = 4 * MM
    left, right, top = x + pad, x + width - pad, y + height - pad
    side = 29 * MM
    _head(canvas, card, left, right, top)
    room = right - left - side - 6
    down = block(canvas, card.what, left, top - 34, room, 8.2, 2, leading=1.2)
    if card.serial:
        block(canvas, card.serial, left, down - 0.5, room, 7, 1, color=GREY)
    rows: list[tuple[tuple[str, str, float], ...]] = [((card.by_word, card.by, 0.5), ("on", card.when, 0.5))]
    if not card.digest:
        rows.append((("Place", card.place, 1.0),))
        rows += [(("Container", card.container, 1.0),)] if card.boxed else []
        rows.append((("Seal", card.seal, 1.0),))
    base = y + pad + 17
    if card.digest:
        for n in (0, 1):
            line_of(canvas, _grouped(card.digest[32 * n : 32 * n + 32]), left, base + 9 - 7.4 * n, 5.4, font=fonts.MONO)
        line_of(canvas, "SHA-256 of the file", left, base + 17.6, 6.0, color=GREY)
        base += 34
    for row in reversed(rows):
        at = left
        for name, value, share in row:
            field(canvas, name, value, at, base, room * share - 4, size=7.6)
            at += room * share
        base += 19.4
    qr_code(canvas, card.code, right - side + 6, y + pad + 22, side)
    rule(canvas, left, y + pad + 9, right - left)
    words = (
        "The original is kept under this hash; work on copies."
        if card.digest
        else "Evidence: do not open, clean or discard. Break a seal only on record."
    )
    line_of(canvas, words, left, y + pad + 1, 6.2, color=GREY)
    if card.demonstration:
        _mark(canvas, right, top - 29)


def _small(canvas: Any, card: LabelCard, x: float, y: float, width: float, height: float) -> None:
    """The same with less room: two lines of what, one each of who and of how it is recognised."""
    pad = 3.2 * MM
    left, right, top = x + pad, x + width - pad, y + height - pad
    side = min(27 * MM, height - 2 * pad - 16)
    _head(canvas, card, left, right, top)
    text_width = right - left - side - 6
    down = block(canvas, card.what, left, top - 34, text_width, 7.2, 2, leading=1.18) - 0.5
    who = ", ".join(t for t in (card.by, card.when) if t)
    down = block(canvas, f"{card.by_word}{'' if who else ':'} {who}", left, down, text_width, 6.4, 1, color=GREY) - 1.5
    if card.digest:
        block(canvas, f"SHA-256 {_grouped(card.digest[:16])} …", left, down, text_width, 6.2, 1, font=fonts.MONO)
    else:
        if card.boxed:
            down = block(canvas, f"Container: {card.container}", left, down, text_width, 6.6, 1)
        block(
            canvas,
            f"Seal: {card.seal}",
            left,
            down - 0.5,
            text_width,
            6.8,
            1,
            font=fonts.BOLD if card.seal else fonts.SANS,
        )
    qr_code(canvas, card.code, right - side + 4, y + pad - 5, side)
    if card.demonstration:
        demonstration_mark(canvas, left, y + pad - 4, 4.6)


def _head(canvas: Any, card: LabelCard, left: float, right: float, top: float) -> None:
    """Number, dossier and firm over a rule."""
    line_of(canvas, card.item, left, top - 14, 17, font=fonts.BOLD, color=TITLE_COLOR)
    room = right - left - fonts.width_of(card.item, fonts.BOLD, 17) - 14
    for n, (text, font) in enumerate(((card.dossier, fonts.BOLD), (card.firm, fonts.SANS))):
        shown = wrapped(text, room, 7.4, 1, font)[0] if text else ""
        line_of(canvas, shown, right - fonts.width_of(shown, font, 7.4), top - 6.6 - 9 * n, 7.4, font=font)
    rule(canvas, left, top - 21, right - left, color=RULE, thickness=0.9)


def _mark(canvas: Any, right: float, y: float) -> None:
    for n, words in enumerate(("DEMONSTRATION", "everything invented")):
        line_of(
            canvas, words, right - fonts.width_of(words, fonts.BOLD, 5.0), y - 6 * n, 5.0, font=fonts.BOLD, color=WARNING
        )  # fmt: skip


def _grouped(digits: str) -> str:
    return " ".join(digits[n : n + 4] for n in range(0, len(digits), 4))
