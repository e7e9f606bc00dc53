"""The likeness index: fingerprints of all photos of a workspace, beside the previews. It can be made again and proves nothing.

Two files grow together, row by row: ``likeness.rows`` (hash of the file, six hashes of its picture, a check word; 144
bytes, little-endian words) and ``likeness.grey`` (the grey picture, 576 bytes). The grey row is flushed first, so a row
that is there has its picture. The check word covers the row and the CRC-32 of its grey picture. Damage is found when a
row or its grey picture is used: it is passed over, told as unknown, and made anew in its place from the picture. A file of
another version is begun again.
"""

from __future__ import annotations

import fcntl
import os
import zlib
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from functools import partial
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from evidence.capture.likeness import (
    BITS,
    HASHES,
    LIKENESS,
    SIDE,
    Fingerprint,
    can_be_read,
    fingerprint_of,
    likeness,
)
from evidence.model.exhibit import FileFacts
from evidence.ports import Previews, Progress
from evidence.review.photo_marks import Alike

if TYPE_CHECKING:
    from numpy.typing import NDArray

_WORDS: Final = 18  # four of the file's hash, twelve of the picture's, CRC of the grey picture with a flag, check
_ROW, _GREY = _WORDS * 8, SIDE * SIDE
_NOTHING: Final = 1 << 32  # flag: no picture, or one that shows next to nothing
_MAGIC: Final = b"likeness of pictures, version 1\n".ljust(_ROW - 8, b"\0")
_BLOCK: Final = 1 << 15  # rows compared at a time: they stay in the processor's cache
_NEAREST: Final = 64  # candidates whose grey pictures are compared
_WORKERS: Final = 2
_WORTH_THREADS: Final = 200_000  # rows
_ODD: Final = tuple((0x9E3779B97F4A7C15 * (2 * n + 1)) & (2**64 - 1) | 1 for n in range(_WORDS - 1))


class _Rows:
    """What the files hold at one moment."""

    def __init__(self, table: NDArray[Any]) -> None:
        import numpy as np

        self.table = table
        self.halves = np.ascontiguousarray(table[:, 4:16:2].T)  # of the hashes: 48 bytes a row, read in every search
        rows = np.flatnonzero(_good(table))
        starts = np.ascontiguousarray(table[:, 0])[rows]
        order = np.argsort(starts, kind="stable")  # of two rows for a file the newer comes last
        self._rows, self._starts = rows[order], starts[order]

    def row_of(self, sha: bytes) -> int | None:
        """The newest good row of a file."""
        import numpy as np

        start = np.frombuffer(sha[:8], "<u8")[0]
        low, high = np.searchsorted(self._starts, start, "left"), np.searchsorted(self._starts, start, "right")
        return next((int(r) for r in self._rows[low:high][::-1] if _sha(self.table[r]) == sha), None)

    def unknown(self, hashes: Sequence[str]) -> list[str]:
        """Files without a good row; told by the first 64 bits of their hash."""
        import numpy as np

        if not len(self._starts):
            return list(hashes)
        wanted = np.frombuffer(b"".join(bytes.fromhex(h[:16]) for h in hashes), "<u8")
        at = np.minimum(np.searchsorted(self._starts, wanted), len(self._starts) - 1)
        return [hashes[n] for n in np.flatnonzero(self._starts[at] != wanted).tolist()]

    def damaged(self) -> list[int]:
        """Rows whose check word does not fit; the heading, which is no row, apart."""
        import numpy as np

        whole = np.ones(len(self.table), dtype=bool)
        whole[self._rows] = False
        return [int(row) for row in np.flatnonzero(whole)[1:]]

    def bare(self, row: int) -> bool:
        """Whether a row has no fingerprint."""
        return int(self.table[row, 16]) >= _NOTHING


