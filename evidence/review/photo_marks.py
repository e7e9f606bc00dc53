"""What a photo's file says beyond its facts at intake, as plain values: what signs of alteration or reuse are computed from."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Tables = tuple[tuple[int, ...], ...]  # JPEG quantisation tables in order of their number, 64 entries each


@dataclass(frozen=True, slots=True, kw_only=True)
class Thumbnail:
    """The small picture inside the file. ``bits`` of 128 differ at best from the picture it stands for; None: cannot be read."""

    width: int
    height: int
    bits: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Credentials:
    """Content credentials (C2PA) in the file. ``state`` says what became of them here.

    ``unchecked``: the extra that reads them is not installed; ``invalid``: file or credentials were changed after signing;
    ``valid``: they fit the file, by a signer whom nobody here vouches for; ``unreadable``: ``detail`` says why.
    """

    state: Literal["unchecked", "valid", "invalid", "unreadable"]
    signer: str = ""
    producer: str = ""  # program or device that claims to have made it
    actions: tuple[str, ...] = ()  # what it says was done, such as "opened", "cropped"
    detail: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoMarks:
    """What the file of one photo carries. Texts are as the file states them; empty or None: not there."""

    make: str = ""
    model: str = ""
    body: str = ""  # serial number of the camera body
    software: str = ""
    processed_with: str = ""  # ProcessingSoftware of the EXIF block
    creator_tool: str = ""  # of the XMP packet
    edits: int = 0  # entries in the XMP packet's history
    packet_taken: str = ""  # time of capture in the XMP packet, ISO 8601
    taken: str = ""  # DateTimeOriginal as written
    digitised: str = ""  # DateTimeDigitized
    changed: str = ""  # DateTime
    stated_size: tuple[int, int] | None = None  # PixelXDimension, PixelYDimension
    size: tuple[int, int] | None = None  # of the picture itself
    number: int | None = None  # ImageNumber of the EXIF block
    tables: Tables = ()
    quality: int | None = None  # at which the example tables of ITU-T T.81 Annex K give these tables; None: others
    progressive: bool = False
    thumbnail: Thumbnail | None = None
    credentials: Credentials | None = None
    problems: tuple[str, ...] = field(default=())  # what could not be read, and why

    @property
    def camera(self) -> str:
        """The camera, as far as the file tells one from another; empty where it names none."""
        return " ".join(p for p in (self.make, self.model, self.body) if p)


@dataclass(frozen=True, slots=True, kw_only=True)
class Alike:
    """Two stored files that show the same or nearly the same picture; ``bits`` of 128 differ, 0 likeness to 1 the same."""

    sha256: str
    other: str
    bits: int
    likeness: float
