"""Exhibits: files and physical things put forward, each with a number that never changes."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import AfterValidator, ConfigDict, Field, model_validator

from evidence.model.base import Component, ExhibitRef, Line, PartyRef, Record, Slug, Text, Value, shorten
from evidence.model.copies import Made, Operation
from evidence.model.quantity import State
from evidence.model.when import When


def _sha256(value: str) -> str:
    if len(value) != 64 or any(c not in "0123456789abcdef" for c in value):
        raise ValueError(f"{value!r} is not a SHA-256 in 64 small hexadecimal digits")
    return value


Digest = Annotated[str, AfterValidator(_sha256)]
Media = Literal["photo", "video", "document", "waveform", "scan_text", "audio", "other"]


class StoredFile(Value):
    """The original: its hash, its size and its name as given.

    ``name`` is to read; a name that is not UTF-8 stands beside it as the hexadecimal of its bytes.
    """

    model_config = ConfigDict(str_strip_whitespace=False)  # a name is kept as given, blanks at its ends too

    sha256: Digest
    size: Annotated[int, Field(ge=0, lt=2**53)]
    name: str
    name_hex: str | None = None


class Place(Value):
    """A position in degrees (WGS 84) as a file states it."""

    latitude: str
    longitude: str
    altitude: str | None = None  # metres


class FileFacts(Value):
    """What the program read from the file: never what a person says, never compared at intake."""

    media: Media
    type: str  # such as image/jpeg, from the content, not from the name
    reader: str  # program and version that read it
    width: int | None = None
    height: int | None = None
    orientation: int | None = None  # EXIF 1 to 8
    captured: When | None = None  # the camera's clock, zone unknown unless the file says it
    changed: When | None = None  # ModifyDate of the file's metadata
    gps_time: When | None = None
    container_time: When | None = None  # when a film's container says that it was made, beside ``captured``
    place: Place | None = None
    device: Line | None = None  # maker and model as the file states them
    software: Line | None = None
    duration: str | None = None  # seconds
    pages: int | None = None
    rows: int | None = None
    columns: tuple[str, ...] = ()
    text: str | None = None  # searchable text of a document, cut
    preview: Literal["made", "none"] | None = None
    notes: tuple[str, ...] = ()  # "no preview: ...", "no capture time in the file" ...


class Exhibit(Record):
    """A numbered file or physical thing. What the recorder says and what the file says are kept apart."""

    kind: ClassVar[str] = "exhibit"
    label: ClassVar[str] = "Exhibit"
    filled_in: ClassVar[frozenset[str]] = frozenset({"file", "read", "made"})

    caption: Text | None = None
    form: Literal["file", "physical"] = "file"
    shows: tuple[Component, ...] = ()
    position: Slug | None = None
    view: Literal["overview", "middle", "close", "scale"] | None = None
    state: State | None = None
    taken: When | None = None  # as the recorder says
    taken_by: PartyRef | None = None
    device: Line | None = None  # which camera or tool, by the recorder's word
    place: Line | None = None
    derived_from: ExhibitRef | None = None
    operations: tuple[Operation, ...] = ()  # that made a derived copy, in order
    made: Made | None = None  # where the program did them
    description: Text | None = None  # of a physical thing
    serial: Line | None = None
    container: Line | None = None
    seal: Line | None = None
    location: Line | None = None
    retained: bool | None = None
    knowing: Text | None = None  # why it is not kept, although a finding rests on it
    file: StoredFile | None = None
    read: FileFacts | None = None

    @model_validator(mode="after")
    def _form_fits(self) -> Exhibit:
        if self.form == "physical" and not self.description:
            raise ValueError("a physical exhibit needs a description")
        return self

    def summary(self) -> str:
        """Caption, description or file name."""
        return shorten(self.caption or self.description or (self.file.name if self.file else "")) or "file"
