"""What a photo's file carries beyond its facts: programs, sizes, tables, the small picture inside, content credentials.

Read when signs are asked for, never at intake. The head of the file is read, and of pixels only those of the small
picture inside it.
"""

from __future__ import annotations

import io
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, BinaryIO, Final

from evidence.capture.credentials import credentials_of
from evidence.capture.likeness import fingerprint, hash_of
from evidence.capture.limited import available, run_limited
from evidence.capture.photo import metadata_of
from evidence.capture.picture import heard, open_head, turned
from evidence.capture.plain_file import PARSER_FAULTS, open_plain, raise_if_of_the_system
from evidence.capture.reading import HEIC, PICTURES
from evidence.capture.wording import one_line
from evidence.model.exhibit import FileFacts
from evidence.ports import FilePath
from evidence.review.photo_marks import PhotoMarks, Tables, Thumbnail

_EXIF, _IFD1 = 0x8769, -1  # the library counts the second directory so
_PROCESSED, _MAKE, _MODEL, _SOFTWARE, _CHANGED, _XMP = 0x000B, 0x010F, 0x0110, 0x0131, 0x0132, 0x02BC
_TAKEN, _DIGITISED, _NUMBER, _WIDTH, _HEIGHT, _BODY = 0x9003, 0x9004, 0x9211, 0xA002, 0xA003, 0xA431
_SMALL_AT, _SMALL_LENGTH = 0x0201, 0x0202
_LARGEST_SMALL: Final = 1_000_000  # bytes
_MOST_SMALL: Final = 4_000_000  # pixels
_LARGEST_XMP: Final = 1_000_000
_TOOL: Final = re.compile(rb"CreatorTool\s*(?:=\s*\"([^\"]{1,200})\"|=\s*'([^']{1,200})'|>([^<]{1,200})<)")
_TIMES: Final = tuple(  # of capture, the most definite first
    re.compile(name + rb"\s*(?:=\s*\"([^\"]{1,40})\"|=\s*'([^']{1,40})'|>([^<]{1,40})<)")
    for name in (rb"exif:DateTimeOriginal", rb"photoshop:DateCreated", rb"xmp:CreateDate")
)
_STEP: Final = re.compile(rb"stEvt:action\s*=|<stEvt:action>")  # as an attribute or an element, once a step
# ITU-T T.81, Annex K, tables K.1 and K.2, in rows.
LUMINANCE: Final = (
    16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55, 14, 13, 16, 24, 40, 57, 69, 56,
    14, 17, 22, 29, 51, 87, 80, 62, 18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113, 92,
    49, 64, 78, 87, 103, 121, 120, 101, 72, 92, 95, 98, 112, 100, 103, 99,
)  # fmt: skip
CHROMINANCE: Final = (
    17, 18, 24, 47, 99, 99, 99, 99, 18, 21, 26, 66, 99, 99, 99, 99, 24, 26, 56, 99, 99, 99, 99, 99,
    47, 66, 99, 99, 99, 99, 99, 99, *(99,) * 32,
)  # fmt: skip


def read_marks(original: FilePath, facts: FileFacts, preview: FilePath | None) -> PhotoMarks:
    """The marks of a photo. Whatever the bytes are, the answer is a value; ``OSError`` is the disk's.

    ``preview`` is the upright small picture that the one inside the file is held against."""
    path = Path(original)
    found: dict[str, Any] = {"size": (facts.width, facts.height) if facts.width and facts.height else None}
    problems: list[str] = []
    with heard():  # of damaged metadata: the facts have said it
        try:
            if facts.type in PICTURES:
                with open_plain(path) as stream:
                    _read_picture(stream, facts, preview, found)
            elif facts.type == HEIC and available("pillow_heif"):
                _read_heic(path, found)
            else:
                problems.append(f"{facts.type} is not read for this")
        except PARSER_FAULTS as err:
            raise_if_of_the_system(err)
            problems.append(f"metadata damaged: {one_line(err, 100) or type(err).__name__}")
    found["credentials"] = credentials_of(path, facts.type)
    return PhotoMarks(**found, problems=tuple(problems))


def quality_of(tables: Tables) -> int | None:
    """The quality, 1 to 100, at which the example tables of T.81 Annex K give these tables; None where none does."""
    return _known_tables().get(tables)


