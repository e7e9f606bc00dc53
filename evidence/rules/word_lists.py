"""The word lists as files give them: components, operations, aspects, counts and codes, read with every fault named.

:mod:`evidence.rules.vocabulary` answers questions about them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from evidence.errors import BadPack, Mistake
from evidence.model.base import nearest
from evidence.model.mistakes import Locate, Path, nowhere

NOT_VISIBLE = "not-visible"  # every aspect has it: looked, but the place could not be seen. It answers nothing

_NAME = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_ASPECT = re.compile(r"[a-z]+(_[a-z]+)*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """A part or place of a vehicle. ``wholes`` are the components it lies in, directly."""

    name: str
    title: str
    system: str
    also: tuple[str, ...] = ()
    wholes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """A defined piece of work. ``disturbs`` lists components; what those contain is disturbed with them."""

    name: str
    title: str
    also: tuple[str, ...] = ()
    disturbs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Aspect:
    """What is looked at in an observation. ``words`` exclude each other; ``in_order`` is the first of them."""

    name: str
    title: str
    words: tuple[str, ...]

    @property
    def in_order(self) -> str:
        """The word for "looked, nothing there"."""
        return self.words[0]


E = TypeVar("E")


def hyphened(name: str) -> str:
    """The name in small letters with hyphens, for finding the nearest known one."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")


def key_of(name: str, spellings: Mapping[str, str]) -> str:
    """What a name is matched by: two names with one key are one name."""
    words = re.findall(r"[a-z0-9]+", name.lower())
    return "".join(_singular(spellings.get(word) or spellings.get(_singular(word)) or word) for word in words)


def _singular(word: str) -> str:
    return word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is")) else word


