"""Signs that one file shows by itself: what wrote it, times and sizes that contradict, its small picture, its credentials."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from typing import Final

from evidence.review.photo_marks import PhotoMarks
from evidence.review.photo_sign import Photo, Sign, sign_of

APART: Final = dt.timedelta(seconds=2)  # the coarsest clock of a file system in use; less says nothing
THUMBNAIL_BITS: Final = 24  # of 128 between a picture and its own small one; see tests of recall
# Words in the names of programs that change or convert pictures; firmware names itself by version numbers. Common
# practice, no source: a program with another name is not found by this, and is no less a program.
_PROGRAM: Final = re.compile(
    r"edit|photo|paint|studio|image|imaging|picture|retouch|convert|resize|collage|filter|beaut|snap|room|gallery|viewer"
    r"|gimp|magick|krita|inkscape|darktable|digikam|rawtherapee|pillow|exiv|exiftool|ffmpeg|opencv|libvips|libjpeg",
    re.IGNORECASE,
)
_CAMERA_APP: Final = re.compile(r"camera", re.IGNORECASE)


def metadata_signs(photo: Photo) -> Iterator[Sign]:
    """Every sign of one photo that needs no other."""
    marks = photo.marks
    if marks is None:
        return
    yield from _programs(photo, marks)
    yield from _times(photo, marks)
    yield from _sizes(photo, marks)
    if bool(marks.make) != bool(marks.model):
        there, absent = ("maker", "model") if marks.make else ("model", "maker")
        yield sign_of(
            "maker_incomplete",
            photo,
            f"the file names the camera's {there} ({marks.make or marks.model}) and no {absent}",
        )
    yield from _small_picture(photo, marks)
    if marks.progressive and marks.camera:
        yield sign_of(
            "progressive",
            photo,
            f"a progressive JPEG that names a camera ({marks.make} {marks.model})".replace(" )", ")"),
        )
    yield from _credentials(photo, marks)


def _programs(photo: Photo, marks: PhotoMarks) -> Iterator[Sign]:
    texts = (marks.software, marks.creator_tool)
    named = [n for n in texts if _PROGRAM.search(n) and not _CAMERA_APP.search(n)]
    named += [marks.processed_with] if marks.processed_with else []
    if named:
        told = " and ".join(f'"{n}"' for n in dict.fromkeys(named))
        yield sign_of("edited_with", photo, f"the file names the program {told}")
    if marks.edits:
        times = "one step" if marks.edits == 1 else f"{marks.edits} steps"
        yield sign_of("edit_history", photo, f"the file carries a history of editing with {times}")


def _times(photo: Photo, marks: PhotoMarks) -> Iterator[Sign]:
    taken, changed, digitised = moment(marks.taken), moment(marks.changed), moment(marks.digitised)
    if taken and changed and changed - taken > APART:
        said = (
            f"taken {shown(taken)}, changed {shown(changed)} by the file's own times ({lapse(changed - taken)} later)"
        )
        yield sign_of("changed_later", photo, said)
    elif taken and changed and taken - changed > APART:
        said = f"changed {shown(changed)}, which is {lapse(taken - changed)} before it was taken ({shown(taken)}), by the file's own times"
        yield sign_of("changed_before_taken", photo, said)
    if taken and digitised and abs(taken - digitised) > APART:
        said = f"taken {shown(taken)}, turned into a file {shown(digitised)}, by the file's own times"
        yield sign_of("digitised_apart", photo, said)
    packet = packet_moment(marks.packet_taken)
    if taken and packet and abs(taken - packet) > APART:
        said = (
            f"taken {shown(taken)} by the EXIF block, {marks.packet_taken} by the XMP packet of the same file "
            f"({lapse(abs(taken - packet))} apart on the clock's face)"
        )
        yield sign_of("packet_time_apart", photo, said)


def _sizes(photo: Photo, marks: PhotoMarks) -> Iterator[Sign]:
    if not marks.size or not marks.stated_size or marks.stated_size == marks.size or not all(marks.stated_size):
        return
    (stated_w, stated_h), (w, h) = marks.stated_size, marks.size
    if (stated_w, stated_h) == (h, w):
        if photo.orientation > 4:
            yield sign_of(
                "turned_pixels", photo,
                f"the picture is {w} x {h}, the metadata says {stated_w} x {stated_h} and that it has still to be turned",
            )  # fmt: skip
        return
    yield sign_of(
        "size_contradicts", photo, f"the metadata says {stated_w} x {stated_h} pixels, the picture has {w} x {h}"
    )


def _small_picture(photo: Photo, marks: PhotoMarks) -> Iterator[Sign]:
    small = marks.thumbnail
    if small and small.bits is not None and small.bits > THUMBNAIL_BITS:
        yield sign_of(
            "thumbnail_differs", photo,
            f"the small picture inside the file ({small.width} x {small.height}) shows something else than the picture: "
            f"{small.bits} of 128 bits of their fingerprints differ; up to {THUMBNAIL_BITS} is usual",
        )  # fmt: skip


def _credentials(photo: Photo, marks: PhotoMarks) -> Iterator[Sign]:
    found = marks.credentials
    if found is None:
        return
    who = "".join(
        [
            f", signed by {found.signer}" if found.signer else "",
            f", made with {found.producer}" if found.producer else "",
        ]
    )
    done = f"; said to be done: {', '.join(found.actions)}" if found.actions else ""
    if found.state == "valid":
        yield sign_of("credentials_valid", photo, f"carries content credentials that fit the file{who}{done}")
    elif found.state == "invalid":
        why = f" ({found.detail})" if found.detail else ""
        yield sign_of(
            "credentials_invalid", photo, f"carries content credentials that do not fit the file{why}{who}{done}"
        )
    else:
        why = f" ({found.detail})" if found.detail else ""
        yield sign_of("credentials_present", photo, f"carries content credentials; not checked{why}")


_MOMENT: Final = re.compile(r"(\d{4}):(\d\d):(\d\d) (\d\d):(\d\d):(\d\d)", re.ASCII)


def moment(text: str) -> dt.datetime | None:
    """A time as EXIF writes it (CIPA DC-008: "YYYY:MM:DD HH:MM:SS"), without a zone; None for anything else."""
    match = _MOMENT.match(text)
    if not match:
        return None
    try:
        return dt.datetime(*(int(g) for g in match.groups()))  # type: ignore[arg-type]  # noqa: DTZ001 - a camera's clock has no zone
    except ValueError:
        return None


_ISO: Final = re.compile(r"(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d):(\d\d)", re.ASCII)


def packet_moment(text: str) -> dt.datetime | None:
    """The clock's face in a time as an XMP packet writes it (ISO 16684-1, 8.2.1.2), without its offset; None where it is
    not told to the second."""
    match = _ISO.match(text)
    return moment("{}:{}:{} {}:{}:{}".format(*match.groups())) if match else None


def shown(time: dt.datetime) -> str:
    """A time of the camera's clock."""
    return f"{time:%Y-%m-%d %H:%M:%S}"


def lapse(time: dt.timedelta) -> str:
    """A lapse of time in the largest unit that fits."""
    seconds = int(time.total_seconds())
    for size, word in ((86_400, "day"), (3600, "hour"), (60, "minute"), (1, "second")):
        if seconds >= size:
            number = seconds // size
            return f"{number} {word}{'s' if number != 1 else ''}"
    return "less than a second"
