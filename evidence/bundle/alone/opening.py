"""Opening a bundle: its files by name, found without unpacking, and everything that is malformed about it."""

from __future__ import annotations

import os
import re
import struct
import unicodedata
import zlib
from collections import namedtuple

TYPE_CHECKING = False  # spares the import of typing: the verifier starts at once
if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import IO

BASE = "disclosure"
MOST_MEMBERS, LONGEST_NAME = 200_000, 200
CHUNK = 1 << 18  # larger pieces do not stay in the processor's cache from read to hash and cost up to twice the time
_ZIP64, _ALL32, _DIRECTORY = (1 << 31) - 1, 0xFFFFFFFF, 1 << 27


class Fault(namedtuple("Fault", "check item message")):  # noqa: PYI024 - see above
    """What a check found: which check, on what, and what differs; three texts."""

    __slots__ = ()


class Place(namedtuple("Place", "path offset size crc", defaults=(-1,))):  # noqa: PYI024
    """Where the bytes of a member are; ``crc`` is what the zip says of them, -1 in a folder."""

    __slots__ = ()


class Unusable(Exception):
    """It cannot be checked at all: exit code 2."""


class Altered(OSError):
    """Bytes could be read, and are too few or not those of the zip's check sum: damage, and no failure to read."""


def opened(path: str, faults: list[Fault]) -> dict[str, Place]:
    """The files of a bundle by their name in the bag. What is malformed is told in ``faults`` and left out."""
    try:
        found = _folder(path, faults) if os.path.isdir(path) else _Zip(path, faults).members()
    except OSError as err:
        raise Unusable(f"{path}: cannot be read: {err.strerror}") from None
    kept: dict[str, Place] = {}
    seen: dict[str, str] = {}
    for name, place in found:
        alike = unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())
        twin = seen.setdefault(alike, name)
        if problem := unsafe(name):
            faults.append(Fault("Z2", printable(name), problem))
        elif name in kept:
            faults.append(Fault("Z2", printable(name), "is there twice"))
        elif twin != name:
            faults.append(Fault("Z2", printable(name), f"is the same name as {printable(twin)} on other systems"))
        else:
            kept[name] = place
    return kept


