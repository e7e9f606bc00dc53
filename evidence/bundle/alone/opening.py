"""Opening a bundle: its files by name, found without unpacking, and everything that is malformed about it."""

from __future__ import annotations

import os
import re
import stat
import struct
import unicodedata
from collections.abc import Iterator, Sequence
from typing import IO, NamedTuple

BASE = "disclosure"
MOST_MEMBERS, LONGEST_NAME, CHUNK = 200_000, 200, 1 << 20


class Fault(NamedTuple):
    """What a check found: which check, on what, and what differs."""

    check: str
    item: str
    message: str


class Unusable(Exception):
    """It cannot be checked at all: exit code 2."""


class Place(NamedTuple):
    """Where the bytes of a member are."""

    path: str
    offset: int
    size: int


def opened(path: str, faults: list[Fault]) -> dict[str, Place]:
    """The files of a bundle by their name in the bag. What is malformed is told in ``faults``."""
    try:
        found = _folder(path, faults) if os.path.isdir(path) else _zip(path, faults)
    except OSError as err:
        raise Unusable(f"{path}: cannot be read: {err.strerror}") from None
    seen: dict[str, str] = {}
    for name in sorted(found):
        if problem := unsafe(name):
            faults.append(Fault("Z2", printable(name), problem))
        twin = seen.setdefault(unicodedata.normalize("NFC", name).casefold(), name)
        if twin != name:
            faults.append(Fault("Z2", printable(name), f"is the same name as {printable(twin)} on other systems"))
    return found


