"""From the validator's errors to mistakes that a technician understands, each with its place and what would be right."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Sequence
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from evidence.errors import Mistake

Path = tuple[str | int, ...]
Locate = Callable[[Path], tuple[int, int]]


def nowhere(_path: Path) -> tuple[int, int]:
    """For input that has no lines, such as options of a command."""
    return (0, 0)


def mistakes_of(
    err: ValidationError, cls: type[BaseModel], *, file: str, item: str, locate: Locate = nowhere
) -> list[Mistake]:
    """One :class:`Mistake` for each thing wrong; ``locate`` maps a path inside the record to line and column."""
    found: list[Mistake] = []
    for problem in err.errors(include_url=False, include_context=True):
        path = _path(problem["loc"], unknown=problem["type"] == "extra_forbidden")
        message, right = _words(problem, cls, path)
        line, column = locate(path)
        where = ".".join(str(p + 1) if isinstance(p, int) else p for p in path)
        found.append(Mistake(file, line, column, f"{item}, {where}" if where else item, message, right))
    return found


def _path(loc: Path, *, unknown: bool) -> Path:
    """``loc`` as the author knows it; a field that nobody knows is his own word, whatever it looks like."""
    kept = loc[-1:] if unknown else ()
    return (*(p for p in loc[: len(loc) - len(kept)] if not _is_branch(p)), *kept)


def _is_branch(part: str | int) -> bool:
    """Union and function tags that the validator puts into the path and no author ever wrote."""
    return isinstance(part, str) and (
        "[" in part or part in {"str", "int", "bool", "function-after", "function-before"}
    )


def _words(problem: Any, cls: type[BaseModel], path: Path) -> tuple[str, str]:
    kind, given, ctx = problem["type"], problem.get("input"), problem.get("ctx", {})
    if kind == "missing":
        return f"{path[-1]!r} is missing", f"add a line '{path[-1]}: …'"
    if kind == "extra_forbidden":
        known = _fields_at(cls, path[:-1])
        return f"{path[-1]!r} is not a field here", _closest(str(path[-1]), known)
    if kind == "literal_error":
        words = [w.strip(" '") for w in str(ctx.get("expected", "")).replace(" or ", ", ").split(",")]
        return f"{given!r} is not one of the words for this", _closest(str(given), words)
    if kind == "value_error":
        message, _, right = str(ctx.get("error", problem["msg"])).partition("; ")
        return message, right
    if kind in ("tuple_type", "list_type"):
        return "is not a list", "write one item a line, each with '- ' in front"
    if kind in ("dict_type", "model_type", "model_attributes_type"):
        return f"{str(given)[:40]!r} is not a group of fields", "write 'field: value' lines under it"
    if kind.startswith("date_"):
        return f"{str(given)[:40]!r} is not a day", "write it such as 2026-06-30"
    if kind in ("bool_parsing", "bool_type"):
        return f"{given!r} is neither yes nor no", "write yes or no"
    if kind.startswith("int_"):
        return f"{given!r} is not a whole number", "write a count such as 4"
    if kind == "string_type":
        return "is not a text", "write the text on the same line"
    if kind in ("string_too_long", "too_long"):
        return (
            f"is longer than {ctx.get('max_length')} characters",
            "shorten it, or put the long text into a file and exhibit it",
        )
    return str(problem["msg"])[:1].lower() + str(problem["msg"])[1:], ""


def _closest(word: str, known: Sequence[str]) -> str:
    close = difflib.get_close_matches(word, known, n=1, cutoff=0.5)
    if close:
        return f"did you mean {close[0]!r}?"
    return "one of: " + ", ".join(known) if len(known) <= 40 else ""


def _fields_at(cls: type[BaseModel], path: Path) -> list[str]:
    """Fields that a person may write in the model that sits at ``path`` inside ``cls``."""
    here: type[BaseModel] | None = cls
    for part in path:
        if here is None:
            return []
        if isinstance(part, str) and part in here.model_fields:
            here = _model_in(here.model_fields[part].annotation)
    filled_in: frozenset[str] = getattr(here, "filled_in", frozenset())
    fields = here.model_fields.items() if here else ()
    return [field.alias or name for name, field in fields if name == "file" or name not in filled_in]


def _model_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type):
        return annotation if issubclass(annotation, BaseModel) else None
    for inner in get_args(annotation):
        if found := _model_in(inner):
            return found
    return None
