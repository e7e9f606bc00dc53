"""What the use cases need from the world, as protocols; :class:`Desk` hands them over together.

Every port has one real adapter and one fake that stands the same tests.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from typing import Any, Literal, Protocol

from evidence.claim.marks import Mark
from evidence.claim.place import PlaceRules, no_place
from evidence.model.base import Json
from evidence.model.copies import CopyForm, Made, Operation
from evidence.model.dossier import Step
from evidence.model.exhibit import FileFacts, StoredFile
from evidence.model.waveform import Engine, TraceReading, Waveform
from evidence.model.when import local_day
from evidence.record.attested import KnownKey, Stamped, TokenFound, Waiting
from evidence.record.chain import Fault
from evidence.record.entry import Entry
from evidence.record.head import Head
from evidence.record.merkle import Branch, Frontier
from evidence.record.proofs import Node
from evidence.register.batches import Book, no_table
from evidence.register.mapping import TableRow
from evidence.review.photo_marks import Alike, PhotoMarks
from evidence.rules.pack import Pack
from evidence.rules.vocabulary import Vocabulary


class FilePath(Protocol):
    """A place in a file system; the core passes it on and never opens it."""

    def __fspath__(self) -> str: ...


class Clock(Protocol):
    """The present time, aware, UTC."""

    def now(self) -> dt.datetime: ...


class Ids(Protocol):
    """128 random bits in hexadecimal, for subjects and salts; 26 letters and digits for a ledger."""

    def subject(self) -> str: ...

    def ledger(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Source:
    """A file handed in: where it is, its name as given (as hexadecimal bytes too, if not UTF-8), its size."""

    path: FilePath
    name: str
    name_hex: str | None
    size: int


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of one file handed to the store: stored, or the reason why not."""

    source: Source
    file: StoredFile | None
    facts: FileFacts | None
    problem: str = ""


@dataclass(frozen=True, slots=True)
class BadFile:
    """An original that is not as recorded. ``found`` is the hash of what lies there, where it could be read."""

    sha256: str
    problem: str  # missing, short, altered, unreadable, with detail
    found: str = ""


Progress = Callable[[str, int, int], None]  # stage, done, of
ReadFacts = Callable[[FilePath, str], FileFacts]  # stored file, name as given
ReadTrace = Callable[[FilePath, Waveform, Engine], TraceReading]  # stored file, its record, the vehicle's engine
ReadMarks = Callable[[FilePath, FileFacts, "FilePath | None"], PhotoMarks]  # stored photo, its facts, its preview


class Originals(Protocol):
    """The store of originals: each once, under its SHA-256, read-only."""

    def take(
        self, sources: Sequence[Source], *, known_sizes: frozenset[int], read_facts: ReadFacts, progress: Progress
    ) -> Iterator[Taken]: ...

    def path(self, sha256: str) -> FilePath: ...

    def check(self, files: Mapping[str, int], progress: Progress) -> Iterator[BadFile]:
        """Read every file anew; yield those that are not as recorded."""

    def unreferenced(self, known: frozenset[str]) -> Iterator[str]:
        """Files that no entry names: leftovers of an interrupted intake."""

    def sweep(self) -> int:
        """Remove half-written files whose process has died; returns how many."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A record as the lists know it."""

    ledger: str
    subject: str
    kind: str
    number: int
    name: str
    seq: int  # newest entry
    withdrawn: bool
    summary: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DossierRow:
    """One line of the list of dossiers."""

    id: str
    name: str
    title: str
    vehicle: str
    entries: int
    exhibits: int
    opened_at: dt.datetime
    changed_at: dt.datetime
    demonstration: bool


@dataclass(frozen=True, slots=True)
class LedgerState:
    """Where a ledger stands: what the next entry needs."""

    ledger: str
    frontier: Frontier
    last_leaf: str  # hexadecimal; zeros before the first entry
    counts: Mapping[str, int] = field(default_factory=dict)  # records so far, by kind


