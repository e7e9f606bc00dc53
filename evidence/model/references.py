"""Where a record points to: every reference in a value, with its path and the kinds it may point to."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any, get_args

from pydantic import AfterValidator, BaseModel

from evidence.model.base import Record, Ref, Value


def references(record: Record) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """Yield (path, subject, kinds allowed; none means any) for each reference in ``record``."""
    yield from _in_value(record, "")


def kinds_named(cls: type[BaseModel], field: str) -> tuple[str, ...] | None:
    """The kinds of record that ``field`` of ``cls`` may name (none: any kind); None if it names none at all."""
    return dict(_fields(cls)).get(field)


def _in_value(value: Value, path: str) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    for name, kinds in _fields(type(value)):
        held = getattr(value, name)
        if held is None:
            continue
        items = enumerate(held) if isinstance(held, tuple) else [(None, held)]
        for index, item in items:
            here = f"{path}{name}" + ("" if index is None else f".{index}")
            if isinstance(item, Value):
                yield from _in_value(item, here + ".")
            elif kinds is not None:
                yield here, item, kinds


@cache
def _fields(cls: type[BaseModel]) -> tuple[tuple[str, tuple[str, ...] | None], ...]:
    """The fields of ``cls`` that are references (their kinds) or hold values (None)."""
    found: list[tuple[str, tuple[str, ...] | None]] = []
    for name, field in cls.model_fields.items():
        ref = _ref_in([*field.metadata, field.annotation])
        if ref is not None:
            found.append((name, ref.kinds))
        elif _holds_value(field.annotation):
            found.append((name, None))
    return tuple(found)


def _ref_in(parts: list[Any]) -> Ref | None:
    for part in parts:
        if isinstance(part, AfterValidator) and isinstance(part.func, Ref):
            return part.func
        metadata = getattr(part, "__metadata__", ())
        if found := _ref_in([*metadata, *get_args(part)] if metadata or get_args(part) else []):
            return found
    return None


def _holds_value(annotation: Any) -> bool:
    if isinstance(annotation, type):
        return issubclass(annotation, Value)
    return any(_holds_value(a) for a in get_args(annotation))
