"""A record as a person reads it: field names in words, references by number, values with their units."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from evidence.model.base import Value, say
from evidence.model.exhibit import FileFacts, StoredFile
from evidence.model.quantity import Limit, Money, Reading
from evidence.model.references import is_reference
from evidence.model.when import When

Label = Callable[[str], str]  # subject -> "Exhibit 7"
_WORDS = {"of": "at", "by": "by", "to": "to", "vin": "VIN", "vin_note": "note on the VIN", "gps_time": "satellite time"}
_AS_THEY_STAND = frozenset(
    {"text", "words", "caption", "full_name", "title", "description", "number", "code", "part_number"}
)


def tell(value: Value, label: Label) -> list[tuple[str, str]]:
    """(field, text) for every field that is stated, in the order of the model; ``name`` is left out."""
    told: list[tuple[str, str]] = []
    for field in type(value).model_fields:
        held = getattr(value, field)
        if field == "name" or held is None or held == () or held == {}:
            continue
        told.append((_WORDS.get(field, say(field)), _text(value, field, held, label)))
    for field, held in (value.model_extra or {}).items():
        told.append((say(field), f"{held} (of a newer version)"))
    return told


def _text(owner: Value, field: str, held: Any, label: Label) -> str:
    if is_reference(type(owner), field):
        return ", ".join(map(label, held)) if isinstance(held, tuple) else label(held)
    return _plain(field, held, label)


def _plain(field: str, held: Any, label: Label) -> str:
    if isinstance(held, When | Reading | Limit | Money):
        return held.words()
    if isinstance(held, StoredFile):
        return f"{held.name}, {held.size} bytes, SHA-256 {held.sha256}"
    if isinstance(held, FileFacts):
        return "; ".join(f"{name}: {text}" for name, text in tell(held, label) if name != "text")
    if isinstance(held, Value):
        return "; ".join(_inner(name, text) for name, text in tell(held, label))
    if isinstance(held, bool):
        return "yes" if held else "no"
    if isinstance(held, dict):
        return ", ".join(f"{say(k)} {_plain(k, v, label)}" for k, v in held.items())
    if isinstance(held, tuple):
        separator = "\n" if any(isinstance(v, Value) for v in held) else ", "
        return separator.join(_plain(field, v, label) for v in held)
    return str(held) if field in _AS_THEY_STAND or not isinstance(held, str) else _word(held)


def _inner(name: str, text: str) -> str:
    return text if name in ("text", "code", "column", "topic") else f"{name} {text}"


def _word(text: str) -> str:
    """Words of a closed list lose their underscores; everything else stays as written."""
    return say(text) if text.replace("_", "").replace("-", "").isalpha() and text.islower() else text


def history(versions: Any) -> Iterator[str]:
    """One line for each entry after the first: what was changed, when and why."""
    for version in versions[1:]:
        deed = "withdrawn" if version.action == "withdraw" else "amended"
        yield f"{deed} {version.recorded_at:%Y-%m-%d %H:%M} UTC (entry {version.seq}): {version.reason}"
