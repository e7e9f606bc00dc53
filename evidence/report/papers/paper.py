"""A paper: a form or a letter filled from the record, as a page to sign or as plain text. Nothing in it is invented.

What the record does not hold is printed as a ruled blank that says what belongs there.
"""

from __future__ import annotations

import datetime as dt
import gettext
import textwrap
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Final, Literal

from evidence.claim.course import Course
from evidence.claim.due import Due
from evidence.claim.loss.statement import LossStatement
from evidence.claim.place import PlaceRules
from evidence.model.dossier import Dossier
from evidence.model.people import Party, Role
from evidence.model.vehicle import Vehicle
from evidence.report import blocks
from evidence.report.blocks import Block, Facts, Para
from evidence.rules.assessment import Assessment, Candidate

LANGUAGES: Final = ("en", "es")
RULED: Final = "_" * 14
_LOCALES = Path(__file__).parent / "locales"
_COLUMNS = 72  # of a paper as text


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperInput:
    """What a paper is filled from. ``original`` and ``preview`` lead from a SHA-256 to a file."""

    dossier: Dossier
    assessment: Assessment
    today: dt.date
    loss: LossStatement | None = None
    course: Course | None = None
    dues: tuple[Due, ...] = ()
    place: PlaceRules | None = None
    language: str = "en"
    original: Callable[[str], Path | None] = lambda _digest: None
    preview: Callable[[str], Path | None] = lambda _digest: None
    page: Callable[[str, int], Path | str] = lambda _digest, _page: (
        ""
    )  # of a PDF file: its picture, or why there is none
    programs: Mapping[str, str] = field(default_factory=dict)  # name -> version
    root_hex: str = ""  # of the ledger
    recheck: tuple[str, ...] = ()  # what a recheck of ledger and files said; empty: none was made for this paper

    def party(self, *roles: Role) -> Party | None:
        """The first party with the first of these roles that anybody has."""
        parties = [p.value for p in self.dossier.of(Party)]
        return next((p for role in roles for p in parties if role in p.roles), None)

    @property
    def vehicle(self) -> Vehicle | None:
        """The vehicle in the matter."""
        return next((v.value for v in self.dossier.of(Vehicle)), None)

    @property
    def leading(self) -> Candidate | None:
        """The explanation that the record supports best, where it supports it."""
        first = next(iter(self.assessment.candidates), None)
        return first if first and first.weight.side == "mechanism" else None

    def date(self, day: dt.date) -> str:
        """A day as the paper's language writes it."""
        from babel.dates import format_date

        return str(format_date(day, "long", locale=self.language))

    def money(self, amount: Decimal, currency: str) -> str:
        """A sum as the paper's language writes it; the currency by its ISO 4217 code."""
        from babel.numbers import format_currency

        return str(format_currency(amount, currency, "#,##0.00 ¤¤", locale=self.language)).replace("\xa0", " ")


@dataclass(frozen=True, slots=True)
class Paper:
    """Title and content; the caution stands at the end."""

    id: str
    title: str
    blocks: tuple[Block, ...]
    demonstration: bool = False


@dataclass(frozen=True, slots=True)
class Kind:
    """A sort of paper: for whom it is, how it is made, and what the record should hold for it."""

    title: str
    whom: Literal["shop", "owner", "adjuster"]
    make: Callable[[PaperInput], Paper]
    needs: str


@cache
def _catalogue(language: str) -> gettext.NullTranslations:
    return gettext.translation("filing", _LOCALES, [language], fallback=language == "en")


def tongue(language: str) -> Callable[[str], str]:
    """Messages in a language of :data:`LANGUAGES`; others raise ``ValueError``."""
    if language not in LANGUAGES:
        raise ValueError(f"there is no paper in {language!r}; there are: {', '.join(LANGUAGES)}")
    return _catalogue(language).gettext


def blank(what: str, known: object = None) -> str:
    """What is known, or a ruled blank with what belongs there."""
    return str(known) if known else f"{RULED} ({what})"


