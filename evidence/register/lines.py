"""What the register counts: orders (work that was done) and comebacks (work that did not hold).

Days are ordinals of the calendar (:meth:`datetime.date.toordinal`), distances whole kilometres: a register has a hundred
thousand of them. Empty texts and ``None`` mean "not stated".
"""

from __future__ import annotations

from decimal import Decimal
from typing import Final, Literal, NamedTuple

Ended = Literal[
    "", "paid", "part_paid", "refused", "withdrawn", "judgment", "settled", "repaired_by_prior_repairer", "closed"
]
CLOSED: Final = frozenset(
    {"paid", "part_paid", "refused", "withdrawn", "settled", "repaired_by_prior_repairer", "closed"}
)
OWN: Final = ""  # the firm of an order or a comeback that is this shop's own


class Order(NamedTuple):
    """One piece of finished work: the unit of every rate."""

    number: str
    day: int  # when the vehicle left
    vehicle: str = ""
    firm: str = OWN
    technician: str = ""
    operations: tuple[str, ...] = ()
    origins: tuple[str, ...] = ()
    km: int | None = None  # when it left


class Comeback(NamedTuple):
    """One vehicle that came back, with the work it came back from."""

    source: str = ""  # where it is known from, as a person knows it
    firm: str = OWN  # who did the work
    number: str = ""  # of the order it came back from
    vehicle: str = ""
    technician: str = ""
    operations: tuple[str, ...] = ()
    origins: tuple[str, ...] = ()
    worked: int | None = None  # day the vehicle left after the work
    back: int | None = None  # day it came back
    worked_km: int | None = None
    back_km: int | None = None
    mechanism: str = ""
    cost: Decimal | None = None  # what putting it right cost, or what is claimed for it
    currency: str = ""
    recovered: Decimal | None = None  # what was paid by whom it was claimed from
    ended: Ended = ""  # empty: open, or nothing said

    @property
    def own(self) -> bool:
        """Whether it is this shop's own work."""
        return self.firm == OWN

    @property
    def days(self) -> int | None:
        """Days from the work until the vehicle came back."""
        return None if self.back is None or self.worked is None else self.back - self.worked

    @property
    def distance(self) -> int | None:
        """Kilometres in between."""
        return None if self.back_km is None or self.worked_km is None else self.back_km - self.worked_km
