"""A reportlab canvas whose pictures never sit in memory, and whose bytes depend on nothing but the input.

Pictures are JPEG files; their bytes go into the PDF as they are (filter DCTDecode), copied while the file is
written. What is known only at the end (the number of pages) is drawn into small forms that the pages refer to.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from reportlab.pdfbase import pdfdoc
from reportlab.pdfgen.canvas import Canvas

from evidence.errors import StoreDamaged
from evidence.report import fonts

_COLOURS = {1: "DeviceGray", 3: "DeviceRGB"}


@dataclass(frozen=True, slots=True)
class Picture:
    """A JPEG file that a PDF can carry as it is: 8 bits, grey or RGB. ``size`` in bytes."""

    path: Path
    width: int
    height: int
    colours: int
    size: int


def read_picture(path: Path) -> Picture | None:
    """The picture in ``path``, or None when a PDF cannot carry the file as it is."""
    from PIL import Image

    try:
        with Image.open(path, formats=["JPEG"]) as image:
            width, height = image.size
            colours = {"L": 1, "RGB": 3}.get(image.mode)
        size = path.stat().st_size
    except OSError:  # also when it is no JPEG
        return None
    if colours is None:
        return None
    return Picture(path, width, height, colours, size)


class _PictureObject(pdfdoc.PDFObject):  # type: ignore[misc]
    """An image whose bytes are copied from its file at writing time."""

    __RefOnly__ = 1

    def __init__(self, picture: Picture) -> None:
        self.picture = picture
        self.width, self.height = picture.width, picture.height

    def format(self, document: Any) -> bytes:
        head = pdfdoc.PDFDictionary(
            {
                "Type": pdfdoc.PDFName("XObject"),
                "Subtype": pdfdoc.PDFName("Image"),
                "Width": self.width,
                "Height": self.height,
                "BitsPerComponent": 8,
                "ColorSpace": pdfdoc.PDFName(_COLOURS[self.picture.colours]),
                "Filter": pdfdoc.PDFName("DCTDecode"),
                "Length": self.picture.size,
            }
        )
        return bytes(pdfdoc.format(head, document))


class ReportCanvas(Canvas):  # type: ignore[misc]
    """Canvas with streamed pictures and text that is drawn when the page count is known."""

    def __init__(self, filename: Any, **options: Any) -> None:
        fonts.ready()
        options.update(invariant=1, pageCompression=1, initialFontName=fonts.SANS, lang="en")
        super().__init__(filename, **options)
        self.page_of: dict[str, int] = {}  # key of a heading or exhibit -> page number
        self._later: list[tuple[str, float, float, Callable[[Any, int], None]]] = []
        # The library seeds the file's identity from the environment (SOURCE_DATE_EPOCH); ours from content alone.
        self._doc.signature = hashlib.md5(b"evidence report", usedforsecurity=False)

    def dated(self, at: dt.datetime) -> None:
        """Set the date in the file's properties."""
        stamp = self._doc._timeStamp
        utc = at.astimezone(dt.UTC)
        stamp.YMDhms, stamp.dhh, stamp.dmm = utc.timetuple()[:6], 0, 0
        self._doc.updateSignature(utc.isoformat())

    def mark(self, key: str) -> None:
        """Make this page the target of links to ``key``."""
        if key not in self.page_of:
            self.page_of[key] = self.getPageNumber()

    def draw_picture(self, picture: Picture, x: float, y: float, width: float, height: float) -> None:
        """Place a picture; the file is read when the document is written."""
        name = hashlib.sha256(str(picture.path).encode()).hexdigest()[:24]
        registered = self._doc.getXObjectName(name)
        if registered not in self._doc.idToObject:
            self._doc.Reference(_PictureObject(picture), registered)
        self._currentPageHasImages = 1
        self.saveState()
        self.translate(x, y)
        self.scale(width, height)
        self._code.append(f"/{registered} Do")
        self.restoreState()
        self._formsinuse.append(name)

    def draw_later(self, x: float, y: float, width: float, height: float, draw: Callable[[Any, int], None]) -> None:
        """Reserve a box at (x, y); ``draw(canvas, pages)`` fills it once the number of pages is known."""
        name = f"later{len(self._later) + 1}"
        self._later.append((name, width, height, draw))
        self.saveState()
        self.translate(x, y)
        self.doForm(name)
        self.restoreState()

    def save(self) -> None:
        """Finish the pages and write the document."""
        if len(self._code):
            self.showPage()
        pages = self._doc.pageCounter - 1
        for name, width, height, draw in self._later:
            self.beginForm(name, 0, -height / 2, width, height)
            draw(self, pages)
            self.endForm()
        _write(self, self._filename)


def _write(canvas: Canvas, out: IO[bytes]) -> None:
    """The library's own ``format`` loop, one object at a time into the stream instead of into a list."""
    doc = canvas._doc
    for font in doc.delayedFonts:
        font.addObjects(doc)
    doc.info.invariant = doc.invariant
    doc.info.digest(doc.signature)
    doc.encrypt.prepare(doc)
    catalog, info = doc.Reference(doc.Catalog), doc.Reference(doc.info)
    doc.Outlines.prepare(doc, canvas)
    if doc.Outlines.ready < 0:
        doc.Catalog.Outlines = None
    position = 0

    def put(data: bytes) -> None:
        nonlocal position
        out.write(data)
        position += len(data)

    put(b"".join(pdfdoc.PDFFile(doc._pdfVersion).strings))
    names: list[str] = []
    while (number := len(names) + 1) in doc.numberToId:  # formatting may append further objects
        name = doc.numberToId[number]
        names.append(name)
        doc.idToOffset[name] = position
        thing = doc.idToObject[name]
        if isinstance(thing, _PictureObject):
            put(b"%d 0 obj\n" % number + thing.format(doc) + b"\nstream\n")
            position += _copy(thing.picture, out)
            put(b"\nendstream\nendobj\n")
        else:
            put(pdfdoc.pdfdocEnc(pdfdoc.PDFIndirectObject(name, thing).format(doc)))
    table = pdfdoc.PDFCrossReferenceTable()
    table.addsection(0, names)
    start = position
    put(table.format(doc))
    trailer = pdfdoc.PDFTrailer(startxref=start, Size=len(names) + 1, Root=catalog, Info=info, ID=doc.ID())
    put(pdfdoc.pdfdocEnc(trailer.format(doc)))


def _copy(picture: Picture, out: IO[bytes]) -> int:
    try:
        with picture.path.open("rb") as source:
            if os.fstat(source.fileno()).st_size == picture.size:
                shutil.copyfileobj(source, out, 1 << 18)
                return picture.size
    except FileNotFoundError:
        pass
    raise StoreDamaged(
        "a picture prepared for printing changed while the report was written",
        item=picture.path.name,
        advice="Run the same command again; previews are made anew from the originals.",
    )
