"""Pictures through Pillow, on both sides of the process border: opening without decoding, and fitting into a box.

``Image.open`` refuses pictures of many pixels and warns of large ones; that guard stays as it is. Here the
format's own class is called, which reads the head of the file and no pixel, so that the metadata of a huge
picture can be read; whoever decodes asks :func:`too_large` first.
"""

from __future__ import annotations

import io
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, BinaryIO, Final

if TYPE_CHECKING:
    from PIL import Image

MOST_PIXELS: Final = 89_478_485  # Pillow's own MAX_IMAGE_PIXELS: a quarter of a GB of 24-bit pixels
_QUALITY: Final = 85
_LARGEST_PROFILE: Final = 65_000  # of colours; one JPEG segment


# Pillow tells of damaged metadata by warnings, which Python keeps in one place for all threads.
_one_at_a_time = threading.Lock()


@contextmanager
def heard() -> Iterator[list[str]]:
    """Collect what the library warns of, instead of printing it. For reading heads only: one thread at a time."""
    said: list[str] = []
    with _one_at_a_time, warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        yield said
        said.extend(str(w.message) for w in told[:3])


def open_head(stream: BinaryIO, type_: str) -> Image.Image:
    """The picture with its size and metadata, nothing decoded. ``type_`` is the media type of the content."""
    if type_ == "image/jpeg":
        from PIL.JpegImagePlugin import JpegImageFile

        return JpegImageFile(stream)
    if type_ in ("image/png", "image/apng"):
        from PIL.PngImagePlugin import PngImageFile

        return PngImageFile(stream)
    if type_ == "image/tiff":
        from PIL.TiffImagePlugin import TiffImageFile

        return TiffImageFile(stream)
    from PIL.WebPImagePlugin import WebPImageFile

    return WebPImageFile(stream)


def too_large(width: int, height: int, type_: str, *, progressive: bool = False) -> bool:
    """Whether decoding would take more memory than we give. A baseline JPEG is decoded at a fraction of its size."""
    scaled = type_ == "image/jpeg" and not progressive
    return width * height > (4 * MOST_PIXELS if scaled else MOST_PIXELS)


def fitted(width: int, height: int, box: tuple[int, int]) -> tuple[int, int]:
    """The largest size of the same shape whose long and short side fit the box; never larger than the picture."""
    long, short = max(box), min(box)
    limits = (long, short) if width >= height else (short, long)
    scale = min(limits[0] / width, limits[1] / height, 1.0)
    return max(1, int(width * scale + 1e-6)), max(1, int(height * scale + 1e-6))


def jpeg_of(image: Image.Image, box: tuple[int, int], orientation: int = 1) -> bytes:
    """A JPEG of the picture, at most as large as the box, turned upright, without any of its metadata."""
    from PIL import Image

    size = fitted(*image.size, box)
    profile = image.info.get("icc_profile")
    image.draft(None, size)  # a JPEG decodes at 1/2, 1/4 or 1/8; others ignore it
    image.load()
    small = coloured(image)
    if small.size != size:
        small = small.resize(size, Image.Resampling.HAMMING, reducing_gap=2.0)  # only ever smaller
    small = turned(small, orientation)
    out = io.BytesIO()
    keep = isinstance(profile, bytes) and 0 < len(profile) <= _LARGEST_PROFILE and small.mode == "RGB"
    small.save(out, "JPEG", quality=_QUALITY, icc_profile=profile if keep else None)
    return out.getvalue()


def turned(image: Image.Image, orientation: int) -> Image.Image:
    """The picture upright, by its EXIF orientation."""
    from PIL import Image

    turn = _turns(Image).get(orientation)
    return image if turn is None else image.transpose(turn)


def coloured(image: Image.Image) -> Image.Image:
    """The picture in a mode that a JPEG can hold; what is transparent becomes white."""
    from PIL import Image

    if image.mode in ("RGB", "L"):
        return image
    if image.mode.startswith("I") or image.mode == "F":  # 16 bits a pixel and more: stretch to what is there
        low, high = image.getextrema()
        span = max(float(high) - float(low), 1.0)  # type: ignore[arg-type]
        return image.convert("F").point(lambda v: (v - float(low)) * (255.0 / span)).convert("L")  # type: ignore[arg-type]
    if "A" in image.mode or image.mode == "P" or "transparency" in image.info:
        layer = image.convert("RGBA")
        ground = Image.new("RGBA", layer.size, "white")
        ground.alpha_composite(layer)
        return ground.convert("RGB")
    return image.convert("RGB")


def _turns(pil: Any) -> dict[int, Image.Transpose]:
    """EXIF orientation (CIPA DC-008, tag 0x0112) to the turn that makes the picture upright."""
    t = pil.Transpose
    return {
        2: t.FLIP_LEFT_RIGHT, 3: t.ROTATE_180, 4: t.FLIP_TOP_BOTTOM, 5: t.TRANSPOSE, 6: t.ROTATE_270,
        7: t.TRANSVERSE, 8: t.ROTATE_90,
    }  # fmt: skip
