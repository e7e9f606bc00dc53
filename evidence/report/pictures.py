"""Pictures made ready for printing: at most 1600 pixels on the long side, JPEG, upright, without metadata.

A JPEG that is already small and upright is printed from its own bytes, so that what stands in the PDF is the
exhibit itself. Everything is kept under the original's digest and made once.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING

from evidence.report.writing import PART_PREFIX, whole_file

if TYPE_CHECKING:
    from PIL.Image import Image

LONG_SIDE = 1600
QUALITY = 80
MOST_PIXELS = 200_000_000


def prepare(
    pictures: Mapping[str, Path],
    cache_dir: Path,
    workers: int = 2,
    progress: Callable[[str], None] | None = None,
) -> dict[str, Path | str]:
    """Make a printable JPEG of each picture; ``pictures`` maps the SHA-256 of an original to its file.

    Returns for each digest the JPEG's path or, where none could be made, the reason in words. ``progress`` is
    called with each digest when it is done. Threads suffice: decoding and scaling leave the interpreter's lock.
    Raises ``NoRoom`` or ``OutputUnusable`` when the cache cannot be written.
    """
    cache_dir.mkdir(parents=True, exist_ok=True)

    def one(item: tuple[str, Path]) -> tuple[str, Path | str]:
        digest, source = item
        target = cache_dir / f"{digest}-{LONG_SIDE}.jpg"
        made = target if target.exists() else _make(source, target)
        if progress:
            progress(digest)
        return digest, made

    with ThreadPoolExecutor(max(1, workers)) as pool:
        return dict(pool.map(one, pictures.items()))


def sweep(cache_dir: Path) -> int:
    """Remove what an interrupted run left behind; returns how many files that were."""
    leftovers = list(cache_dir.glob(PART_PREFIX + "*"))
    for path in leftovers:
        path.unlink(missing_ok=True)
    return len(leftovers)


def _make(source: Path, target: Path) -> Path | str:
    import warnings

    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(source) as opened:
                if opened.width * opened.height > MOST_PIXELS:
                    return f"no picture: {opened.width} × {opened.height} pixels are too large to print"
                if _printable_as_it_is(opened):
                    with source.open("rb") as original, whole_file(target) as out:
                        shutil.copyfileobj(original, out, 1 << 18)
                    return target
                small = _scaled(opened)
    except Image.DecompressionBombError:
        return "no picture: too large to print"
    except UnidentifiedImageError:
        return "no picture: not a picture that can be read"
    except (OSError, ValueError, SyntaxError, EOFError, MemoryError) as err:
        return f"no picture: damaged ({str(err).splitlines()[0][:80] if str(err) else type(err).__name__})"
    with whole_file(target) as out:
        small.save(out, "JPEG", quality=QUALITY)
    return target


def _printable_as_it_is(image: Image) -> bool:
    upright = image.getexif().get(0x0112, 1) == 1  # EXIF Orientation
    if image.format != "JPEG" or image.mode not in ("RGB", "L") or max(image.size) > LONG_SIDE or not upright:
        return False
    image.load()  # a damaged file must not be printed as if it were whole
    return True


def _scaled(image: Image) -> Image:
    from PIL import Image as Pil
    from PIL import ImageOps

    factor = min(1.0, LONG_SIDE / max(image.size))
    box = (max(1, int(image.width * factor)), max(1, int(image.height * factor)))
    # A box no larger than the result: only then does the decoder skip what is not needed.
    image.draft("L" if image.mode == "L" else "RGB", box)
    small = image
    if factor < 1:
        small.thumbnail((LONG_SIDE, LONG_SIDE), Pil.Resampling.BICUBIC, reducing_gap=2.0)
    small = ImageOps.exif_transpose(small)
    if "A" in small.mode or "transparency" in small.info:
        flat = Pil.new("RGB", small.size, "white")
        flat.paste(small.convert("RGBA"), mask=small.convert("RGBA").getchannel("A"))
        return flat
    return small if small.mode in ("RGB", "L") else small.convert("RGB")
