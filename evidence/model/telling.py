"""A record as a person reads it: field names in words, references by number, values with their units."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from typing import Any

from evidence.model.base import Json, Value, say, shorten
from evidence.model.copies import Operation
from evidence.model.dossier import Version
from evidence.model.exhibit import FileFacts, StoredFile
from evidence.model.quantity import Limit, Money, Reading
from evidence.model.references import kinds_named
from evidence.model.waveform import Feature, TraceReading
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
    if kinds_named(type(owner), field) is not None:
        return ", ".join(map(label, held)) if isinstance(held, tuple) else label(held)
    return _plain(field, held, label)


def _plain(field: str, held: Any, label: Label) -> str:
    if isinstance(held, Limit):
        return f"{held.words()}; {held.source_words()}"
    if isinstance(held, When | Reading | Money):
        return held.words()
    if isinstance(held, Feature | TraceReading):
        return held.words()
    if isinstance(held, Operation):
        return held.said()
    if isinstance(held, StoredFile):
        return f"{held.name}, {held.size} bytes, SHA-256 {held.sha256}"
    if isinstance(held, FileFacts):
        told = [f"{name}: {text}" for name, text in tell(held, label) if name != "text"]
        return "; ".join([*told, f"text of {len(held.text):,} characters, part of the record"] if held.text else told)
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


def history(versions: Sequence[Version]) -> Iterator[str]:
    """One line for each entry: when, and for a change what was changed from what, and why."""
    for before, version in pairwise((None, *versions)):
        at = f"{version.recorded_at:%Y-%m-%d %H:%M} UTC (entry {version.seq})" if version else ""
        if version is None:
            continue
        if before is None:
            yield f"recorded {at}, {version.via}"
        elif version.action == "withdraw":
            yield f"withdrawn {at}: {version.reason}"
        else:
            yield f"amended {at}: {version.reason} [{', '.join(_changes(before.body, version.body))}]"


def _changes(old: Json, new: Json) -> Iterator[str]:
    for field in sorted({*old, *new} - {"read"}):
        if old.get(field) != new.get(field):
            was, now = (_brief(body.get(field)) for body in (old, new))
            yield f"{say(field)}: {was} → {now}"


def _brief(value: Any) -> str:
    if value is None:
        return "not stated"
    if isinstance(value, dict):
        return str(value.get("given") or " ".join(str(v) for v in value.values() if not isinstance(v, dict | list)))
    return shorten(str(value), 60) if not isinstance(value, list) else f"{len(value)} items"
