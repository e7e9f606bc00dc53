"""The loss: every line with its paper, every total by nature, three readings, what carries each line and who could answer."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from evidence.claim.loss.carrying import Carried, carried, responsible_told
from evidence.claim.loss.links import Carrier
from evidence.claim.loss.statement import LossLine, LossStatement, loss_statement
from evidence.claim.loss.telling import READINGS, Off, core_told, deductions, rules_told, steps
from evidence.errors import MixedCurrency
from evidence.model.base import shorten
from evidence.model.dossier import Recorded
from evidence.model.kinds import enumerated
from evidence.model.loss import LossItem
from evidence.report.blocks import Block, Bullets, Column, Heading, Para, Row, Section, Table
from evidence.report.figures import amount
from evidence.report.given import ReportInput
from evidence.report.phrasing import capital, first_up, joined, sentence
from evidence.report.words import labels, title

NATURES = {
    "rework": "Doing the earlier job properly (rework)",
    "resulting_damage": "Damage that followed (resulting damage)",
    "diagnosis": "Finding the cause (diagnosis)",
    "incidental": "Incidental",
    "deduction": "Taken off",
    "value": "Compared with, not added",
}
_COLUMNS = (
    Column("No.", 1.3), Column("What, and why", 4.3), Column("Basis", 1.8), Column("Status", 1.1), Column("Exhibits", 1.1),
    Column("Amount", 1.4, "right"),
)  # fmt: skip
_FOOT = (
    "Amounts are decimal, each line rounded half up to the digits of the currency, tax added once on the sum of the lines that "
    "carry it. Rework, resulting damage, diagnosis and incidentals are kept apart because policies and agreements often treat "
    "them differently; what is taken off no line in particular is shared out over them by what they come to. A line can be "
    "claimed only where something makes it recoverable: whether and what anyone owes is not decided here. No legal advice."
)


def loss(given: ReportInput) -> Section:
    """The loss statement; withdrawn lines are shown and not counted."""
    items = given.dossier.all_of(LossItem)
    if not items:
        return Section("Loss", (Para("No loss item recorded.", tone="muted"),))
    try:
        found = loss_statement(given.dossier, given.assessment, given.place, given.at.date())
    except MixedCurrency as err:
        rows = [_bare(given, i) for i in items]
        return Section("Loss", (Para(str(err), head="No total."), Table(_COLUMNS, tuple(rows))))
    if found is None:
        return Section("Loss", (Table(_COLUMNS, tuple(_bare(given, i) for i in items)),))
    blocks = (
        Table(_COLUMNS, tuple(_rows(given, items, found))),
        Heading("Totals"),
        *_totals(found),
        *_left_out(found),
        *_taken_off(found),
        *_links(found),
        *_responsible(found),
        *_paras(given, items, found),
        Para(_FOOT, tone="small"),
    )
    return Section("Loss", blocks)


# ---- lines ------------------------------------------------------------------------------------------------------------


def _rows(given: ReportInput, items: Sequence[Recorded[LossItem]], found: LossStatement) -> list[Row]:
    by_label = {line.label: line for line in found.lines}
    rows: list[Row] = []
    for nature, words in NATURES.items():
        lines = [i for i in items if i.value.nature == nature]
        rows += [_line(given, i, by_label[i.label], found) if i.label in by_label else _bare(given, i) for i in lines]
        total = found.by_nature.get(nature)
        if total is not None:
            rows.append(Row(("", f"{words}, with its tax", "", "", "", _money(found, total)), strong=True))
    return rows


def _line(given: ReportInput, item: Recorded[LossItem], line: LossLine, found: LossStatement) -> Row:
    v = item.value
    sign = "− " if v.nature == "deduction" else ""
    beside = [f"beside {given.dossier.label(b.item)}: {b.why}" for b in v.beside]
    days = f"{v.begins.given if v.begins else '…'} to {v.ends.given if v.ends else '…'}" if v.begins or v.ends else None
    why = [v.why, days, *beside, sentence(line.out) if line.out else None]
    status = [first_up(v.status), "disputed" if v.disputed else None, "comes back" if v.temporary else None]
    shown = f"{v.percent} %" if v.percent else sign + _money(found, line.adds if line.counted else line.net)
    if not line.counted:
        shown = f"({shown})"
    return Row(
        (
            title(item), joined([f"{first_up(v.head)}: {v.text}", *why], "\n"), _basis(v), joined(status, "\n"),
            labels(given.dossier, v.exhibits) or "none", shown,
        ),
        key=item.label, faded=not line.counted,
    )  # fmt: skip


def _basis(v: LossItem) -> str:
    rate = f"{v.quantity} {v.unit or ''} × {v.rate.words()}".replace("  ", " ") if v.rate else None
    tax = f"tax {v.tax_rate} % {'included' if v.tax_included else 'added on the sum'}" if v.tax_rate else None
    return joined([rate, v.basis, tax], "\n") or "not stated"


def _bare(given: ReportInput, item: Recorded[LossItem]) -> Row:
    v = item.value
    shown = v.amount.words() if v.amount else f"{v.percent} %" if v.percent else _basis(v)
    return Row(
        (title(item), f"{first_up(v.head)}: {v.text}", _basis(v), first_up(v.status), labels(given.dossier, v.exhibits) or "none", shown),
        key=item.label, faded=item.withdrawn,
    )  # fmt: skip


def _money(found: LossStatement, value: Decimal) -> str:
    return f"{amount(value, found.digits)} {found.currency}"


# ---- totals -----------------------------------------------------------------------------------------------------------


def _totals(found: LossStatement) -> Iterator[Block]:
    columns = (Column("", 3.4), *(Column(words, 1.6, "right") for words in READINGS))
    rows = [Row((first_up(s.words), *(_money(found, a) for a in s.amounts)), strong=s.whole) for s in steps(found)]
    yield Table(columns, tuple(rows))
    papers = [
        Row((NATURES[n], *(_money(found, a) for a in (whole, found.documented_by_nature.get(n, Decimal(0)),
                                                       whole - found.documented_by_nature.get(n, Decimal(0))))))
        for n, whole in found.by_nature.items()
    ]  # fmt: skip
    together = Row(
        ("Together", *(_money(found, a) for a in (found.claimed.gross, found.documented, found.undocumented))),
        strong=True,
    )
    heads = ("Claimed, before deductions", "Backed by a paper", "Not backed")
    yield Table((Column("With its tax", 3.4), *(Column(h, 1.6, "right") for h in heads)), (*papers, together))
    if differ := found.makes_the_difference:
        yield Para("", head="What makes the difference between the readings.")
        yield Bullets(tuple(f"{x.label} ({x.item.text}): {_difference(found, x)}" for x in differ))


def _difference(found: LossStatement, x: LossLine) -> str:
    if x.item.nature == "deduction":
        return "disputed, so taken off whole in the lowest reading only"
    amounts = f"{_money(found, x.low)} to {_money(found, x.high)}" if x.low != x.high else ""
    wear = (
        "wear is disputed, so it comes off in the lowest reading only" if x.item.wear and x.item.wear.disputed else ""
    )
    return joined([amounts, wear]) or "disputed"


def _left_out(found: LossStatement) -> Iterator[Block]:
    if found.twice:
        yield Para("", head="Left out of every total, because it is counted already.")
        yield Bullets(tuple(sentence(t.words) for t in found.twice))


def _taken_off(found: LossStatement) -> Iterator[Block]:
    """Each deduction with what is said against it; the place's habit stands beside each that is for betterment."""
    if told := tuple(deductions(found)):
        yield Para("", head="Taken off, and what is said against it.")
        yield Bullets(tuple(_off(x, found.habit) for x in told))


