"""A foreign text as blocks of whole lines in UTF-8, in bounded memory, whatever its encoding and its line ends.

A line longer than 64,000 bytes comes as a single ``?``: it is no row, however long it is.
"""

from __future__ import annotations

import codecs
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from evidence.capture.plain_file import open_plain

LONGEST_LINE: Final = 64_000
_BLOCK: Final = 4_000_000  # bytes read at a time
_BYTE_ORDER_MARK: Final = codecs.BOM_UTF8


@dataclass(frozen=True, slots=True)
class Block:
    """Whole lines, each ended by a newline. ``first`` is the number of the first, from 1."""

    first: int
    data: bytes


def blocks(path: Path, encoding: str) -> Iterator[Block]:
    """The file in blocks. What is wrong in its encoding is replaced; a carriage return ends a line as well."""
    decoder = None if encoding == "utf-8-sig" else codecs.getincrementaldecoder(encoding)("replace")
    number, rest, overlong = 1, b"", False
    with open_plain(path) as stream:
        raw = stream.read(_BLOCK)
        rest = b"" if decoder else raw[: len(_BYTE_ORDER_MARK)].removeprefix(_BYTE_ORDER_MARK)
        raw = raw if decoder else raw[len(_BYTE_ORDER_MARK) :]
        while True:
            more = bool(raw)
            text = rest + (decoder.decode(raw, not more).encode("utf-8", "replace") if decoder else raw)
            held = text.endswith(b"\r") and more  # its newline may come with the next block
            text = _with_newlines(text[:-1] if held else text)
            cut = text.rfind(b"\n") + 1 if more else len(text)
            data, rest = text[:cut], text[cut:]
            if overlong and data:
                data, overlong = b"?\n" + data[data.find(b"\n") + 1 :], False
            if len(rest) > LONGEST_LINE:
                rest, overlong = b"", True
            rest += b"\r" if held else b""
            if data:
                data = _without_overlong(data if data.endswith(b"\n") else data + b"\n")
                yield Block(number, data)
                number += data.count(b"\n")
            if not more:
                return
            raw = stream.read(_BLOCK)


def _with_newlines(text: bytes) -> bytes:
    return text.replace(b"\r\n", b"\n").replace(b"\r", b"\n") if b"\r" in text else text


def _without_overlong(data: bytes) -> bytes:
    import numpy as np

    ends = np.flatnonzero(np.frombuffer(data, np.uint8) == 10)
    if np.diff(ends, prepend=-1).max() <= LONGEST_LINE + 1:
        return data
    return b"\n".join(line if len(line) <= LONGEST_LINE else b"?" for line in data.split(b"\n"))