class Reader(Protocol):
    """One consistent view of all ledgers."""

    def ledgers(self) -> list[str]: ...

    def find(self, dossier: str) -> str | None:
        """The ledger of a dossier by its short name or the start of its id."""

    def entries(self, ledger: str) -> Iterator[Entry]: ...

    def kept_state(self, ledger: str) -> LedgerState | None:
        """Where the lists say that the ledger stands; None where they do not know it, or hold nonsense."""

    def nodes(self, ledger: str) -> Node:
        """The nodes of the ledger's tree, for proofs; usable while this view is open."""

    def branches(self, ledger: str) -> list[Branch]:
        """The branches of the tree that the lists keep, smallest first."""

    def batches(self, ledger: str) -> list[int]:
        """First entry of each transaction, in order."""

    def dossiers(self, query: str, *, vehicle: str = "", since: str = "") -> list[DossierRow]: ...

    def search(self, query: str, ledger: str | None) -> list[Known]: ...

    def known(self, ledger: str, subjects: Iterable[str]) -> dict[str, Known]: ...

    def named(self, ledger: str, word: str) -> Known | None:
        """A record by short name, by "exhibit 7" or by the start of its subject."""

    def opening_and_parties(self, ledger: str) -> list[tuple[Known, Json]]:
        """The opening and all parties with their newest bodies: what entering by hand starts from."""

    def marks(self, ledger: str | None) -> Iterator[tuple[str, Mark]]:
        """What records say of the course of matters, with their ledgers, one ledger after the other; of one or of all."""

    def stored_sizes(self) -> frozenset[int]: ...

    def stored_hashes(self) -> frozenset[str]: ...

    def holders(self, sha256: str) -> list[Known]:
        """Exhibits, of any dossier, whose file has this hash."""


class Writer(Reader, Protocol):
    """A transaction. Rolls back unless :meth:`commit` is called."""

    def state(self, ledger: str) -> LedgerState:
        """Lock the ledger for this transaction and say where it stands; asked again, it is not read again."""

    def append(self, state: LedgerState, entries: Sequence[tuple[Entry, Step]]) -> LedgerState: ...

    def commit(self) -> None: ...


class Ledgers(Protocol):
    """The database of entries, and the head file beside it."""

    def reading(self) -> AbstractContextManager[Reader]: ...

    def writing(self) -> AbstractContextManager[Writer]: ...

    def heads(self) -> list[Head]:
        """All readable head lines in order."""

    def torn_head_lines(self) -> int: ...

    def has_head_file(self) -> bool:
        """Whether there is a head file at all; every workspace is made with one."""

    def note_head(self, head: Head) -> None:
        """Append a head line; used when a crash left the newest one behind."""

    def structure(self) -> list[Fault]:
        """What the database says of its own structure."""

    def rebuild(self) -> int:
        """Make the projections anew from the entries; the number of entries read."""


class Folder(Protocol):
    """A dossier folder as handed in: its text with the place of every node, and its files."""

    @property
    def title(self) -> str: ...

    @property
    def data(self) -> dict[str, Any]: ...

    def locate(self, path: tuple[str | int, ...]) -> tuple[int, int]: ...

    def resolve(self, name: str) -> Source:
        """A file named in the dossier file; ``ValueError`` says why it cannot be taken."""


PreviewSize = Literal["screen", "print"]  # a print costs three times as much: it is made when a report asks for it


class Previews(Protocol):
    """Small pictures made from originals; they can be made again at any time."""

    def make(
        self, files: Sequence[tuple[str, FileFacts]], progress: Progress, size: PreviewSize = "screen"
    ) -> dict[str, str]:
        """Make what is missing, in both cores; returns sha256 -> why there is none, for those without."""

    def path(self, sha256: str, size: PreviewSize = "screen") -> FilePath | None: ...


class Likeness(Protocol):
    """Which stored photos look alike: an index that can be made again at any time."""

    @property
    def mended(self) -> int:
        """How many damaged rows were made anew since it was opened."""

    @property
    def damaged(self) -> frozenset[str]:
        """Files whose grey picture was met damaged and is not made anew yet; ``unknown`` names them too."""

    def add(self, files: Sequence[tuple[str, FileFacts]], progress: Progress) -> None:
        """Take in what is not known yet. A disk that refuses leaves it for the next time."""

    def unknown(self, hashes: frozenset[str]) -> frozenset[str]:
        """Those of the files that were never taken in, or whose row or grey picture was met damaged."""

    def alike(self, hashes: Sequence[str]) -> list[Alike]:
        """Pairs of one of these files and any other whose pictures are nearly the same; each pair once."""


