"""What a paper is made of, and how it becomes a PDF or plain text. A blank stands wherever the record has nothing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Final

from evidence.claim.course import Course
from evidence.claim.due import Due
from evidence.claim.loss.statement import LossStatement
from evidence.claim.place import PlaceRules
from evidence.model.base import say
from evidence.model.course import Stage
from evidence.model.dossier import Dossier, Recorded
from evidence.model.exhibit import Exhibit
from evidence.model.happening import DossierOpening
from evidence.model.people import Party, Role
from evidence.model.repair import WorkOrder
from evidence.model.vehicle import Vehicle
from evidence.report import blocks
from evidence.report.papers.language import Words
from evidence.report.writing import Sink
from evidence.review.challenge import Challenge
from evidence.rules.assessment import Assessment, Candidate

EMPTY: Final = "\u00a0\n\u00a0"  # a cell of two lines, to be written in by hand
_RULE: Final = "____________"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rechecked:
    """What a recheck of a dossier's ledger and files found; ``size`` in bytes, ``head`` and ``faults`` in its own words."""

    entries: int
    files: int
    size: int
    head: str
    faults: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class PaperInput:
    """Everything that a paper is filled from. ``original`` and ``preview`` find an exhibit's file by its SHA-256."""

    dossier: Dossier
    assessment: Assessment
    loss: LossStatement | None
    course: Course | None
    dues: tuple[Due, ...] = ()
    place: PlaceRules | None = None
    language: str = "en"
    today: dt.date
    answer_by: dt.date | None = None  # the day that the writer sets for an answer
    challenges: tuple[Challenge, ...] = ()  # weaknesses of the record, worst first
    original: Callable[[str], Path] | None = field(default=None, compare=False)
    preview: Callable[[str], Path | None] | None = field(default=None, compare=False)
    page: Callable[[str, int], Path | str] | None = field(
        default=None, compare=False
    )  # of a PDF: a picture, or why none
    programs: Mapping[str, str] = field(default_factory=dict)  # name -> version
    root_hex: str = ""  # of the ledger
    recheck: Rechecked | None = None  # what a recheck of ledger and files said; none was made for most papers
    titles: Mapping[str, str] = field(default_factory=dict)  # component -> as the vocabulary prints it

    @cached_property
    def words(self) -> Words:
        """The language to speak."""
        return Words(self.language)

    @cached_property
    def opening(self) -> DossierOpening | None:
        """The record that says what the matter is."""
        found = next(iter(self.dossier.of(DossierOpening)), None)
        return found.value if found else None

    @cached_property
    def leading(self) -> Candidate | None:
        """The explanation that the findings speak for; ``None`` where they speak for none."""
        return next((c for c in self.assessment.candidates if c.weight.side == "mechanism"), None)

    @cached_property
    def argued(self) -> Candidate | None:
        """The leading explanation; where there is none, the one on which the record says most."""
        return next(iter(self.assessment.leading), None)

    @cached_property
    def prior(self) -> WorkOrder | None:
        """The earlier work order in question: the last of those that call up the leading explanation, else the last."""
        orders = [o for o in self.dossier.of(WorkOrder) if o.value.side == "prior_repairer"]
        named = {x for p in self.leading.why for x in p.records} if self.leading else set()
        calling = [o for o in orders if o.label in named] or orders
        return calling[-1].value if calling else None

    @cached_property
    def vehicle(self) -> Vehicle | None:
        """The vehicle."""
        found = next(iter(self.dossier.of(Vehicle)), None)
        return found.value if found else None

    def party(self, role: Role) -> Party | None:
        """The first party with a role."""
        return next((p.value for p in self.dossier.of(Party) if role in p.value.roles), None)

    @cached_property
    def receiver(self) -> Party | None:
        """The one whose earlier work is in question."""
        found = self.dossier.get(self.prior.repairer) if self.prior else None
        return found.value if found and isinstance(found.value, Party) else self.party("prior_repairer")

    @cached_property
    def zone(self) -> str:
        """Where times without a zone were read; empty where nobody said."""
        return (self.opening and self.opening.zone) or ""

    def part(self, component: str) -> str:
        """A component in the paper's language."""
        return self.words.term(self.titles.get(component) or say(component))

    def address_of(self, party: Party | None) -> str:
        """The address of a party, or that of the firm that he belongs to."""
        if party is None or party.address or not party.firm:
            return (party and party.address) or ""
        firms = (p.value for p in self.dossier.of(Party) if party.firm in (p.value.full_name, p.value.legal_name))
        return next((f.address for f in firms if f.address), "")

    def exhibit(self, subject: str) -> Recorded[Exhibit] | None:
        """An exhibit by its subject."""
        found = self.dossier.get(subject)
        return found if found and isinstance(found.value, Exhibit) else None  # type: ignore[return-value]


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """One paper, ready to print. ``missing`` says what of it stays blank, ``notes`` what its writer should know first."""

    id: str
    kicker: str
    title: str
    sender: tuple[str, ...] = ()
    receiver: tuple[str, ...] = ()
    day: str = ""
    sections: tuple[blocks.Section, ...]
    missing: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()  # never printed
    between: tuple[Party | None, Party | None] = (None, None)  # of a letter: sender and receiver


