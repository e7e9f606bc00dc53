"""The same report as one web page: a file by itself, without scripts and without anything fetched, for any browser.

The PDF is the document; the page is for reading on a screen. It carries the same blocks in the same order, figures as SVG.
"""

from __future__ import annotations

import base64
import zlib
from collections.abc import Iterator
from html import escape
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

from evidence.report import blocks, fonts
from evidence.report.given import ReportInput
from evidence.report.outline import outline
from evidence.report.pictures import pictures
from evidence.report.styles import Linker, anchor
from evidence.report.writing import whole_file

_POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


def build_page(given: ReportInput, out: Path) -> int:
    """Write the page to ``out``, whole or not at all; returns its size in bytes. Same input, same bytes."""
    fonts.ready()
    report = outline(given)
    size = 0
    with whole_file(out) as stream:
        for part in _parts(report):
            data = part.encode()
            stream.write(data)
            size += len(data)
    return size


def _parts(report: blocks.Report) -> Iterator[str]:
    link, cover = Linker(report.keys), report.cover
    yield (
        f'<!DOCTYPE html>\n<html lang="{report.language}">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(cover.title)}</title>\n<style>\n{_style()}</style>\n</head>\n<body>\n"
    )
    if cover.mark:
        yield f'<p class="mark">{escape(cover.mark)}</p>\n'
    yield f'<header>\n<p class="kicker">{link.markup(cover.kicker)}</p>\n<h1>{link.markup(cover.title)}</h1>\n'
    if isinstance(cover, blocks.Cover):
        yield f'<p class="subtitle">{link.markup(cover.subtitle)}</p>\n{_facts(cover.facts, link)}'
    titles = [s.title for s in report.sections if s.blocks]
    items = "".join(f'<li><a href="#{_place(t)}">{escape(t)}</a></li>\n' for t in titles)
    yield f'</header>\n<nav aria-label="Contents">\n<ul>\n{items}</ul>\n</nav>\n<main>\n'
    for section in report.sections:
        if section.blocks:
            yield f'<section id="{_place(section.title)}">\n<h2>{escape(section.title)}</h2>\n'
            yield from (_block(b, link) for b in section.blocks)
            yield "</section>\n"
    foot = f"Report of {report.at:%Y-%m-%d %H:%M} UTC{report.zone_note}. The signed PDF is the document; this page is the same for reading."
    yield f'</main>\n<footer><p class="small">{escape(foot)}</p></footer>\n</body>\n</html>\n'


def _style() -> str:
    return (files("evidence.report") / "page.css").read_text("utf-8")


def _place(title: str) -> str:
    return anchor(f"section {title}").replace(" ", "-")


def _block(block: blocks.Block, link: Linker) -> str:
    if isinstance(block, blocks.Heading):
        return f"<h3>{link.markup(block.text)}</h3>\n"
    if isinstance(block, blocks.Para):
        head = f"<strong>{link.markup(block.head)}</strong> " if block.head else ""
        return f'<p class="{block.tone}">{head}{link.markup(block.text)}</p>\n'
    if isinstance(block, blocks.Bullets):
        return "<ul>\n" + "".join(f"<li>{link.markup(i)}</li>\n" for i in block.items) + "</ul>\n"
    if isinstance(block, blocks.Facts):
        return _facts(block.rows, link, key=block.key, faded=block.faded)
    if isinstance(block, blocks.Table):
        return _table(block, link)
    if isinstance(block, blocks.Plate):
        return _plate(block, link)
    if isinstance(block, blocks.Signature):
        return "".join(f'<p class="sign">{escape(name)}</p>\n' for name in block.names)
    return _figure(block)


def _identity(key: str) -> str:
    return f' id="{anchor(key)}"' if key else ""


def _facts(rows: tuple[tuple[str, str], ...], link: Linker, *, key: str = "", faded: bool = False) -> str:
    inner = "".join(f"<dt>{link.markup(n)}</dt><dd>{link.markup(v)}</dd>\n" for n, v in rows)
    return f"<dl{_identity(key)}{' class=faded' if faded else ''}>\n{inner}</dl>\n"


def _table(table: blocks.Table, link: Linker) -> str:
    sides = [c.align for c in table.columns]
    head = "".join(
        f'<th scope="col" class="{side}">{link.markup(c.title)}</th>'
        for c, side in zip(table.columns, sides, strict=True)
    )
    rows = []
    for row in table.rows:
        cells = "".join(f'<td class="{side}">{link.markup(c)}</td>' for c, side in zip(row.cells, sides, strict=True))
        looks = " ".join(name for name, on in (("faded", row.faded), ("strong", row.strong)) if on)
        rows.append(f'<tr{_identity(row.key)} class="{looks}">{cells}</tr>\n')
    return (
        f'<div class="wide"><table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{"".join(rows)}</tbody>\n</table></div>\n'
    )


def _plate(plate: blocks.Plate, link: Linker) -> str:
    file = plate.preview or plate.original
    picture = f"<p class=muted>{escape(plate.reason)}</p>"
    if file is not None:
        data = base64.b64encode(file.read_bytes()).decode()
        picture = f'<img loading="lazy" alt="{escape(plate.alt or plate.title)}" src="data:image/jpeg;base64,{data}">'
    digest = f"<p><code>SHA-256 {escape(plate.digest)}</code></p>" if plate.digest else ""
    return (
        f"<figure{_identity(plate.key)}>{picture}\n<figcaption><strong>{link.markup(plate.title)}</strong>"
        f"{_facts(plate.lines, link)}{digest}</figcaption></figure>\n"
    )


def _figure(block: blocks.Figure) -> str:
    return "".join(
        f'<figure role="img" aria-label="{escape(words)}">{_svg(drawn)}</figure>\n' for drawn, words in pictures(block)
    )


def _svg(drawn: Any) -> str:
    from reportlab.graphics import renderSVG

    text = renderSVG.drawToString(drawn)
    text = text.decode() if isinstance(text, bytes) else text
    text = text[text.index("<svg") :].replace('id="group"', "")
    own = f"clip-{zlib.crc32(text.encode()):08x}"  # the library calls the clip of every picture "clip"
    return text.replace('id="clip"', f'id="{own}"').replace("url(#clip)", f"url(#{own})")
