"""Texts too long for a table cell: the cell keeps their beginning, the whole stands in a part of its own."""

from __future__ import annotations

from dataclasses import replace

from evidence.report.blocks import Block, Facts, Heading, Para, Row, Section, Table

CELL_MOST = 1200  # characters that a cell may hold
_TITLE = "Long texts in full"


def moved_out(sections: tuple[Section, ...]) -> tuple[Section, ...]:
    """The sections with long cells cut, followed by a section with the whole texts where there are any."""
    texts: list[Block] = []

    def cut(text: str, place: str) -> str:
        if len(text) <= CELL_MOST:
            return text
        texts.append(Heading(place))
        texts.extend(Para(line) for line in text.split("\n") if line.strip())
        return f"{text[:CELL_MOST].rstrip()} … (whole text under {_TITLE})"

    def shortened(block: Block, section: str) -> Block:
        if isinstance(block, Facts):
            place = block.key or section
            return replace(
                block, rows=tuple((name, cut(value, f"{place}, {name.lower()}")) for name, value in block.rows)
            )
        if isinstance(block, Table):
            titles = [column.title.lower() for column in block.columns]
            return replace(block, rows=tuple(_row(row, titles, section) for row in block.rows))
        return block

    def _row(row: Row, titles: list[str], section: str) -> Row:
        place = row.key or row.cells[0].split("\n")[0] or section
        cells = (cut(cell, f"{place}, {title}") for cell, title in zip(row.cells, titles, strict=True))
        return replace(row, cells=tuple(cells))

    done = tuple(replace(s, blocks=tuple(shortened(b, s.title) for b in s.blocks)) for s in sections)
    return (*done, Section(_TITLE, tuple(texts), new_page=True)) if texts else done
