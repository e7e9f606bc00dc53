"""The sum of a claim in a letter: every line with its paper, every total by kind, what carries each head and who could answer."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Final

from evidence.claim.loss.statement import LossStatement
from evidence.model.exhibit import Exhibit
from evidence.report.blocks import Block, Column, Facts, Para, Row, Table
from evidence.report.papers.language import message
from evidence.report.papers.paper import Blanks, PaperInput
from evidence.report.papers.records import numbered

_NATURES: Final = {
    "rework": message("Doing the work again"),
    "resulting_damage": message("Damage that followed"),
    "diagnosis": message("Finding the cause"),
    "incidental": message("Towing, hire and the like"),
}
_HEADS: Final[Mapping[str, str]] = MappingProxyType({
    "repair_parts": message("Parts"), "repair_labour": message("Labour"), "programming": message("Programming"),
    "diagnosis_fee": message("Finding the cause"), "towing": message("Towing"), "storage": message("Storage"),
    "loss_of_use": message("Days without the vehicle"), "hire": message("Hire of a vehicle"),
    "rework_cost": message("Doing the work again"), "sales_tax": message("Tax"),
    "core_charge": message("Deposit for the old part"), "secondary_damage": message("Further damage"),
    "prior_work_refund": message("Price of the earlier work"), "diminished_value": message("Value that is lost for good"),
    "other": message("Other"),
})  # fmt: skip


def money_told(given: PaperInput, blank: Blanks, asked: str) -> Iterator[Block]:
    """Every line with its paper, then the sums by what they are for; ``asked`` names the last sum."""
    t, loss = given.words, given.loss
    if loss is None:
        yield Para(blank(None, "the sum, from the loss lines"))
        return
    rows = [
        Row((t.quoted(line.item.text), numbered(given, map(given.dossier.label, line.item.exhibits)), t.money(line.adds, loss.currency)))
        for line in loss.counted if line.item.nature != "deduction" and (line.adds or not line.back)
    ]  # fmt: skip
    if loss.claimed.tax:
        rows.append(Row((t("Tax on these lines"), "", t.money(loss.claimed.tax, loss.currency))))
    yield Table((Column(t("For what"), 6), Column(t("Paper"), 3), Column(t("Sum"), 2.4, "right")), tuple(rows))
    yield Facts((*_sums(given, loss), (asked, t.money(loss.claimed.total, loss.currency)), *_left(given, loss)))
    yield Para(t("A paper stands behind %(sum)s of this.", sum=t.money(loss.documented, loss.currency)))
    if loss.temporary:
        yield Para(
            t(
                "%(sum)s of this is a deposit that may come back. Once it has, it comes off.",
                sum=t.money(loss.temporary, loss.currency),
            )
        )
    yield from _responsible(given, loss)


def points_to_look_at(given: PaperInput) -> list[str]:
    """What the writer should know of the sum before it goes out. Never printed."""
    t, loss = given.words, given.loss
    if loss is None:
        return []
    told = []
    if unlinked := [x.label for x in loss.unlinked]:
        told.append(
            t("nothing on record links these lines to what was found: %(records)s", records=numbered(given, unlinked))
        )
    if loss.twice:
        out = [x.label for x in loss.lines if x.subject in {one.subject for one in loss.twice}]
        told.append(
            t("left out, because it counts already: %(records)s; see 'evidence loss'", records=numbered(given, out))
        )
    if loss.faults:
        told.append(t("the loss has points to look at: see 'evidence loss'"))
    return told


def _sums(given: PaperInput, loss: LossStatement) -> Iterator[tuple[str, str]]:
    """By kind with the tax; what came back of a deposit; what is taken off."""
    t, c = given.words, loss.claimed
    for nature, words in _NATURES.items():
        if nature in loss.by_nature:
            yield t(words), t.money(loss.by_nature[nature], loss.currency)
    for words, amount in (
        (message("Less wear, with the tax on it"), sum((w for _, w in c.wear), Decimal(0)) + c.tax_on_wear),
        (message("Less betterment"), c.betterment),
        (message("Less what was received for old parts"), c.salvage_credit + c.core.beyond),
        (message("Less what the repair costs over the value"), c.over_value),
        (message("Less a share of fault"), c.fault),
        (message("Less what has been paid"), c.payments),
    ):
        if amount:
            yield t(words) + _reasons(given, loss, words), t.money(-amount, loss.currency)


def _reasons(given: PaperInput, loss: LossStatement, words: str) -> str:
    """Why a share is taken off, in the words of the record."""
    if words != "Less a share of fault":
        return ""
    why = [given.words.quoted(x.item.why) for x in loss.counted if x.item.head == "share_of_fault" and x.item.why]
    return f" ({'; '.join(why)})" if why else ""


def _left(given: PaperInput, loss: LossStatement) -> Iterator[tuple[str, str]]:
    """The last sum by kind, where something was taken off."""
    t, c = given.words, loss.claimed
    if c.total != c.gross:
        for nature, words in _NATURES.items():
            if nature in c.left_by_nature:
                yield t("Of this: %(what)s", what=t(words)), t.money(c.left_by_nature[nature], loss.currency)


def _responsible(given: PaperInput, loss: LossStatement) -> Iterator[Block]:
    """What carries each head, and who could be responsible: by what is on record, and never a share of the sum."""
    t = given.words
    rows, last = [], ("", "")
    for r in loss.responsible:
        carried = numbered(given, r.records) + (f" [{numbered(given, r.exhibits)}]" if r.exhibits else "")
        names = list(dict.fromkeys(h.name for h in r.hands))
        found = (carried or t("nothing on record so far"), t.sentence(names) if names else t("nobody named on record"))
        told = tuple(t("as above") if mine == before else mine for mine, before in zip(found, last, strict=True))
        what = " – ".join(dict.fromkeys((t(_NATURES[r.nature]), t(_HEADS[r.head]))))
        rows.append(Row((f"{what}: {t.money(r.amount, loss.currency)}", *told)))
        last = found
    if rows:
        yield Para(
            t(
                "This is what each part rests on, and who could be responsible for it by what is on record. Nobody is given a share."
            )
        )
        yield Table(
            (
                Column(t("Part of the sum"), 3.4),
                Column(t("What carries it"), 5),
                Column(t("Who could be responsible"), 3),
            ),
            tuple(rows),
        )


def papers_of_sum(given: PaperInput) -> list[str]:
    """Subjects of the exhibits that stand behind the lines that count, and behind the findings that carry them."""
    if given.loss is None:
        return []
    carrying = {label for r in given.loss.responsible for label in r.exhibits}
    shown = [e.subject for e in given.dossier.of(Exhibit) if e.label in carrying]
    return [*(e for line in given.loss.counted for e in line.item.exhibits), *shown]
