"""What the forms share: ruled blanks, the parties, the lines at the head of a form."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from evidence.model.people import Party
from evidence.report.blocks import Block, Facts, Heading, Para, Section
from evidence.report.papers.paper import Paper, PaperInput
from evidence.report.papers.records import vehicle

RULED: Final = "_" * 12
_BLANK = re.compile(rf"{RULED} \(([^()]+)\)")


def ruled(what: str, known: object = None) -> str:
    """What is known, or a ruled blank with what belongs there; ``what`` is in the paper's language."""
    return str(known) if known else f"{RULED} ({what})"


def whom(p: PaperInput, party: Party | None, role: str) -> str:
    """Name, firm and address of a party, with a blank for each that the record lacks."""
    t = p.words
    if party is None:
        return ruled(role)
    firm = party.legal_name or party.firm
    name = party.full_name + (f", {firm}" if firm and firm != party.full_name else "")
    return f"{name}; {ruled(t('address'), p.address_of(party))}"


def matter(p: PaperInput) -> Facts:
    """What the form is about: the lines at its head."""
    t = p.words
    return Facts(((t("Vehicle"), ruled(t("vehicle"), vehicle(p))), (t("Date of this paper"), p.words.day(p.today))))


def form(p: PaperInput, paper_id: str, title: str, content: Iterable[Block]) -> Paper:
    """The form; what stays blank in it is read off its blocks."""
    blocks_ = (matter(p), *content, *place(p))
    told = "\n".join(text for block in blocks_ for text in _texts(block))
    return Paper(
        id=paper_id,
        kicker=p.words.own(p.dossier.title),
        title=title,
        sections=(Section("", blocks_),),
        missing=tuple(dict.fromkeys(_BLANK.findall(told))),
    )


def place(p: PaperInput) -> tuple[Block, ...]:
    """What a person looked up for the place, and on which day the oldest of it; nothing where no place file is used."""
    if p.place is None:
        return ()
    names = ", ".join(p.words(name) for name, _ in p.place.entries)
    oldest = min((e.on for _, e in p.place.entries), default=None)
    entries = f"{names} ({p.words.day(oldest)})" if oldest else "-"
    told = p.words("Rules looked up for {place}: {entries}.").format(place=p.place.name, entries=entries)
    return (Para(told, tone="small"),)


def _texts(block: Block) -> Iterable[str]:
    if isinstance(block, (Para, Heading)):
        yield block.text
    elif isinstance(block, Facts):
        yield from (value for _, value in block.rows)
    else:
        yield from getattr(block, "items", ())
        for row in getattr(block, "rows", ()):
            yield from row.cells
