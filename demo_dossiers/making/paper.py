"""A sheet of paper as PDF: letterhead, blocks, tables, signatures, and DEMONSTRATION across it."""

from __future__ import annotations

from pathlib import Path

from reportlab.lib import colors
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import KeepTogether, Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

INK, GREY, RULE = colors.HexColor("#22262b"), colors.HexColor("#666d75"), colors.HexColor("#b9bfc6")


def _fonts() -> None:
    if "Vera" not in pdfmetrics.getRegisteredFontNames():
        pdfmetrics.registerFont(TTFont("Vera", "Vera.ttf"))
        pdfmetrics.registerFont(TTFont("VeraBd", "VeraBd.ttf"))
        pdfmetrics.registerFont(TTFont("VeraIt", "VeraIt.ttf"))
        pdfmetrics.registerFontFamily("Vera", normal="Vera", bold="VeraBd", italic="VeraIt", boldItalic="VeraBd")


class Sheet:
    """One paper of one sender. Add blocks, then :meth:`save`."""

    def __init__(self, sender: str, address: str, title: str, *, accent="#2f5d62", letter=False):
        _fonts()
        self.sender, self.address, self.title = sender, address, title
        self.accent = colors.HexColor(accent)
        self.size = LETTER if letter else A4
        body = ParagraphStyle("body", fontName="Vera", fontSize=9.2, leading=13.4, textColor=INK)
        self.styles = {
            "body": body,
            "cell": ParagraphStyle("cell", body, fontSize=8.4, leading=11.2),
            "right": ParagraphStyle("right", body, fontSize=8.4, leading=11.2, alignment=TA_RIGHT),
            "small": ParagraphStyle("small", body, fontSize=7.4, leading=10, textColor=GREY),
            "head": ParagraphStyle(
                "head", body, fontName="VeraBd", fontSize=9.4, leading=13, textColor=self.accent, spaceBefore=7
            ),
            "title": ParagraphStyle("title", body, fontName="VeraBd", fontSize=14.5, leading=19, spaceAfter=5),
        }
        self.flow = [Paragraph(title, self.styles["title"])]

    def text(self, words: str, style="body"):
        """A paragraph."""
        self.flow += [Paragraph(words, self.styles[style]), Spacer(1, 5)]
        return self

    def head(self, words: str):
        """A heading."""
        self.flow.append(Paragraph(words, self.styles["head"]))
        return self

    def facts(self, pairs: list[tuple[str, str]], columns=2):
        """Label and value, in ``columns`` pairs a row."""
        cells = [
            [Paragraph(f'<font color="#666d75" size="7.4">{k}</font><br/>{v}', self.styles["cell"])] for k, v in pairs
        ]
        cells += [[""]] * (-len(cells) % columns)
        rows = [[c[0] for c in cells[i : i + columns]] for i in range(0, len(cells), columns)]
        width = self.size[0] - 40 * mm
        table = Table(rows, colWidths=[width / columns] * columns)
        table.setStyle(TableStyle([
            ("LINEBELOW", (0, 0), (-1, -1), 0.3, RULE), ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 2),
            ("TOPPADDING", (0, 0), (-1, -1), 2.5), ("BOTTOMPADDING", (0, 0), (-1, -1), 3.5),
        ]))  # fmt: skip
        self.flow += [table, Spacer(1, 6)]
        return self

    def table(self, heads: list[str], rows: list[list[str]], widths: list[float], *, right=(), total=0):
        """A ruled table; the columns in ``right`` are figures, the last ``total`` rows are sums."""

        def cell(column, words, bold=False):
            return Paragraph(f"<b>{words}</b>" if bold else words, self.styles["right" if column in right else "cell"])

        data = [[cell(i, h, True) for i, h in enumerate(heads)]]
        data += [[cell(i, w, n >= len(rows) - total) for i, w in enumerate(row)] for n, row in enumerate(rows)]
        scale = (self.size[0] - 40 * mm) / sum(widths)
        table = Table(data, colWidths=[w * scale for w in widths], repeatRows=1)
        style = [
            ("LINEBELOW", (0, 0), (-1, 0), 0.9, self.accent), ("LINEBELOW", (0, 1), (-1, -1), 0.25, RULE),
            ("VALIGN", (0, 0), (-1, -1), "TOP"), ("TOPPADDING", (0, 0), (-1, -1), 2.2), ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
        ]  # fmt: skip
        if total:
            style.append(("LINEABOVE", (0, -total), (-1, -total), 0.9, self.accent))
        table.setStyle(TableStyle(style))
        self.flow += [table, Spacer(1, 7)]
        return self

    def signed(self, *names: str):
        """Signature lines, each with a name written over it."""
        width = (self.size[0] - 40 * mm) / len(names)
        top = [
            Paragraph(f'<font name="VeraIt" size="12" color="#24407a">{n.split(",")[0]}</font>', self.styles["body"])
            for n in names
        ]
        low = [Paragraph(n, self.styles["small"]) for n in names]
        table = Table([top, low], colWidths=[width] * len(names))
        table.setStyle(TableStyle([("LINEBELOW", (0, 0), (-1, 0), 0.5, INK), ("TOPPADDING", (0, 0), (-1, 0), 10)]))
        self.flow += [Spacer(1, 8), KeepTogether(table)]
        return self

    def save(self, path: Path) -> None:
        """Write the PDF: same bytes for the same content and library version."""
        path.parent.mkdir(parents=True, exist_ok=True)
        document = SimpleDocTemplate(
            str(path), pagesize=self.size, leftMargin=20 * mm - 6, rightMargin=20 * mm - 6, topMargin=36 * mm, bottomMargin=20 * mm,
            title=f"{self.title} (demonstration)", author=self.sender, invariant=1,
        )  # fmt: skip
        document.build(self.flow, onFirstPage=self._frame, onLaterPages=self._frame)

    def _frame(self, pen, document) -> None:
        width, height = self.size
        pen.saveState()
        pen.setFillColor(self.accent)
        pen.rect(0, height - 8 * mm, width, 8 * mm, stroke=0, fill=1)
        pen.setFont("VeraBd", 15)
        pen.drawString(20 * mm, height - 20 * mm, self.sender)
        pen.setFont("Vera", 7.6)
        pen.setFillColor(GREY)
        pen.drawString(20 * mm, height - 25.5 * mm, self.address)
        pen.setStrokeColor(RULE)
        pen.line(20 * mm, height - 29 * mm, width - 20 * mm, height - 29 * mm)
        pen.drawString(20 * mm, 10 * mm, "DEMONSTRATION: persons, firms, places, vehicle and figures are invented.")
        pen.drawRightString(width - 20 * mm, 10 * mm, f"page {document.page}")
        pen.translate(width / 2, height / 2)
        pen.rotate(52)
        pen.setFillColor(colors.Color(0.55, 0.1, 0.1, alpha=0.11))
        pen.setFont("VeraBd", 62)
        pen.drawCentredString(0, -20, "DEMONSTRATION")
        pen.restoreState()