def _off(x: Off, habit: str) -> str:
    said = [
        f"{x.label} ({x.text}): {x.how}",
        "Disputed" if x.disputed else "",
        f"Said against it: {x.objection}" if x.objection else "",
    ]
    if x.betterment:
        said.append(f"Habit of the place: {habit}" if habit else "No habit of the place is on record")
    return " ".join(sentence(part) for part in said if part)


# ---- what carries it, and who could be responsible --------------------------------------------------------------------


def _links(found: LossStatement) -> Iterator[Block]:
    """What makes the lines recoverable: explanation, findings, records, exhibits. Lines without a link stand apart."""
    groups = carried(found)
    yield Heading("What makes it recoverable")
    columns = (
        Column("Lines", 1.6), Column("Explanation", 2.4), Column("Findings met, and the records that carry them", 4.2),
        Column("Exhibits", 2),
    )  # fmt: skip
    rows = [Row((enumerated(g.lines), *_rests_on(g))) for g in groups if g.link.linked]
    if rows:
        yield Table(columns, tuple(rows))
    apart = [Row((enumerated(g.lines), capital(g.link.words))) for g in groups if not g.link.linked]
    if apart:
        told = (
            f"Nothing found so far makes these lines recoverable: {_money(found, found.apart)} with their tax. They stand in the "
            "totals and are shown apart here."
        )
        yield Para(told, head="No link on record.")
        yield Table((Column("Lines", 3), Column("Why", 7)), tuple(apart))


