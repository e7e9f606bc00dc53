"""From what an author wrote to validated records: the context that turns his words into what is stored."""

from __future__ import annotations

from collections.abc import Callable, Collection
from functools import partial
from typing import Any

from evidence.model.base import nearest
from evidence.ports import Desk


def words_context(desk: Desk, zone: str | None, resolve: Callable[[str, tuple[str, ...]], str]) -> dict[str, Any]:
    """Context for :meth:`Record.handed_in`: zone, vocabulary, and how short names become subjects."""
    vocabulary = desk.vocabulary()
    return {
        "zone": zone,
        "resolve": resolve,
        "component": vocabulary.component,
        "operation": vocabulary.operation,
        "complaint": vocabulary.complaint,
        "aspect": vocabulary.aspect,
        "aspect_word": vocabulary.aspect_word,
        "count": partial(_counted, known=vocabulary.counts),
    }


def _counted(name: str, *, known: Collection[str]) -> str:
    if name not in known:
        raise ValueError(f"{name!r} is not something that is counted on a vehicle{nearest(name, known)}")
    return name


def resolver(subjects: dict[str, tuple[str, str]]) -> Callable[[str, tuple[str, ...]], str]:
    """A function from short name and allowed kinds to subject; ``subjects`` maps name to (kind, subject)."""

    def resolve(name: str, kinds: tuple[str, ...]) -> str:
        found = subjects.get(name)
        fitting = [n for n, (kind, _) in subjects.items() if not kinds or kind in kinds]
        if found is None:
            raise ValueError(f"no record here is called {name!r}{nearest(name, fitting)}")
        if kinds and found[0] not in kinds:
            raise ValueError(wrong_kind(name, found[0], kinds))
        return found[1]

    return resolve


def wrong_kind(name: str, kind: str, wanted: tuple[str, ...]) -> str:
    """What to say of a short name that stands for a record of another kind."""
    return f"{name!r} is {_a(kind)}; this field names {_a(wanted[0])}"


def _a(kind: str) -> str:
    return f"{'an' if kind[0] in 'aeio' else 'a'} {kind.replace('_', ' ')}"
