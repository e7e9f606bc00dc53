"""What the printed forms share: fitted text, rules to write on, the QR code. Points from the lower left corner."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

from evidence.report import fonts
from evidence.report.drawing import ACCENT, GREY, INK, RULE
from evidence.report.writing import whole_file

MM = 72 / 25.4
A4 = (595.28, 841.89)
LETTER = (612.0, 792.0)
TITLE_COLOR, WARNING = ACCENT, "#a03020"


def new_canvas(size: tuple[float, float], title: str) -> Any:
    """A canvas whose bytes depend on what is drawn alone."""
    from reportlab.pdfgen.canvas import Canvas

    fonts.ready()
    canvas = Canvas(io.BytesIO(), pagesize=size, invariant=1, initialFontName=fonts.SANS)
    canvas.setTitle(title)
    canvas.setCreator("evidence")
    return canvas


def save(canvas: Any, out: Path) -> None:
    """Write the file, whole or not at all; what the disk refuses is told."""
    with whole_file(out) as stream:
        stream.write(canvas.getpdfdata())


def line_of(
    canvas: Any, text: str, x: float, y: float, size: float, *, font: str = fonts.SANS, color: str = INK
) -> None:
    """One line of text on the baseline ``y``."""
    from reportlab.lib.colors import HexColor

    canvas.setFont(font, size)
    canvas.setFillColor(HexColor(color))
    canvas.drawString(x, y, fonts.drawable(text, font))


def wrapped(text: str, width: float, size: float, lines: int, font: str = fonts.SANS) -> list[str]:
    """``text`` in at most so many lines of ``width``; what does not fit ends in an ellipsis. Long words are broken."""
    made: list[str] = []
    for word in fonts.drawable(" ".join(text.split()), font).split(" "):
        if made and fonts.width_of(f"{made[-1]} {word}", font, size) <= width:
            made[-1] = f"{made[-1]} {word}"
            continue
        made.append(word)
        while fonts.width_of(made[-1], font, size) > width:
            whole = made.pop()
            cut = next(
                n for n in range(len(whole) - 1, 0, -1) if n == 1 or fonts.width_of(whole[:n], font, size) <= width
            )
            made += [whole[:cut], whole[cut:]]
    if len(made) <= lines:
        return made
    last = made[lines - 1]
    while last and fonts.width_of(last + "…", font, size) > width:
        last = last[:-1]
    return [*made[: lines - 1], last.rstrip(" ,;") + "…"]


def block(
    canvas: Any, text: str, x: float, y: float, width: float, size: float, lines: int, *, font: str = fonts.SANS,
    color: str = INK, leading: float = 1.25,
) -> float:  # fmt: skip
    """Wrapped text whose first baseline is ``y``; returns the baseline after the last line."""
    for shown in wrapped(text, width, size, lines, font):
        line_of(canvas, shown, x, y, size, font=font, color=color)
        y -= size * leading
    return y


def rule(canvas: Any, x: float, y: float, width: float, *, color: str = RULE, thickness: float = 0.6) -> None:
    """A horizontal line."""
    from reportlab.lib.colors import HexColor

    canvas.setStrokeColor(HexColor(color))
    canvas.setLineWidth(thickness)
    canvas.line(x, y, x + width, y)


def field(canvas: Any, name: str, value: str, x: float, y: float, width: float, *, size: float = 9.0) -> None:
    """A name in small letters over a value, or over an empty line to write on."""
    line_of(canvas, name, x, y + size + 3.6, 6.3, color=GREY)
    if value:
        line_of(canvas, wrapped(value, width, size, 1)[0], x, y + 1.6, size)
    rule(canvas, x, y - 1.4, width, color=GREY if not value else RULE)


def tick(canvas: Any, text: str, x: float, y: float, size: float = 8.0) -> float:
    """An empty box to tick with its words; returns where the next may begin."""
    from reportlab.lib.colors import HexColor

    canvas.setStrokeColor(HexColor(INK))
    canvas.setLineWidth(0.7)
    canvas.rect(x, y - 1, size, size, stroke=1, fill=0)
    line_of(canvas, text, x + size + 4, y + 0.2, size)
    return x + size + 4 + fonts.width_of(text, fonts.SANS, size) + 12


def qr_code(canvas: Any, text: str, x: float, y: float, side: float) -> None:
    """A QR code (ISO/IEC 18004) of plain text, level M, with its quiet zone of four modules inside ``side``."""
    from reportlab.graphics import renderPDF
    from reportlab.graphics.barcode.qr import QrCodeWidget
    from reportlab.graphics.shapes import Drawing

    drawing = Drawing(side, side)
    drawing.add(QrCodeWidget(text, barWidth=side, barHeight=side, barLevel="M", barBorder=4))
    renderPDF.draw(drawing, canvas, x, y)


def demonstration_mark(canvas: Any, x: float, y: float, size: float = 6.0) -> None:
    """What every page of an invented dossier says."""
    line_of(canvas, "DEMONSTRATION: everything invented", x, y, size, font=fonts.BOLD, color=WARNING)
