"""The loss, line by line: what each costs, on which paper, and what makes it recoverable."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any, ClassVar, Final, Literal

from pydantic import AfterValidator, ValidationInfo, field_validator, model_validator

from evidence.model.base import ExhibitRef, Line, PartyRef, Plain, Record, Ref, Slug, Text, Value, say
from evidence.model.quantity import Money
from evidence.model.when import When

Head = Literal[
    "repair_parts", "repair_labour", "programming", "diagnosis_fee", "towing", "storage", "loss_of_use", "hire", "rework_cost",
    "sales_tax", "core_charge", "secondary_damage", "prior_work_refund", "betterment", "salvage_value", "value_before",
    "core_credit", "salvage_credit", "payment", "share_of_fault", "diminished_value", "other",
]  # fmt: skip
Nature = Literal["rework", "resulting_damage", "diagnosis", "incidental", "deduction", "value"]

DEDUCTIONS: Final[frozenset[Head]] = frozenset(
    {"betterment", "core_credit", "salvage_credit", "payment", "share_of_fault"}
)
VALUES: Final[frozenset[Head]] = frozenset(
    {"value_before", "salvage_value"}
)  # what a repair is compared with; never added
LossItemRef = Annotated[str, AfterValidator(Ref("loss_item"))]


class Beside(Value):
    """A line that seems to cover the same, and why both stand. A person may write ``hire-van: only the days before it``."""

    item: LossItemRef
    why: Text

    @model_validator(mode="before")
    @classmethod
    def _written(cls, raw: Any) -> Any:
        if not isinstance(raw, str):
            return raw
        item, colon, why = raw.partition(":")
        if not colon or not why.strip():
            raise ValueError(f"{raw!r} gives no reason; write 'LINE: why', such as 'hire-van: only the days before it'")
        return {"item": item.strip(), "why": why.strip()}


class Wear(Value):
    """How much of a part's life was used up: as new, at the loss, and where it is worn out, all in one unit.

    Or the ``share`` used, in per cent, with how it was found.
    """

    new: Plain | None = None
    at_loss: Plain | None = None
    worn_out: Plain | None = None
    unit: Line | None = None
    share: Plain | None = None
    method: Line  # what was measured, or why this life is assumed
    disputed: bool | None = None  # counted in the low reading only
    objection: Text | None = None  # why nothing should come off, such as that the owner would not have bought it now

    @model_validator(mode="after")
    def _whole(self) -> Wear:
        measured = (self.new, self.at_loss, self.worn_out)
        if (self.share is None) == (None in measured):
            raise ValueError("state either new, at_loss and worn_out, or the share used in per cent")
        if not 0 <= self.used <= 1:
            raise ValueError(f"the used share would be {self.used:.4f}, which is not between 0 and 1")
        return self

    @property
    def used(self) -> Decimal:
        """The used share of the life, between 0 and 1, exact as far as decimals go."""
        if self.share is not None:
            return Decimal(self.share) / 100
        new, now, end = (Decimal(v or 0) for v in (self.new, self.at_loss, self.worn_out))
        return (new - now) / (new - end) if new != end else Decimal(-1)

    def words(self) -> str:
        """The method and its inputs."""
        if self.share is not None:
            return f"{self.share} % used: {self.method}"
        unit = f" {self.unit}" if self.unit else ""
        return f"({self.new} - {self.at_loss}) / ({self.new} - {self.worn_out}){unit} used: {self.method}"


class LossItem(Record):
    """One line of loss with its basis and paper. The amount is that without tax, unless ``tax_included``."""

    kind: ClassVar[str] = "loss_item"
    label: ClassVar[str] = "Loss item"

    head: Head
    nature: Nature
    text: Line
    amount: Money | None = None  # or quantity and rate
    quantity: Plain | None = None
    unit: Literal["h", "d", "km", "each"] | None = None
    rate: Money | None = None
    tax_rate: Plain | None = None  # per cent, added once on the sum of the lines that carry it
    tax_included: bool | None = None
    tax_source: Line | None = None  # where the rate comes from, if not from the file of the place
    percent: Plain | None = None  # of a share of fault; or the amount that it added
    status: Literal["quoted", "invoiced", "paid", "estimated"]
    basis: Line | None = None
    begins: When | None = None  # of hire, loss of use, storage
    ends: When | None = None
    free_until: When | None = None  # of storage: nothing is charged until then
    return_by: When | None = None  # of a core
    why: Text | None = None  # why it took that long, why this offer, why it is reasonable, why this share
    objection: Text | None = None  # what is said against a deduction
    taken_off: tuple[LossItemRef, ...] = ()  # of a deduction: the lines that it is taken off; left out: all of them
    offer_for: Slug | None = None  # several offers for one thing carry its name; one of them is claimed
    claimed: bool | None = None
    beside: tuple[Beside, ...] = ()  # lines that seem to cover the same, each with why both stand
    disputed: bool | None = None
    at_least: Money | None = (
        None  # of a disputed line: what is left of it at the lowest reading; of a deduction: what is not disputed
    )
    temporary: bool | None = None  # comes back, as a core deposit does
    wear: Wear | None = None
    mechanism: Slug | None = None  # which explanation makes it recoverable; left out: the one that leads
    findings: tuple[
        Line, ...
    ] = ()  # which of its findings carry this line, such as F2; left out: by the nature of the line
    unlinked: Line | None = None  # why nothing found makes it recoverable
    could_be: tuple[PartyRef, ...] = ()  # who could be responsible for it
    prices_of: When | None = None
    prepared_by: PartyRef | None = None
    exhibits: tuple[ExhibitRef, ...] = ()

    @field_validator("tax_rate", "percent")
    @classmethod
    def _per_cent(cls, value: str | None) -> str | None:
        if value is not None and not 0 <= Decimal(value) <= 100:
            raise ValueError(f"{value} % is not between 0 and 100 %")
        return value

    @model_validator(mode="after")
    def _whole(self, info: ValidationInfo) -> LossItem:
        self._amounts()
        self._deducted(written="written" in (info.context or {}))
        if self.quantity is not None and Decimal(self.quantity) < 0:
            raise ValueError(f"the quantity {self.quantity} is negative")
        if self.begins and self.ends and self.ends.span.latest <= self.begins.span.earliest:
            raise ValueError(f"ends {self.ends.given}, which is before it begins ({self.begins.given})")
        if self.head == "diminished_value" and not self.basis:
            raise ValueError("a value that is left diminished needs its basis in the market")
        for heads, nature in ((DEDUCTIONS, "deduction"), (VALUES, "value")):
            if (self.head in heads) != (self.nature == nature):
                raise ValueError(f"the head {say(self.head)} does not go with the nature {say(self.nature)}")
        return self

    def _amounts(self) -> None:
        for money in (self.amount, self.rate, self.at_least):
            if money and money.number < 0:
                raise ValueError(
                    f"{money.words()} is negative; what is taken off has a head of its own, such as payment"
                )
        stated = self.amount is not None or (self.quantity is not None and self.rate is not None)
        if self.head == "share_of_fault":
            if self.percent is None and not stated:
                raise ValueError("a share of fault is stated in per cent, or as the amount that it added")
        elif not stated:
            raise ValueError("has no amount; state one, or quantity and rate")
        elif self.amount and self.rate:
            raise ValueError("states an amount as well as a rate; one of them is worked out from the other")
        if self.at_least and self.currency and self.at_least.currency != self.currency:
            raise ValueError(
                f"states {self.at_least.words()} as the least of it, and the line itself in {self.currency}"
            )

    def _deducted(self, *, written: bool) -> None:
        """What a person must say of a deduction. Entries of before this was asked for are read as they are."""
        if self.taken_off and self.nature != "deduction":
            raise ValueError("names lines that it is taken off, and is no deduction")
        if written and self.head == "share_of_fault":
            if self.percent is not None and (self.amount or self.rate):
                raise ValueError("states a share in per cent as well as an amount; one of them is enough")
            if self.percent is not None and self.taken_off:
                raise ValueError(
                    "states a share in per cent, which is taken off the whole; for some lines only, state the amount"
                )
            if not self.why:
                raise ValueError("a share of fault needs a reason under why: what was done, and what it added")

    @property
    def needs_paper(self) -> bool:
        """Whether a paper is asked for: not of what is not claimed, nor of a share of fault, which is somebody's view."""
        return self.claimed is not False and self.head != "share_of_fault"

    @property
    def currency(self) -> str | None:
        """The currency of its amount or rate."""
        money = self.amount or self.rate
        return money.currency if money else None

    def summary(self) -> str:
        """Text and amount."""
        how = self.amount.words() if self.amount else ""
        if self.rate:
            how = f"{self.quantity} {self.unit or ''} x {self.rate.words()}".replace("  ", " ")
        return f"{self.text}: {f'{self.percent} %' if self.percent else how} ({say(self.status)})"
