"""Tables of records: one line a record, withdrawn ones shown as such, and a plain line where there is none."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from evidence.model.base import Record
from evidence.model.dossier import Dossier, Recorded
from evidence.report.blocks import Block, Column, Heading, Para, Row, Table
from evidence.report.words import title

R = TypeVar("R", bound=Record)
Cell = Callable[[Recorded[R]], str]


def records(
    dossier: Dossier,
    cls: type[R],
    columns: Sequence[tuple[Column, Cell[R]]],
    *,
    heading: str = "",
    none: str = "",
    keep: Callable[[Recorded[R]], bool] = lambda _: True,
    target: Callable[[Recorded[R]], bool] = lambda _: True,
) -> tuple[Block, ...]:
    """A table of the records of a kind. The first column is the record's label.

    ``none`` is printed where there is none (empty: nothing is printed, not even the heading); ``target`` says
    whether links to the record lead to this table.
    """
    found = [r for r in dossier.all_of(cls) if keep(r)]
    head: tuple[Block, ...] = (Heading(heading),) if heading else ()
    if not found:
        return (*head, Para(none, tone="muted")) if none else ()
    rows = tuple(
        Row(
            (title(r), *(cell(r) for _, cell in columns)),
            key=r.label if target(r) else "",
            faded=r.withdrawn,
        )
        for r in found
    )
    return (*head, Table((Column("No.", 1.35), *(c for c, _ in columns)), rows))
