"""YAML to plain data in which every scalar is the text that was written, and every node knows its place.

Used for dossier files and for rule packs. Rules enforced here: YAML 1.2, one document, a mapping at the
top, keys that are text and occur once, nothing aliased or tagged, nothing deeper than 64 levels, nothing
larger than 5 MB. A part number ``06E905`` stays a part number, ``no`` stays a word, ``0.240`` keeps its
resolution. All that is wrong comes back at once as :class:`~evidence.errors.MistakesFound`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from evidence.errors import Mistake, MistakesFound

LARGEST: Final = 5_000_000  # bytes
DEEPEST: Final = 64  # levels
_MOST_MISTAKES: Final = 100
_NULLS: Final = frozenset({"", "~", "null", "Null", "NULL"})  # YAML 1.2 core schema, section 10.3.2
# What the scanner may hold, YAML 1.2 production [1] c-printable; the rest is refused before it gets there.
_UNPRINTABLE: Final = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]|\ufeff")
# The library's scanner is not written for hostile text: besides its own errors these have been seen or are
# possible (a version number or an escape out of range). They mean "cannot be read", never a fault of ours.
_SCANNER_FAULTS: Final = (ValueError, IndexError, KeyError, TypeError, AttributeError, AssertionError, OverflowError)

Path = tuple[str | int, ...]


@dataclass(slots=True)
class _Place:
    """Where a node and, in a mapping, its key stand (from 1), and what hangs below."""

    line: int
    column: int
    key_line: int
    key_column: int
    below: dict[str | int, _Place] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Marked:
    """Plain data (``dict``, ``list``, ``str`` only) and the place of each node in the text."""

    data: dict[str, Any]
    file: str
    _root: _Place

    def locate(self, path: Path) -> tuple[int, int]:
        """Line and column, from 1, of the node at ``path``; of its nearest parent where the text has no such node."""
        place = self._walk(path)
        return place.line, place.column

    def locate_key(self, path: Path) -> tuple[int, int]:
        """The same for the key under which the node stands (of an item in a list: the item)."""
        place = self._walk(path)
        return place.key_line, place.key_column

    def _walk(self, path: Path) -> _Place:
        place = self._root
        for step in path:
            if step not in place.below:
                break
            place = place.below[step]
        return place


def decoded(raw: bytes, file: str) -> str:
    """The text of a YAML file; bytes that are not UTF-8 or too many of them raise ``MistakesFound``."""
    if len(raw) > LARGEST:
        raise MistakesFound([_too_large(file, len(raw))])
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as err:
        before = raw[: err.start].decode("utf-8", "replace")
        line, column = _position(before, len(before))
        raise MistakesFound(
            [Mistake(file, line, column, "", f"byte 0x{raw[err.start]:02X} is not UTF-8", "save the file as UTF-8")]
        ) from None


def load_marked(text: str, file: str) -> Marked:
    """Read ``text``; ``file`` is the name that mistakes carry. Raises ``MistakesFound`` and nothing else."""
    size = len(text.encode("utf-8", "surrogatepass"))
    if size > LARGEST:
        raise MistakesFound([_too_large(file, size)])
    text = text.removeprefix("\ufeff")
    if bad := _UNPRINTABLE.search(text):
        line, column = _position(text, bad.start())
        what = f"the character U+{ord(bad.group()):04X} may not stand in a YAML file"
        raise MistakesFound([Mistake(file, line, column, "", what, "remove it")])
    return _Reading(file).read(text)


class _Reading:
    """One pass over the events of the text; a stack instead of recursion, so depth is ours to bound."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.mistakes: list[Mistake] = []
        self.steps: list[str | int] = []  # where we are, for the messages

    def read(self, text: str) -> Marked:
        import yaml

        try:
            found = self._document(yaml.parse(text, Loader=yaml.CSafeLoader))
        except yaml.MarkedYAMLError as err:
            mark = err.problem_mark or err.context_mark
            line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
            self._note(line, column, *_in_plain_words(str(err.problem or err.context or "cannot be read")))
            raise MistakesFound(self.mistakes) from None
        except (yaml.YAMLError, *_SCANNER_FAULTS) as err:
            self._note(1, 1, f"this is not YAML that can be read ({err})", "")
            raise MistakesFound(self.mistakes) from None
        if self.mistakes or found is None:
            raise MistakesFound(self.mistakes)
        return found

    def _document(self, events: Any) -> Marked | None:
        """The one document of the text, or ``None`` once a mistake stands in the way."""
        next(events)  # start of the stream
        start = next(events)
        if _kind(start) == "StreamEnd":
            self._note(1, 1, "the file is empty", "write the dossier's records under their keys")
            return None
        if start.version not in (None, (1, 2), [1, 2]):
            self._note(1, 1, "asks for another version of YAML", "leave the %YAML line out; this is read as YAML 1.2")
        first = next(events)
        if _kind(first) != "MappingStart":
            line, column = _start(first)
            self._note(line, column, "a list or a single value at the top", "write keys at the top, such as 'title: …'")
            return None
        root = self._tree(first, events)
        if root is None:
            return None
        next(events)  # end of the document
        after = next(events)
        if _kind(after) != "StreamEnd":
            line, column = _start(after)
            self._note(line, column, "a second document starts here", "one document in a file: remove the '---' line")
        data, place = root
        return Marked(data, self.file, place)

    def _tree(self, first: Any, events: Any) -> tuple[dict[str, Any], _Place] | None:
        self._check(first)
        root: dict[str, Any] = {}
        top = _Place(*_start(first), *_start(first))
        stack: list[tuple[Any, _Place]] = [(root, top)]
        while stack:
            if len(self.mistakes) >= _MOST_MISTAKES:
                self.mistakes.append(Mistake(self.file, 0, 0, "", "more mistakes follow that are not listed"))
                return None
            holder, place = stack[-1]
            event = next(events)
            if _kind(event) in ("MappingEnd", "SequenceEnd"):
                stack.pop()
                if self.steps:
                    self.steps.pop()
                continue
            step, key = self._step(holder, event)
            if isinstance(holder, dict):
                if key is None:  # a key that is a list or a mapping: no way to go on in good order
                    return None
                event = next(events)
            self.steps.append(step)
            self._check(event)
            kind = _kind(event)
            where = _start(event)
            if key and kind == "Scalar" and not event.style and not event.value:
                where = key  # nothing was written: the scanner points at the next line
            below = _Place(*where, *(key or where))
            if kind in ("Scalar", "Alias"):
                self._put(holder, place, step, self._scalar(event, where), below)
                self.steps.pop()
                continue
            if len(stack) >= DEEPEST:
                self._note(*where, f"nested deeper than {DEEPEST} levels", "")
                return None
            inner: Any = {} if kind == "MappingStart" else []
            self._put(holder, place, step, inner, below)
            stack.append((inner, below))
        return root, top

    def _step(self, holder: Any, event: Any) -> tuple[str | int, tuple[int, int] | None]:
        """The key or index that ``event`` opens, and the place of the key."""
        if isinstance(holder, list):
            return len(holder), None
        line, column = _start(event)
        if _kind(event) != "Scalar":
            what = "an alias" if _kind(event) == "Alias" else "a list or a mapping"
            self._note(line, column, f"{what} stands as a key", "keys are words")
            return "", None
        self._check(event)
        key = event.value
        if not event.style and key in _NULLS:
            self._note(line, column, "a key is missing before ':'", "")
        elif key in holder:
            self._note(line, column, f"the key {key[:80]!r} stands here twice", "keep one of the two")
        return key, (line, column)

    def _put(self, holder: Any, place: _Place, step: str | int, value: Any, below: _Place) -> None:
        if isinstance(holder, list):
            holder.append(value)
        else:
            holder[step] = value
        place.below[step] = below

    def _scalar(self, event: Any, where: tuple[int, int]) -> str:
        if _kind(event) == "Alias":
            return ""  # said by _check
        value: str = event.value
        if not event.style and value in _NULLS:
            right = "leave the key out when it is not known" if isinstance(self.steps[-1], str) else "remove the item"
            what = f"{value!r} stands for no value" if value else "has no value"
            self._note(*where, what, right + (f'; write "{value}" if the word itself is meant' if value else ""))
        elif bad := _SURROGATE.search(value):  # an escape such as "\ud800"
            self._note(*_start(event), f"the character U+{ord(bad.group()):04X} stands for nothing", "remove it")
        return value

    def _check(self, event: Any) -> None:
        line, column = _start(event)
        if _kind(event) == "Alias":
            self._note(line, column, f"the alias *{event.anchor[:40]} is not taken here", "write the value out")
        elif event.anchor is not None:
            self._note(line, column, f"the anchor &{event.anchor[:40]} is not taken here", "write each value out")
        if getattr(event, "tag", None) is not None:
            self._note(
                line,
                column,
                f"the tag {str(event.tag)[:40]} is not taken here",
                "every value is text: leave the tag out",
            )

    def _note(self, line: int, column: int, message: str, right: str) -> None:
        self.mistakes.append(Mistake(self.file, line, column, _dotted(self.steps), message, right))


