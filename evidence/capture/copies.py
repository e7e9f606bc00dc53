"""Annotated and redacted copies: drawn anew from the original, upright, and encoded without any of its metadata.

What is blacked out is gone: the pixels are replaced before anything is encoded, and nothing of the original file but
its remaining pixels gets into the copy: no EXIF, no thumbnail, no colour profile, no comment. The same operations on
the same original give the same pixels with the same versions of the libraries, which the record names.
"""

from __future__ import annotations

import hashlib
import io
import math
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, cast

from evidence.capture.limited import available, run_limited
from evidence.capture.picture import coloured, open_head, too_large, turned
from evidence.capture.plain_file import open_plain
from evidence.capture.reading import HEIC, PDF, PICTURES
from evidence.errors import SourceUnusable
from evidence.model.copies import CopyForm, Made, Operation, pixel
from evidence.model.exhibit import FileFacts
from evidence.ports import Drawn

if TYPE_CHECKING:
    from PIL import Image, ImageDraw

_INK: Final = (200, 0, 0)
_HALO: Final = (255, 255, 255)
_BLACK: Final = (0, 0, 0)
_JPEG_QUALITY: Final = 92
_SECONDS: Final = 30.0
DOTS_PER_INCH: Final = 200  # at which a page of a document is drawn


class CopyDrawer:
    """Draws copies in the limited child process. ``font`` is the file of the letters."""

    def __init__(self, font: Path) -> None:
        self._font = font

    @contextmanager
    def draw(
        self, original: Path, facts: FileFacts, operations: Sequence[Operation], form: CopyForm | None
    ) -> Iterator[Drawn]:  # fmt: skip
        """The copy as a file that is there while the context is open. Raises ``SourceUnusable`` with the reason."""
        paged = any(o.do == "page" for o in operations)
        if facts.type == PDF and not paged:
            raise SourceUnusable("is a document; say which page is to be drawn", advice="Add '--page 1'.")
        if facts.type not in (*PICTURES, HEIC, PDF) or (paged and facts.type != PDF):
            raise SourceUnusable(f"{facts.type} is no {'document' if paged else 'picture'} that can be drawn on")
        if facts.type == HEIC and not available("pillow_heif"):
            raise SourceUnusable("HEIC needs the extra 'media'")
        form = form or ("jpeg" if facts.type in ("image/jpeg", HEIC) else "png")
        open_plain(original).close()  # what the system refuses is told here, as an error of its own
        answer = run_limited(
            "copy", original, seconds=_SECONDS, type=facts.type, orientation=facts.orientation or 1, form=form,
            operations=[o.model_dump(exclude_none=True) for o in operations], font=str(self._font),
        )  # fmt: skip
        if answer.problem:
            raise SourceUnusable(f"cannot be drawn on: {answer.problem}")
        made = Made(form=form, source=_sha256(original), **answer.facts)
        with tempfile.NamedTemporaryFile(prefix="evidence-copy-", suffix=f".{form}") as file:
            file.write(answer.payload)
            file.flush()
            digest = hashlib.sha256(answer.payload).hexdigest()
            yield Drawn(path=Path(file.name), sha256=digest, size=len(answer.payload), made=made)


def _sha256(path: Path) -> str:
    with open_plain(path) as stream:
        return hashlib.file_digest(cast("Any", stream), "sha256").hexdigest()


def copied(stream: Any, type_: str, orientation: int, operations: Sequence[Operation], font: str) -> Image.Image:
    """The copy in memory: runs in the limited child. ``ValueError`` says why it cannot be."""
    image = _page(stream, operations) if type_ == PDF else _upright(stream, type_, orientation)
    for operation in operations:
        _WORK[operation.do](image, operation, font)
    return image


def encoded(image: Image.Image, form: str) -> bytes:
    """The copy as a file: pixels and nothing else."""
    bare = image.copy()
    bare.info = {}
    out = io.BytesIO()
    if form == "png":
        bare.save(out, "PNG", compress_level=6)
    else:
        bare.save(out, "JPEG", quality=_JPEG_QUALITY, subsampling=0)
    return out.getvalue()


def pixel_hash(image: Image.Image) -> str:
    """SHA-256 of size and pixels."""
    head = f"{image.width} {image.height}\n".encode("ascii")
    return hashlib.sha256(head + image.tobytes()).hexdigest()


def program_words(type_: str, form: str) -> str:
    """The libraries on which the pixels and their encoding depend."""
    from PIL import __version__, features

    parts = [f"Pillow {__version__}", f"FreeType {features.version('freetype2')}"]
    if "image/jpeg" in (type_, f"image/{form}"):
        parts.append(f"libjpeg-turbo {features.version('libjpeg_turbo')}")
    if "image/png" in (type_, f"image/{form}"):
        parts.append(f"zlib {features.version('zlib')}")
    if type_ == HEIC:
        import pillow_heif

        parts.append(f"pillow-heif {pillow_heif.__version__}")
    if type_ == PDF:
        import pypdfium2

        parts.append(f"pypdfium2 {pypdfium2.version.PYPDFIUM_INFO.version}")
    return ", ".join(parts)


