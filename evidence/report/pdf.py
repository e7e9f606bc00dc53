"""The printer: a tree of blocks becomes a PDF, in one pass, with pictures streamed from their files."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evidence.report import blocks, drawing, fonts
from evidence.report.given import ReportInput
from evidence.report.outline import outline
from evidence.report.writing import whole_file

ITSELF = "Printed from the file itself, byte for byte; it can be taken out of this PDF and hashed."
REDUCED = "Printed from a reduced copy; the hash is that of the original file."

if TYPE_CHECKING:
    from reportlab.platypus import BaseDocTemplate, Flowable

    from evidence.report.plates import PlateFlow
    from evidence.report.styles import Linker


def build_report(given: ReportInput, out: Path) -> int:
    """Write the report to ``out``, whole or not at all, and return how many pages it has.

    Same input and same installed versions give the same bytes.

    Raises ``NoRoom`` on a full disk, ``OutputUnusable`` where ``out`` cannot be written, ``StoreDamaged`` when a
    prepared picture changes while it is printed.
    """
    return print_report(outline(given), out)


def print_report(report: blocks.Report, out: Path) -> int:
    """Print any tree of blocks; see :func:`build_report`."""
    fonts.ready()
    from evidence.report.streaming import ReportCanvas
    from evidence.report.styles import Linker

    linker = Linker(report.keys)
    with whole_file(out) as stream:
        document = _document(report, stream)
        story = _Story(_flowables(report, linker))
        document.build(story, canvasmaker=ReportCanvas)
    return int(document.page)


class _Story(list[Any]):
    """A list that is filled only as the page builder takes from it, so that a long report needs little memory."""

    def __init__(self, source: Iterator[Any]) -> None:
        super().__init__()
        self._source = source
        self._fill()

    def _fill(self) -> None:
        while super().__len__() < 8 and (item := next(self._source, None)) is not None:
            self.append(item)

    def __len__(self) -> int:
        self._fill()
        return super().__len__()


def _document(report: blocks.Report, stream: Any) -> BaseDocTemplate:
    from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate

    from evidence.report import flowables, styles

    class Document(BaseDocTemplate):  # type: ignore[misc]
        def beforeDocument(self) -> None:  # noqa: N802  (the library's name)
            self.canv.dated(report.at)
            self.canv.setViewerPreference("DisplayDocTitle", "true")
            self.canv.showOutline()

    def frame(top: float) -> Frame:
        height = styles.PAGE[1] - top - styles.FOOT
        return Frame(styles.LEFT, styles.FOOT, styles.WIDTH, height, 0, 0, 0, 0, id="text")

    def cover(canvas: Any, _document: Any) -> None:
        if report.cover.mark:
            flowables.band(canvas, report.cover.mark)
        _footer(canvas, report)

    def later(canvas: Any, _document: Any) -> None:
        _header(canvas, report)
        _footer(canvas, report)

    title = fonts.drawable(report.cover.title)
    document = Document(
        stream, pagesize=styles.PAGE, title=title, author=fonts.drawable(report.author), subject=report.cover.kicker,
        creator="evidence", initialFontName=fonts.SANS,
    )  # fmt: skip
    document.addPageTemplates(
        [
            PageTemplate("cover", [frame(112)], onPage=cover, autoNextPageTemplate="text"),
            PageTemplate("text", [frame(styles.TOP)], onPage=later),
        ]
    )
    return document


def _header(canvas: Any, report: blocks.Report) -> None:
    from reportlab.lib.colors import HexColor

    from evidence.report import styles

    canvas.setFillColor(HexColor(drawing.GREY))
    y = styles.PAGE[1] - 44
    mark = report.cover.mark.split(":")[0]
    room = styles.WIDTH - fonts.width_of(mark, fonts.BOLD, 7) - 20
    title = drawing.wrap(report.cover.title, room, 1, fonts.SANS, 7)
    canvas.setFont(fonts.SANS, 7)
    canvas.drawString(styles.LEFT, y, title[0] if title else "")
    if mark:
        canvas.setFont(fonts.BOLD, 7)
        canvas.setFillColor(HexColor(drawing.ACCENT))
        canvas.drawRightString(styles.PAGE[0] - styles.RIGHT, y, mark)
    canvas.setStrokeColor(HexColor(drawing.RULE))
    canvas.setLineWidth(0.5)
    canvas.line(styles.LEFT, y - 6, styles.PAGE[0] - styles.RIGHT, y - 6)


def _footer(canvas: Any, report: blocks.Report) -> None:
    from reportlab.lib.colors import HexColor

    from evidence.report import styles

    number = canvas.getPageNumber()

    def counted(later: Any, pages: int) -> None:
        later.setFillColor(HexColor(drawing.GREY))
        later.setFont(fonts.SANS, 7)
        later.drawRightString(120, 0, f"Page {number} of {pages}")

    canvas.setFillColor(HexColor(drawing.GREY))
    canvas.setFont(fonts.SANS, 7)
    canvas.drawString(styles.LEFT, 34, f"Report of {report.at:%Y-%m-%d %H:%M} UTC{report.zone_note}")
    canvas.draw_later(styles.PAGE[0] - styles.RIGHT - 120, 34, 120, 10, counted)


def _flowables(report: blocks.Report, linker: Linker) -> Iterator[Flowable]:
    from reportlab.platypus import CondPageBreak, PageBreak, Paragraph

    from evidence.report import flowables, styles

    yield from _cover(report, linker)
    yield PageBreak()
    first = True
    for section in report.sections:
        if not section.blocks:
            continue
        if section.new_page and not first:
            yield PageBreak()
        elif not first:
            yield CondPageBreak(56 + _room(section.blocks, linker))
        first = False
        yield flowables.Anchor(f"section {section.title}", section.title)
        yield Paragraph(linker.markup(section.title), styles.style("section"))
        yield from _blocks(section.blocks, linker, report)


def _cover(report: blocks.Report, linker: Linker) -> Iterator[Flowable]:
    from reportlab.platypus import Paragraph, Spacer

    from evidence.report import flowables, grids, styles

    cover = report.cover
    yield flowables.Anchor("section Cover", "Cover")
    yield Paragraph(linker.markup(cover.kicker), styles.style("kicker"))
    yield Spacer(1, 6)
    yield Paragraph(linker.markup(cover.title[:300]), styles.style("title"))
    yield Paragraph(linker.markup(cover.subtitle), styles.style("subtitle"))
    yield grids.facts(cover.facts, linker)
    yield Spacer(1, 16)
    yield Paragraph("Contents", styles.style("heading"))
    yield flowables.Contents([s.title for s in report.sections if s.blocks])


def _blocks(items: Sequence[blocks.Block], linker: Linker, report: blocks.Report) -> Iterator[Flowable]:
    from reportlab.platypus import CondPageBreak, KeepTogether, Paragraph

    from evidence.report import flowables, grids, styles

    for index, block in enumerate(items):
        if isinstance(block, blocks.Heading):
            yield CondPageBreak(32 + _room(items[index + 1 :], linker))
            yield Paragraph(linker.markup(block.text), styles.style("heading"))
        elif isinstance(block, blocks.Para):
            head = f'<font name="{fonts.BOLD}">{linker.markup(block.head)}</font>&nbsp; ' if block.head else ""
            yield Paragraph(head + linker.markup(block.text), styles.style(block.tone))
        elif isinstance(block, blocks.Bullets):
            for item in block.items:
                yield Paragraph(linker.markup(item), styles.style("bullet"), bulletText=block.mark)
        elif isinstance(block, blocks.Facts):
            if block.key:
                yield flowables.Anchor(block.key)
            yield grids.facts(block.rows, linker, faded=block.faded)
        elif isinstance(block, blocks.Table):
            yield grids.table(block, linker, report.keys.__contains__)
        elif isinstance(block, blocks.Plate):
            yield from _plates(items, index, linker)
        elif isinstance(block, blocks.Signature):
            yield KeepTogether([flowables.SignatureLines(block.names)])
        else:
            yield from _figures(block)


def _plates(items: Sequence[blocks.Block], index: int, linker: Linker) -> Iterator[Flowable]:
    """The plate at ``index``; of small ones each pair at its first, and nothing at its second."""
    from evidence.report.plates import PairFlow

    block = items[index]
    assert isinstance(block, blocks.Plate)
    if not block.small:
        yield _plate(block, linker)
        return
    start = index
    while start and _is_small(items[start - 1]):
        start -= 1
    if (index - start) % 2 == 0:
        pair = [p for p in items[index : index + 2] if isinstance(p, blocks.Plate) and p.small]
        yield PairFlow([_plate(p, linker) for p in pair])


def _is_small(block: blocks.Block) -> bool:
    return isinstance(block, blocks.Plate) and block.small


def _room(following: Sequence[blocks.Block], linker: Linker) -> float:
    """How much of what comes next must stand on the same page as the heading above it."""
    from evidence.report import grids, styles

    if not following:
        return 0
    first = following[0]
    if isinstance(first, blocks.Heading):
        return 32 + _room(following[1:], linker)
    if isinstance(first, blocks.Plot):
        return drawing.plot_height(min(len(first.panels), drawing.PANELS_A_PICTURE))
    if isinstance(first, blocks.Table):
        return grids.start_height(first, linker)
    if isinstance(first, blocks.Facts):
        return grids.start_height(first, linker)
    if isinstance(first, blocks.Plate):
        return styles.HEIGHT / 2 - 40
    if isinstance(first, blocks.Para):
        high = 20 + 13 * min(len(first.text) / 90, 6)
        introduces = not first.text or first.tone == "small"  # such a line never parts from what it speaks of
        return high + (_room(following[1:2], linker) if introduces else 0)
    return 40


def _figures(block: blocks.Timeline | blocks.Plot) -> Iterator[Flowable]:
    from reportlab.platypus import Spacer

    from evidence.report import styles

    if isinstance(block, blocks.Plot):
        for start in range(0, len(block.panels), drawing.PANELS_A_PICTURE):
            some = block.panels[start : start + drawing.PANELS_A_PICTURE]
            yield drawing.waveform(replace(block, panels=some), styles.WIDTH)
            yield Spacer(1, 8)
        return
    rows = drawing.ROWS_A_PICTURE
    spans = [h.span for h in block.happenings]
    lanes = list(dict.fromkeys(h.lane for h in block.happenings))
    for start in range(0, len(block.happenings), rows):
        yield drawing.timeline(block.happenings[start : start + rows], styles.WIDTH, spans, lanes)
        yield Spacer(1, 10)


def _plate(block: blocks.Plate, linker: Linker) -> PlateFlow:
    from evidence.report.plates import PlateFlow
    from evidence.report.streaming import read_picture

    if block.original and (picture := read_picture(block.original)) and _is(block.original, block.digest):
        return PlateFlow(block, picture, linker, ITSELF)
    picture = read_picture(block.preview) if block.preview else None
    return PlateFlow(block, picture, linker, REDUCED if picture else "")


def _is(path: Path, digest: str) -> bool:
    with path.open("rb") as source:
        return hashlib.file_digest(source, "sha256").hexdigest() == digest