class WordLists:
    """Collects the sections of one or more files and every fault in them; :meth:`checked` raises or returns itself."""

    def __init__(self) -> None:
        self.faults: list[Mistake] = []
        self.where: dict[tuple[str, str], tuple[str, Locate, Path]] = {}
        self.components: dict[str, Component] = {}
        self.operations: dict[str, Operation] = {}
        self.aspects: dict[str, Aspect] = {}
        self.counts: dict[str, tuple[str, ...]] = {}
        self.words: dict[str, dict[str, str]] = {"complaints": {}, "departures": {}, "cautions": {}, "spellings": {}}
        self.systems: list[str] = []
        self.keys: dict[str, dict[str, str]] = {}  # family -> key -> canonical name
        self.file = ""
        self.locate: Locate = nowhere
        self.here: set[tuple[str, str]] = set()  # what this file has defined so far

    def fault(self, path: Path, message: str, right: str = "") -> None:
        line, column = self.locate(path)
        self.faults.append(Mistake(self.file, line, column, ".".join(map(str, path)), message, right))

    def read(self, raw: Any, file: str, locate: Locate) -> None:
        """Take the sections of one file."""
        self.file, self.locate, self.here = file, locate, set()
        sections: dict[str, Callable[[str, Mapping[str, Any]], None]] = {
            "components": self._components, "operations": self._operations, "aspects": self._aspects,
            "counts": self._counts, **dict.fromkeys(self.words, self._words),
        }  # fmt: skip
        if not isinstance(raw, Mapping):
            self.fault((), "is not a group of sections", "write 'components:', 'operations:' ...")
            return
        for name, content in raw.items():
            if name == "version":
                continue
            if name not in sections:
                self.fault((name,), f"{name!r} is not a section of a vocabulary", "one of: " + ", ".join(sections))
            elif not isinstance(content, Mapping):
                self.fault((name,), "is not a group of fields", "write 'name: ...' lines under it")
            else:
                sections[name](name, content)

    def checked(self) -> WordLists:
        """Check what only the whole can show; raises :class:`BadPack` with every fault."""
        for family, entries in (
            ("component", self.components), ("operation", self.operations),
            ("complaint", dict.fromkeys(self.words["complaints"])),
        ):  # fmt: skip
            self.keys[family] = self._index(family, entries)
        self._check_references()
        if self.faults:
            head = f"{len(self.faults)} fault{'s' if len(self.faults) != 1 else ''} in the vocabulary"
            raise BadPack(head + "".join(f"\n  {fault}" for fault in self.faults), advice="Mend the places named.")
        return self

    def _components(self, section: str, content: Mapping[str, Any]) -> None:
        for system, members in content.items():
            if system not in self.systems:
                self.systems.append(system)
            if not isinstance(members, Mapping):
                self.fault((section, system), "is not a group of components")
                continue
            for name, entry in members.items():
                path = (section, system, name)
                fields = self._fields(path, entry, {"title", "also", "in"}, _NAME)
                if old := self._old("component", name, self.components, path, set(fields) - {"also", "in"}):
                    self.components[name] = replace(
                        old, also=old.also + fields.get("also", ()), wholes=old.wholes + fields.get("in", ())
                    )
                    continue
                title = fields.get("title", (name.replace("-", " "),))[0]
                self.components[name] = Component(
                    name=name, title=title, system=system, also=fields.get("also", ()), wholes=fields.get("in", ())
                )

    def _operations(self, section: str, content: Mapping[str, Any]) -> None:
        for name, entry in content.items():
            path = (section, name)
            fields = self._fields(path, entry, {"title", "also", "disturbs"}, _NAME)
            if old := self._old("operation", name, self.operations, path, set(fields) - {"also", "disturbs"}):
                also, disturbs = old.also + fields.get("also", ()), old.disturbs + fields.get("disturbs", ())
                self.operations[name] = replace(old, also=also, disturbs=disturbs)
                continue
            title = fields.get("title", (name.replace("-", " "),))[0]
            self.operations[name] = Operation(
                name=name, title=title, also=fields.get("also", ()), disturbs=fields.get("disturbs", ())
            )

    def _aspects(self, section: str, content: Mapping[str, Any]) -> None:
        for name, entry in content.items():
            path = (section, name)
            fields = self._fields(path, entry, {"title", "in_order", "words"}, _ASPECT)
            if old := self._old("aspect", name, self.aspects, path, set(fields) - {"words"}):
                words = (*old.words[:-1], *fields.get("words", ()), NOT_VISIBLE)
                self.aspects[name] = replace(old, words=self._exclusive(path, words))
                continue
            if missing := {"in_order", "words"} - set(fields):
                right = "name the word for 'looked, nothing there'"
                self.fault(path, f"{' and '.join(sorted(missing))} missing", right)
                continue
            words = (fields["in_order"][0], *fields["words"], NOT_VISIBLE)
            title = fields.get("title", (name.replace("_", " "),))[0]
            self.aspects[name] = Aspect(name=name, title=title, words=self._exclusive(path, words))

    def _exclusive(self, path: Path, words: tuple[str, ...]) -> tuple[str, ...]:
        for word in dict.fromkeys(words):
            if not _NAME.fullmatch(word):
                self.fault(path, f"{word!r} is not a word in small letters with hyphens")
            if words.count(word) > 1:
                self.fault(path, f"{word!r} stands twice; the words must exclude each other")
        return words

    def _old(self, family: str, name: str, known: Mapping[str, E], path: Path, told: set[str]) -> E | None:
        """The entry of an earlier file that this one adds to; what it says anew of it is a fault."""
        old = known.get(name)
        if old is not None and ((family, name) in self.here or told):
            self.fault(path, "is defined twice", "a further file may add to its lists, and only that")
        self.here.add((family, name))
        self.where[family, name] = (self.file, self.locate, path)
        return old

    def _counts(self, section: str, content: Mapping[str, Any]) -> None:
        for name, listed in content.items():
            parts = self._texts((section, name), listed)
            self.where["count", name] = (self.file, self.locate, (section, name))
            self.counts[name] = self.counts.get(name, ()) + parts

    def _words(self, section: str, content: Mapping[str, Any]) -> None:
        for name, text in content.items():
            if not isinstance(text, str) or not text.strip():
                self.fault((section, name), "is not a text")
            elif name in self.words[section]:
                self.fault((section, name), "is defined twice")
            else:
                self.words[section][name] = text
                self.where[section.removesuffix("s"), name] = (self.file, self.locate, (section, name))

    def _fields(self, path: Path, entry: Any, allowed: set[str], form: re.Pattern[str]) -> dict[str, tuple[str, ...]]:
        if not form.fullmatch(str(path[-1])):
            self.fault(path, f"{path[-1]!r} is not a name in small letters", "such as coil-ground or ground_seat")
        if not isinstance(entry, Mapping):
            self.fault(path, "is not a group of fields", "write {} when there is nothing to say")
            return {}
        for key in entry:
            if key not in allowed:
                self.fault((*path, key), f"{key!r} is not a field here", "one of: " + ", ".join(sorted(allowed)))
        said = {key: self._texts((*path, key), entry[key]) for key in entry if key in allowed}
        return {key: texts for key, texts in said.items() if texts}

    def _texts(self, path: Path, value: Any) -> tuple[str, ...]:
        items = value if isinstance(value, list | tuple) else [value]
        if not items or not all(isinstance(item, str) and item.strip() for item in items):
            self.fault(path, "is not a text or a list of texts", "leave it out when there is nothing to say")
            return ()
        return tuple(items)

    def _index(self, family: str, entries: Mapping[str, Any]) -> dict[str, str]:
        keys: dict[str, str] = {}
        for name, entry in entries.items():
            self.file, self.locate, path = self.where[family, name]
            for word in (name, *((entry.title, *entry.also) if entry else ())):
                key = key_of(word, self.words["spellings"])
                if keys.setdefault(key, name) != name:
                    self.fault(path, f"{word!r} reads the same as a name of {keys[key]!r}", "give it to one of them")
        return keys

    def _check_references(self) -> None:
        for name, component in self.components.items():
            self._known("component", name, "in", component.wholes)
        for name, operation in self.operations.items():
            self._known("operation", name, "disturbs", operation.disturbs)
        owners: dict[str, str] = {}
        for count, parts in self.counts.items():
            self._known("count", count, "", parts)
            for part in parts:
                if owners.setdefault(part, count) != count:
                    self.fault(("counts", count), f"{part!r} is counted by {owners[part]!r} already")
        done: set[str] = set()
        for name in self.components:
            self._no_circle(name, (), done)

    def _known(self, family: str, name: str, key: str, parts: Iterable[str]) -> None:
        self.file, self.locate, path = self.where[family, name]
        for part in parts:
            if part not in self.components:
                close = nearest(part, self.components).removeprefix("; ")
                self.fault((*path, key) if key else path, f"{part!r} is not a component of this vocabulary", close)

    def _no_circle(self, name: str, trail: tuple[str, ...], done: set[str]) -> None:
        if name in trail:
            self.file, self.locate, path = self.where["component", name]
            self.fault(path, "lies in itself: " + " in ".join((*trail[trail.index(name) :], name)))
        elif name not in done and name in self.components:
            for whole in self.components[name].wholes:
                self._no_circle(whole, (*trail, name), done)
            done.add(name)
