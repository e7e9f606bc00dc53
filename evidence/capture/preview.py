"""Previews: a JPEG that fits a box, upright, without metadata. They can be made again and prove nothing."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path
from typing import Any, Final

from evidence.capture.limited import available, run_limited
from evidence.capture.picture import heard, jpeg_of, open_head, too_large
from evidence.capture.plain_file import PARSER_FAULTS, open_plain, raise_if_of_the_system
from evidence.capture.reading import HEIC, PDF, PICTURES
from evidence.capture.wording import one_line
from evidence.model.exhibit import FileFacts

TEMPORARY: Final = ".preview-"  # how unfinished files begin, so that they can be swept
_IN_PROCESS: Final = 25_000_000  # pixels decoded without the limited child, where nothing is decoded at a fraction


def make_preview(original: Path, facts: FileFacts, out: Path, *, box: tuple[int, int] = (1600, 1200)) -> str:
    """Write the preview of ``original`` to ``out`` (whole or not at all); ``box`` is the long and the short side.

    Returns an empty text, or the reason why there is none. ``OSError`` is the disk's: reading the original or
    writing the preview failed."""
    drawn = _drawn(original, facts, box)
    if isinstance(drawn, str):
        return drawn
    _write(out, drawn)
    return ""


def make_page(original: Path, number: int, out: Path, *, box: tuple[int, int] = (1754, 1240)) -> str:
    """Write page ``number`` (from 0) of a PDF as a JPEG, drawn by the limited child; the reason where there is none."""
    drawn = _limited("pdf_preview", original, box, number=number)
    if isinstance(drawn, str):
        return drawn
    _write(out, drawn)
    return ""


def _drawn(original: Path, facts: FileFacts, box: tuple[int, int]) -> bytes | str:
    """The JPEG, or why there is none."""
    if facts.type in PICTURES:
        return _picture(original, facts, box)
    extra = "that needs the extra 'media'"
    if facts.type == HEIC:
        return _limited("heic_preview", original, box) if available("pillow_heif") else extra
    if facts.type == PDF:
        return _limited("pdf_preview", original, box)
    if facts.media == "video":
        return _limited("film_preview", original, box) if available("av") else extra
    return "the file is empty" if "the file is empty" in facts.notes else f"{facts.type} is not shown"


def _picture(original: Path, facts: FileFacts, box: tuple[int, int]) -> bytes | str:
    width, height = facts.width or 0, facts.height or 0
    if not width or not height:
        return "damaged: no picture size in the file"
    turn = facts.orientation or 1
    if facts.type != "image/jpeg":
        if too_large(width, height, facts.type):
            return "too large"
        if width * height > _IN_PROCESS or facts.type == "image/tiff":  # a TIFF holds other formats' decoders
            return _limited("picture_preview", original, box, type=facts.type, orientation=turn)
    try:
        with open_plain(original) as stream:
            with heard():  # of damaged metadata: the facts have said it
                image = open_head(stream, facts.type)
            if too_large(*image.size, facts.type, progressive=bool(image.info.get("progressive"))):
                return "too large"
            return jpeg_of(image, box, turn)
    except PARSER_FAULTS as err:
        raise_if_of_the_system(err)
        return f"damaged: {one_line(err, 150) or type(err).__name__}"


def _limited(job: str, original: Path, box: tuple[int, int], **arguments: Any) -> bytes | str:
    open_plain(original).close()  # what the system refuses is told here, as an error of its own
    answer = run_limited(job, original, box=list(box), **arguments)
    return answer.problem or answer.payload


def _write(out: Path, drawn: bytes) -> None:
    descriptor, name = tempfile.mkstemp(prefix=TEMPORARY, dir=out.parent)
    try:
        with os.fdopen(descriptor, "wb") as stream:
            stream.write(drawn)
        Path(name).replace(out)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(name).unlink()
        raise