class Signer(Protocol):
    """The shop's key for its records (Ed25519). It is made when first asked for; it never leaves its folder."""

    def public(self) -> bytes:
        """The public key, 32 bytes: known without a passphrase."""

    def sign(self, message: bytes) -> bytes | None:
        """The signature, 64 bytes; None where the key is locked and there is nobody to ask."""


class Keys(Protocol):
    """The keys of the workspace: what is known of them without opening any."""

    def known(self) -> list[KnownKey]: ...

    def loose(self) -> list[str]:
        """What others on this machine could read or change, and how to mend it."""


class HeadShelf(Protocol):
    """Signed heads and what others gave for them, a folder for each head; a file once kept never changes.

    Names: ``head.note``, ``head.txt``, ``head.sig``, ``key.pem``; ``token-1.tsr`` and so on (RFC 3161 answers);
    ``witness-<start of fingerprint>.note`` with ``witness-<start of fingerprint>.pem``.
    """

    def keep(self, head: Head, files: Mapping[str, bytes]) -> None:
        """Make the files durable; one that is there with other bytes is refused."""

    def kept(self, ledger: str) -> list[Head]:
        """Heads of a ledger that have files, shortest first."""

    def files(self, head: Head) -> dict[str, FilePath]:
        """The files of a head by name."""

    def read(self, head: Head, name: str) -> bytes:
        """The bytes of one file of a head."""


class TimeAuthority(Protocol):
    """Time-stamp authorities: asking one, judging what they gave, and the queue of what is to be asked."""

    @property
    def url(self) -> str:
        """The authority named in the settings; empty if none is."""

    def ask(self, url: str, data: bytes) -> Stamped:
        """A time-stamp over ``data``; ``AuthorityFailed`` where there is none to be had now."""

    def check(self, token: bytes, data: bytes) -> TokenFound:
        """Judge a token by the authorities that are trusted here."""

    def trust(self, certificates: bytes) -> int:
        """Trust these authorities (certificates in PEM) from now on; returns how many."""

    def waiting(self) -> list[Waiting]: ...

    def wait(self, waiting: Waiting) -> None: ...

    def done(self, waiting: Waiting) -> None: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A derived copy that was drawn: its file, while the context that gave it is open, and what it is."""

    path: FilePath
    sha256: str
    size: int
    made: Made


class Copier(Protocol):
    """Draws annotated and redacted copies of originals."""

    def draw(
        self, original: Any, facts: FileFacts, operations: Sequence[Operation], form: CopyForm | None
    ) -> AbstractContextManager[Drawn]:
        """``SourceUnusable`` where there is nothing to draw on, or an operation lies outside of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorder:
    """Who records, by the settings of the workspace."""

    full_name: str
    firm: str = ""
    qualification: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """Everything a use case may touch. ``packs`` and ``vocabulary`` are read when first asked for."""

    ledgers: Ledgers
    originals: Originals
    read_facts: ReadFacts
    previews: Previews
    copier: Copier
    likeness: Likeness
    read_marks: ReadMarks
    read_trace: ReadTrace
    clock: Clock
    ids: Ids
    recorder: Recorder
    zone: str
    vocabulary: Callable[[], Vocabulary]
    packs: Callable[[], tuple[Pack, ...]]
    signer: Signer
    keys: Keys
    shelf: HeadShelf
    authority: TimeAuthority
    book: Book  # of the comeback register
    judged_by: Callable[[], str] = str  # names program and rules by which dossiers are judged
    place: Callable[[str], PlaceRules] = no_place  # by the name of its file
    # A table's bytes, its name, the mapping's bytes, and what its rows are known by.
    read_table: Callable[[bytes, str, bytes, str], Sequence[TableRow]] = no_table

    def today(self) -> dt.date:
        """The day that it is where the shop is: in the zone of the workspace."""
        return local_day(self.clock.now(), self.zone)
