"""One fake for each port that use cases need beside the database; ``tests/contracts`` holds fake and real to the same tests.

The database has no fake: its embedded form is one already, and what matters about it is what it really does.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from evidence.capture.marked_yaml import Marked, load_marked
from evidence.errors import AuthorityFailed, StoreDamaged
from evidence.model.exhibit import FileFacts, StoredFile
from evidence.ports import BadFile, FilePath, PreviewSize, Progress, ReadFacts, Source, Taken
from evidence.record.attested import KnownKey, Stamped, TokenFound, Waiting
from evidence.record.checkpoint import checkpoint_text
from evidence.record.head import Head
from evidence.review.photo_marks import Alike
from evidence.rules.vocabulary import Vocabulary

NOON = dt.datetime(2026, 3, 2, 12, 0, 0, tzinfo=dt.UTC)


@dataclass
class FixedClock:
    """A clock that stands until it is set."""

    moment: dt.datetime = NOON

    def now(self) -> dt.datetime:
        return self.moment


@dataclass
class CountingIds:
    """Ids that count: the same work makes the same record."""

    count: int = 0

    def subject(self) -> str:
        self.count += 1
        return hashlib.sha256(f"subject {self.count}".encode()).hexdigest()[:32]

    def ledger(self) -> str:
        self.count += 1
        number = int(hashlib.sha256(f"ledger {self.count}".encode()).hexdigest(), 16)
        return "".join("abcdefghijklmnopqrstuvwxyz234567"[(number >> (5 * i)) & 31] for i in range(26))


@dataclass
class MemoryOriginals:
    """Originals in memory. Sources are read from disk, as the real store does."""

    files: dict[str, bytes] = field(default_factory=dict)

    def take(
        self, sources: Sequence[Source], *, known_sizes: frozenset[int], read_facts: ReadFacts, progress: Progress
    ) -> Iterator[Taken]:
        for done, source in enumerate(sources, 1):
            path = Path(source.path)
            if path.is_symlink():
                yield Taken(source, None, None, "is a symbolic link, which is never followed; hand in the file itself")
            elif not path.exists():
                yield Taken(source, None, None, "does not exist")
            elif not path.is_file():
                yield Taken(source, None, None, "is not a plain file (a folder, pipe or device)")
            else:
                data = path.read_bytes()
                sha256 = hashlib.sha256(data).hexdigest()
                self.files.setdefault(sha256, data)
                file = StoredFile(sha256=sha256, size=len(data), name=source.name, name_hex=source.name_hex)
                yield Taken(source, file, read_facts(path, source.name))
            progress("storing", done, len(sources))

    def path(self, sha256: str) -> FilePath:
        return Path("/nowhere") / sha256[:2] / sha256

    def check(self, files: Mapping[str, int], progress: Progress) -> Iterator[BadFile]:
        for done, (sha256, size) in enumerate(files.items(), 1):
            progress("checking files", done, len(files))
            data = self.files.get(sha256)
            found = hashlib.sha256(data or b"").hexdigest()
            if data is None:
                yield BadFile(sha256, "missing")
            elif len(data) < size:
                yield BadFile(sha256, f"short: {len(data)} bytes of {size}", found)
            elif found != sha256:
                yield BadFile(sha256, "altered", found)

    def unreferenced(self, known: frozenset[str]) -> Iterator[str]:
        yield from (f"{sha256[:2]}/{sha256}" for sha256 in sorted(self.files) if sha256 not in known)

    def sweep(self) -> int:
        return 0


class NoPreviews:
    """A shelf that makes no pictures."""

    def make(
        self, files: Sequence[tuple[str, FileFacts]], progress: Progress, size: PreviewSize = "screen"
    ) -> dict[str, str]:
        return {}

    def path(self, sha256: str, size: PreviewSize = "screen") -> FilePath | None:
        return None


@dataclass
class MemoryLikeness:
    """An index that is told which pictures look alike; what is told of nobody is like nothing."""

    pairs: list[Alike] = field(default_factory=list)
    known: set[str] = field(default_factory=set)
    mended: int = 0
    damaged: frozenset[str] = frozenset()

    def add(self, files: Sequence[tuple[str, FileFacts]], progress: Progress) -> None:
        self.known.update(sha256 for sha256, _facts in files)

    def unknown(self, hashes: frozenset[str]) -> frozenset[str]:
        return hashes - self.known

    def alike(self, hashes: Sequence[str]) -> list[Alike]:
        return [p for p in self.pairs if {p.sha256, p.other} <= self.known and {p.sha256, p.other} & set(hashes)]


@dataclass
class MemorySigner:
    """A key made of a number; with ``locked`` nobody knows its passphrase."""

    number: int = 1
    locked: bool = False
    signed: list[bytes] = field(default_factory=list)

    def _key(self) -> Ed25519PrivateKey:
        return Ed25519PrivateKey.from_private_bytes(hashlib.sha256(f"key {self.number}".encode()).digest())

    def public(self) -> bytes:
        return self._key().public_key().public_bytes_raw()

    def sign(self, message: bytes) -> bytes | None:
        if self.locked:
            return None
        self.signed.append(message)
        return self._key().sign(message)


@dataclass
class MemoryShelf:
    """Heads in memory."""

    heads: dict[Head, dict[str, bytes]] = field(default_factory=dict)

    def keep(self, head: Head, files: Mapping[str, bytes]) -> None:
        files = {"head.txt": checkpoint_text(head).encode(), **files}
        there = next((f for h, f in self.heads.items() if (h.ledger, h.size) == (head.ledger, head.size)), {})
        for name, data in files.items():
            if there.get(name, data) != data:
                raise StoreDamaged("is kept already with other content; it was left as it is", item=name)
        self.heads.setdefault(head, {}).update(files)

    def kept(self, ledger: str) -> list[Head]:
        return sorted((h for h in self.heads if h.ledger == ledger), key=lambda h: h.size)

    def files(self, head: Head) -> dict[str, FilePath]:
        return {name: Path("/nowhere") / name for name in sorted(self.heads.get(head, {}))}

    def read(self, head: Head, name: str) -> bytes:
        return self.heads[head][name]


@dataclass
class NoKeys:
    """A folder of keys with these in it, none by default."""

    keys: list[KnownKey] = field(default_factory=list)

    def known(self) -> list[KnownKey]:
        return self.keys

    def loose(self) -> list[str]:
        return []


@dataclass
class MemoryAuthority:
    """A time-stamp authority that gives what ``answer`` makes of the data, or cannot be reached; its queue is in memory."""

    url: str = ""
    answer: Callable[[bytes], Stamped] | None = None
    roots: list[bytes] = field(default_factory=list)
    queue: set[Waiting] = field(default_factory=set)
    asked: list[str] = field(default_factory=list)

    def ask(self, url: str, data: bytes) -> Stamped:
        self.asked.append(url)
        if self.answer is None:
            raise AuthorityFailed("could not be reached", item=url)
        return self.answer(data)

    def check(self, token: bytes, data: bytes) -> TokenFound:
        from evidence.edges.token import check_token

        return check_token(token, data, self.roots)

    def trust(self, certificates: bytes) -> int:
        self.roots.append(certificates)
        return certificates.count(b"BEGIN CERTIFICATE")

    def waiting(self) -> list[Waiting]:
        return sorted(self.queue, key=lambda w: (w.head.ledger, w.head.size, w.url))

    def wait(self, waiting: Waiting) -> None:
        self.queue.add(waiting)

    def done(self, waiting: Waiting) -> None:
        self.queue.discard(waiting)


def plain_facts(_path: FilePath, _name: str) -> FileFacts:
    """Facts of any file, without looking at it."""
    return FileFacts(media="other", type="application/octet-stream", reader="none", preview="none")


def quiet(_stage: str, _done: int, _of: int) -> None:
    """Progress that nobody watches."""


class MemoryFolder:
    """A dossier folder made of a text (with places) or of bare data (without), and of files on disk."""

    def __init__(self, text: str | dict[str, Any], files: Path | None = None) -> None:
        self._marked: Marked | None = load_marked(text, "dossier.yaml") if isinstance(text, str) else None
        self._data = self._marked.data if self._marked else text
        self._files = files
        self.title = "memory/dossier.yaml"

    @property
    def data(self) -> dict[str, Any]:
        assert isinstance(self._data, dict)
        return self._data

    def locate(self, path: tuple[str | int, ...]) -> tuple[int, int]:
        return self._marked.locate(path) if self._marked else (0, 0)

    def resolve(self, name: str) -> Source:
        try:
            there = self._files is not None and (self._files / name).is_file()
        except (OSError, ValueError):  # too long, or no name at all
            there = False
        if not there or self._files is None:
            raise ValueError(f"there is no file {name!r} in this folder")
        return Source(self._files / name, name, None, (self._files / name).stat().st_size)


@cache
def small_vocabulary() -> Vocabulary:
    """The program's own vocabulary, read once for all tests."""
    from evidence.capture.packs import load_vocabulary

    return load_vocabulary()
