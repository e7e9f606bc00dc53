"""Content credentials (C2PA) that a photo carries: found by their mark in the file, read in the limited child process.

Where they lie: C2PA Technical Specification, "Embedding manifests into various file formats" (JPEG: APP11 segments with a
JUMBF box; PNG: chunk caBX; RIFF: chunk C2PA; BMFF: a uuid box; TIFF: tag 52545). Nothing is fetched: a file that only
points to credentials at an address is told as carrying none that can be checked here.
"""

from __future__ import annotations

import os
import struct
from pathlib import Path
from typing import BinaryIO, Final

from evidence.capture.limited import available, run_limited
from evidence.capture.plain_file import PARSER_FAULTS, open_plain, raise_if_of_the_system
from evidence.capture.wording import one_line
from evidence.review.photo_marks import Credentials

_MOST_PARTS: Final = 10_000
_LARGEST: Final = 2**48  # bytes; a longer box is none
_BOX: Final = bytes.fromhex("d8fec3d61b0e483c92975828877ec481")
_FAILURES: Final = (  # validation status codes of the same specification, by how they begin
    ("assertion.dataHash", "the picture is not the one that was signed"),
    ("assertion.bmffHash", "the picture is not the one that was signed"),
    ("assertion.boxesHash", "the picture is not the one that was signed"),
    ("assertion.", "a statement in the credentials is missing or is not the one that was signed"),
    ("claimSignature.", "the signature is missing or does not fit"),
    ("signingCredential.expired", "the certificate was not valid then"),
    ("signingCredential.", "the certificate is not fit for this"),
    ("timeStamp.", "the time-stamp does not fit"),
    ("claim.", "the credentials are incomplete"),
    ("ingredient.", "what it was made from does not fit"),
)
_EXTRA: Final = "that needs the extra 'credentials'"


def credentials_of(path: Path, type_: str) -> Credentials | None:
    """What became of a photo's content credentials; None where it carries none."""
    try:
        with open_plain(path) as stream:
            if not carries(stream, type_):
                return None
    except PARSER_FAULTS as err:
        raise_if_of_the_system(err)
        return None
    if not available("c2pa"):
        return Credentials(state="unchecked", detail=_EXTRA)
    answer = run_limited("credentials", path, type=type_)
    if answer.problem:
        return Credentials(state="unreadable", detail=one_line(answer.problem, 150))
    facts = answer.facts
    return Credentials(
        state="valid" if facts["valid"] else "invalid",
        signer=one_line(facts["signer"], 100), producer=one_line(facts["producer"], 100),
        actions=tuple(one_line(a, 60) for a in facts["actions"][:20]), detail=_failure(one_line(facts["detail"], 100)),
    )  # fmt: skip


def _failure(code: str) -> str:
    return next((words for start, words in _FAILURES if code.startswith(start)), f"code {code}" if code else "")


def carries(stream: BinaryIO, type_: str) -> bool:
    """Whether the file has the mark of content credentials; ``stream`` stands at its start."""
    if type_ == "image/jpeg":
        return _in_jpeg(stream)
    if type_ in ("image/png", "image/apng"):
        return _in_parts(stream, 8, ">I4s", b"caBX", trailer=4)
    if type_ == "image/webp":
        return _in_parts(stream, 12, "<4sI", b"C2PA", trailer=0)
    if type_ in ("image/heic", "image/avif"):
        return _in_boxes(stream)
    return False


def _in_jpeg(stream: BinaryIO) -> bool:
    stream.seek(2)
    for _ in range(_MOST_PARTS):
        head = stream.read(4)
        if len(head) < 4 or head[0] != 0xFF or head[1] in (0xD9, 0xDA):
            return False
        length = int.from_bytes(head[2:], "big") - 2
        if length < 0:
            return False
        if head[1] == 0xEB:
            start = stream.read(min(length, 512))
            if start[:2] == b"JP" and b"c2pa" in start:
                return True
            length -= len(start)
        stream.seek(length, os.SEEK_CUR)
    return False


def _in_parts(stream: BinaryIO, at: int, form: str, wanted: bytes, *, trailer: int) -> bool:
    for _ in range(_MOST_PARTS):
        stream.seek(at)
        head = stream.read(8)
        if len(head) < 8:
            return False
        first, second = struct.unpack(form, head)
        length, name = (first, second) if trailer else (second, first)
        if name == wanted:
            return True
        at += 8 + length + (trailer or length % 2)
    return False


def _in_boxes(stream: BinaryIO) -> bool:
    at = 0
    for _ in range(_MOST_PARTS):
        stream.seek(at)
        head = stream.read(32)
        if len(head) < 8:
            return False
        length, inner = int.from_bytes(head[:4], "big"), 8
        if length == 1:
            length, inner = int.from_bytes(head[8:16], "big"), 16
        if head[4:8] == b"uuid" and head[inner : inner + 16] == _BOX[: max(0, len(head) - inner)]:
            return True
        if not 8 <= length < _LARGEST:
            return False
        at += length
    return False
