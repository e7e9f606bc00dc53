"""What a report is made of, before anyone knows about pages: a tree of frozen values.

Text is plain text. Wherever it names a record that the report shows ("Exhibit 7"), the printer makes a link.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from evidence.model.when import TimeSpan
from evidence.register.intervals import Chart
from evidence.register.views import CostBars, LastingCurve

Align = Literal["left", "right", "centre"]
Tone = Literal["body", "lead", "small", "muted", "caution"]


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading below the section's own; it never stands alone at the foot of a page."""

    text: str


@dataclass(frozen=True, slots=True)
class Para:
    """A paragraph; ``head`` is set in bold before it."""

    text: str
    head: str = ""
    tone: Tone = "body"


@dataclass(frozen=True, slots=True)
class Bullets:
    """Short points, each behind ``mark``."""

    items: tuple[str, ...]
    mark: str = "–"


@dataclass(frozen=True, slots=True)
class Facts:
    """Names and values, one a line. ``key``: links to this record lead here."""

    rows: tuple[tuple[str, str], ...]
    key: str = ""
    faded: bool = False


@dataclass(frozen=True, slots=True)
class Column:
    """``share`` is the width relative to the other columns."""

    title: str
    share: float
    align: Align = "left"
    mono: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """Cells from left to right. ``key``: links to this record lead here. ``faded``: withdrawn, or says nothing."""

    cells: tuple[str, ...]
    key: str = ""
    faded: bool = False
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """The header is repeated on every page."""

    columns: tuple[Column, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Happening:
    """A line of the timeline picture. ``key`` is its record's label, ``causes`` the labels that led to it."""

    key: str
    text: str
    span: TimeSpan
    lane: str  # whose doing: its name stands in the legend
    causes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Timeline:
    """Happenings in order, drawn on a common axis."""

    happenings: tuple[Happening, ...]


@dataclass(frozen=True, slots=True)
class Reach:
    """A line of the matrix: one who had the vehicle, with the stretches that he surely had it and may have had it."""

    name: str
    note: str
    sure: tuple[TimeSpan, ...]
    possible: tuple[TimeSpan, ...]
    work: tuple[TimeSpan, ...]  # when he worked on the part
    open: bool  # nothing on record excludes him


@dataclass(frozen=True, slots=True)
class Matrix:
    """Who by time: everyone over one window. Without ``good`` it is open to the past; both are (label, span)."""

    window: TimeSpan
    good: tuple[str, TimeSpan] | None
    bad: tuple[str, TimeSpan]
    rows: tuple[Reach, ...]


@dataclass(frozen=True, slots=True)
class Mark:
    """Places on a curve where something was read: moments on the plot's axis, or values (of a level)."""

    what: Literal["pulse_start", "pulse_end", "hump", "top", "level"]
    at: tuple[float, ...]
    more: int = 0  # further ones, which are not drawn


@dataclass(frozen=True, slots=True)
class Panel:
    """One curve of a plot, in ``unit``."""

    name: str
    unit: str
    low: tuple[float, ...]
    high: tuple[float, ...]
    marks: tuple[Mark, ...] = ()


@dataclass(frozen=True, slots=True)
class Plot:
    """A waveform: one panel for each channel over a common time axis."""

    times: tuple[float, ...]
    time_unit: str
    panels: tuple[Panel, ...]


@dataclass(frozen=True, slots=True)
class RegisterPicture:
    """A picture of the register: rates by month between their limits, how long work held, or cost by what caused it."""

    what: Chart | LastingCurve | CostBars


@dataclass(frozen=True, slots=True)
class Plate:
    """A picture with what is known of it. Printed is the file itself where a PDF can carry it, else ``preview``.

    Without either, ``reason`` says why there is none. ``alt`` says what the picture shows to who cannot see it.
    """

    key: str
    title: str
    original: Path | None  # only a small upright JPEG: it can be printed as it is
    preview: Path | None
    reason: str
    lines: tuple[tuple[str, str], ...]
    digest: str
    faded: bool = False
    small: bool = False  # a document: four a page, where of pictures there are two
    alt: str = ""


@dataclass(frozen=True, slots=True)
class Signature:
    """Lines to be filled in by hand."""

    names: tuple[str, ...]


Figure = Timeline | Matrix | Plot | RegisterPicture
Block = Heading | Para | Bullets | Facts | Table | Figure | Plate | Signature


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the report with its own bookmark."""

    title: str
    blocks: tuple[Block, ...]
    new_page: bool = False


@dataclass(frozen=True, slots=True)
class Cover:
    """The first page."""

    kicker: str
    title: str
    subtitle: str
    facts: tuple[tuple[str, str], ...]
    mark: str  # "demonstration data", or empty
    words: tuple[str, str] = ("Cover", "Contents")  # its bookmark, and the heading of the list of sections


@dataclass(frozen=True, slots=True)
class Letterhead:
    """The head of a letter or form: what follows begins on the same page. ``kicker`` says what kind of paper it is."""

    kicker: str
    title: str  # the subject
    sender: tuple[str, ...]  # lines
    receiver: tuple[str, ...]
    day: str
    mark: str  # "demonstration data", or empty


@dataclass(frozen=True, slots=True)
class Report:
    """All of it. ``keys`` are the labels that links may lead to; a section without a title begins without a heading."""

    cover: Cover | Letterhead
    sections: tuple[Section, ...]
    keys: frozenset[str]
    author: str
    at: dt.datetime
    zone_note: str = ""  # said at the foot of every page: how other times are meant
    foot: str = ""  # in place of what the foot of a report says
    page_words: str = "Page {number} of {pages}"
    language: str = "en-GB"
