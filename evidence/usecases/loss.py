"""The loss statement of a dossier as recorded now. Nothing is written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from evidence.claim.loss.statement import LossLine, LossStatement, loss_statement
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
    """The statement of a dossier, by the place that it names or the one given; ages are told as of today."""
    with desk.ledgers.reading() as view:
        held = read_dossier(view, need(view, dossier))
    found = loss_statement(held, assess_held(desk, held), place_of(desk, held, place), desk.today())
    return LossReport(title=held.title, statement=found)


def loss_json(found: LossReport) -> Json:
    """As it stands in JSON; amounts are plain decimals as text."""
    s = found.statement
    if s is None:
        return {"format": 1, "title": found.title, "lines": []}

    def plain(amount: Decimal) -> str:
        return f"{amount:.{s.digits}f}"

    def apart(amounts: Mapping[str, Decimal]) -> Json:
        return {nature: plain(amount) for nature, amount in amounts.items()}

    def sums(of: Sums) -> Json:
        return {
            "gross": plain(of.gross), "tax": plain(of.tax), "wear": plain(sum((w for _, w in of.wear), Decimal(0))),
            "tax_on_wear": plain(of.tax_on_wear), "betterment": plain(of.betterment), "salvage_credit": plain(of.salvage_credit),
            "core_deposit": plain(of.core.deposits), "core_credit": plain(of.core.credits),
            "core_credit_beyond_deposit": plain(of.core.beyond), "value": plain(of.value) if of.value is not None else None,
            "value_rules": of.by_value, "over_value": plain(of.over_value), "share_of_fault": plain(of.fault),
            "payments": plain(of.payments), "total": plain(of.total), "by_nature": apart(of.by_nature),
            "total_by_nature": apart(of.left_by_nature),
        }  # fmt: skip

    return {
        "format": 1,
        "title": found.title,
        "currency": s.currency,
        "lines": [_line(x, plain(x.net), plain(x.low), plain(x.claimed), plain(x.high)) for x in s.lines],
        "by_nature": apart(s.by_nature),
        "low": sums(s.low),
        "claimed": sums(s.claimed),
        "high": sums(s.high),
        "documented": plain(s.documented),
        "documented_by_nature": apart(s.documented_by_nature),
        "undocumented": plain(s.undocumented),
        "temporary": plain(s.temporary),
        "without_link": plain(s.apart),
        "left_out": [{"amount": plain(t.amount), "beside": list(t.others), "why": t.words} for t in s.twice],
        "taxes": [{"rate": t.rate, "on": plain(t.on), "tax": plain(t.tax), "source": t.source} for t in s.taxes],
        "betterment_habit": s.habit or None,
        "ceiling": s.ceiling or None,
        "over_ceiling": s.over_ceiling or None,
        "driven_on": list(s.driven_on),
        "could_be_responsible": [
            {
                "nature": r.nature, "head": r.head, "lines": list(r.lines), "amount": plain(r.amount), "unlinked": list(r.unlinked),
                "who": [{"name": h.name, "why": h.why} for h in r.hands], "not_excluded": list(r.not_excluded),
            }
            for r in s.responsible
        ],
        "faults": list(s.faults),
    }  # fmt: skip


def _line(x: LossLine, net: str, low: str, claimed: str, high: str) -> Json:
    return {
        "line": x.label, "head": x.item.head, "nature": x.item.nature, "text": x.item.text, "amount": net, "low": low,
        "claimed": claimed, "high": high, "status": x.item.status, "counted": x.counted, "why": x.item.why, "left_out": x.out or None,
        "documented": x.documented, "linked": x.link.linked, "rests_on": x.link.words,
        "findings": [{"finding": c.id, "limb": c.limb, "records": list(c.records)} for c in x.link.carriers],
        "exhibits_of_findings": list(x.link.exhibits), "could_be_responsible": list(x.link.could_be),
    }  # fmt: skip
