"""The trade's words: components, what contains what, what an operation disturbs, and the closed word lists.

A name is matched by its key: small letters, spellings of both sides of the Atlantic brought together word by
word, plural endings and everything but letters and digits dropped. So ``Coil Ground``, ``coil-grounds`` and
``coil earth`` are one component. Two names of one family with the same key are a fault of the vocabulary.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any

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
        reader = _Reader()
        known = [*places, *[("", nowhere)] * (1 + len(extra) - len(places))]
        for content, (file, locate) in zip((raw, *extra), known, strict=True):
            reader.read(content, file, locate)
        return reader.built()

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

    def aspect_word(self, aspect: str, word: str) -> str:
        """The word as the list has it; ``ValueError`` for an unknown aspect or word, with the nearest."""
        entry = self.aspect_entries.get(aspect.replace("-", "_"))
        if entry is None:
            raise ValueError(f"{aspect!r} is not an aspect known here{nearest(aspect, self.aspect_entries)}")
        plain = re.sub(r"[\s_]+", "-", word.strip().lower())
        if plain not in entry.words:
            raise ValueError(f"{word!r} is not a word of {entry.name}; right would be {', '.join(entry.words)}")
        return plain

    def _canonical(self, family: str, name: str, known: Mapping[str, Any]) -> str:
        if found := self._found(family, name, known):
            return found
        close = nearest(_hyphened(name), [*known, *(a for a in self._also(family))])
        raise ValueError(f"{name!r} is not a {family} known here{close}")

    def _found(self, family: str, name: str, known: Mapping[str, Any]) -> str | None:
        return name if name in known else self._keys[family].get(_key(name, self._spellings))

    def _also(self, family: str) -> Iterable[str]:
        entries: Mapping[str, Any] = {"component": self.components, "operation": self.operations}.get(family, {})
        return (_hyphened(alias) for entry in entries.values() for alias in entry.also)


def _hyphened(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")


def _key(name: str, spellings: Mapping[str, str]) -> str:
    words = re.findall(r"[a-z0-9]+", name.lower())
    return "".join(_singular(spellings.get(word) or spellings.get(_singular(word)) or word) for word in words)


def _singular(word: str) -> str:
    return word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is")) else word


def _climb(name: str, components: Mapping[str, Component], above: dict[str, frozenset[str]]) -> frozenset[str]:
    """``name`` and all it lies in. The reader has refused circles before this runs."""
    if name not in above:
        wholes = (_climb(whole, components, above) for whole in components[name].wholes)
        above[name] = frozenset({name}).union(*wholes)
    return above[name]


class _Reader:
    """Collects the sections of one or more files and every fault in them."""

    def __init__(self) -> None:
        self.faults: list[Mistake] = []
        self.where: dict[tuple[str, str], tuple[str, Locate, Path]] = {}
        self.components: dict[str, Component] = {}
        self.operations: dict[str, Operation] = {}
        self.aspects: dict[str, Aspect] = {}
        self.counts: dict[str, tuple[str, ...]] = {}
        self.words: dict[str, dict[str, str]] = {"complaints": {}, "departures": {}, "cautions": {}, "spellings": {}}
        self.systems: list[str] = []
        self.file = ""
        self.locate: Locate = nowhere

    def fault(self, path: Path, message: str, right: str = "") -> None:
        line, column = self.locate(path)
        self.faults.append(Mistake(self.file, line, column, ".".join(map(str, path)), message, right))

    def read(self, raw: Any, file: str, locate: Locate) -> None:
        """Take the sections of one file."""
        self.file, self.locate = file, locate
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

    def built(self) -> Vocabulary:
        """Check what only the whole can show, then build or raise."""
        keys = {
            "component": self._index("component", self.components),
            "operation": self._index("operation", self.operations),
            "complaint": self._index("complaint", dict.fromkeys(self.words["complaints"])),
        }
        self._check_references()
        if self.faults:
            head = f"{len(self.faults)} fault{'s' if len(self.faults) != 1 else ''} in the vocabulary"
            raise BadPack(head + "".join(f"\n  {fault}" for fault in self.faults), advice="Mend the places named.")
        return Vocabulary(
            components=MappingProxyType(self.components), operations=MappingProxyType(self.operations),
            aspect_entries=MappingProxyType(self.aspects), counts=MappingProxyType(self.counts),
            complaints=MappingProxyType(self.words["complaints"]),
            departures=MappingProxyType(self.words["departures"]),
            cautions=MappingProxyType(self.words["cautions"]), systems=tuple(self.systems),
            _spellings=MappingProxyType(self.words["spellings"]), _keys=MappingProxyType(keys),
        )  # fmt: skip

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
                self.where["component", name] = (self.file, self.locate, path)
                if old := self.components.get(name):
                    if set(fields) - {"also", "in"}:
                        self.fault(path, "is defined twice", "a further file may add 'also' and 'in' only")
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
            self.where["operation", name] = (self.file, self.locate, path)
            if old := self.operations.get(name):
                if "title" in fields:
                    self.fault(path, "is defined twice", "a further file may add 'also' and 'disturbs' only")
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
            if old := self.aspects.get(name):
                if set(fields) - {"words"}:
                    self.fault(path, "is defined twice", "a further file may add 'words' only")
                words = (*old.words[:-1], *fields.get("words", ()), NOT_VISIBLE)
                self.aspects[name] = replace(old, words=words)
                continue
            missing = {"in_order", "words"} - set(fields)
            if missing:
                self.fault(
                    path, f"{' and '.join(sorted(missing))} missing", "name the word for 'looked, nothing there'"
                )
                continue
            words = (fields["in_order"][0], *fields["words"], NOT_VISIBLE)
            for word in dict.fromkeys(words):
                if not _NAME.fullmatch(word):
                    self.fault(path, f"{word!r} is not a word in small letters with hyphens")
                if words.count(word) > 1:
                    self.fault(path, f"{word!r} stands twice; the words must exclude each other")
            title = fields.get("title", (name.replace("_", " "),))[0]
            self.aspects[name] = Aspect(name=name, title=title, words=words)

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
        return {key: self._texts((*path, key), entry[key]) for key in entry if key in allowed}

    def _texts(self, path: Path, value: Any) -> tuple[str, ...]:
        items = value if isinstance(value, list | tuple) else [value]
        if not all(isinstance(item, str) and item.strip() for item in items):
            self.fault(path, "is not a text or a list of texts")
            return ()
        return tuple(items)

    def _index(self, family: str, entries: Mapping[str, Any]) -> dict[str, str]:
        keys: dict[str, str] = {}
        for name, entry in entries.items():
            self.file, self.locate, path = self.where[family, name]
            for word in (name, *((entry.title, *entry.also) if entry else ())):
                key = _key(word, self.words["spellings"])
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
