"""A PDF file written object by object: where each object begins is remembered, nothing of it is held."""

from __future__ import annotations

import zlib
from array import array
from collections.abc import Iterable, Iterator

from evidence.report.writing import Sink

HEADER = b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n"  # four bytes above 127: this is no text (ISO 19005-3, 6.1.2)


class Writer:
    """Objects into a stream, the table of their places at the end."""

    def __init__(self, out: Sink) -> None:
        self._out = out
        self._offsets = array("Q", (0,))
        self._place = 0
        self.put(HEADER)

    def put(self, data: bytes) -> None:
        """Bytes as they are."""
        self._out.write(data)
        self._place += len(data)

    def reserve(self, count: int = 1) -> int:
        """The number of the next object, or the first of several; each is to be written later, in any order."""
        self._offsets.extend((0,) * count)
        return len(self._offsets) - count

    def reserve_up_to(self, number: int) -> None:
        """From here on, ``number`` is the first that :meth:`reserve` gives."""
        self.reserve(max(0, number - len(self._offsets)))

    def begins(self, number: int) -> None:
        """Object ``number`` begins here."""
        self.reserve_up_to(number + 1)
        self._offsets[number] = self._place

    def object(self, number: int, body: bytes) -> None:
        """A whole object."""
        self.begins(number)
        self.put(b"%d 0 obj\n%b\nendobj\n" % (number, body))

    def stream(self, number: int, entries: bytes, chunks: Iterable[bytes], *, compress: bool = False) -> int:
        """A stream of unknown length; its length stands in an object of its own. Returns the bytes taken in."""
        length, taken = self.reserve(), 0
        filter_ = b"/Filter/FlateDecode" if compress else b""
        self.begins(number)
        self.put(b"%d 0 obj\n<<%b%b/Length %d 0 R>>\nstream\n" % (number, entries, filter_, length))
        start = self._place
        packer = zlib.compressobj(6) if compress else None
        for chunk in chunks:
            taken += len(chunk)
            self.put(packer.compress(chunk) if packer else chunk)
        if packer:
            self.put(packer.flush())
        size = self._place - start
        self.put(b"\nendstream\nendobj\n")
        self.object(length, b"%d" % size)
        return taken

    def finish(self, catalog: bytes, info: bytes, identity: bytes) -> None:
        """The table of places and the trailer; ``catalog`` and ``info`` are references."""
        start = self._place
        self.put(b"xref\n0 %d\n0000000000 65535 f \n" % len(self._offsets))
        for chunk in self._table():
            self.put(chunk)
        self.put(
            b"trailer\n<</Size %d/Root %b/Info %b/ID%b>>\nstartxref\n%d\n%%%%EOF\n"
            % (len(self._offsets), catalog, info, identity, start)
        )

    def _table(self) -> Iterator[bytes]:
        for first in range(1, len(self._offsets), 1000):
            yield b"".join(b"%010d 00000 n \n" % place for place in self._offsets[first : first + 1000])


def pdf_text(text: str) -> bytes:
    """A text string (ISO 32000-1, 7.9.2.2): plain where it is ASCII, else UTF-16 in hexadecimal."""
    if text.isascii() and text.isprintable():
        return b"(" + text.replace("\\", "\\\\").replace("(", "\\(").replace(")", "\\)").encode() + b")"
    return b"<feff" + text.encode("utf-16-be").hex().encode() + b">"
