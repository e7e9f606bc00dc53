"""Sentences for paper: capitals, full stops, lists that leave out what is empty."""

from __future__ import annotations

import re
from collections.abc import Iterable

from evidence.model.base import say, shorten

NOT_STATED = "not stated"


def sentence(text: str) -> str:
    """First letter large, full stop at the end."""
    text = " ".join(text.split())
    if not text:
        return text
    return text[0].upper() + text[1:] + ("" if text[-1] in ".!?…”" else ".")


def whole_sentences(text: str, limit: int) -> str:
    """As many whole sentences as fit; the first one in any case, cut if need be."""
    kept = ""
    for part in re.split(r"(?<=[.!?]) ", " ".join(text.split())):
        if kept and len(kept) + len(part) > limit:
            return kept
        kept = f"{kept} {part}".strip()
    return shorten(kept, limit)


def capital(text: str) -> str:
    """A text with its first letter large."""
    return text[:1].upper() + text[1:]


def first_up(word: str) -> str:
    """An enumeration word with a capital."""
    return capital(say(word))


def joined(parts: Iterable[object], sep: str = "; ") -> str:
    """The parts that say something."""
    return sep.join(str(p) for p in parts if p)


def or_not_stated(text: str | None) -> str:
    """The text, or the words that it is not stated."""
    return text or NOT_STATED