def unsafe(name: str) -> str:
    """Why a name cannot be trusted; an empty text where it can."""
    parts = name.split("/")
    if any(unicodedata.category(c) == "Cs" for c in name):
        return "is not written in UTF-8"
    if any(unicodedata.category(c) in ("Cc", "Cf", "Zl", "Zp") for c in name):
        return "holds control characters"
    if "\\" in name or ":" in name or not all(parts) or {"..", "."} & set(parts):
        return "leads out of the bundle, or might on some system"
    if len(name.encode("utf-8")) > LONGEST_NAME:
        return "is longer than any name in a bundle"
    if any(re.fullmatch(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?", p) or p[-1] in ". " for p in parts):
        return "is reserved on some system"
    return "" if unicodedata.normalize("NFC", name) == name else "is not written in Unicode's composed form"


def printable(text: str) -> str:
    """Text for a terminal: what is not plain is written out."""
    plain = ("Cc", "Cf", "Cs", "Zl", "Zp")
    return "".join(c if unicodedata.category(c) not in plain else f"\\u{{{ord(c):04x}}}" for c in text)


def chunks(place: Place, crc: bool = False) -> Iterator[bytes]:
    """The bytes of a member, a piece at a time; ``OSError`` where they end early or, if asked, fail the zip's check sum."""
    left, found = place.size, 0
    with open(place.path, "rb", buffering=0) as handle:
        handle.seek(place.offset)
        while left:
            chunk = handle.read(min(CHUNK, left))
            if not chunk:
                raise Altered("it ends early")
            left -= len(chunk)
            if crc and place.crc >= 0:
                found = zlib.crc32(chunk, found)
            yield chunk
    if crc and place.crc >= 0 and found != place.crc:
        raise Altered("the zip's check sum is not that of its bytes")


def _folder(path: str, faults: list[Fault]) -> Iterator[tuple[str, Place]]:
    if not os.path.isfile(os.path.join(path, "bagit.txt")) and os.path.isdir(os.path.join(path, BASE)):
        path = os.path.join(path, BASE)
    count, waiting = 0, [""]
    while waiting:
        below = waiting.pop()
        try:
            items = sorted(os.scandir(os.path.join(path, below)), key=lambda item: item.name)
        except OSError as err:
            if not below:
                raise
            faults.append(Fault("B3", printable(below), f"cannot be read: {err.strerror}"))
            continue
        for item in items:
            name, count = below + item.name, count + 1
            if count > MOST_MEMBERS or name.count("/") > 20:
                raise Unusable(f"{path}: holds more files or folders than a bundle can")
            if item.is_dir(follow_symlinks=False):
                waiting.append(name + "/")
            elif item.is_file(follow_symlinks=False):
                yield name, Place(item.path, 0, item.stat(follow_symlinks=False).st_size)
            else:
                faults.append(Fault("Z2", printable(name), "is a link or no plain file; it is not followed"))


class _Zip:
    """A zip whose every byte is foretold by names, sizes, check sums and contents: members stored one after another.

    Whatever does not fit is told, and the members that lie in their own place are read all the same.
    """

    def __init__(self, path: str, faults: list[Fault]) -> None:
        self._path, self._faults = path, faults

    def _wrong(self, item: str, message: str) -> None:
        self._faults.append(Fault("Z1", printable(item), message))

    def members(self) -> list[tuple[str, Place]]:
        """Names below the top folder, and places; a member that cannot be trusted is told and left out."""
        if not os.path.isfile(self._path):
            raise Unusable(f"{self._path}: there is no such file, or it is no plain file")
        with open(self._path, "rb") as handle:
            total = os.fstat(handle.fileno()).st_size
            found = self._end(handle, total)
            if found is None:
                return []
            count, start, length = found
            handle.seek(start)
            return self._directory(handle, handle.read(length), count, start)

    def _end(self, handle: IO[bytes], total: int) -> tuple[int, int, int] | None:
        """Number of members, start and length of the directory, by the record at the end."""
        first = max(0, total - 66000)
        handle.seek(first)
        tail = handle.read(66000)
        at = tail.rfind(b"PK\x05\x06")
        if at < 0 or len(tail) < at + 22:
            handle.seek(0)
            if handle.read(4) != b"PK\x03\x04":
                raise Unusable(f"{self._path}: is no zip")
            self._wrong("the zip", "is cut short: its directory is not there")
            return None
        count, length, start = struct.unpack("<HLL", tail[at + 10 : at + 20])
        long_form = at >= 76 and tail[at - 76 : at - 72] == b"PK\x06\x06" and tail[at - 20 : at - 16] == b"PK\x06\x07"
        begin = at - 76 if long_form else at
        if long_form:
            count, length, start = struct.unpack("<3Q", tail[at - 44 : at - 20])
        if len(tail) > at + 22:
            self._wrong("the zip", f"{len(tail) - at - 22} bytes after its end")
        if count > MOST_MEMBERS or length > _DIRECTORY or start + length > first + begin:
            self._wrong("the zip", "its directory cannot be as large as it says")
            return None
        if tail[begin : at + 22] != end_bytes(count, length, start, long_form):
            self._wrong("the zip", "its end record is not that of such a zip")
        if start + length != first + begin:
            self._wrong("the zip", f"{first + begin - start - length} bytes that belong to no member")
        return count, start, length

    def _directory(self, handle: IO[bytes], raw: bytes, count: int, end: int) -> list[tuple[str, Place]]:
        found: list[tuple[str, Place]] = []
        at = place = 0
        rows = 0
        while at + 46 <= len(raw) and raw[at : at + 4] == b"PK\x01\x02" and rows <= count:
            named, extra, comment = struct.unpack("<3H", raw[at + 28 : at + 34])
            row = raw[at : at + 46 + named + extra + comment]
            place = self._member(handle, row, named, place, end, found)
            at, rows = at + len(row), rows + 1
        if at != len(raw) or rows != count:
            self._wrong("the zip", f"its directory says {count} members and holds {rows}")
        if place != end:
            self._wrong("the zip", f"{end - place} bytes before its directory belong to no member")
        names = [name for name, _place in found]
        if names != sorted(names, key=lambda name: (name != "bagit.txt", name)):
            self._wrong("the zip", "its members are not in order")
        return found

    def _member(
        self, handle: IO[bytes], row: bytes, named: int, place: int, end: int, found: list[tuple[str, Place]]
    ) -> int:
        """Hold a row of the directory against the header before the member; returns where the member ends."""
        version, flags, method, crc, packed, size, more, attributes, offset = struct.unpack(
            "<6xBx2H4x3L2xH6x2L", row[:46]
        )
        raw, longs = row[46 : 46 + named], row[50 + named : 46 + named + more]
        values = list(struct.unpack(f"<{len(longs) // 8}Q", longs[: len(longs) // 8 * 8]))
        size, packed, offset = (values.pop(0) if v == _ALL32 and values else v for v in (size, packed, offset))
        text = raw.decode("utf-8", "backslashreplace")
        top, _, inside = text.partition("/")
        problem = (
            "is encrypted" if flags & 1 else "is compressed" if method or packed != size
            else "is a link or no plain file" if attributes >> 28 != 8
            else "its name is not UTF-8, or is not below disclosure/" if (top, text.encode()) != (BASE, raw)
            else ""
        )  # fmt: skip
        if not problem and row != row_bytes(raw, crc, size, offset, version):
            self._wrong(text, "its row in the directory is not that of such a zip")
        handle.seek(min(offset, end))
        there = handle.read(50 + named)
        forms = [header_bytes(raw, crc, size, long_form) for long_form in (False, True)]
        header = next((len(form) for form in forms if there.startswith(form)), 0)
        if not header and not problem:
            self._wrong(text, "its header is not what the directory says of it")
        if offset > place:
            self._wrong(text, f"{offset - place} bytes before it belong to no member")
        data = offset + (header or 30 + named)
        if offset < place or data + size > end:
            problem = problem or "overlaps another member, or leads out of its place"
        else:
            place = data + size
        if problem:
            self._faults.append(
                Fault("Z2" if "link" in problem or "name" in problem else "Z1", printable(text), problem)
            )
        else:
            found.append((inside, Place(self._path, data, size, crc)))
        return place


def header_bytes(name: bytes, crc: int, size: int, long_form: bool) -> bytes:
    """The header before a stored member (PKWARE APPNOTE 4.3.7)."""
    extra = struct.pack("<2H2Q", 1, 16, size, size) if long_form else b""
    version, short = (45, _ALL32) if long_form else (20, min(size, _ALL32))
    flags = 0 if name.isascii() else 0x800
    fields = (b"PK\x03\x04", version, flags, 0, 0, 33, crc, short, short, len(name), len(extra))
    return struct.pack("<4s5H3L2H", *fields) + name + extra


def row_bytes(name: bytes, crc: int, size: int, offset: int, version: int) -> bytes:
    """The row of a stored member in the directory (4.3.12); ``version`` may be 45 where the header needed it."""
    longs = [*([size, size] if size > _ZIP64 else []), *([offset] if offset > _ZIP64 else [])]
    extra = struct.pack(f"<2H{len(longs)}Q", 1, 8 * len(longs), *longs) if longs else b""
    version = 45 if longs or (version == 45 and size * 1.05 > _ZIP64) else 20
    size, offset = (_ALL32 if value > _ZIP64 else value for value in (size, offset))
    flags = 0 if name.isascii() else 0x800
    fields = (b"PK\x01\x02", version, 3, version, 0, flags, 0, 0, 33, crc, size, size)
    return struct.pack("<4s4B4H3L5H2L", *fields, len(name), len(extra), 0, 0, 0, 0o100644 << 16, offset) + name + extra


def end_bytes(count: int, length: int, start: int, long_form: bool) -> bytes:
    """What ends a zip (4.3.14 to 4.3.16)."""
    longs = b""
    if long_form:
        longs = struct.pack("<4sQ2H2L4Q", b"PK\x06\x06", 44, 45, 45, 0, 0, count, count, length, start)
        longs += struct.pack("<4sLQL", b"PK\x06\x07", 0, start + length, 1)
    short = (min(count, 0xFFFF), min(count, 0xFFFF), min(length, _ALL32), min(start, _ALL32))
    return longs + struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, *short, 0)
