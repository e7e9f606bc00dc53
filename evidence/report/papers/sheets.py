"""An exhibit as pages of a filing set: stamped copies of what its file shows, or a page that says why there is none."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.platypus import Flowable

from evidence.model.dossier import Recorded
from evidence.model.exhibit import Exhibit
from evidence.report import fonts
from evidence.report.drawing import ACCENT, GREY, INK
from evidence.report.forms.paper import wrapped
from evidence.report.papers.common import ruled
from evidence.report.papers.paper import PaperInput
from evidence.report.papers.records import caption
from evidence.report.streaming import Picture, read_picture
from evidence.report.styles import HEIGHT, WIDTH, anchor
from evidence.report.tags import Element

MOST_PAGES = 60  # of one exhibit; the rest stands in the file
_MOST_LINES = 64
_STAMP = 62.0
_FOOT = 34.0
_TEXTS = ("text/", "application/json")

Content = tuple[list[Picture | tuple[str, ...]], str]


class Sheet(Flowable):  # type: ignore[misc]
    """One page: the stamp, the picture or lines or the reason, and what the copy is a copy of."""

    def __init__(self, key: str, stamp: tuple[str, str], caption: str, foot: str) -> None:
        super().__init__()
        self.key, self._stamp, self._caption, self._foot = key, stamp, caption, foot
        self.picture: Picture | None = None
        self.lines: tuple[str, ...] = ()
        self.reason = ""
        self._place = Element("Sect", None)

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        """The whole page."""
        return width, HEIGHT - 1

    def draw(self) -> None:
        """Stamp, content, foot."""
        canvas = self.canv
        canvas.bookmarkHorizontal(anchor(self.key), 0, HEIGHT)
        canvas.mark(self.key)
        self._draw_head(canvas)
        top, room = HEIGHT - _STAMP - 8, HEIGHT - _STAMP - _FOOT - 16
        if self.picture:
            self._draw_picture(canvas, top, room)
        with canvas.marked(Element("P", self._place)):
            y = top - 12
            for text in self.lines:
                _text(canvas, text, 0, y, 6.4, fonts.MONO)
                y -= 8.4
            for text in wrapped(self.reason, WIDTH, 11, 12) if self.reason else ():
                _text(canvas, text, 0, y - 10, 11)
                y -= 16
        with canvas.marked(Element("P", self._place)):
            for n, text in enumerate(wrapped(self._foot, WIDTH, 6.8, 3)):
                _text(canvas, text, 0, _FOOT - 10 - 9 * n, 6.8, color=GREY)

    def _draw_head(self, canvas: Any) -> None:
        number, page = self._stamp
        wide = max(fonts.width_of(number, fonts.BOLD, 15), fonts.width_of(page, fonts.SANS, 7)) + 24
        with canvas.decoration():
            canvas.setStrokeColor(HexColor(ACCENT))
            canvas.setLineWidth(1.6)
            canvas.rect(WIDTH - wide, HEIGHT - 48, wide, 44)
        with canvas.marked(Element("H2", self._place)):
            _text(canvas, number, WIDTH - wide + 12, HEIGHT - 26, 15, fonts.BOLD, ACCENT)
            _text(canvas, page, WIDTH - wide + 12, HEIGHT - 40, 7)
        with canvas.marked(Element("P", self._place)):
            for n, text in enumerate(wrapped(self._caption, WIDTH - wide - 16, 9, 4)):
                _text(canvas, text, 0, HEIGHT - 14 - 12 * n, 9)

    def _draw_picture(self, canvas: Any, top: float, room: float) -> None:
        assert self.picture is not None
        scale = min(WIDTH / self.picture.width, room / self.picture.height)
        wide, high = self.picture.width * scale, self.picture.height * scale
        x, y = (WIDTH - wide) / 2, top - high
        figure = Element("Figure", self._place, alt=f"{self._stamp[0]}. {self._caption}")
        figure.box = (*canvas.absolutePosition(x, y), *canvas.absolutePosition(x + wide, top))
        with canvas.marked(figure):
            canvas.draw_picture(self.picture, x, y, wide, high)


def _text(canvas: Any, text: str, x: float, y: float, size: float, font: str = fonts.SANS, color: str = INK) -> None:
    canvas.setFont(font, size)
    canvas.setFillColor(HexColor(color))
    canvas.drawString(x, y, fonts.drawable(text, font))


def sheets(p: PaperInput, exhibit: Recorded[Exhibit], content: Content) -> Iterator[Sheet]:
    """The pages of one exhibit, one at least. What cannot be shown is told on its page."""
    t = p.words
    v = exhibit.value
    found, reason = content
    pages = max(len(found), 1)
    source = ""
    if v.file:
        source = t(
            "COPY for reading. The original is the file {name}, {size} bytes, SHA-256 {digest}. It was not changed."
        ).format(name=t.quoted(v.file.name), size=t.number(v.file.size), digest=v.file.sha256)
    number = exhibit.label.rpartition(" ")[2]
    for n in range(pages):
        stamp = (
            t("EXHIBIT {number}").format(number=number),
            t("page {page} of {pages}").format(page=n + 1, pages=pages),
        )
        sheet = Sheet(exhibit.label, stamp, caption(p, v), source)
        part = found[n] if found else ()
        if isinstance(part, Picture):
            sheet.picture = part
        else:
            sheet.lines = part
        sheet.reason = reason if n == pages - 1 or not found else ""
        yield sheet


def content(p: PaperInput, exhibit: Recorded[Exhibit]) -> Content:
    """What each page of the copy shows: pictures or blocks of lines; and why something is not shown."""
    t = p.words
    v = exhibit.value
    if v.file is None:
        return [], t(
            "This exhibit is a thing, not a file. It is to be brought to the hearing. Kept at: {where}."
        ).format(where=t.own(v.location or "") or ruled(t("where it is kept")))
    path = p.original(v.file.sha256) if p.original else None
    if path is None or not path.is_file():
        return [], t("MISSING: the file of this exhibit is not where it was kept. Nothing is shown in its place.")
    try:
        whole = _is(path, v.file.sha256)
    except OSError:
        return [], t("UNREADABLE: the file of this exhibit cannot be read. Nothing is shown in its place.")
    if not whole:
        return [], t("CHANGED: the file found does not have the hash on record. It is not shown.")
    kind = v.read.type if v.read else ""
    if kind == "application/pdf":
        return _pages(p, v.file.sha256, (v.read and v.read.pages) or 1)
    made = p.preview(v.file.sha256) if p.preview else None
    picture = read_picture(made) if made else None
    if picture:
        film = v.read is not None and v.read.media == "video"
        return [picture], t("One picture of a film. The film is handed over as a file.") if film else ""
    if kind.startswith(_TEXTS):
        return _lines(p, path)
    return [], t("This file cannot be shown on paper ({kind}). It is handed over as a file.").format(
        kind=kind or t("kind unknown")
    )


def _pages(p: PaperInput, digest: str, count: int) -> Content:
    t = p.words
    found: list[Picture | tuple[str, ...]] = []
    for n in range(min(count, MOST_PAGES)):
        made = p.page(digest, n) if p.page else ""
        picture = read_picture(made) if isinstance(made, Path) else None
        if picture is None:
            why = made if isinstance(made, str) and made else t("no picture of it could be made")
            return found, t("BROKEN: page {page} cannot be shown: {why}. The file is handed over as it is.").format(
                page=n + 1, why=why
            )
        found.append(picture)
    more = t("{count} more pages stand in the file.").format(count=count - MOST_PAGES) if count > MOST_PAGES else ""
    return found, more


def _lines(p: PaperInput, path: Path) -> Content:
    """The first page of a text file; long lines are cut at the edge."""
    t = p.words
    found: list[str] = []
    with path.open("r", encoding="utf-8", errors="replace") as stream:
        for line in stream:
            if len(found) == _MOST_LINES:
                return [tuple(found)], t("More stands in the file, which is handed over as it is.")
            found.append(line.rstrip("\r\n").expandtabs(4)[:118])
    return [tuple(found)], ""


def _is(path: Path, digest: str) -> bool:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest() == digest
