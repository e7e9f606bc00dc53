"""The printer: a tree of blocks becomes a PDF, in one pass, with pictures streamed from their files."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial
from itertools import chain
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from evidence.report import blocks, drawing, fonts
from evidence.report.archive import Attachment
from evidence.report.given import ReportInput
from evidence.report.outline import outline
from evidence.report.writing import HashedStream, Sink, whole_file

if TYPE_CHECKING:
    from reportlab.platypus import BaseDocTemplate


Finish = Callable[[IO[bytes], int, str], None]  # the complete file, its size, its SHA-256


def build_report(given: ReportInput, out: Path, finish: Finish | None = None) -> int:
    """Write the report to ``out``, whole or not at all, and return how many pages it has.

    Same input and same installed versions give the same bytes. ``finish`` is handed the complete file, readable and
    writable, before it appears under its name: to check it and to add a signature.

    Raises ``NoRoom`` on a full disk, ``OutputUnusable`` where ``out`` cannot be written, ``StoreDamaged`` when a
    prepared picture changes while it is printed.
    """
    return build_pages(outline(given), out, finish, given.attachments)


def build_pages(
    report: blocks.Report, out: Path, finish: Finish | None = None, attachments: Sequence[Attachment] = ()
) -> int:
    """The same of any tree of blocks."""
    with whole_file(out) as stream:
        hashed = HashedStream(stream)
        pages = print_report(report, hashed, attachments)
        if finish:
            finish(stream, hashed.size, hashed.digest())
    return pages


def print_report(
    report: blocks.Report, stream: Sink, attachments: Sequence[Attachment] = (), *, more: Iterable[Any] = (),
    placed: dict[str, int] | None = None,
) -> int:  # fmt: skip
    """Print any tree of blocks, then ``more`` that fills pages by itself; returns how many pages it has.

    ``placed`` is filled with the page of each key.
    """
    fonts.ready()
    from evidence.report.story import story
    from evidence.report.streaming import ReportCanvas
    from evidence.report.styles import Linker

    document = _document(report, stream, attachments, {} if placed is None else placed)
    document.build(
        _Story(chain(story(report, Linker(report.keys)), more)),
        canvasmaker=partial(ReportCanvas, language=report.language),
    )
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


def _document(
    report: blocks.Report, stream: Any, attachments: Sequence[Attachment], placed: dict[str, int]
) -> BaseDocTemplate:
    from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate

    from evidence.report import flowables, styles

    class Document(BaseDocTemplate):  # type: ignore[misc]
        def beforeDocument(self) -> None:  # noqa: N802  (the library's name)
            self.canv.dated(report.at)
            self.canv.attachments = attachments
            self.canv.setViewerPreference("DisplayDocTitle", "true")
            self.canv.showOutline()

        def afterPage(self) -> None:  # noqa: N802  (the library's name)
            placed.update(self.canv.page_of)

    def frame(top: float) -> Frame:
        height = styles.PAGE[1] - top - styles.FOOT
        return Frame(styles.LEFT, styles.FOOT, styles.WIDTH, height, 0, 0, 0, 0, id="text")

    def cover(canvas: Any, _document: Any) -> None:
        if report.cover.mark:
            flowables.band(canvas, report.cover.mark)
        with canvas.decoration("Pagination"):
            _footer(canvas, report)

    def later(canvas: Any, _document: Any) -> None:
        with canvas.decoration("Pagination"):
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
        later.drawRightString(120, 0, report.page_words.format(number=number, pages=pages))

    canvas.setFillColor(HexColor(drawing.GREY))
    canvas.setFont(fonts.SANS, 7)
    canvas.drawString(styles.LEFT, 34, report.foot or f"Report of {report.at:%Y-%m-%d %H:%M} UTC{report.zone_note}")
    canvas.draw_later(styles.PAGE[0] - styles.RIGHT - 120, 34, 120, 10, counted)