def unsafe(name: str) -> str:
    """Why a name cannot be trusted; an empty text where it can."""
    parts = name.split("/")
    if any(ord(c) < 32 or ord(c) == 127 or unicodedata.category(c) in ("Cf", "Cs") for c in name):
        return "holds control characters"
    if "\\" in name or ":" in name or name.startswith("/") or not all(parts) or {"..", "."} & set(parts):
        return "leads out of the bundle, or might on some system"
    if len(name.encode("utf-8", "surrogatepass")) > LONGEST_NAME:
        return "is longer than any name in a bundle"
    if any(re.fullmatch(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?", p) or p[-1] in ". " for p in parts):
        return "is reserved on some system"
    return ""


def printable(text: str) -> str:
    """Text for a terminal: what is not plain is written out."""
    plain = ("Cc", "Cf", "Cs", "Zl", "Zp")
    return "".join(c if unicodedata.category(c) not in plain else f"\\u{{{ord(c):04x}}}" for c in text)


def _folder(path: str, faults: list[Fault]) -> dict[str, Place]:
    if not os.path.isfile(os.path.join(path, "bagit.txt")) and os.path.isdir(os.path.join(path, BASE)):
        path = os.path.join(path, BASE)
    found: dict[str, Place] = {}
    waiting = [""]
    while waiting:
        below = waiting.pop()
        for item in os.scandir(os.path.join(path, below)):
            name = below + item.name
            if item.is_dir(follow_symlinks=False):
                waiting.append(name + "/")
            elif item.is_file(follow_symlinks=False):
                found[name] = Place(item.path, 0, item.stat(follow_symlinks=False).st_size)
            else:
                faults.append(Fault("Z2", printable(name), "is a link or no plain file; it is not followed"))
    return found


def _zip(path: str, faults: list[Fault]) -> dict[str, Place]:
    with open(path, "rb") as handle:
        size = os.fstat(handle.fileno()).st_size
        if not stat.S_ISREG(os.fstat(handle.fileno()).st_mode):
            raise Unusable(f"{path}: is no plain file")
        try:
            count, start, length = _end_of_zip(handle, size)
            handle.seek(start)
            rows = list(_directory(handle.read(length), count))
            return _members(handle, path, rows, start, faults)
        except (ValueError, struct.error, UnicodeDecodeError) as err:
            faults.append(Fault("Z1", os.path.basename(path), f"is no zip as a bundle is written: {err}"))
            return {}


def _end_of_zip(handle: IO[bytes], size: int) -> tuple[int, int, int]:
    """Number of members, start and length of the directory; the end record is the last 22 bytes."""
    if size < 22:
        raise ValueError("too short")
    handle.seek(size - 22)
    magic, disk, disk2, here, count, length, start, comment = struct.unpack("<4s4H2LH", handle.read(22))
    if magic != b"PK\x05\x06":
        raise ValueError("cut off, or bytes after its end")
    end = size - 22
    if 0xFFFF in (here, count) or 0xFFFFFFFF in (length, start):
        handle.seek(size - 42)
        magic, _, where, disks = struct.unpack("<4sLQL", handle.read(20))
        handle.seek(where)
        fields = struct.unpack("<4sQ2H2L4Q", handle.read(56))
        if magic != b"PK\x06\x07" or fields[0] != b"PK\x06\x06" or fields[1] != 44 or disks != 1 or where + 76 != end:
            raise ValueError("its long end record is malformed")
        disk, disk2, here, count, length, start = fields[4:]
        end = where
    if disk or disk2 or comment or here != count or count > MOST_MEMBERS or start + length != end:
        raise ValueError("its end record does not fit its directory")
    return count, start, length


def _directory(data: bytes, count: int) -> Iterator[tuple[bytes, int, int, int]]:
    """Name, CRC, size and offset of each member, in the order of the directory."""
    at = 0
    for _ in range(count):
        fields = struct.unpack("<4s6H3L5H2L", data[at : at + 46])
        magic, flags, method, crc, packed, size = fields[0], fields[3], fields[4], fields[7], fields[8], fields[9]
        named, extra, comment, attributes, offset = *fields[10:13], fields[15], fields[16]
        name = data[at + 46 : at + 46 + named]
        more = data[at + 46 + named : at + 46 + named + extra]
        at += 46 + named + extra + comment
        if magic != b"PK\x01\x02" or len(name) != named or flags & ~0x800 or method or comment:
            raise ValueError("a member is compressed, encrypted, commented or malformed")
        if attributes >> 16 and not stat.S_ISREG(attributes >> 16):
            raise ValueError("a member is a link or no plain file")
        size, packed, offset = _long(more, (size, packed, offset))
        if size != packed:
            raise ValueError("a member's two sizes differ")
        yield name, crc, size, offset
    if at != len(data):
        raise ValueError("its directory is longer than its members")


def _long(extra: bytes, fields: tuple[int, ...]) -> list[int]:
    """Fields of a member, those that did not fit taken from the ZIP64 extra."""
    wanted = sum(f == 0xFFFFFFFF for f in fields)
    if len(extra) != (4 + 8 * wanted if wanted else 0):
        raise ValueError("a member carries extra fields")
    tag, length, *values = struct.unpack(f"<2H{wanted}Q", extra) if wanted else (1, 0)
    if tag != 1 or length != 8 * wanted:
        raise ValueError("a member carries extra fields")
    return [values.pop(0) if f == 0xFFFFFFFF else f for f in fields]


def _members(
    handle: IO[bytes], path: str, rows: Sequence[tuple[bytes, int, int, int]], end: int, faults: list[Fault]
) -> dict[str, Place]:
    """Local headers must say what the directory says, and the members lie one after the other without a gap."""
    found: dict[str, Place] = {}
    at = 0
    for raw, crc, size, offset in rows:
        handle.seek(at)
        fields = struct.unpack("<4s5H3L2H", handle.read(30))
        magic, flags, method, named, extra = fields[0], fields[2], fields[3], fields[9], fields[10]
        name, more = handle.read(named), handle.read(extra)
        packed, whole = fields[7], fields[8]
        if extra:
            whole, packed = _long(more, (whole, packed))
        if (offset, magic, flags & ~0x800, method, name, fields[6]) != (
            at,
            b"PK\x03\x04",
            0,
            0,
            raw,
            crc,
        ) or packed != whole:
            raise ValueError("a member lies elsewhere than its directory says, or differs from it")
        if whole != size or at + 30 + named + extra + size > end:
            raise ValueError("a member is longer or shorter than its directory says")
        text = raw.decode("utf-8")
        inside = text[len(BASE) + 1 :] if text.startswith(BASE + "/") else "../" + text
        if inside in found:
            faults.append(Fault("Z2", printable(text), "is there twice"))
        found[inside] = Place(path, at + 30 + named + extra, size)
        at += 30 + named + extra + size
    if at != end:
        raise ValueError("bytes between its members and its directory")
    return found


def chunks(place: Place) -> Iterator[bytes]:
    """The bytes of a member, a piece at a time."""
    with open(place.path, "rb") as handle:
        handle.seek(place.offset)
        left = place.size
        while left and (chunk := handle.read(min(CHUNK, left))):
            left -= len(chunk)
            yield chunk
