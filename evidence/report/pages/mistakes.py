"""The mistakes that the record shows: where each was made, why it weighs, how it is mended, and the reason given for it."""

from __future__ import annotations

from itertools import groupby
from operator import attrgetter

from evidence.claim.mistakes.made import mistakes as made_in
from evidence.report.blocks import Block, Column, Para, Row, Section, Table
from evidence.report.given import ReportInput
from evidence.report.phrasing import joined
from evidence.rules.mistakes import MISTAKES

_COLUMNS = (
    Column("Mistake", 2),
    Column("Where it was made, and the reason given", 4.4),
    Column("Why it weighs, and how it is mended", 3.6),
)
_NONE = "Of the {} mistakes that are looked for, the record shows none. What was never recorded cannot be seen here."
_SOME = (
    "What the other side will find anyway stands here first. Each line names the record, with the reason given when it was "
    "recorded, if one was. {} mistakes are looked for; what was never recorded cannot be seen here."
)


def mistakes(given: ReportInput) -> Section:
    """One row for each kind of mistake, with every record where it was made."""
    found = made_in(given.dossier, given.assessment)
    rows = []
    for _code, group in groupby(found, key=attrgetter("code")):
        made = tuple(group)
        kind = made[0].kind
        where = [joined([m.words, f"Reason given: {m.despite}" if m.despite else None], "\n") for m in made]
        rows.append(Row((kind.words, "\n".join(where), f"{kind.why}\n{kind.mending()}")))
    blocks: list[Block] = [Para((_SOME if rows else _NONE).format(len(MISTAKES)), tone="muted")]
    if rows:
        blocks.append(Table(_COLUMNS, tuple(rows)))
    return Section("Mistakes on record", tuple(blocks))
