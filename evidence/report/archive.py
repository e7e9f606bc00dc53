"""What makes a PDF an archive (PDF/A-3, ISO 19005-3): metadata, colours with a meaning, files that belong to it."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal
from xml.sax.saxutils import escape

from evidence.errors import StoreDamaged
from evidence.report.writer import Writer, pdf_text

Relationship = Literal["Source", "Data", "Supplement"]
_PIECE = 1 << 20
_XMP = """\
<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmp="http://ns.adobe.com/xap/1.0/"
 xmlns:pdf="http://ns.adobe.com/pdf/1.3/" xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/">
<pdfaid:part>3</pdfaid:part><pdfaid:conformance>B</pdfaid:conformance>
<dc:format>application/pdf</dc:format>
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>
<dc:creator><rdf:Seq><rdf:li>{author}</rdf:li></rdf:Seq></dc:creator>
<dc:description><rdf:Alt><rdf:li xml:lang="x-default">{subject}</rdf:li></rdf:Alt></dc:description>
<dc:language><rdf:Bag><rdf:li>{language}</rdf:li></rdf:Bag></dc:language>
<xmp:CreatorTool>{creator}</xmp:CreatorTool>
<xmp:CreateDate>{at}</xmp:CreateDate><xmp:ModifyDate>{at}</xmp:ModifyDate><xmp:MetadataDate>{at}</xmp:MetadataDate>
<pdf:Producer>{producer}</pdf:Producer>
</rdf:Description>
</rdf:RDF>
</x:xmpmeta>
<?xpacket end="r"?>"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Attachment:
    """A file inside the PDF. ``digest``: the SHA-256 that its bytes must have; empty where they are made here."""

    name: str  # plain letters, digits, dot, hyphen
    description: str
    media: str  # IANA media type
    relationship: Relationship
    at: dt.datetime  # when it was made or taken in
    chunks: Callable[[], Iterable[bytes]]
    packed: bool = True  # pictures do not get smaller
    digest: str = ""


def file_chunks(path: Path) -> Callable[[], Iterator[bytes]]:
    """The bytes of a file, a piece at a time."""

    def chunks() -> Iterator[bytes]:
        with path.open("rb") as stream:
            while piece := stream.read(_PIECE):
                yield piece

    return chunks


def metadata(writer: Writer, at: dt.datetime, **said: str) -> int:
    """The XMP packet: title, author, subject, creator, producer, language. Returns its object."""
    stamp = at.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    packet = _XMP.format(at=stamp, **{name: escape(text) for name, text in said.items()}).encode()
    number = writer.reserve()
    writer.stream(number, b"/Type/Metadata/Subtype/XML", [packet])  # plain: to be found by programs that know no PDF
    return number


def output_intent(writer: Writer) -> bytes:
    """What the numbers of colours mean: sRGB (IEC 61966-2-1). Returns the array for the catalog."""
    profile = writer.reserve()
    writer.stream(profile, b"/N 3", [_srgb()], compress=True)
    return (
        b"[<</Type/OutputIntent/S/GTS_PDFA1/OutputConditionIdentifier(sRGB)/Info(sRGB IEC61966-2.1)"
        b"/DestOutputProfile %d 0 R>>]" % profile
    )


@cache
def _srgb() -> bytes:
    from PIL import ImageCms

    profile = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    profile[24:36] = b"".join(n.to_bytes(2, "big") for n in (2000, 1, 1, 0, 0, 0))  # its date: else that of this run
    return bytes(profile)


def attach(writer: Writer, attachments: Sequence[Attachment]) -> tuple[bytes, bytes]:
    """Write the files; returns the catalog's list of associated files and its tree of names.

    Raises ``StoreDamaged`` where a file is not the one that was recorded.
    """
    ordered = sorted(attachments, key=lambda a: a.name)
    specs = [(a.name, b"%d 0 R" % _attach(writer, a)) for a in ordered]
    names = b" ".join(pdf_text(name) + b" " + spec for name, spec in specs)
    return b"[%b]" % b" ".join(spec for _, spec in specs), b"<</EmbeddedFiles<</Names[%b]>>>>" % names


def _attach(writer: Writer, attachment: Attachment) -> int:
    file, parameters, spec = (writer.reserve() for _ in range(3))
    seen = hashlib.sha256()

    def counted() -> Iterator[bytes]:
        for chunk in attachment.chunks():
            seen.update(chunk)
            yield chunk

    media = attachment.media.replace("/", "#2F").encode()
    head = b"/Type/EmbeddedFile/Subtype/%b/Params %d 0 R" % (media, parameters)
    size = writer.stream(file, head, counted(), compress=attachment.packed)
    if attachment.digest and seen.hexdigest() != attachment.digest:
        raise StoreDamaged(
            "an original is not the file that was recorded; it was not attached and no report was written",
            item=attachment.name,
            advice="Run 'evidence recheck' to see which originals are damaged.",
        )
    date = attachment.at.astimezone(dt.UTC).strftime("(D:%Y%m%d%H%M%S+00'00')").encode()
    writer.object(parameters, b"<</Size %d/CreationDate%b/ModDate%b>>" % (size, date, date))
    name = pdf_text(attachment.name)
    writer.object(
        spec,
        b"<</Type/Filespec/F%b/UF%b/Desc%b/AFRelationship/%b/EF<</F %d 0 R/UF %d 0 R>>>>"
        % (name, name, pdf_text(attachment.description), attachment.relationship.encode(), file, file),
    )
    return spec
