"""The blocks of a report as pieces that fill pages: made one after the other, only when a page asks for them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from pathlib import Path

from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, PageBreak, Spacer

from evidence.report import blocks, drawing, flowables, fonts, grids, matrix, register_pictures, styles
from evidence.report.flowables import Text
from evidence.report.pictures import pictures
from evidence.report.plates import PairFlow, PlateFlow
from evidence.report.streaming import read_picture
from evidence.report.styles import Linker
from evidence.report.tags import Element

ITSELF = "Printed from the file itself, byte for byte; it can be taken out of this PDF and hashed."
REDUCED = "Printed from a reduced copy; the hash is that of the original file."


def story(report: blocks.Report, linker: Linker) -> Iterator[Flowable]:
    """Everything from the cover to the last page."""
    if isinstance(report.cover, blocks.Letterhead):
        yield from _letterhead(report.cover, linker)
    else:
        yield from _cover(report.cover, linker, [s.title for s in report.sections if s.blocks])
        yield PageBreak()
    first = True
    for section in report.sections:
        if not section.blocks:
            continue
        if section.new_page and not first:
            yield PageBreak()
        elif not first:
            yield CondPageBreak((56 if section.title else 0) + _room(section.blocks, linker))
        first = False
        place = Element("Sect", None)
        if section.title:
            yield flowables.Anchor(f"section {section.title}", section.title)
            size = "heading" if isinstance(report.cover, blocks.Letterhead) else "section"
            yield _text(linker.markup(section.title), size, Element("H2", place))
        yield from _blocks(section.blocks, linker, report, place)


def _text(markup: str, style: str, element: Element) -> Text:
    return Text(markup, styles.style(style)).within(element)


def _letterhead(head: blocks.Letterhead, linker: Linker) -> Iterator[Flowable]:
    yield flowables.Anchor("section Cover", head.title)
    for lines, gap in ((head.sender, 18), (head.receiver, 18), ((head.day,), 14)):
        if any(lines):
            yield _text(linker.markup("\n".join(filter(None, lines))), "body", Element("P", None))
            yield Spacer(1, gap)
    yield _text(linker.markup(head.kicker), "kicker", Element("P", None))
    yield _text(linker.markup(head.title), "subject", Element("H1", None))


def _cover(cover: blocks.Cover, linker: Linker, titles: list[str]) -> Iterator[Flowable]:
    yield flowables.Anchor("section Cover", cover.words[0])
    yield _text(linker.markup(cover.kicker), "kicker", Element("P", None))
    yield Spacer(1, 6)
    yield _text(linker.markup(cover.title[:300]), "title", Element("H1", None))
    yield _text(linker.markup(cover.subtitle), "subtitle", Element("P", None))
    yield grids.facts(cover.facts, linker)
    yield Spacer(1, 16)
    yield _text(cover.words[1], "heading", Element("H2", None))
    yield flowables.Contents(titles)


def _blocks(items: Sequence[blocks.Block], linker: Linker, report: blocks.Report, place: Element) -> Iterator[Flowable]:
    for index, block in enumerate(items):
        if isinstance(block, blocks.Heading):
            yield CondPageBreak(32 + _room(items[index + 1 :], linker))
            yield _text(linker.markup(block.text), "heading", Element("H3", place))
        elif isinstance(block, blocks.Para):
            yield from _with_signature(block, items[index + 1 : index + 2])
            head = f'<font name="{fonts.BOLD}">{linker.markup(block.head)}</font>&nbsp; ' if block.head else ""
            yield _text(head + linker.markup(block.text), block.tone, Element("P", place))
        elif isinstance(block, blocks.Bullets):
            yield from _bullets(block, linker, place)
        elif isinstance(block, blocks.Facts):
            if block.key:
                yield flowables.Anchor(block.key)
            yield grids.facts(block.rows, linker, place, faded=block.faded)
        elif isinstance(block, blocks.Table):
            yield grids.table(block, linker, report.keys.__contains__, place)
        elif isinstance(block, blocks.Plate):
            yield from _plates(items, index, linker, place)
        elif isinstance(block, blocks.Signature):
            yield KeepTogether([flowables.SignatureLines(block.names, place)])
        else:
            yield from _figures(block, place)


def _with_signature(block: blocks.Para, following: Sequence[blocks.Block]) -> Iterator[Flowable]:
    """Nobody signs a page on which nothing stands: the paragraph before the lines to sign on goes with them."""
    if following and isinstance(following[0], blocks.Signature):
        yield CondPageBreak(60 + 13 * len(block.text) / 90 + 34 * len(following[0].names))


def _bullets(block: blocks.Bullets, linker: Linker, place: Element) -> Iterator[Flowable]:
    whole = Element("L", place)
    for text in block.items:
        item = Element("LI", whole)
        made = Text(linker.markup(text), styles.style("bullet"), bulletText=block.mark)
        yield made.within(Element("LBody", item), label=Element("Lbl", item))


def _plates(items: Sequence[blocks.Block], index: int, linker: Linker, place: Element) -> Iterator[Flowable]:
    """The plate at ``index``; of small ones each pair at its first, and nothing at its second."""
    block = items[index]
    assert isinstance(block, blocks.Plate)
    if not block.small:
        yield _plate(block, linker, place)
        return
    start = index
    while start and _is_small(items[start - 1]):
        start -= 1
    if (index - start) % 2 == 0:
        pair = [p for p in items[index : index + 2] if isinstance(p, blocks.Plate) and p.small]
        yield PairFlow([_plate(p, linker, place) for p in pair])


def _is_small(block: blocks.Block) -> bool:
    return isinstance(block, blocks.Plate) and block.small


def _room(following: Sequence[blocks.Block], linker: Linker) -> float:
    """How much of what comes next must stand on the same page as the heading above it."""
    if not following:
        return 0
    first = following[0]
    if isinstance(first, blocks.Heading):
        return 32 + _room(following[1:], linker)
    if isinstance(first, blocks.Plot):
        return drawing.plot_height(min(len(first.panels), drawing.PANELS_A_PICTURE), marked=True)
    if isinstance(first, blocks.Matrix):
        return matrix.height(min(len(first.rows), matrix.ROWS_A_PICTURE))
    if isinstance(first, blocks.RegisterPicture):
        return register_pictures.height(first.what)
    if isinstance(first, blocks.Table):
        return grids.start_height(first, linker)
    if isinstance(first, blocks.Facts):
        return grids.start_height(first, linker)
    if isinstance(first, blocks.Plate):
        return styles.HEIGHT / 2 - 40
    if isinstance(first, blocks.Para):
        high = 20 + 13 * min(len(first.text) / 90, 6)
        introduces = not first.text or first.tone == "small"  # such a line never parts from what it speaks of
        return high + (_room(following[1:2], linker) if introduces else 0)
    return 40


def _figures(block: blocks.Figure, place: Element) -> Iterator[Flowable]:
    for picture, words in pictures(block):
        yield flowables.Figure(picture, Element("Figure", place, alt=words))
        yield Spacer(1, 10 if isinstance(block, blocks.Timeline) else 8)


def _plate(block: blocks.Plate, linker: Linker, place: Element) -> PlateFlow:
    if block.original and (picture := read_picture(block.original)) and _is(block.original, block.digest):
        return PlateFlow(block, picture, linker, ITSELF, place)
    picture = read_picture(block.preview) if block.preview else None
    return PlateFlow(block, picture, linker, REDUCED if picture else "", place)


def _is(path: Path, digest: str) -> bool:
    with path.open("rb") as source:
        return hashlib.file_digest(source, "sha256").hexdigest() == digest