def scaled_table(table: tuple[int, ...], quality: int) -> tuple[int, ...]:
    """An example table at a quality, scaled and rounded as the reference encoder of the Independent JPEG Group does."""
    scale = 5000 // quality if quality < 50 else 200 - 2 * quality
    return tuple(min(255, max(1, (entry * scale + 50) // 100)) for entry in table)


@cache
def _known_tables() -> Mapping[Tables, int]:
    found: dict[Tables, int] = {}
    for quality in range(1, 101):
        one, two = scaled_table(LUMINANCE, quality), scaled_table(CHROMINANCE, quality)
        found.setdefault((one, two), quality)
        found.setdefault((one,), quality)
    return found


def _read_picture(stream: BinaryIO, facts: FileFacts, preview: FilePath | None, found: dict[str, Any]) -> None:
    if facts.type != "image/jpeg":
        exif = metadata_of(stream, facts.type, {"notes": []})
        if exif is not None:
            _read_exif(exif, found)
            _read_packet(exif.get(_XMP), found)
        return
    image: Any = open_head(stream, facts.type)
    found["progressive"] = bool(image.info.get("progressive"))
    tables = tuple(tuple(int(v) for v in table) for _, table in sorted(image.quantization.items()))
    found["tables"], found["quality"] = tables, quality_of(tables)
    _read_packet(image.info.get("xmp"), found)
    exif = image.getexif()
    _read_exif(exif, found)
    found["thumbnail"] = _small_picture(exif.get_ifd(_IFD1), image.info.get("exif") or b"", facts, preview)


def _read_heic(path: Path, found: dict[str, Any]) -> None:
    from PIL import Image

    answer = run_limited("heic_facts", path)
    if answer.problem:
        raise ValueError(answer.problem)
    exif = Image.Exif()
    exif.load(answer.payload)
    _read_exif(exif, found)


def _read_exif(exif: Any, found: dict[str, Any]) -> None:
    inner = exif.get_ifd(_EXIF)
    found.update(
        make=one_line(exif.get(_MAKE)), model=one_line(exif.get(_MODEL)), software=one_line(exif.get(_SOFTWARE)),
        processed_with=one_line(exif.get(_PROCESSED)), changed=one_line(exif.get(_CHANGED), 60),
        taken=one_line(inner.get(_TAKEN), 60), digitised=one_line(inner.get(_DIGITISED), 60),
        body=one_line(inner.get(_BODY), 60), number=_count(inner.get(_NUMBER)),
    )  # fmt: skip
    width, height = _count(inner.get(_WIDTH)), _count(inner.get(_HEIGHT))
    if width and height:
        found["stated_size"] = (width, height)


def _count(value: object) -> int | None:
    return value if isinstance(value, int) and 0 < value < 2**31 else None


def _read_packet(packet: object, found: dict[str, Any]) -> None:
    """Three things of an XMP packet (ISO 16684-1), looked for as text: a hostile packet is never parsed."""
    if isinstance(packet, str):
        packet = packet.encode("utf-8", "replace")
    if not isinstance(packet, bytes):
        return
    packet = packet[:_LARGEST_XMP]
    if match := _TOOL.search(packet):
        found["creator_tool"] = one_line(next(g for g in match.groups() if g).decode("utf-8", "replace"), 100)
    if match := next((m for pattern in _TIMES if (m := pattern.search(packet))), None):
        found["packet_taken"] = one_line(next(g for g in match.groups() if g).decode("utf-8", "replace"), 40)
    found["edits"] = min(len(_STEP.findall(packet)), 10_000)


def _small_picture(ifd: Mapping[int, Any], raw: bytes, facts: FileFacts, preview: FilePath | None) -> Thumbnail | None:
    at, length = _count(ifd.get(_SMALL_AT)), _count(ifd.get(_SMALL_LENGTH))
    if not at or not length or length > _LARGEST_SMALL:
        return None
    data = raw[6 + at : 6 + at + length]  # offsets count from behind "Exif\0\0"
    if not data.startswith(b"\xff\xd8"):
        return None
    try:
        image = open_head(io.BytesIO(data), "image/jpeg")
        if image.width * image.height > _MOST_SMALL:
            return None
        return Thumbnail(width=image.width, height=image.height, bits=_bits_apart(image, facts, preview))
    except PARSER_FAULTS as err:
        raise_if_of_the_system(err)
        return None


def _bits_apart(small: Any, facts: FileFacts, preview: FilePath | None) -> int | None:
    """Bits of 128 by which small and large picture differ, at best: as stored or turned upright, bars cut off or not."""
    if preview is None:
        return None
    with open_plain(Path(preview)) as stream:
        large = open_head(stream, "image/jpeg")
        large.draft("L", (200, 150))
        whole = large.convert("L")
    grey = small.convert("L")
    if fingerprint(whole) is None or fingerprint(grey) is None:
        return None  # next to nothing to be seen in one of them
    best = 128
    for one in (grey, turned(grey, facts.orientation or 1)):
        for ours, theirs in ((one, whole), (_shaped(one, whole), whole), (one, _shaped(whole, one))):
            best = min(best, (hash_of(ours) ^ hash_of(theirs)).bit_count())
    return best


def _shaped(image: Any, like: Any) -> Any:
    """The middle of a picture in the shape of another: cameras fill a small picture of another shape with black bars."""
    width, height = image.size
    wanted = like.width / like.height
    if wanted > width / height:
        cut = (height - width / wanted) / 2
        return image.crop((0, round(cut), width, max(round(cut) + 1, round(height - cut))))
    cut = (width - height * wanted) / 2
    return image.crop((round(cut), 0, max(round(cut) + 1, round(width - cut)), height))