class LikenessIndex:
    """Answers which stored photos look like a photo."""

    def __init__(self, folder: Path, previews: Previews) -> None:
        self._folder = folder
        self._previews = previews
        self._rows: _Rows | None = None
        self._unfit: set[str] = set()  # files whose grey picture was met and is not the one of their row
        self._mended = 0

    @property
    def mended(self) -> int:
        """How many damaged rows were made anew since this index was opened."""
        return self._mended

    @property
    def damaged(self) -> frozenset[str]:
        """Files met damaged and not made anew yet."""
        return frozenset(self._unfit)

    def add(self, files: Sequence[tuple[str, FileFacts]], progress: Progress) -> None:
        """Take in what is not known yet, in both cores. A disk that refuses leaves it for the next time."""
        with suppress(OSError):
            known = self._read()
            wanted = [
                (s, p) for s, facts in dict(files).items() if not self._settled(known, s, p := self._picture(s, facts))
            ]
            if not wanted:
                return
            with ThreadPoolExecutor(_WORKERS) as pool:
                made = []
                for done, one in enumerate(pool.map(_printed, wanted), 1):
                    made.append(one)
                    progress("likeness", done, len(wanted))
            self._write(made)

    def unknown(self, hashes: frozenset[str]) -> frozenset[str]:
        """Those of the files that are not in the index, or were met there damaged."""
        return frozenset(self._read().unknown(sorted(hashes))) | (hashes & self._unfit)

    def alike(self, hashes: Sequence[str]) -> list[Alike]:
        """Pairs of one of these files and any other whose pictures are nearly the same; each pair once."""
        rows = self._read()
        found: dict[tuple[str, str], Alike] = {}
        for sha256 in dict.fromkeys(hashes):
            row = rows.row_of(bytes.fromhex(sha256))
            if row is None or rows.bare(row):
                continue
            for other, bits, how in self._near(rows, row):
                if other != sha256:
                    one, two = sorted((sha256, other))
                    pair = Alike(sha256=one, other=two, bits=bits, likeness=how)
                    kept = found.get((one, two))
                    if kept is None or (bits, -how) < (kept.bits, -kept.likeness):
                        found[one, two] = pair
        return sorted(found.values(), key=lambda a: (a.sha256, a.other))

    def _picture(self, sha256: str, facts: FileFacts) -> Path | None:
        path = self._previews.path(sha256) if facts.media == "photo" else None
        return Path(path) if path else None

    def _settled(self, known: _Rows, sha256: str, picture: Path | None) -> bool:
        """Known and whole, unless it was known to have no picture and has one now."""
        row = known.row_of(bytes.fromhex(sha256))
        if row is None or (picture and int(known.table[row, 16]) == _NOTHING):
            return False
        return known.bare(row) or self._whole(known, row, self._greys([row])[0])

    def _whole(self, rows: _Rows, row: int, grey: bytes) -> bool:
        """Whether a grey picture is the one of its row; what is not is remembered, to be made anew."""
        if _fits(rows.table[row], grey):
            return True
        self._unfit.add(_sha(rows.table[row]).hex())
        return False

    def _near(self, rows: _Rows, row: int) -> Iterator[tuple[str, int, float]]:
        """Other files near a row's picture, with bits that differ and likeness."""
        import numpy as np

        scan = partial(_scan, rows, rows.table[row])
        if len(rows.table) < _WORTH_THREADS:
            at, bits = scan((0, len(rows.table)))
        else:
            half = -(-len(rows.table) // _WORKERS)
            spans = [(start, min(start + half, len(rows.table))) for start in range(0, len(rows.table), half)]
            with ThreadPoolExecutor(_WORKERS) as pool:
                at, bits = (np.concatenate(p) for p in zip(*pool.map(scan, spans), strict=True))
        candidates = sorted(zip(bits.tolist(), at.tolist(), strict=True))
        good = (
            (b, a) for b, a in candidates if a != row and not rows.bare(a) and rows.row_of(_sha(rows.table[a])) == a
        )
        near = list(islice(good, _NEAREST))
        if near:
            own, *greys = self._greys([row, *(a for _, a in near)])
            whole = [(b, a, g) for (b, a), g in zip(near, greys, strict=True) if self._whole(rows, a, g)]
            if not self._whole(rows, row, own):
                return
            for (b, a, _), how in zip(whole, likeness(own, [g for *_, g in whole]), strict=True):
                if how >= LIKENESS:
                    yield _sha(rows.table[a]).hex(), b, how

    def _greys(self, rows: Sequence[int]) -> list[bytes]:
        with self._grey.open("rb") as stream:
            return [os.pread(stream.fileno(), _GREY, r * _GREY).ljust(_GREY, b"\0") for r in rows]

    @property
    def _table(self) -> Path:
        return self._folder / "likeness.rows"

    @property
    def _grey(self) -> Path:
        return self._folder / "likeness.grey"

    def _read(self) -> _Rows:
        """The rows as they lie on disk, read anew when the file has grown."""
        import numpy as np

        size = min(_size(self._table) // _ROW - 1, _size(self._grey) // _GREY - 1)
        if size < 0 or not _begun(self._table):
            return _Rows(np.zeros((0, _WORDS), dtype="<u8"))
        size += 1  # row 0 is the heading, and never good
        if self._rows is None or len(self._rows.table) != size:
            table = np.memmap(self._table, dtype="<u8", mode="r", shape=(size, _WORDS))
            self._rows = _Rows(table)
        return self._rows

    def _write(self, made: Sequence[tuple[str, Fingerprint | None, bool]]) -> None:
        """Each file into its own row where it has one, else into a damaged one, else behind the last."""
        with self._alone():
            mended = 0
            if not _begun(self._table) or _size(self._grey) < _GREY:
                mended = _size(self._table) // _ROW
                for path, head in ((self._table, _heading()), (self._grey, bytes(_GREY))):
                    path.write_bytes(head)
            self._rows = None  # others may have written since
            rows = self._read()
            free = iter(rows.damaged())
            placed, behind = [], []
            for sha256, print_, seen in made:
                own = rows.row_of(bytes.fromhex(sha256))
                row = own if own is not None else next(free, None)
                line = _line(bytes.fromhex(sha256), print_, seen), print_.grey if print_ else bytes(_GREY)
                if row is None:
                    behind.append(line)
                    continue
                mended += own is None or sha256 in self._unfit
                placed.append((row, *line))
            self._put_in_place(placed)
            _put(self._grey, len(rows.table) * _GREY, b"".join(grey for _, grey in behind))
            _put(self._table, len(rows.table) * _ROW, b"".join(row for row, _ in behind))
            self._rows = None
            self._unfit -= {sha256 for sha256, _, _ in made}
            self._mended += mended

    def _put_in_place(self, placed: Sequence[tuple[int, bytes, bytes]]) -> None:
        """Grey pictures first: a crash between the two leaves a row that does not fit, and is found again."""
        for path, width, which in ((self._grey, _GREY, 2), (self._table, _ROW, 1)):
            if placed:
                with path.open("r+b") as stream:
                    for row in placed:
                        os.pwrite(stream.fileno(), bytes(row[which]), row[0] * width)
                    os.fsync(stream.fileno())

    @contextmanager
    def _alone(self) -> Iterator[None]:
        self._folder.mkdir(exist_ok=True)
        with (self._folder / "likeness.lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            yield


def _printed(item: tuple[str, Path | None]) -> tuple[str, Fingerprint | None, bool]:
    """SHA-256, fingerprint, and whether there was a picture that can be read; else it is asked again the next time."""
    sha256, picture = item
    made = fingerprint_of(picture) if picture else None
    return sha256, made, made is not None or bool(picture and can_be_read(picture))


def _line(sha: bytes, print_: Fingerprint | None, seen: bool) -> bytes:
    """One row; without a fingerprint its hashes are zero, and its flag is with ``seen`` or without."""
    hashes = b"".join(h.to_bytes(16, "little") for h in print_.hashes) if print_ else bytes(HASHES * 16)
    flags = zlib.crc32(print_.grey) if print_ else _NOTHING + seen
    body = sha + hashes + flags.to_bytes(8, "little")
    return body + _check(body)


def _heading() -> bytes:
    return _MAGIC + bytes(8)  # its check word does not fit, so it is never taken for a row


def _check(body: bytes) -> bytes:
    words = (int.from_bytes(body[n : n + 8], "little") for n in range(0, len(body), 8))
    return (sum(w * odd for w, odd in zip(words, _ODD, strict=True)) & (2**64 - 1)).to_bytes(8, "little")


def _good(table: NDArray[Any]) -> NDArray[Any]:
    """For each row whether its check word fits."""
    import numpy as np

    odd = [np.uint64(o) for o in _ODD]
    good = np.zeros(len(table), dtype=bool)
    for at in range(0, len(table), _BLOCK):
        block = table[at : at + _BLOCK]
        total = block[:, 0] * odd[0]
        for n in range(1, _WORDS - 1):
            total += block[:, n] * odd[n]
        good[at : at + _BLOCK] = total == block[:, -1]
    return good


def _scan(all_rows: _Rows, own: NDArray[Any], span: tuple[int, int]) -> tuple[NDArray[Any], NDArray[Any]]:
    """Rows within reach of a picture's hashes, and the bits by which the best pair differs.

    Compared are its whole with the whole and the crops of the other, and its crops with the whole of the other. Half of
    each hash rules out nearly all rows; the rest are compared in full."""
    import numpy as np

    hashes = [(own[4 + 2 * n], own[5 + 2 * n]) for n in range(HASHES)]
    pairs = [(hashes[0], n) for n in range(HASHES)] + [(h, 0) for h in hashes[1:]]
    rows, bits = [np.zeros(0, np.int64)], [np.zeros(0, np.uint8)]
    for at in range(span[0], span[1], _BLOCK):
        block = all_rows.table[at : min(at + _BLOCK, span[1])]
        halves = all_rows.halves[:, at : at + len(block)]
        apart, found = np.empty(len(block), np.uint64), np.empty(len(block), np.uint8)
        best = np.full(len(block), 128, np.uint8)
        for (half, _), n in pairs:
            np.bitwise_count(np.bitwise_xor(halves[n], half, out=apart), out=found)
            np.minimum(best, found, out=best)
        near = np.flatnonzero(best <= BITS)
        whole = np.full(len(near), 128, np.uint8)
        words = block[near]
        for (low, high), n in pairs:
            both = np.bitwise_count(words[:, 4 + 2 * n] ^ low) + np.bitwise_count(words[:, 5 + 2 * n] ^ high)
            np.minimum(whole, both, out=whole)
        kept = whole <= BITS
        rows.append(near[kept] + at)
        bits.append(whole[kept])
    return np.concatenate(rows), np.concatenate(bits)


def _sha(row: NDArray[Any]) -> bytes:
    return bytes(row[:4].tobytes())


def _fits(row: NDArray[Any], grey: bytes) -> bool:
    return zlib.crc32(grey) == int(row[16])


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except FileNotFoundError:
        return 0


def _begun(path: Path) -> bool:
    """Whether the file begins as this version writes it."""
    try:
        with path.open("rb") as stream:
            return stream.read(_ROW) == _heading()
    except FileNotFoundError:
        return False


def _put(path: Path, at: int, data: bytes) -> None:
    """Write behind what is whole, cutting off what is not, and flush."""
    with path.open("r+b") as stream:
        stream.truncate(at)
        stream.seek(at)
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())
