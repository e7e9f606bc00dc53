"""The words that records are written in, for looking up."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import get_args

from evidence.model.base import say
from evidence.model.quantity import QUANTITIES, UNITS, Condition
from evidence.rules.vocabulary import Vocabulary


@dataclass(frozen=True, slots=True)
class Word:
    """One word of a closed list, what it means, and what it may be called as well."""

    family: str
    word: str
    meaning: str
    also: tuple[str, ...] = ()

    def holds(self, text: str) -> bool:
        """Whether ``text`` occurs in it."""
        low = text.lower()
        return any(low in part.lower() for part in (self.word, self.meaning, *self.also))


def word_list(vocabulary: Vocabulary) -> Iterator[Word]:
    """Every word, list by list."""
    for part in vocabulary.components.values():
        yield Word("component", part.name, f"{part.title} ({part.system})", part.also)
    for operation in vocabulary.operations.values():
        yield Word("operation", operation.name, operation.title, operation.also)
    for aspect in vocabulary.aspect_entries.values():
        yield Word("aspect", aspect.name, f"{aspect.title}: {', '.join(aspect.words)}")
    for tag, meaning in vocabulary.complaints.items():
        yield Word("complaint", tag, meaning)
    for name, parts in vocabulary.counts.items():
        yield Word("count", name, ", ".join(parts))
    for quantity, dimension in QUANTITIES.items():
        yield Word("quantity", quantity, ", ".join(UNITS[dimension]))
    for condition in get_args(Condition):
        yield Word("condition", condition, say(condition))
