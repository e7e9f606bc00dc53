"""What a sign in a photo's file says: a fact, what it can mean innocently, and what it cannot show. Never an accusation.

Codes are closed and never reused.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal, NamedTuple

from evidence.model.dossier import Recorded
from evidence.model.exhibit import Exhibit
from evidence.review.photo_marks import PhotoMarks

Code = Literal[
    "same_file", "same_picture", "edited_with", "edit_history", "changed_later", "changed_before_taken",
    "digitised_apart", "packet_time_apart", "size_contradicts", "turned_pixels", "maker_incomplete", "no_camera_data", "thumbnail_differs",
    "tables_of_software", "tables_apart", "progressive", "place_apart", "place_not_stated_one", "too_far_too_soon",
    "numbers_missing", "numbers_backwards", "number_twice", "credentials_present", "credentials_valid",
    "credentials_invalid",
]  # fmt: skip


class Meaning(NamedTuple):
    """What every sign of a code has in common."""

    title: str
    innocent: str  # what it can mean innocently
    limit: str  # what it cannot show


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """One fact about one or more photos.

    ``exhibits`` are labels, ``subjects`` their subjects in the same order. ``elsewhere`` names other dossiers of the
    workspace: it is for the shop's own eyes and goes into no report and no bundle.
    """

    code: Code
    sentence: str
    exhibits: tuple[str, ...]
    subjects: tuple[str, ...]
    elsewhere: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        """The heading under which it is listed."""
        return MEANINGS[self.code].title

    @property
    def innocent(self) -> str:
        """What it can mean innocently."""
        return MEANINGS[self.code].innocent

    @property
    def limit(self) -> str:
        """What it cannot show."""
        return MEANINGS[self.code].limit


@dataclass(frozen=True)
class Photo:
    """An exhibit that is a photo, with what its file carries; ``marks`` is None where the file could not be asked."""

    exhibit: Recorded[Exhibit]
    marks: PhotoMarks | None

    @property
    def label(self) -> str:
        """``Exhibit 7``."""
        return self.exhibit.label

    @property
    def orientation(self) -> int:
        """EXIF 1 to 8."""
        return (self.exhibit.value.read.orientation if self.exhibit.value.read else None) or 1

    @cached_property
    def sha256(self) -> str:
        """Of its file."""
        assert self.exhibit.value.file
        return self.exhibit.value.file.sha256


def sign_of(code: Code, photo: Photo, fact: str) -> Sign:
    """A sign of one photo."""
    return Sign(
        code=code, sentence=f"{photo.label}: {fact}.", exhibits=(photo.label,), subjects=(photo.exhibit.subject,)
    )


MEANINGS: Final[dict[Code, Meaning]] = {
    "same_file": Meaning(
        "The same file more than once",
        "One photo serves two records, or a customer's earlier photo was needed again.",
        "Which of the statements about it is right.",
    ),
    "same_picture": Meaning(
        "The same or nearly the same picture",
        "A copy made smaller for a message; two exposures a moment apart from the same spot; a part that looks like every other.",
        "That one was made from the other, or which came first. A picture that was mirrored, turned or cropped by more than "
        "a tenth is not found at all.",
    ),
    "edited_with": Meaning(
        "Written by a program",
        "Programs for viewing, turning or sending pictures leave their name without touching what is shown.",
        "That anything in the picture was changed, or what.",
    ),
    "edit_history": Meaning(
        "A history of editing in the file",
        "Brightness, cropping and export are part of the history as well.",
        "That what matters in the picture was changed.",
    ),
    "changed_later": Meaning(
        "Changed after it was taken",
        "Turning, copying or naming a photo on the device can set this time.",
        "What was changed; a clock can have been set between the two.",
    ),
    "changed_before_taken": Meaning(
        "Change dated before the capture",
        "The clock was set back in between, or a program writes the times in different zones.",
        "Which of the two times is right.",
    ),
    "digitised_apart": Meaning(
        "Two times of capture",
        "A scan of a print carries the time of the photo and that of the scan.",
        "Which of the two times is right.",
    ),
    "packet_time_apart": Meaning(
        "Two blocks of metadata tell different times of capture",
        "Programs write one of the two in another zone, or the time at which they made a copy.",
        "Which of the two times is right, or who wrote either.",
    ),
    "size_contradicts": Meaning(
        "Size in the metadata is not that of the picture",
        "A copy made smaller for a message keeps the metadata of the larger one; so does a crop for a close view.",
        "Whether it was made smaller or cropped, and what was left out.",
    ),
    "turned_pixels": Meaning(
        "Turned, and marked as if it were not",
        "Some programs turn the picture and leave the mark that says which way up it was taken.",
        "That anything but the orientation was changed.",
    ),
    "maker_incomplete": Meaning(
        "Maker without model, or model without maker",
        "Some devices write only one of the two.",
        "That metadata was removed or written by hand.",
    ),
    "no_camera_data": Meaning(
        "No camera data",
        "Message services and scanners remove or never write it.",
        "When, where and with what it was taken; the original from the device would.",
    ),
    "thumbnail_differs": Meaning(
        "The small picture inside differs from the picture",
        "A program cropped or brightened the picture and kept the old small one.",
        "What was changed, or that it matters.",
    ),
    "tables_of_software": Meaning(
        "Compressed as by common software",
        "Many phones use the same tables, and message services compress every picture anew.",
        "That the picture was edited; only that a common encoder wrote the file, at about this quality.",
    ),
    "tables_apart": Meaning(
        "Compressed differently from the other photos of this camera",
        "Another quality setting, a crop in the camera, a panorama; a copy that was sent or saved again.",
        "That the picture was edited.",
    ),
    "progressive": Meaning(
        "Progressive JPEG",
        "Message services and web pages prefer this form.",
        "That the picture was edited; the camera standard (CIPA DC-008) has baseline JPEG only, so the file was written again.",
    ),
    "place_apart": Meaning(
        "Position far from the other photos taken about then",
        "A device reports its last known position until it finds the present one, indoors above all.",
        "Where the photo was taken.",
    ),
    "place_not_stated_one": Meaning(
        "Position is not the place stated",
        "A device reports its last known position until it finds the present one; the place stated can be the shop's address.",
        "Where the photo was taken.",
    ),
    "too_far_too_soon": Meaning(
        "Two positions too far apart for the time between",
        "One of the two is an old position that the device still reported, or its clock was set in between.",
        "Which position or time is wrong.",
    ),
    "numbers_missing": Meaning(
        "Gap in the camera's numbers",
        "Blurred shots are deleted, and a camera counts photos of other things as well.",
        "What the photos between showed, or that they had to do with this matter.",
    ),
    "numbers_backwards": Meaning(
        "The number goes back while the time goes on",
        "The counter was reset, the card changed, or the clock set.",
        "Which order is right.",
    ),
    "number_twice": Meaning(
        "The same number twice",
        "Two cards, a counter that was reset, or a copy of one of the two.",
        "Which is the earlier photo.",
    ),
    "credentials_present": Meaning(
        "Content credentials",
        "Some cameras and programs sign what they write.",
        "Anything, until they are checked.",
    ),
    "credentials_valid": Meaning(
        "Content credentials fit the file",
        "Some cameras and programs sign what they write.",
        "Who signed (nobody here vouches for the certificate), or that the scene was as shown.",
    ),
    "credentials_invalid": Meaning(
        "Content credentials do not fit the file",
        "Turning, shrinking or sending a signed photo breaks its credentials.",
        "What was changed.",
    ),
}
