"""A reportlab canvas whose pictures never sit in memory, and whose bytes depend on nothing but the input.

Pictures are JPEG files; their bytes go into the PDF as they are (filter DCTDecode), copied while the file is
written. What is known only at the end (the number of pages) is drawn into small forms that the pages refer to.
Whatever is drawn is either marked as part of the structure or as decoration, so that the file can be read aloud.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reportlab.pdfbase import pdfdoc
from reportlab.pdfgen.canvas import Canvas

from evidence.errors import StoreDamaged
from evidence.report import archive, fonts
from evidence.report.tags import Element, Tree
from evidence.report.writer import Writer

LANGUAGE = "en-GB"
_COLOURS = {1: "DeviceGray", 3: "DeviceRGB"}
_PRINTED = 4  # flag of an annotation, which an archive asks for
_PAGE_ENTRIES = [*pdfdoc.PDFPage.__NoDefault__, "StructParents", "Tabs"]
_CATALOG_ENTRIES = [*pdfdoc.PDFCatalog.__NoDefault__, "AF", "OutputIntents"]


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


class _Link(pdfdoc.LinkAnnotation):  # type: ignore[misc]
    """A link that an archive may hold and a screen reader finds in its place."""

    permitted = (*pdfdoc.LinkAnnotation.permitted, "StructParent")


class ReportCanvas(Canvas):  # type: ignore[misc]
    """Canvas with streamed pictures, a structure, and text that is drawn when the page count is known."""

    def __init__(self, filename: Any, *, language: str = LANGUAGE, **options: Any) -> None:
        fonts.ready()
        self._language = language
        options.update(invariant=1, pageCompression=1, initialFontName=fonts.SANS, lang=language)
        super().__init__(filename, **options)
        self.page_of: dict[str, int] = {}  # key of a heading or exhibit -> page number
        self.attachments: Sequence[archive.Attachment] = ()
        self.tree = Tree()
        self._pictures: dict[str, Path] = {}  # name in the file -> path
        self._inside: Element | None = None  # what is being drawn now
        self._at = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
        self._later: list[tuple[str, float, float, Callable[[Any, int], None]]] = []
        # The library seeds the file's identity from the environment (SOURCE_DATE_EPOCH); ours from content alone.
        self._doc.signature = hashlib.md5(b"evidence report", usedforsecurity=False)

    def dated(self, at: dt.datetime) -> None:
        """Set the date in the file's properties."""
        stamp = self._doc._timeStamp
        self._at = utc = at.astimezone(dt.UTC)
        stamp.YMDhms, stamp.dhh, stamp.dmm = utc.timetuple()[:6], 0, 0
        self._doc.updateSignature(utc.isoformat())

    def mark(self, key: str) -> None:
        """Make this page the target of links to ``key``."""
        if key not in self.page_of:
            self.page_of[key] = self.getPageNumber()

    @contextmanager
    def marked(self, element: Element) -> Iterator[None]:
        """What is drawn meanwhile belongs to ``element``."""
        number = self.tree.mark(element, self.getPageNumber())
        self._code.append(f"/{element.tag} <</MCID {number}>> BDC")
        self._inside = element
        yield
        self._inside = None
        self._code.append("EMC")

    @contextmanager
    def decoration(self, kind: str = "Layout") -> Iterator[None]:
        """What is drawn meanwhile says nothing: lines, bands, and (``Pagination``) what every page repeats."""
        self._code.append(f"/Artifact <</Type/{kind}>> BDC")
        yield
        self._code.append("EMC")

    def linkRect(self, contents: str, destinationname: str, Rect: Any = None, addtopage: int = 1, name: str | None = None,  # noqa: N802, N803  (the library's names)
                 relative: int = 1, **_look: Any) -> None:  # fmt: skip
        """A link without a frame, said to be what it leads to."""
        destination = self._bookmarkReference(destinationname)
        said = contents or destinationname.replace("-", " ").capitalize()
        link = _Link(self._absRect(Rect, relative), said, destination, Border="[0 0 0]", F=_PRINTED)
        self._addAnnotation(link, name, addtopage)
        if self._inside is not None:
            reference = self._annotationrefs[-1]
            number = self._doc.idToObjectNumberAndVersion[reference.name][0]
            link.otherkw["StructParent"] = self.tree.link(self._inside, self.getPageNumber(), number)

    def draw_picture(self, picture: Picture, x: float, y: float, width: float, height: float) -> None:
        """Place a picture; the file is read when the document is written."""
        name = self._picture_name(picture.path)
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

    def _picture_name(self, path: Path) -> str:
        """From the end of the path, which is the same wherever the workspace or a temporary folder lies."""
        for said in ("/".join(path.parts[-2:]), str(path)):
            name = hashlib.sha256(said.encode()).hexdigest()[:24]
            if self._pictures.setdefault(name, path) == path:
                return name
        raise AssertionError(path)  # the whole path is its own

    def draw_later(self, x: float, y: float, width: float, height: float, draw: Callable[[Any, int], None]) -> None:
        """Reserve a box at (x, y); ``draw(canvas, pages)`` fills it once the number of pages is known."""
        name = f"later{len(self._later) + 1}"
        self._later.append((name, width, height, draw))
        self.saveState()
        self.translate(x, y)
        self.doForm(name)
        self.restoreState()

    def showPage(self) -> None:  # noqa: N802  (the library's name)
        """Close the page; it knows its place in the structure."""
        key = self.tree.page_key(self.getPageNumber())
        super().showPage()
        page = self._doc.Pages.pages[-1]
        page.__NoDefault__ = _PAGE_ENTRIES
        page.Trans, page.StructParents, page.Tabs = None, key, pdfdoc.PDFName("S")

    def save(self) -> None:
        """Finish the pages and write the document."""
        if len(self._code):
            self.showPage()
        pages = self._doc.pageCounter - 1
        for name, width, height, draw in self._later:
            self.beginForm(name, 0, -height / 2, width, height)
            draw(self, pages)
            self.endForm()
        self._write(Writer(self._filename))

    def _write(self, writer: Writer) -> None:
        """The library's own ``format`` loop, one object at a time into the stream instead of into a list."""
        doc = self._doc
        for font in doc.delayedFonts:
            font.addObjects(doc)
        doc.info.invariant = doc.invariant
        doc.info.digest(doc.signature)
        doc.encrypt.prepare(doc)
        catalog, info = doc.Reference(doc.Catalog), doc.Reference(doc.info)
        doc.Outlines.prepare(doc, self)
        if doc.Outlines.ready < 0:
            doc.Catalog.Outlines = None
        doc.Catalog.format(doc)  # whatever it refers to has a number from now on
        number = 1
        while number in doc.numberToId:  # formatting may add further objects
            name = doc.numberToId[number]
            thing = doc.idToObject[name]
            if isinstance(thing, _PictureObject):
                _copy(writer, number, thing, doc)
            elif thing is not doc.Catalog:
                writer.begins(number)
                writer.put(pdfdoc.pdfdocEnc(pdfdoc.PDFIndirectObject(name, thing).format(doc)))
            number += 1
        self._complete(writer, number)
        place = doc.idToObjectNumberAndVersion[catalog.name][0]
        writer.object(place, pdfdoc.pdfdocEnc(doc.Catalog.format(doc)))
        for attachment in self.attachments:
            doc.updateSignature(attachment.name)
        writer.finish(catalog.format(doc), info.format(doc), doc.ID().partition(b"%")[0].strip())

    def _complete(self, writer: Writer, free: int) -> None:
        """What the library does not know of: structure, metadata, meaning of colours, files inside the file."""
        writer.reserve_up_to(free)
        doc, info = self._doc, self._doc.info
        doc.Catalog.__NoDefault__ = _CATALOG_ENTRIES
        root = self.tree.write(writer, lambda page: int(doc.idToObjectNumberAndVersion[f"Page{page}"][0]))
        doc.Catalog.StructTreeRoot = f"{root} 0 R"
        doc.Catalog.MarkInfo = "<</Marked true>>"
        xmp = archive.metadata(
            writer, self._at, title=info.title, author=info.author, subject=info.subject, creator=info.creator,
            producer=info.producer, language=self._language,
        )  # fmt: skip
        doc.Catalog.Metadata = f"{xmp} 0 R"
        doc.Catalog.OutputIntents = archive.output_intent(writer)
        if self.attachments:
            doc.Catalog.AF, doc.Catalog.Names = archive.attach(writer, self.attachments)


def _copy(writer: Writer, number: int, thing: _PictureObject, document: Any) -> None:
    """The picture's bytes, as long as they are those that were measured."""
    picture = thing.picture
    try:
        with picture.path.open("rb") as source:
            if os.fstat(source.fileno()).st_size == picture.size:
                writer.begins(number)
                writer.put(b"%d 0 obj\n%b\nstream\n" % (number, thing.format(document)))
                while piece := source.read(1 << 18):
                    writer.put(piece)
                writer.put(b"\nendstream\nendobj\n")
                return
    except FileNotFoundError:
        pass
    raise StoreDamaged(
        "a picture prepared for printing changed while the report was written",
        item=picture.path.name,
        advice="Run the same command again; previews are made anew from the originals.",
    )
