"""The JSON Schema (2020-12) of a dossier file, made from the models that validate it."""

from __future__ import annotations

from evidence.errors import NotFound
from evidence.model.base import Json, nearest
from evidence.model.exhibit import Exhibit
from evidence.model.happening import DossierOpening
from evidence.model.kinds import KINDS, SECTIONS

DIALECT = "https://json-schema.org/draft/2020-12/schema"
_SHORT = {
    "When": "a time such as 2026-03-02 14:30, or two with ' / ' between",
    "Reading": "value and unit, such as 12.60 V",
    "Distance": "distance and unit, such as 48210 km",
    "Limit": "a limit such as > 0.2 V, or 130 .. 150 psi",
    "Beside": "a line and why both stand, such as hire-van: only the days before it",
    "Despite": "a mistake and its reason, such as no_notice: the owner could not wait",
    "Skipped": "a stage and why, such as inspection: they declined in writing",
    "Money": "amount and currency, such as 840.00 EUR",
}


def schema_of(kind: str = "") -> Json:
    """Schema of the whole file, or of one kind of record."""
    if kind:
        name = kind.replace("-", "_")
        if name not in KINDS:
            raise NotFound(f"no such kind of record{nearest(name, KINDS)}", item=kind)
        return {"$schema": DIALECT, **_closed(KINDS[name].model_json_schema(), own=True)}
    definitions: Json = {}
    sections: Json = {}
    for section, cls in SECTIONS.items():
        made = cls.model_json_schema(ref_template="#/$defs/{model}")
        definitions |= made.pop("$defs", {})
        if cls is Exhibit:
            made["properties"] = {"file": {"type": "string", "description": "path inside the folder"}} | {
                k: v for k, v in made["properties"].items() if k not in ("file", "read")
            }
        made["required"] = sorted({*made.get("required", []), "name"})
        definitions[cls.__name__] = made
        sections[section] = {"type": "array", "items": {"$ref": f"#/$defs/{cls.__name__}"}}
    opening = DossierOpening.model_json_schema(ref_template="#/$defs/{model}")
    definitions |= opening.pop("$defs", {})
    properties = {
        "format": {"const": "1", "description": "of this file"},
        "dossier": {"type": "string", "description": "short name of the dossier"},
        "recorder": {"type": "string", "description": "short name of the party who records"},
        **{k: v for k, v in opening["properties"].items() if k != "name" and k not in DossierOpening.filled_in},
        **sections,
    }
    whole: Json = {
        "title": "dossier.yaml", "type": "object", "properties": properties, "required": ["dossier", "title"],
        "$defs": definitions,
    }  # fmt: skip
    return {"$schema": DIALECT, **_closed(whole, own=True)}


def _closed(node: Json, *, own: bool = False) -> Json:
    """No unknown fields; numbers and counts are read as text as well; values may be written short."""
    for name, definition in node.get("$defs", {}).items():
        node["$defs"][name] = _short(name, _closed(definition))
    if own or "properties" in node:
        node["additionalProperties"] = False
    return node


def _short(name: str, definition: Json) -> Json:
    if name not in _SHORT:
        return definition
    return {"anyOf": [{"type": "string", "description": _SHORT[name]}, definition]}