def _rests_on(group: Carried) -> tuple[str, str, str]:
    if group.as_above:
        return ("as above", "all those above", "all those above")
    link = group.link
    return (capital(link.words), "\n".join(map(_carrier, link.carriers)), enumerated(link.exhibits) or "none")


def _carrier(c: Carrier) -> str:
    return f"{first_up(c.limb)}: {shorten(c.statement, 80)} ({enumerated(c.records)})"


def _responsible(found: LossStatement) -> Iterator[Block]:
    columns = (
        Column("Head", 2.4),
        Column("Lines", 1.7),
        Column("With its tax", 1.5, "right"),
        Column("Who could be responsible, and by what", 3.6),
        Column("Not excluded", 2.2),
    )
    rows = [
        Row((capital(head), lines, _money(found, whole), who, still_open))
        for head, lines, whole, who, still_open in responsible_told(found)
    ]
    if rows:
        yield Heading("Who could be responsible for what")
        yield Para(
            "Names stand here because of what is on record. Nobody is given a share of the sum: that is for those who decide."
        )
        yield Table(columns, tuple(rows))


# ---- what else has to be said -----------------------------------------------------------------------------------------


def _paras(given: ReportInput, items: Sequence[Recorded[LossItem]], found: LossStatement) -> Iterator[Block]:
    if words := rules_told(found):
        yield Para(words, head="Repair and value.")
    if words := core_told(found):
        yield Para(words, head="Core.")
    if found.temporary:
        yield Para(f"{_money(found, found.temporary)} of it comes back, which leaves "
                   f"{_money(found, found.claimed.total - found.temporary)} of what is claimed.", head="For a time only.")  # fmt: skip
    for t in found.taxes:
        yield Para(sentence(f"{t.rate} % on {_money(found, t.on)} is {_money(found, t.tax)}: {t.source}"), head="Tax.")
    if found.driven_on:
        yield Para(" ".join(sentence(w) for w in found.driven_on), head="Driven on after a warning.")
    yield from (Para(sentence(f), head="Look at this.") for f in found.faults)
    if found.ceiling:
        yield Para(sentence(found.ceiling), head="Above the ceiling." if found.over else "Ceiling.")
    prepared = ", ".join(sorted({given.dossier.party(i.value.prepared_by) for i in items if i.value.prepared_by}))
    dated = ", ".join(sorted({i.value.prices_of.given for i in items if i.value.prices_of}))
    if prepared or dated:
        told = [f"prepared by {prepared}" if prepared else "", f"prices of {dated}" if dated else ""]
        yield Para(sentence("; ".join(filter(None, told))))