def whom(p: PaperInput, party: Party | None, role: str) -> str:
    """Name, firm and address of a party with a blank for each that the record lacks."""
    _ = tongue(p.language)
    if party is None:
        return blank(role)
    name = party.full_name + (f", {party.legal_name or party.firm}" if party.legal_name or party.firm else "")
    return f"{name}; {blank(_('address'), party.address)}"


def matter(p: PaperInput) -> Facts:
    """What the paper is about: the lines at its head."""
    _ = tongue(p.language)
    v = p.vehicle
    rows = [
        (_("Matter"), p.dossier.title),
        (_("Vehicle"), blank(_("vehicle"), v and v.description)),
        (_("VIN"), blank(_("vehicle identification number"), v and v.vin)),
        (_("Plate"), blank(_("number plate"), v and v.plate)),
        (_("Date of this paper"), p.date(p.today)),
    ]
    return Facts(tuple(rows))


def finished(p: PaperInput, paper_id: str, title: str, content: Iterable[Block]) -> Paper:
    """The paper with its head and with the caution that ends every one."""
    _ = tongue(p.language)
    where = _("No place file is used here.")
    if p.place:
        where = _("Rules looked up for {place}: {entries}.").format(
            place=p.place.name, entries="; ".join(f"{n}: {e.age_words(p.today)}" for n, e in p.place.entries) or "-"
        )
    caution = _(
        "This paper is no legal advice. Ask the clerk of the court, a consumer office or a lawyer of the place which rules, "
        "forms and dates hold there. It was filled from the record; a line left blank is not in the record."
    )
    ending = Para(f"{caution} {where}", head=_("Caution."), tone="small")
    shown = bool(p.dossier.opening.demonstration)
    return Paper(paper_id, title, (matter(p), *content, ending), shown)


def as_report(p: PaperInput, paper: Paper) -> blocks.Report:
    """The paper as the printer takes it."""
    _ = tongue(p.language)
    mark = _("DEMONSTRATION: everything invented") if paper.demonstration else ""
    author = p.party("present_repairer", "technician")
    at = dt.datetime.combine(p.today, dt.time(), dt.UTC)
    return blocks.Report(
        cover=blocks.Cover(p.dossier.title, paper.title, "", (), mark),
        sections=(blocks.Section(paper.title, paper.blocks),),
        keys=frozenset(),
        author=(author.firm or author.full_name) if author else _("not stated"),
        at=at,
    )


def as_text(paper: Paper) -> str:
    """The paper as plain text, 72 columns wide."""
    lines = [paper.title.upper(), ""]
    for block in paper.blocks:
        lines += [*_told(block), ""]
    return "\n".join(lines).rstrip() + "\n"


def _told(block: Block) -> list[str]:
    if isinstance(block, blocks.Heading):
        return [block.text, "-" * min(len(block.text), _COLUMNS)]
    if isinstance(block, blocks.Para):
        return _wrapped(f"{block.head} {block.text}".strip())
    if isinstance(block, blocks.Bullets):
        return [line for item in block.items for line in _wrapped(item, f"{block.mark} ")]
    if isinstance(block, blocks.Facts):
        return [line for name, value in block.rows for line in _wrapped(f"{name}: {value}", "", "    ")]
    if isinstance(block, blocks.Table):
        heads = [c.title for c in block.columns]
        return [line for row in block.rows for line in _row(heads, row.cells)]
    if isinstance(block, blocks.Signature):
        return [f"{name}: {'_' * max(12, _COLUMNS - len(name) - 2)}" for name in block.names]
    return []


def _row(heads: list[str], cells: tuple[str, ...]) -> list[str]:
    told = [f"{h}: {c}" if h else c for h, c in zip(heads, cells, strict=True) if c]
    return _wrapped("; ".join(" ".join(t.split()) for t in told), "* ")


def _wrapped(text: str, first: str = "", later: str | None = None) -> list[str]:
    found: list[str] = []
    for part in text.split("\n"):
        found += textwrap.wrap(
            part,
            _COLUMNS,
            initial_indent=first,
            subsequent_indent=" " * len(first) if later is None else later,
            break_long_words=False,
            break_on_hyphens=False,
        )
    return found