@dataclass(frozen=True, slots=True)
class Kind:
    """A sort of paper: its name and for whom it is, and what makes it. ``missing``: what the record should hold first.

    ``about``: as what it is recorded when it has been sent; empty for a form. ``stage``: the step of the course that
    sending it is, where it is one.
    """

    title: str
    whose: str  # shop, owner, adjuster
    make: Callable[[PaperInput], Paper]
    missing: Callable[[PaperInput], tuple[str, ...]] = lambda _given: ()
    about: tuple[str, ...] = ()
    stage: Stage | None = None


class Blanks:
    """Collects what stays blank while a paper is written."""

    def __init__(self, words: Words) -> None:
        self._words = words
        self.missing: list[str] = []

    def __call__(self, value: object, what: str) -> str:
        """The value, or a ruled blank that says what belongs there; ``what`` is a message."""
        if value:
            return str(value)
        told = self._words(what)
        if told not in self.missing:
            self.missing.append(told)
        return f"{_RULE} ({told})"


def caution(given: PaperInput) -> blocks.Section:
    """What every paper ends with: whose words are quoted, and that it is no legal advice."""
    t = given.words
    quoted = t("Words in quotation marks stand as they were recorded, in the language in which they were written.")
    text = t(
        "This paper was filled in from a record by a program. It is no legal advice. Rules, limits and dates differ from place "
        "to place: ask a court office, a consumer advice office or a lawyer where you live before you rely on it."
    )
    first = () if given.language == "en" else (blocks.Para(quoted, tone="small"),)
    return blocks.Section("", (*first, blocks.Para(text, tone="small")))


def as_pdf(given: PaperInput, paper: Paper, out: Sink) -> int:
    """Print a paper into ``out``; returns how many pages it has. Same input, same bytes."""
    from evidence.report.pdf import print_report

    t = given.words
    mark = t("Demonstration data") if given.opening and given.opening.demonstration else ""
    head = blocks.Letterhead(
        kicker=paper.kicker, title=paper.title, sender=paper.sender, receiver=paper.receiver, day=paper.day, mark=mark
    )
    report = blocks.Report(
        cover=head, sections=(*paper.sections, caution(given)), keys=frozenset(), author=(paper.sender or ("",))[0],
        at=dt.datetime.combine(given.today, dt.time(), dt.UTC), foot=t("%(title)s, %(day)s", title=paper.kicker, day=t.day(given.today)),
        page_words=t("Page {number} of {pages}"), language=given.language,
    )  # fmt: skip
    return print_report(report, out)
