"""The comeback register on paper: its tables as a report, and the reassembly check cards, as PDF and as plain text."""

from __future__ import annotations

import datetime as dt
import textwrap
from collections.abc import Callable, Iterator, Sequence

from evidence.model.base import say
from evidence.register.cards import CheckCard
from evidence.register.views import View, money
from evidence.report.blocks import (
    Block,
    Bullets,
    Column,
    Cover,
    Facts,
    Para,
    RegisterPicture,
    Report,
    Row,
    Section,
    Signature,
    Table,
)
from evidence.report.phrasing import first_up, sentence

BOX = "☐"
FIRST = (
    "The maker's procedure goes before this card; work on restraints, high voltage, fuel, refrigerant and brakes belongs to who is "
    "qualified for it."
)
CARE = (
    "Counted from what was recorded and imported; what was never recorded is in no figure. A rate says how often work came back, not "
    "why, and nothing here says who is liable. No legal advice."
)
SIGNED = (
    "of this shop, inside the file (PAdES): it shows that the file is as it was printed, not that the figures are right"
)
_NUMBERS = frozenset({"Orders", "Came back", "Comebacks", "Watched at the last step"})


def register_report(
    views: Sequence[View], counted: Sequence[str], firm: str, at: dt.datetime, as_of: dt.date, unsigned: str = ""
) -> Report:
    """The register as of a day; ``counted`` says what is in it and what is not, one sentence each.

    ``unsigned`` says why the file bears no signature.
    """
    signed = f"none: {unsigned}" if unsigned else SIGNED
    facts = (("As of", as_of.isoformat()), ("Shop", firm or "not stated"), ("Signature", signed))
    cover = Cover(
        kicker="Comeback register", title="Comebacks of this shop and to it",
        subtitle="How often, after how long, at what cost, and what came of it", facts=facts, mark="",
    )  # fmt: skip
    how = Section("What was counted", (Bullets(tuple(counted)), Para(CARE, tone="caution")))
    return Report(
        cover=cover, sections=(how, *(Section(v.title, _blocks(v)) for v in views)), keys=frozenset(),
        author=firm or "evidence", at=at,
    )  # fmt: skip


def _blocks(view: View) -> tuple[Block, ...]:
    notes = tuple(Para(n, tone="small") for n in view.notes)
    if not view.rows:
        return (Para(view.empty), *notes)
    widest = [max(len(cell) for cell in column) for column in zip(view.columns, *view.rows, strict=True)]
    columns = tuple(
        Column(title, min(max(w, 6), 34) / 10, "right" if title in _NUMBERS else "left")
        for title, w in zip(view.columns, widest, strict=True)
    )
    drawn = map(RegisterPicture, view.drawn)
    return (*drawn, Table(columns, tuple(Row(r) for r in view.rows)), *notes)


def card_report(
    cards: Sequence[CheckCard], firm: str, at: dt.datetime, operation: Callable[[str], str] = say
) -> Report:
    """One page for each card, to hang where the work is done."""
    facts = (("Shop", firm or "not stated"), ("Cards", str(len(cards))))
    cover = Cover(
        kicker="Reassembly check cards", title="Before the vehicle is handed back",
        subtitle="For each way in which our own work came back: what would have caught it", facts=facts, mark="",
    )  # fmt: skip
    sections = tuple(Section(f"Card {n}", _card(c, operation), new_page=True) for n, c in enumerate(cards, 1))
    return Report(cover=cover, sections=sections, keys=frozenset(), author=firm or "evidence", at=at)


def _card(card: CheckCard, operation: Callable[[str], str]) -> tuple[Block, ...]:
    facts = (
        ("After", ", ".join(map(operation, card.operations))), ("What slipped", first_up(card.departure)),
        ("Came back to us", came_back_words(card)), ("Work order", "_" * 24 + "   Odometer " + "_" * 14),
    )  # fmt: skip
    blocks: list[Block] = [Para("", head=sentence(card.title), tone="lead"), Facts(facts)]
    if card.looks:
        blocks += [
            Para("What is found here is put right before release.", head="Look for."),
            Bullets(tuple(look_words(x.text, x.instrument) for x in card.looks), BOX),
        ]
    if card.take_down:
        blocks += [
            Para("With value, instrument and time, on the work order.", head="Take down."),
            Bullets(tuple(f"{first_up(t)}: {'_' * 20}" for t in card.take_down), BOX),
        ]
    blocks += [Para(cautions(card), head="Caution.", tone="caution"), Signature(("Checked by",))]
    return (*blocks, Para(f"From the rule pack {card.pack}.", tone="small"))


def came_back_words(card: CheckCard) -> str:
    """How often, and what it cost where that is known."""
    times = "once" if card.comebacks == 1 else f"{card.comebacks} times"
    costs = " and ".join(money(amount, currency) for currency, amount in card.costs)
    return times + (f", at a cost of {costs}" if costs else "")


def cautions(card: CheckCard) -> str:
    """The usual cautions of the mechanism, and that the maker's procedure comes first."""
    return " ".join([*map(sentence, card.cautions), FIRST])


def look_words(text: str, instrument: str) -> str:
    """What to look for, and with what."""
    return first_up(text) + (f" ({say(instrument)})" if instrument else "")


def card_text(cards: Sequence[CheckCard], operation: Callable[[str], str] = say) -> str:
    """The cards as plain text, 72 columns."""
    return "\n".join(line for card in cards for line in _lines(card, operation))


def _lines(card: CheckCard, operation: Callable[[str], str]) -> Iterator[str]:
    yield from (*_wrapped(card.title), "=" * 72)
    yield from _wrapped(f"After: {', '.join(map(operation, card.operations))}")
    yield from _wrapped(f"What slipped: {card.departure}")
    yield from _wrapped(f"Came back to us: {came_back_words(card)}")
    yield from ("Work order: ____________________   Odometer: ______________", "")
    if card.looks:
        yield "Look for (found: put right before release)"
        for look in card.looks:
            yield from _wrapped(look_words(look.text, look.instrument), "[ ] ")
    if card.take_down:
        yield from ("", "Take down (value, instrument, time)")
        for what in card.take_down:
            yield from _wrapped(f"{first_up(what)}: ____________________", "[ ] ")
    yield ""
    yield from _wrapped(f"Caution: {cautions(card)}")
    yield from ("", "Checked by: ______________________   Date: ____________", "")
    yield from (*_wrapped(f"From the rule pack {card.pack}."), "", "")


def _wrapped(text: str, mark: str = "") -> list[str]:
    return textwrap.wrap(text, 72, initial_indent=mark, subsequent_indent=" " * len(mark), break_on_hyphens=False)
