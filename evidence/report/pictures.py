"""Figures drawn: as many pictures as a block needs, each with its words for who cannot see it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from evidence.report import blocks, describing, drawing, matrix, register_pictures
from evidence.report.styles import WIDTH


def pictures(block: blocks.Figure) -> Iterator[tuple[Any, str]]:
    """Drawings as wide as the text of a page, in order."""
    if isinstance(block, blocks.Matrix):
        for start in range(0, len(block.rows), matrix.ROWS_A_PICTURE):
            part = replace(block, rows=block.rows[start : start + matrix.ROWS_A_PICTURE])
            yield matrix.matrix(part, WIDTH), describing.matrix_words(part)
    elif isinstance(block, blocks.Plot):
        for start in range(0, len(block.panels), drawing.PANELS_A_PICTURE):
            plot = replace(block, panels=block.panels[start : start + drawing.PANELS_A_PICTURE])
            yield drawing.waveform(plot, WIDTH), describing.plot_words(plot)
    elif isinstance(block, blocks.RegisterPicture):
        yield register_pictures.drawn(block.what, WIDTH)
    else:
        spans = [h.span for h in block.happenings]
        lanes = list(dict.fromkeys(h.lane for h in block.happenings))
        for start in range(0, len(block.happenings), drawing.ROWS_A_PICTURE):
            some = block.happenings[start : start + drawing.ROWS_A_PICTURE]
            yield drawing.timeline(some, WIDTH, spans, lanes), describing.timeline_words(some)
