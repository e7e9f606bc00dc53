"""Papers on pages: one paper, or the filing set with cover, table of exhibits, summary, chronology and stamped exhibits."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evidence.model.dossier import Recorded
from evidence.model.exhibit import Exhibit
from evidence.report import blocks, drawing, fonts
from evidence.report.papers import hearing
from evidence.report.papers.common import place, whom
from evidence.report.papers.paper import PaperInput, caution
from evidence.report.writing import HashedStream, Sink, whole_file

if TYPE_CHECKING:
    from evidence.report.papers.sheets import Content


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """What was written. ``notes``: exhibits of which something could not be shown, and why."""

    pages: int
    size: int
    sha256: str
    notes: tuple[str, ...] = ()


class _Nowhere:
    """Takes bytes and keeps none."""

    def write(self, data: bytes, /) -> int:
        return len(data)


def write_filing_set(p: PaperInput, out: Path) -> Printed:
    """Write the filing set: one PDF. It is laid out twice, since the table of exhibits names their pages."""
    from evidence.report.papers.sheets import content

    made = [(e, content(p, e)) for e in p.dossier.of(Exhibit)]
    notes = tuple(f"{e.label}: {reason}" for e, (_parts, reason) in made if reason and e.value.file)
    before = _set(p, {})
    _pages, marks = _print(p, before, _Nowhere(), _flowing(p, before, made))
    report = _set(p, marks)
    with whole_file(out) as stream:
        hashed = HashedStream(stream)
        pages, _marks = _print(p, report, hashed, _flowing(p, report, made))
    return Printed(pages=pages, size=hashed.size, sha256=hashed.digest(), notes=notes)


def _set(p: PaperInput, marks: Mapping[str, int]) -> blocks.Report:
    """Everything before the exhibits."""
    t = p.words
    title = t("Filing set for a hearing")
    exhibits = p.dossier.of(Exhibit)
    sections = (
        blocks.Section(t("Table of exhibits"), (_table(p, exhibits, marks),), new_page=True),
        blocks.Section(t("Summary"), hearing.summary(p), new_page=True),
        blocks.Section(t("Chronology"), (*hearing.chronology(p), *place(p), *caution(p).blocks), new_page=True),
    )
    mark = t("Demonstration data") if p.dossier.opening.demonstration else ""
    author = p.party("present_repairer") or p.party("technician")
    facts = (
        (t("Claimant"), whom(p, p.party("owner"), t("name of the owner"))),
        (t("Respondent"), whom(p, p.party("prior_repairer"), t("legal name of the earlier repairer"))),
        (t("Court or office"), f"{'_' * 14} ({t('name and place')})"),
        (t("Number of the case"), f"{'_' * 14} ({t('given by the court')})"),
        (
            t("Sum claimed"),
            t.money(p.loss.claimed.total, p.loss.currency) if p.loss else f"{'_' * 14} ({t('sum and currency')})",
        ),
        (t("Exhibits"), str(len(exhibits))),
        (t("Date of this paper"), t.day(p.today)),
    )
    cover = blocks.Cover(title, p.dossier.title, t("Exhibits are stamped copies; bring the originals"), facts, mark)
    keys = frozenset(e.label for e in exhibits)
    return blocks.Report(
        cover,
        sections,
        keys,
        (author.firm or author.full_name) if author else t("not stated"),
        dt.datetime.combine(p.today, dt.time(), dt.UTC),
        language=p.language,
    )


def _table(p: PaperInput, exhibits: tuple[Recorded[Exhibit], ...], marks: Mapping[str, int]) -> blocks.Block:
    t = p.words
    columns = (
        blocks.Column(t("Exhibit"), 1.3),
        blocks.Column(t("What it shows, when, by whom"), 5),
        blocks.Column(t("Form"), 1.6),
        blocks.Column(t("Page"), 0.8, "right"),
    )
    rows = tuple(
        blocks.Row((e.label, hearing.what(p, e), hearing.sort(p, e), str(marks.get(e.label, "000")))) for e in exhibits
    )
    return blocks.Table(columns, rows) if rows else blocks.Para(t("No exhibit is on record."))


def _flowing(p: PaperInput, report: blocks.Report, made: Sequence[tuple[Recorded[Exhibit], Content]]) -> Iterator[Any]:
    from reportlab.platypus import PageBreak

    from evidence.report.papers.sheets import sheets
    from evidence.report.story import story
    from evidence.report.styles import Linker

    yield from story(report, Linker(report.keys))
    for exhibit, shown in made:
        for sheet in sheets(p, exhibit, shown):
            yield PageBreak()
            yield sheet


def _print(p: PaperInput, report: blocks.Report, stream: Sink, flowing: Any) -> tuple[int, dict[str, int]]:
    """Lay out and write; returns pages, and the page of each key."""
    from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate

    from evidence.report import flowables, styles
    from evidence.report.streaming import ReportCanvas

    fonts.ready()
    kept: dict[str, int] = {}

    class Document(BaseDocTemplate):  # type: ignore[misc]
        def beforeDocument(self) -> None:  # noqa: N802  (the library's name)
            self.canv.dated(report.at)
            self.canv.setViewerPreference("DisplayDocTitle", "true")

        def afterPage(self) -> None:  # noqa: N802  (the library's name)
            kept.update(self.canv.page_of)

    def decorated(canvas: Any, _document: Any) -> None:
        with canvas.decoration("Pagination"):
            _edges(p, canvas, report)

    def first(canvas: Any, document: Any) -> None:
        if report.cover.mark:
            flowables.band(canvas, report.cover.mark)
        decorated(canvas, document)

    height = styles.PAGE[1] - styles.TOP - styles.FOOT
    frame = Frame(styles.LEFT, styles.FOOT, styles.WIDTH, height, 0, 0, 0, 0, id="text")
    document = Document(
        stream,
        pagesize=styles.PAGE,
        title=fonts.drawable(report.cover.title),
        author=fonts.drawable(report.author),
        subject=fonts.drawable(report.cover.kicker),
        creator="evidence",
        initialFontName=fonts.SANS,
    )
    document.addPageTemplates(
        [
            PageTemplate("first", [frame], onPage=first, autoNextPageTemplate="text"),
            PageTemplate("text", [frame], onPage=decorated),
        ]
    )
    document.build(list(flowing), canvasmaker=ReportCanvas)
    return int(document.page), kept


def _edges(p: PaperInput, canvas: Any, report: blocks.Report) -> None:
    """Title of the matter above, day and page below."""
    from reportlab.lib.colors import HexColor

    from evidence.report import styles

    t = p.words
    number = canvas.getPageNumber()

    def counted(later: Any, pages: int) -> None:
        later.setFillColor(HexColor(drawing.GREY))
        later.setFont(fonts.SANS, 7)
        later.drawRightString(160, 0, t("Page {page} of {pages}").format(page=number, pages=pages))

    canvas.setFillColor(HexColor(drawing.GREY))
    canvas.setFont(fonts.SANS, 7)
    if number > 1:
        mark = report.cover.mark
        canvas.drawString(styles.LEFT, styles.PAGE[1] - 44, fonts.drawable(report.cover.title[:110]))
        canvas.drawRightString(styles.PAGE[0] - styles.RIGHT, styles.PAGE[1] - 56 if mark else -20, mark)
    said = t("Made from the record on {day}").format(day=t.day(report.at.astimezone(dt.UTC).date()))
    canvas.drawString(styles.LEFT, 34, fonts.drawable(said))
    canvas.draw_later(styles.PAGE[0] - styles.RIGHT - 160, 34, 160, 10, counted)
