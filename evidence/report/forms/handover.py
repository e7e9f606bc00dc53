"""The hand-over form: one page that both sides fill in and sign, with what the record knows printed on it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from evidence.report import fonts
from evidence.report.drawing import GREY, PALE, RULE
from evidence.report.forms.paper import (
    A4,
    TITLE_COLOR,
    block,
    demonstration_mark,
    field,
    line_of,
    new_canvas,
    qr_code,
    rule,
    save,
    tick,
    wrapped,
)
from evidence.timeline.forms import MOST_ITEMS, FormItem, HandoverSheet

_LEFT, _RIGHT = 48.0, 547.28
_WIDTH = _RIGHT - _LEFT
_DUTY = (
    "Whatever matters to a dispute is kept until it is settled or everyone concerned has agreed in writing to its release. "
    "Rules differ from place to place; this form is no legal advice."
)
_UNDERTAKING = (
    "The receiver took over the items listed in the state described. Until the next hand-over the receiver keeps them as they "
    "are: nothing is opened, cleaned, tested, altered or thrown away unless that was agreed in writing; a seal is broken only "
    "with a note of who, when and why; and the items are passed on only against a signature on a form like this one."
)


def build_handover(form: HandoverSheet, out: Path) -> None:
    """Write the form: one page A4."""
    canvas = new_canvas(A4, f"Hand-over form {form.reference}")
    y = _head(canvas, form)
    y = _items(canvas, form.items, y)
    y = _sides(canvas, form, y)
    y = _particulars(canvas, form, y)
    y = _state(canvas, y, 1 + (MOST_ITEMS - len(form.items)))
    _signatures(canvas, y)
    _foot(canvas, form)
    save(canvas, out)


def _head(canvas: Any, form: HandoverSheet) -> float:
    top = A4[1] - 44
    line_of(canvas, form.firm or "Evidence", _LEFT, top, 9, font=fonts.BOLD, color=GREY)
    line_of(canvas, "Hand-over of evidence", _LEFT, top - 27, 21, font=fonts.BOLD, color=TITLE_COLOR)
    block(canvas, f"Dossier {form.dossier}: {form.title}", _LEFT, top - 44, _WIDTH - 160, 9, 2)
    side = 74.0
    qr_code(canvas, form.code, _RIGHT - side + 8, top - 62, side)
    for n, (text, font, size) in enumerate((("Reference", fonts.SANS, 6.8), (form.reference, fonts.BOLD, 13))):
        line_of(
            canvas,
            text,
            _RIGHT - side - fonts.width_of(text, font, size) + 4,
            top - 4 - 15 * n,
            size,
            font=font,
            color=GREY if n == 0 else TITLE_COLOR,
        )
    if form.demonstration:
        demonstration_mark(canvas, _LEFT, top - 67)
    return top - 76


def _items(canvas: Any, items: Sequence[FormItem], y: float) -> float:
    """A table: number, what and marks, who holds it by the record."""
    columns = (_LEFT + 6, _LEFT + 82, _LEFT + 400)
    _band(canvas, y, 14)
    for x, name in zip(columns, ("Item", "What, and how it is recognised", "Held until now by"), strict=True):
        line_of(canvas, name, x, y - 10, 7, font=fonts.BOLD, color=TITLE_COLOR)
    y -= 25
    for row in items:
        line_of(canvas, row.item, columns[0], y, 9, font=fonts.BOLD)
        below = block(canvas, row.what, columns[1], y, columns[2] - columns[1] - 10, 8.2, 1)
        below = block(
            canvas,
            "; ".join(row.marks) or "no serial, container or seal on record",
            columns[1],
            below,
            columns[2] - columns[1] - 10,
            7,
            1,
            color=GREY,
        )
        block(canvas, row.holder or "not on record", columns[2], y, _RIGHT - columns[2] - 4, 8.2, 2)
        rule(canvas, _LEFT, below + 3, _WIDTH)
        y = below - 8
    return y + 2


def _sides(canvas: Any, form: HandoverSheet, y: float) -> float:
    half = (_WIDTH - 18) / 2
    for x, title, side in ((_LEFT, "Released by", form.giver), (_LEFT + half + 18, "Received by", form.receiver)):
        line_of(canvas, title, x, y - 9, 10, font=fonts.BOLD, color=TITLE_COLOR)
        for n, (name, value) in enumerate(
            (
                ("Name", side.name),
                ("Firm, or acting for", side.firm),
                ("Address", side.address),
                ("Telephone or mail", side.contact),
            )
        ):
            field(canvas, name, value, x, y - 36 - 23 * n, half)
    return y - 36 - 23 * 3 - 12


def _particulars(canvas: Any, form: HandoverSheet, y: float) -> float:
    zone = f" ({form.zone})" if form.zone else " and zone"
    third = (_WIDTH - 24) / 3
    field(canvas, f"Date and time{zone}", form.when, _LEFT, y - 22, third)
    field(canvas, "Place", form.place, _LEFT + third + 12, y - 22, third * 2 + 12)
    field(canvas, "Why it is handed over", form.purpose, _LEFT, y - 45, third * 2 + 12)
    name = "Odometer, as read" if form.vehicle else "Documents handed over with it"
    field(canvas, name, "", _LEFT + 2 * (third + 12), y - 45, third)
    return y - 54


def _state(canvas: Any, y: float, lines: int) -> float:
    """Condition, seal and what is to become of it: to be ticked and written by hand; ``lines`` more to write on."""
    line_of(canvas, "State at this hand-over", _LEFT, y - 10, 10, font=fonts.BOLD, color=TITLE_COLOR)
    field(canvas, "Condition as seen by both: damage, dirt, openings, what is missing", "", _LEFT, y - 36, _WIDTH)
    for n in range(1, lines + 1):
        rule(canvas, _LEFT, y - 37 - 19 * n, _WIDTH, color=GREY)
    y -= 19 * (lines - 1)
    x = _LEFT
    line_of(canvas, "Seal", x, y - 72, 8, font=fonts.BOLD)
    x = tick(canvas, "whole, number as listed", x + 30, y - 72)
    x = tick(canvas, "broken before", x, y - 72)
    x = tick(canvas, "opened now, number", x, y - 72)
    rule(canvas, x - 8, y - 74, 52, color=GREY)
    line_of(canvas, "new seal", x + 52, y - 72, 8)
    rule(canvas, x + 92, y - 74, _RIGHT - x - 92, color=GREY)
    line_of(canvas, "Afterwards", _LEFT, y - 88, 8, font=fonts.BOLD)
    x = tick(canvas, "kept as evidence", _LEFT + 62, y - 88)
    x = tick(canvas, "returned to its owner", x, y - 88)
    x = tick(canvas, "returned as core", x, y - 88)
    tick(canvas, "scrapped", x, y - 88)
    below = block(canvas, "The last three end the keeping. " + _DUTY, _LEFT, y - 101, _WIDTH, 6.8, 2, color=GREY)
    return below - 4


def _signatures(canvas: Any, y: float) -> None:
    below = block(canvas, _UNDERTAKING, _LEFT, y - 6, _WIDTH, 7.6, 4, leading=1.3)
    half = (_WIDTH - 18) / 2
    for x, who in ((_LEFT, "Released by"), (_LEFT + half + 18, "Received by")):
        base = below - 30
        rule(canvas, x, base, half * 0.68, color=GREY, thickness=0.8)
        rule(canvas, x + half * 0.72, base, half * 0.28, color=GREY, thickness=0.8)
        line_of(canvas, f"{who}: signature", x, base - 8.5, 6.5, color=GREY)
        line_of(canvas, "date, time", x + half * 0.72, base - 8.5, 6.5, color=GREY)


def _foot(canvas: Any, form: HandoverSheet) -> None:
    """The commands that bring the signed page back into the record, and where it is found again."""
    from reportlab.lib.colors import HexColor

    shown: list[list[str]] = [wrapped(c, _WIDTH - 16, 5.9, 3, fonts.MONO) for c in form.commands[:2]]
    more = [row.item for row in form.items[1:]]
    height = 28 + sum(len(lines) for lines in shown) * 7.6 + (8 if more else 0)
    top = 34 + height
    canvas.setFillColor(HexColor(PALE))
    canvas.rect(_LEFT, 34, _WIDTH, height, stroke=0, fill=1)
    line_of(
        canvas,
        "Back into the record: scan the signed page, then (with what was written in place of CAPITALS)",
        _LEFT + 8,
        top - 12,
        7,
        font=fonts.BOLD,
    )
    y = top - 22
    for lines in shown:
        for text in lines:
            line_of(canvas, text, _LEFT + 8, y, 5.9, font=fonts.MONO)
            y -= 7.6
        y -= 1.5
    if more:
        line_of(
            canvas,
            f"The last command again for {', '.join(more)}. A new seal: --seal; one opened: --seal-opened.",
            _LEFT + 8,
            y,
            6.4,
            color=GREY,
        )
    line_of(
        canvas,
        f"{form.reference} is the start of a hash over the record as it stood and the items; the code at the top holds it as plain text.",
        _LEFT,
        24,
        6.2,
        color=GREY,
    )


def _band(canvas: Any, y: float, height: float) -> None:
    from reportlab.lib.colors import HexColor

    canvas.setFillColor(HexColor(PALE))
    canvas.rect(_LEFT, y - height, _WIDTH, height, stroke=0, fill=1)
    rule(canvas, _LEFT, y - height, _WIDTH, color=RULE)