_SURROGATE: Final = re.compile("[\ud800-\udfff]")
_WORDS: Final = (  # what the scanner says, as a person would
    ("found character '\\t'", "a tab stands where only spaces may", "indent with spaces"),
    ("mapping values are not allowed", "a ':' stands where no key can be", "quote a text that holds ': ', or indent"),
    ("expected <block end>", "the indentation does not fit the lines above", "line it up with its neighbours"),
    ("could not find expected ':'", "a ':' is missing after this key", "write 'key: value'"),
    ("while scanning a simple key", "a ':' is missing after this key", "write 'key: value'"),
    ("found unexpected end of stream", "a quotation mark is never closed", "close it"),
    ("expected ',' or", "a list or mapping in brackets is not closed", "close it, or put a ',' between its parts"),
    ("that cannot start any token", "this character cannot start a value", "put the value in quotation marks"),
    ("found undefined tag handle", "tags are not taken here", "every value is text: leave the tag out"),
)


def _in_plain_words(problem: str) -> tuple[str, str]:
    for start, message, right in _WORDS:
        if start in problem:
            return message, right
    return f"this is not YAML: {problem}", ""


def _kind(event: Any) -> str:
    return type(event).__name__.removesuffix("Event")


def _start(event: Any) -> tuple[int, int]:
    return event.start_mark.line + 1, event.start_mark.column + 1


def _dotted(steps: Sequence[str | int]) -> str:
    shown = "".join(f"[{s + 1}]" if isinstance(s, int) else f".{s}" for s in steps[:8]).removeprefix(".")
    return (shown if len(shown) <= 120 else shown[:119] + "…") + ("…" if len(steps) > 8 else "")


def _position(text: str, at: int) -> tuple[int, int]:
    before = re.split("\r\n|[\n\r\x85\u2028\u2029]", text[:at])
    return len(before), len(before[-1]) + 1


def _too_large(file: str, size: int) -> Mistake:
    return Mistake(file, 1, 1, "", f"{size:,} bytes are more than the {LARGEST:,} that are read", "split the file")