def _upright(stream: Any, type_: str, orientation: int) -> Image.Image:
    if type_ == HEIC:  # the library turns it as the container says
        import pillow_heif

        found = pillow_heif.open_heif(stream, convert_hdr_to_8bit=True)
        if too_large(found.size[0], found.size[1], type_):
            raise ValueError("too large")
        return found.to_pillow().convert("RGB")
    head = open_head(stream, type_)
    if too_large(*head.size, "image/any"):  # every pixel is decoded, whatever the format
        raise ValueError("too large")
    head.load()
    return turned(coloured(head).convert("RGB"), orientation)


def _page(stream: Any, operations: Sequence[Operation]) -> Image.Image:
    import pypdfium2

    document = pypdfium2.PdfDocument(stream)
    number = next(o.page or 1 for o in operations if o.do == "page")
    if number > len(document):
        raise ValueError(f"there is no page {number}, only {len(document)}")
    page = document[number - 1]
    scale = DOTS_PER_INCH / 72
    if too_large(int(page.get_width() * scale) + 1, int(page.get_height() * scale) + 1, "image/any"):
        raise ValueError("too large")
    drawn: Image.Image = page.render(scale=scale).to_pil()
    return drawn.convert("RGB")


def _points(image: Image.Image, at: Sequence[str]) -> list[Fraction]:
    return [pixel(c, image.height if n % 2 else image.width) for n, c in enumerate(at)]


def _inside(image: Image.Image, x: Fraction, y: Fraction, what: str) -> None:
    if x >= image.width or y >= image.height:
        raise ValueError(f"{what} lies outside the picture, which is {image.width} × {image.height} pixels")


def _black_out(image: Image.Image, operation: Operation, _font: str) -> None:
    """Pixels replaced; what is touched by an edge is gone as well."""
    x, y, wide, high = _points(image, operation.at)
    _inside(image, x, y, operation.said())
    right, low = min(math.ceil(x + wide), image.width), min(math.ceil(y + high), image.height)
    image.paste(_BLACK, (math.floor(x), math.floor(y), right, low))


def _stroke(image: Image.Image) -> int:
    return max(2, max(image.size) // 220)


def _arrow(image: Image.Image, operation: Operation, _font: str) -> None:
    x, y, to_x, to_y = (round(p) for p in _points(image, operation.at))
    _inside(image, Fraction(to_x), Fraction(to_y), operation.said())
    if (x, y) == (to_x, to_y):
        raise ValueError(f"{operation.said()} has no length")
    pen, wide = _pen(image), _stroke(image)
    head = _head_of((x, y), (to_x, to_y), 5 * wide)
    for ink, more in ((_HALO, wide), (_INK, 0)):
        pen.line([(x, y), (to_x, to_y)], fill=ink, width=wide + more)
        for corner in head:
            pen.line([(to_x, to_y), corner], fill=ink, width=wide + more)


def _head_of(tail: tuple[int, int], tip: tuple[int, int], long: int) -> list[tuple[int, int]]:
    """The two corners of an arrow's head, half as wide as it is long, in whole numbers."""
    dx, dy = tip[0] - tail[0], tip[1] - tail[1]
    far = math.isqrt(dx * dx + dy * dy) or 1
    back = (tip[0] - dx * long // far, tip[1] - dy * long // far)
    side = (dy * long // (2 * far), -dx * long // (2 * far))
    return [(back[0] + side[0], back[1] + side[1]), (back[0] - side[0], back[1] - side[1])]


def _circle(image: Image.Image, operation: Operation, _font: str) -> None:
    x, y, radius = (round(p) for p in _points(image, operation.at))
    _inside(image, Fraction(x), Fraction(y), operation.said())
    pen, wide = _pen(image), _stroke(image)
    for ink, more in ((_HALO, wide // 2), (_INK, 0)):
        box = (x - radius - more, y - radius - more, x + radius + more, y + radius + more)
        pen.ellipse(box, outline=ink, width=wide + 2 * more)


def _text(image: Image.Image, operation: Operation, font: str) -> None:
    from PIL import ImageFont

    x, y = (round(p) for p in _points(image, operation.at))
    _inside(image, Fraction(x), Fraction(y), operation.said())
    letters = ImageFont.truetype(font, max(14, max(image.size) // 32), layout_engine=ImageFont.Layout.BASIC)
    wide = max(1, _stroke(image) // 2)
    _pen(image).text((x, y), str(operation.words), fill=_INK, font=letters, stroke_width=wide, stroke_fill=_HALO)


def _pen(image: Image.Image) -> ImageDraw.ImageDraw:
    from PIL import ImageDraw

    return ImageDraw.Draw(image)


def _nothing(_image: Image.Image, _operation: Operation, _font: str) -> None:
    """A page is drawn before everything else."""


def _done_elsewhere(_image: Image.Image, operation: Operation, _font: str) -> None:
    raise ValueError(f"“{operation.said()}” was done elsewhere and cannot be done again here")


_WORK: Final = {
    "arrow": _arrow, "circle": _circle, "text": _text, "black_out": _black_out, "page": _nothing,
    "other": _done_elsewhere,
}  # fmt: skip
