"""Foreign text made fit to be kept and shown: no character that acts on a terminal or that the record refuses."""

from __future__ import annotations

import codecs
import unicodedata
from typing import Final

LONGEST_TEXT: Final = 20_000  # characters kept for searching
_UNFIT: Final = ("Cc", "Cf", "Cs", "Zl", "Zp")


def one_line(value: object, limit: int = 200) -> str:
    """One clean line of a value that can be anything; empty for ``None``."""
    if value is None:
        return ""
    text = (value[: limit * 4].decode("latin-1") if isinstance(value, bytes) else str(value))[: limit * 4]
    if not text.isprintable():
        text = "".join(ch if unicodedata.category(ch) not in _UNFIT else " " for ch in text)
    return " ".join(text.split())[:limit].rstrip()


def searchable(text: str) -> str:
    """Line ends as newlines, no other control character but the tab, at most 20,000 characters."""
    text = text[: LONGEST_TEXT * 2].replace("\r\n", "\n").replace("\r", "\n").replace("\f", "\n")
    text = "".join(ch for ch in text if ch in "\n\t" or unicodedata.category(ch) not in _UNFIT)
    return text[:LONGEST_TEXT].strip()


def encoding_of(head: bytes) -> str:
    """How a text that starts with these bytes is encoded: UTF-16 by its mark or its zero bytes, else UTF-8."""
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    if head[0:1] != b"\0" and head[1:2] == b"\0" and head[3:4] == b"\0":
        return "utf-16-le"
    if head[0:1] == b"\0" and head[1:2] != b"\0" and head[2:3] == b"\0":
        return "utf-16-be"
    return "utf-8-sig"
