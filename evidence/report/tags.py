"""The structure of a tagged PDF (ISO 32000-1, 14.7 and 14.8): which element each piece of a page belongs to.

An element exists once something is drawn for it, so the order of drawing is the order of reading. What is kept of
a drawn element is a handful of numbers; its object is made while the file is written.
"""

from __future__ import annotations

from array import array
from collections import defaultdict
from collections.abc import Callable, Iterator
from typing import Literal

from evidence.report.writer import Writer, pdf_text

Tag = Literal["Document", "Sect", "H1", "H2", "H3", "P", "L", "LI", "Lbl", "LBody", "Table", "TR", "TH", "TD", "Figure",
              "TOC", "TOCI", "Link"]  # fmt: skip
_TAGS: tuple[Tag, ...] = ("Document", "Sect", "H1", "H2", "H3", "P", "L", "LI", "Lbl", "LBody", "Table", "TR", "TH",
                          "TD", "Figure", "TOC", "TOCI", "Link")  # fmt: skip
_A_LEAF = 64  # pages and links in one leaf of the tree that leads from them to their elements


class Element:
    """A place in the structure. ``alt`` says what a figure shows, ``scope`` what a header cell stands for."""

    __slots__ = ("alt", "box", "number", "parent", "scope", "tag")

    def __init__(
        self, tag: Tag, parent: Element | None, *, alt: str = "", scope: Literal["", "Row", "Column"] = ""
    ) -> None:
        self.tag, self.parent, self.alt, self.scope = tag, parent, alt, scope
        self.box: tuple[float, ...] = ()  # of a figure: left, bottom, right, top on its page, in points
        self.number = -1  # until something is drawn for it


class Tree:
    """Elements in the order in which they were drawn, and the marks on the pages that belong to them."""

    def __init__(self) -> None:
        self.root = Element("Document", None)
        self._tags, self._parents = array("B"), array("L")
        self._said: dict[int, bytes] = {}  # element -> what its object says besides
        self._marks = array("L")  # element, page, number of the mark on that page; three by three
        self._on_page: dict[int, tuple[int, int]] = {}  # page -> its key, its first mark
        self._owners = array("l")  # by key: the element of a link, or minus the page
        self._links: dict[int, tuple[int, int]] = {}  # element of a link -> page, object of its annotation
        self._number(self.root)

    def _number(self, element: Element) -> int:
        if element.number < 0:
            parent = 0 if element.parent is None else self._number(element.parent)
            element.number = len(self._tags)
            self._tags.append(_TAGS.index(element.tag))
            self._parents.append(parent)
            if said := _said(element):
                self._said[element.number] = said
        return element.number

    def page_key(self, page: int) -> int:
        """The key under which the parent tree knows ``page`` (counted from 1)."""
        return self._page(page)[0]

    def _page(self, page: int) -> tuple[int, int]:
        if page not in self._on_page:
            self._on_page[page] = (len(self._owners), len(self._marks) // 3)
            self._owners.append(-page)
        return self._on_page[page]

    def mark(self, element: Element, page: int) -> int:
        """A new mark of ``element`` on ``page``; returns the mark's number there."""
        number = self._number(element)
        place = len(self._marks) // 3 - self._page(page)[1]
        self._marks.extend((number, page, place))
        return place

    def link(self, parent: Element, page: int, annotation: int) -> int:
        """A link inside ``parent`` by the number of its annotation object; returns its key in the parent tree."""
        self._page(page)
        number = self._number(Element("Link", parent))
        self._links[number] = (page, annotation)
        self._owners.append(number)
        return len(self._owners) - 1

    def write(self, writer: Writer, page_object: Callable[[int], int]) -> int:
        """Write all of it; ``page_object`` gives the object of a page. Returns the number of the root object."""
        root = writer.reserve()
        first = writer.reserve(len(self._tags))  # element n is object first + n
        kids = self._kids(first, page_object)
        for n, tag in enumerate(self._tags):
            parent = root if n == 0 else first + self._parents[n]
            page, content = kids.get(n, (0, b""))
            on = b"/Pg %d 0 R" % page_object(page) if page else b""
            name = _TAGS[tag].encode()
            said = self._said.get(n, b"")
            writer.object(
                first + n, b"<</Type/StructElem/S/%b/P %d 0 R%b%b/K[%b]>>" % (name, parent, on, said, content)
            )
        leaves = writer.reserve()
        writer.object(leaves, b"<</Kids[%b]>>" % b" ".join(self._leaves(writer, first)))
        writer.object(
            root,
            b"<</Type/StructTreeRoot/K %d 0 R/ParentTree %d 0 R/ParentTreeNextKey %d>>"
            % (first, leaves, len(self._owners)),
        )
        return root

    def _kids(self, first: int, page_object: Callable[[int], int]) -> dict[int, tuple[int, bytes]]:
        """What each element holds, and the page on which its own marks begin (0: it has none)."""
        found: defaultdict[int, list[bytes]] = defaultdict(list)
        pages: dict[int, int] = {}
        for at in range(0, len(self._marks), 3):
            element, page, number = self._marks[at : at + 3]
            here = pages.setdefault(element, page) == page
            mark = b"%d" if here else b"<</Type/MCR/Pg %d 0 R/MCID %%d>>" % page_object(page)
            found[element].append(mark % number)
        for element, (page, annotation) in self._links.items():
            pages[element] = page
            found[element].append(b"<</Type/OBJR/Obj %d 0 R>>" % annotation)
        for n, parent in enumerate(self._parents):
            if n:
                found[parent].append(b"%d 0 R" % (first + n))
        return {element: (pages.get(element, 0), b" ".join(held)) for element, held in found.items()}

    def _leaves(self, writer: Writer, first: int) -> Iterator[bytes]:
        marks: defaultdict[int, list[bytes]] = defaultdict(list)
        for at in range(0, len(self._marks), 3):
            marks[self._marks[at + 1]].append(b"%d 0 R" % (first + self._marks[at]))
        for start in range(0, len(self._owners), _A_LEAF):
            keys = range(start, min(start + _A_LEAF, len(self._owners)))
            pairs = []
            for key in keys:
                owner = self._owners[key]
                value = b"%d 0 R" % (first + owner) if owner > 0 else b"[%b]" % b" ".join(marks[-owner])
                pairs.append(b"%d %b" % (key, value))
            leaf = writer.reserve()
            writer.object(leaf, b"<</Limits[%d %d]/Nums[%b]>>" % (keys[0], keys[-1], b"\n".join(pairs)))
            yield b"%d 0 R" % leaf


def _said(element: Element) -> bytes:
    said = b"/Alt" + pdf_text(element.alt) if element.alt else b""
    if element.scope:
        said += b"/A<</O/Table/Scope/%b>>" % element.scope.encode()
    if element.box:
        said += b"/A<</O/Layout/Placement/Block/BBox[%b]>>" % b" ".join(b"%.2f" % edge for edge in element.box)
    return said
