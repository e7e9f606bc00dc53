"""The loss statement of a dossier as recorded now. Nothing is written."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from evidence.claim.loss.statement import LossStatement, loss_statement
from evidence.claim.loss.sums import Sums
from evidence.model.base import Json
from evidence.ports import Desk
from evidence.usecases.assess import assess_held
from evidence.usecases.pen import need, read_dossier
from evidence.usecases.standing import place_of


@dataclass(frozen=True, slots=True, kw_only=True)
class LossReport:
    """The title and the statement; ``None`` where no loss is recorded."""

    title: str
    statement: LossStatement | None


def loss_of(desk: Desk, dossier: str, place: str = "") -> LossReport:
    """The statement of a dossier, by the place that it names or the one given."""
    with desk.ledgers.reading() as view:
        held = read_dossier(view, need(view, dossier))
    return LossReport(
        title=held.title, statement=loss_statement(held, assess_held(desk, held), place_of(desk, held, place))
    )


def loss_json(found: LossReport) -> Json:
    """As it stands in JSON; amounts are plain decimals as text."""
    s = found.statement
    if s is None:
        return {"format": 1, "title": found.title, "lines": []}

    def plain(amount: Decimal) -> str:
        return f"{amount:.{s.digits}f}"

    def sums(of: Sums) -> Json:
        return {
            "gross": plain(of.gross), "tax": plain(of.tax), "wear": plain(sum((w for _, w in of.wear), Decimal(0))),
            "tax_on_wear": plain(of.tax_on_wear), "deductions": plain(of.credits), "share_of_fault": plain(of.fault),
            "payments": plain(of.payments), "total": plain(of.total), "value_rules": of.by_value,
        }  # fmt: skip

    return {
        "format": 1,
        "title": found.title,
        "currency": s.currency,
        "lines": [
            {
                "line": x.label, "head": x.item.head, "nature": x.item.nature, "text": x.item.text, "amount": plain(x.net),
                "low": plain(x.low), "high": plain(x.high), "status": x.item.status, "counted": x.counted,
                "documented": x.documented, "linked": x.link.linked, "rests_on": x.link.words,
                "could_be_responsible": list(x.link.could_be),
            }
            for x in s.lines
        ],
        "by_nature": {nature: plain(amount) for nature, amount in sorted(s.by_nature.items())},
        "low": sums(s.low),
        "claimed": sums(s.claimed),
        "high": sums(s.high),
        "documented": plain(s.documented),
        "undocumented": plain(s.undocumented),
        "temporary": plain(s.temporary),
        "over_ceiling": s.over_ceiling or None,
        "faults": list(s.faults),
    }  # fmt: skip
