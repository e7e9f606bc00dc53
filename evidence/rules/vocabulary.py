"""The trade's words: components, what contains what, what an operation disturbs, and the closed word lists.

A name is matched by its key: small letters, spellings of both sides of the Atlantic brought together word by
word, plural endings and everything but letters and digits dropped. So ``Coil Ground``, ``coil-grounds`` and
``coil earth`` are one component. Two names of one family with the same key are a fault of the vocabulary.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from evidence.model.base import nearest
from evidence.model.mistakes import Locate, nowhere
from evidence.rules.word_lists import Aspect, Component, Operation, WordLists, hyphened, key_of


@dataclass(frozen=True, kw_only=True)
class Vocabulary:
    """The checked vocabulary. Iterate ``components``, ``operations`` and ``aspect_entries`` for listings."""

    components: Mapping[str, Component]
    operations: Mapping[str, Operation]
    aspect_entries: Mapping[str, Aspect]
    counts: Mapping[str, tuple[str, ...]]  # what the vehicle record counts -> components there are as many of
    complaints: Mapping[str, str]  # tag -> what the customer says
    departures: Mapping[str, str]  # code -> the slip
    cautions: Mapping[str, str]  # code -> the usual caution
    systems: tuple[str, ...]
    _spellings: Mapping[str, str]
    _keys: Mapping[str, Mapping[str, str]]  # family -> key -> canonical name
    _above: Mapping[str, frozenset[str]] = field(init=False)
    _below: Mapping[str, frozenset[str]] = field(init=False)
    _counted: Mapping[str, str] = field(init=False)
    aspects: Mapping[str, tuple[str, ...]] = field(init=False)  # aspect -> words; the first: looked, nothing there

    def __post_init__(self) -> None:
        above: dict[str, frozenset[str]] = {}
        for name in self.components:
            _climb(name, self.components, above)
        below: dict[str, set[str]] = {name: {name} for name in self.components}
        for part, wholes in above.items():
            for whole in wholes:
                below[whole].add(part)
        object.__setattr__(self, "_above", above)
        object.__setattr__(self, "_below", {name: frozenset(parts) for name, parts in below.items()})
        object.__setattr__(self, "_counted", {c: count for count, parts in self.counts.items() for c in parts})
        object.__setattr__(self, "aspects", {name: entry.words for name, entry in self.aspect_entries.items()})

    @classmethod
    def parse(
        cls,
        raw: Mapping[str, Any],
        extra: Sequence[Mapping[str, Any]] = (),
        *,
        places: Sequence[tuple[str, Locate]] = (),
    ) -> Vocabulary:
        """Build from loaded YAML whose scalars are all text; ``extra`` files add to the first.

        ``places`` gives file name and locator of each mapping, for the messages. Raises :class:`BadPack`
        with every fault.
        """
        lists = WordLists()
        known = [*places, *[("", nowhere)] * (1 + len(extra) - len(places))]
        for content, (file, locate) in zip((raw, *extra), known, strict=True):
            lists.read(content, file, locate)
        lists.checked()
        return cls(
            components=MappingProxyType(lists.components), operations=MappingProxyType(lists.operations),
            aspect_entries=MappingProxyType(lists.aspects), counts=MappingProxyType(lists.counts),
            complaints=MappingProxyType(lists.words["complaints"]),
            departures=MappingProxyType(lists.words["departures"]),
            cautions=MappingProxyType(lists.words["cautions"]), systems=tuple(lists.systems),
            _spellings=MappingProxyType(lists.words["spellings"]), _keys=MappingProxyType(lists.keys),
        )  # fmt: skip

    def component(self, name: str) -> str:
        """Canonical component name; ``ValueError`` with the nearest known one.

        A path such as ``COOLING SYSTEM:FAN``, as defect statistics write it, is read by its longest known tail.
        """
        steps = name.split(":")
        for first in range(len(steps)):
            if found := self._found("component", ":".join(steps[first:]), self.components):
                return found
        return self._canonical("component", name, self.components)

    def operation(self, name: str) -> str:
        """Canonical operation name; ``ValueError`` with the nearest known one."""
        return self._canonical("operation", name, self.operations)

    def complaint(self, tag: str) -> str:
        """Canonical complaint tag; ``ValueError`` with the nearest known one."""
        return self._canonical("complaint", tag, self.complaints)

    def title(self, component: str) -> str:
        """The component as printed."""
        return self.components[component].title

    def within(self, part: str, whole: str) -> bool:
        """Whether ``part`` is ``whole`` or lies in it, at any depth."""
        return whole in self._above.get(part, frozenset())

    def parts_of(self, whole: str) -> frozenset[str]:
        """``whole`` and everything in it, at any depth."""
        return self._below[whole]

    def disturbed_by(self, operation: str) -> frozenset[str]:
        """What the operation has hands on, with what those components contain."""
        return frozenset().union(*(self._below[c] for c in self.operations[operation].disturbs))

    def counted_by(self, component: str) -> str | None:
        """The vehicle count that says how many there are of ``component``; ``None`` where nothing counts it."""
        return self._counted.get(component)

    def aspect(self, name: str) -> str:
        """The aspect's name; ``ValueError`` with the nearest known one."""
        plain = name.replace("-", "_")
        if plain not in self.aspect_entries:
            raise ValueError(f"{name!r} is not an aspect known here{nearest(name, self.aspect_entries)}")
        return plain

    def aspect_word(self, aspect: str, word: str) -> str:
        """The word as the list has it; ``ValueError`` for an unknown aspect or word, with the nearest."""
        entry = self.aspect_entries[self.aspect(aspect)]
        plain = re.sub(r"[\s_]+", "-", word.strip().lower())
        if plain not in entry.words:
            raise ValueError(f"{word!r} is not a word of {entry.name}; right would be {', '.join(entry.words)}")
        return plain

    def _canonical(self, family: str, name: str, known: Mapping[str, Any]) -> str:
        if found := self._found(family, name, known):
            return found
        close = nearest(hyphened(name), [*known, *(a for a in self._also(family))])
        raise ValueError(f"{name!r} is not a {family} known here{close}")

    def _found(self, family: str, name: str, known: Mapping[str, Any]) -> str | None:
        return name if name in known else self._keys[family].get(key_of(name, self._spellings))

    def _also(self, family: str) -> Iterable[str]:
        entries: Mapping[str, Any] = {"component": self.components, "operation": self.operations}.get(family, {})
        return (hyphened(alias) for entry in entries.values() for alias in entry.also)


def _climb(name: str, components: Mapping[str, Component], above: dict[str, frozenset[str]]) -> frozenset[str]:
    """``name`` and all it lies in. The reader has refused circles before this runs."""
    if name not in above:
        wholes = (_climb(whole, components, above) for whole in components[name].wholes)
        above[name] = frozenset({name}).union(*wholes)
    return above[name]
