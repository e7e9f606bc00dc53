"""Papers on pages: one paper, or the filing set with cover, table of exhibits, summary, chronology and stamped exhibits."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evidence.model.dossier import Recorded
from evidence.model.exhibit import Exhibit
from evidence.report import blocks
from evidence.report.papers import hearing
from evidence.report.papers.common import place, whom
from evidence.report.papers.paper import PaperInput, caution
from evidence.report.papers.records import numbered
from evidence.report.pdf import Finish, print_report
from evidence.report.writing import HashedStream, Nowhere, whole_file

if TYPE_CHECKING:
    from evidence.report.papers.sheets import Content


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """What was written. ``notes``: exhibits of which something could not be shown, and why."""

    pages: int
    size: int
    sha256: str
    notes: tuple[str, ...] = ()


def write_filing_set(p: PaperInput, out: Path, finish: Finish | None = None) -> Printed:
    """Write the filing set: one PDF. It is laid out twice, since the table of exhibits names their pages.

    ``finish`` is handed the complete file before it appears under its name: to check it and to add a signature.
    """
    from evidence.report.papers.sheets import content

    made = [(e, content(p, e)) for e in p.dossier.of(Exhibit)]
    notes = tuple(f"{e.label}: {reason}" for e, (_parts, reason) in made if reason and e.value.file)
    marks: dict[str, int] = {}
    print_report(front(p, {}), Nowhere(), more=_sheets(p, made), placed=marks)
    with whole_file(out) as stream:
        hashed = HashedStream(stream)
        pages = print_report(front(p, marks), hashed, more=_sheets(p, made))
        if finish:
            finish(stream, hashed.size, hashed.digest())
    return Printed(pages=pages, size=hashed.size, sha256=hashed.digest(), notes=notes)


def front(p: PaperInput, marks: Mapping[str, int]) -> blocks.Report:
    """Everything before the exhibits: cover, table, summary, chronology. ``marks``: the page of each exhibit."""
    t = p.words
    title = t("Filing set for a hearing")
    exhibits = p.dossier.of(Exhibit)
    sections = (
        blocks.Section(t("Table of exhibits"), (_table(p, exhibits, marks),), new_page=True),
        blocks.Section(t("Summary"), hearing.summary(p), new_page=True),
        blocks.Section(
            t("Chronology"), (*hearing.chronology(p), *place(p), _keeping(p), *caution(p).blocks), new_page=True
        ),
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
    cover = blocks.Cover(
        title, t.own(p.dossier.title), t("Exhibits are stamped copies; bring the originals"), facts, mark, (t("Cover"), t("Contents"))
    )  # fmt: skip
    keys = frozenset(e.label for e in exhibits)
    return blocks.Report(
        cover,
        sections,
        keys,
        (author.firm or author.full_name) if author else t("not stated"),
        dt.datetime.combine(p.today, dt.time(), dt.UTC),
        foot=t("Made from the record on {day}").format(day=t.day(p.today)),
        page_words=t("Page {number} of {pages}"),
        language=p.language,
    )


def _keeping(p: PaperInput) -> blocks.Block:
    """What the file is and what it is not."""
    text = p.words(
        "This file is made to be kept (PDF/A-3b, ISO 19005-3). The exhibits are in it as pictures of their pages, so that they print "
        "alike everywhere; the files themselves are handed over beside it."
    )
    return blocks.Para(text, tone="small")


def _table(p: PaperInput, exhibits: tuple[Recorded[Exhibit], ...], marks: Mapping[str, int]) -> blocks.Block:
    t = p.words
    columns = (
        blocks.Column(t("Exhibit"), 1.3),
        blocks.Column(t("What it shows, when, by whom"), 5),
        blocks.Column(t("Form"), 1.6),
        blocks.Column(t("Page"), 0.8, "right"),
    )
    rows = tuple(
        blocks.Row((numbered(p, [e.label]), hearing.what(p, e), hearing.sort(p, e), str(marks.get(e.label, "000"))))
        for e in exhibits
    )
    return blocks.Table(columns, rows) if rows else blocks.Para(t("No exhibit is on record."))


def _sheets(p: PaperInput, made: Sequence[tuple[Recorded[Exhibit], Content]]) -> Iterator[Any]:
    from reportlab.platypus import PageBreak

    from evidence.report.papers.sheets import sheets

    for exhibit, shown in made:
        for sheet in sheets(p, exhibit, shown):
            yield PageBreak()
            yield sheet
