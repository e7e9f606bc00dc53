"""A comeback entered by hand: the words of a person to a value, every mistake told."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import get_args

from pydantic import ValidationError

from evidence.errors import Mistake, MistakesFound
from evidence.model.base import nearest
from evidence.model.quantity import Distance, Money
from evidence.model.repair import Origin
from evidence.ports import Desk
from evidence.register.lines import OWN, Comeback, Ended
from evidence.register.mapping import plate


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """What a person wrote; empty where nothing."""

    back: str
    operations: tuple[str, ...] = ()
    order: str = ""
    vehicle: str = ""
    firm: str = ""
    technician: str = ""
    worked: str = ""
    odometer: str = ""
    back_odometer: str = ""
    part_origins: tuple[str, ...] = ()
    mechanism: str = ""
    cost: str = ""
    recovered: str = ""
    ended: str = ""


class _Reading:
    """Reads one word after the other and keeps what is wrong with each."""

    def __init__(self) -> None:
        self.mistakes: list[Mistake] = []

    def wrong(self, option: str, message: str) -> None:
        self.mistakes.append(Mistake("", 0, 0, f"--{option}", message))

    def day(self, option: str, text: str) -> int | None:
        try:
            return dt.date.fromisoformat(text).toordinal() if text else None
        except ValueError:
            self.wrong(option, f"{text!r} is not a day; write it such as 2026-06-30")
            return None

    def km(self, option: str, text: str) -> int | None:
        try:
            return int(Distance.model_validate(text).km()) if text else None
        except ValidationError as err:
            self.wrong(option, _said(err))
            return None

    def money(self, option: str, text: str) -> Money | None:
        try:
            found = Money.model_validate(text) if text else None
        except ValidationError as err:
            self.wrong(option, _said(err))
            return None
        if found and found.amount.startswith("-"):
            self.wrong(option, f"{text} is negative")
        return found

    def word(self, option: str, text: str, known: Iterable[str]) -> str:
        listed = list(filter(None, known))
        if text and text not in listed:
            self.wrong(option, f"{text!r} is not known{nearest(text, listed)}")
        return text


def stated(said: Stated, desk: Desk) -> Comeback:
    """The comeback that was stated. Raises :class:`MistakesFound` with everything that is wrong."""
    read = _Reading()
    cost, recovered = read.money("cost", said.cost), read.money("recovered", said.recovered)
    if cost and recovered and cost.currency != recovered.currency:
        read.wrong(
            "recovered",
            f"is in {recovered.currency}, the cost in {cost.currency}; one comeback is told in one currency",
        )
    mechanisms = [m.id for pack in desk.packs() for m in pack.mechanisms]
    own = said.firm.casefold().split() in ([], desk.recorder.firm.casefold().split())
    money = cost or recovered
    made = Comeback(
        firm=OWN if own else said.firm.strip(), number=said.order.strip(), vehicle=plate(said.vehicle),
        technician=said.technician.strip(), operations=_operations(said.operations, desk),
        origins=tuple(read.word("part-origin", o, get_args(Origin)) for o in said.part_origins),
        worked=read.day("worked", said.worked), back=read.day("back", said.back),
        worked_km=read.km("odometer", said.odometer), back_km=read.km("back-odometer", said.back_odometer),
        mechanism=read.word("mechanism", said.mechanism, mechanisms), cost=Decimal(cost.amount) if cost else None,
        currency=money.currency if money else "", recovered=Decimal(recovered.amount) if recovered else None,
        ended=read.word("ended", said.ended, get_args(Ended)),  # type: ignore[arg-type]
    )  # fmt: skip
    if read.mistakes:
        raise MistakesFound(read.mistakes)
    return made


def _operations(words: Iterable[str], desk: Desk) -> tuple[str, ...]:
    """Words of the vocabulary where they are known there, else as the shop calls them."""
    known = desk.vocabulary().operations
    plain = (" ".join(w.split()) for w in words)
    return tuple(dict.fromkeys(s if (s := w.lower().replace(" ", "-")) in known else w for w in plain if w))


def _said(err: ValidationError) -> str:
    return str(err.errors()[0]["msg"]).removeprefix("Value error, ")
