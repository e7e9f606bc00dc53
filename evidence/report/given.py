"""What a report is made from: values and three ways to ask for bytes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from evidence.claim.place import PlaceRules
from evidence.model.dossier import Dossier
from evidence.model.waveform import Waveform
from evidence.report.archive import Attachment
from evidence.review.exchange import Presented
from evidence.review.photo_sign import Sign
from evidence.rules.assessment import Assessment
from evidence.rules.opportunity import Opportunity


class Curve(Protocol):
    """One channel of a trace: the lowest and the highest value in each step of time."""

    @property
    def name(self) -> str:
        """The column in the file."""

    @property
    def low(self) -> Sequence[float]:
        """Lowest values, in the file's own numbers."""

    @property
    def high(self) -> Sequence[float]:
        """Highest values, in the file's own numbers."""


class Trace(Protocol):
    """A waveform file as it can be drawn."""

    @property
    def times(self) -> Sequence[float]:
        """Start of each step, in the file's own time unit."""

    @property
    def channels(self) -> Sequence[Curve]:
        """One curve for each column."""

    @property
    def rows(self) -> int:
        """Rows of numbers that were read."""

    @property
    def bad_rows(self) -> int:
        """Rows that were none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Integrity:
    """Where the ledger stood when the report was made, and what guards it."""

    origin: str  # the ledger's own name, as in its head
    entries: int
    root_hex: str
    root_base64: str
    head_known: bool | None = None  # True: the head line kept outside the database agrees; None: not looked
    head_signed_by: str = ""  # fingerprint of the shop key, in hexadecimal; empty: the head is not signed
    head_problem: str = ""  # why it is not
    time_stamps: tuple[str, ...] = ()  # of the head: who stamped and when
    witnesses: tuple[str, ...] = ()  # of the head: who countersigned and when
    document_signed_by: str = ""  # fingerprint of the certificate that signs this PDF; empty: it is not signed
    document_problem: str = ""  # why it is not
    authority: str = ""  # who was asked for a time-stamp inside the PDF's signature
    programs: Mapping[str, str] = field(default_factory=dict)  # name -> version: what the bytes depend on
    packs: Mapping[str, str] = field(default_factory=dict)  # rule pack -> version


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportInput:
    """Everything that a report is computed from. Same input, same installed versions: same bytes."""

    dossier: Dossier
    assessment: Assessment
    integrity: Integrity
    at: dt.datetime  # aware; printed in UTC
    preview: Callable[[str], Path | None]  # SHA-256 of a file -> JPEG to print
    original: Callable[[str], Path]  # SHA-256 of a file -> the file
    trace: Callable[[str, Waveform], Trace | None]  # SHA-256 of a waveform file and its record -> what to draw
    opportunities: tuple[Opportunity, ...] = ()  # one for each departure found
    signs: tuple[Sign, ...] = ()  # in the photos' files; what they say of other dossiers' names is not printed
    limits: tuple[str, ...] = ()  # further limits of the report, in whole sentences
    attachments: tuple[Attachment, ...] = ()  # files that go inside the PDF
    withheld: Mapping[str, int] = field(default_factory=dict)  # kind of record, in words -> how many are not shown
    withheld_files: frozenset[str] = frozenset()  # SHA-256: the record is shown and the file is not, not even in print
    place: PlaceRules | None = None  # what holds where the dossier says that the matter is
    review: Presented | None = None  # where the dossier is a review: what it is laid beside
