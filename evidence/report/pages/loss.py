"""The loss: every line with its paper, totals by nature, three readings, and what makes each line recoverable."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from evidence.claim.loss.statement import LossLine, LossStatement, loss_statement
from evidence.errors import MixedCurrency
from evidence.model.base import say
from evidence.model.dossier import Recorded
from evidence.model.kinds import enumerated
from evidence.model.loss import LossItem
from evidence.report.blocks import Block, Bullets, Column, Heading, Para, Row, Section, Table
from evidence.report.figures import amount
from evidence.report.given import ReportInput
from evidence.report.phrasing import first_up, joined
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
    "them differently. A line can be claimed only where something makes it recoverable: whether and what anyone owes is not "
    "decided here. No legal advice."
)


def loss(given: ReportInput) -> Section:
    """The loss statement; withdrawn lines are shown and not counted."""
    items = given.dossier.all_of(LossItem)
    if not items:
        return Section("Loss", (Para("No loss item recorded.", tone="muted"),))
    try:
        found = loss_statement(given.dossier, given.assessment, given.place)
    except MixedCurrency as err:
        rows = [_bare(given, i) for i in items]
        return Section("Loss", (Para(str(err), head="No total."), Table(_COLUMNS, tuple(rows))))
    if found is None:
        return Section("Loss", (Table(_COLUMNS, tuple(_bare(given, i) for i in items)),))
    blocks: list[Block] = [
        Table(_COLUMNS, tuple(_rows(given, items, found))),
        Heading("Totals"),
        _totals(found),
        *_readings(found),
        *_links(found),
        *[Para(f, head="Look at this.") for f in found.faults],
    ]
    if found.over_ceiling:
        blocks.append(Para(f"The claim is above the ceiling: {found.over_ceiling}.", head="Ceiling."))
    prepared = enumerated_text({given.dossier.party(i.value.prepared_by) for i in items if i.value.prepared_by})
    dated = sorted({i.value.prices_of.given for i in items if i.value.prices_of})
    if prepared or dated:
        told = [f"prepared by {prepared}" if prepared else "", f"prices of {', '.join(dated)}" if dated else ""]
        blocks.append(Para(first_up("; ".join(filter(None, told))) + "."))
    blocks.append(Para(_FOOT, tone="small"))
    return Section("Loss", tuple(blocks))


def enumerated_text(names: set[str]) -> str:
    """Names in order, with commas."""
    return ", ".join(sorted(names))


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
    why = [v.why, f"wear: {v.wear.words()}" if v.wear else None]
    if not line.counted and v.nature != "value":
        why.append("not counted: another offer for the same is claimed")
    if v.begins or v.ends:
        why.append(f"{v.begins.given if v.begins else '…'} to {v.ends.given if v.ends else '…'}")
    status = [first_up(v.status), "disputed" if v.disputed else None, "comes back" if v.temporary else None]
    shown = f"{v.percent} %" if v.percent else _money(found, line.net)
    return Row(
        (
            title(item), joined([f"{first_up(v.head)}: {v.text}", *why], "\n"), _basis(v), joined(status, "\n"),
            labels(given.dossier, v.exhibits) or "none", sign + shown,
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
    return f"{amount(value)} {found.currency}"


def _totals(found: LossStatement) -> Table:
    columns = (
        Column("", 3.4),
        Column("Lowest reading", 1.6, "right"),
        Column("Claimed", 1.6, "right"),
        Column("Highest reading", 1.6, "right"),
    )
    readings = (found.low, found.claimed, found.high)
    rows = [Row(("Lines with their tax", *(_money(found, s.gross) for s in readings)))]
    if any(s.by_value for s in readings):
        value = found.claimed.value or Decimal(0)
        rows.append(
            Row(("Repair, or value before less salvage where less",
                 *(_money(found, min(s.repair, value)) for s in readings)))
        )  # fmt: skip
    for words, of in (
        ("less wear, with the tax on it", [sum((w for _, w in s.wear), Decimal(0)) + s.tax_on_wear for s in readings]),
        ("less other deductions", [s.credits for s in readings]),
        ("less share of fault", [s.fault for s in readings]),
        ("less payments", [s.payments for s in readings]),
    ):
        if any(of):
            rows.append(Row((words, *(f"− {_money(found, x)}" if x else _money(found, x) for x in of))))
    rows.append(Row(("Total", *(_money(found, s.total) for s in readings)), strong=True))
    return Table(columns, tuple(rows))


def _readings(found: LossStatement) -> list[Block]:
    told: list[Block] = []
    if differ := found.makes_the_difference:
        lines = [
            f"{line.label} ({line.item.text}): {_money(found, line.low)} to {_money(found, line.high)}"
            + (f"; wear is disputed ({line.item.wear.words()})" if line.item.wear and line.item.wear.disputed else "")
            for line in differ
        ]
        told += [Para("", head="What makes the difference between the readings."), Bullets(tuple(lines))]
    told.append(
        Para(f"{_money(found, found.documented)} of the lines with their tax is backed by a paper in the record, "
             f"{_money(found, found.undocumented)} is not.", head="Documents.")
    )  # fmt: skip
    if found.temporary:
        told.append(
            Para(f"{_money(found, found.temporary)} of it comes back, which leaves "
                 f"{_money(found, found.claimed.total - found.temporary)} of what is claimed.", head="For a time only.")
        )  # fmt: skip
    return told


def _links(found: LossStatement) -> list[Block]:
    """What makes the lines recoverable, and who could be responsible; lines without a link apart."""
    by_words: dict[tuple[bool, str, tuple[str, ...]], list[LossLine]] = {}
    for line in found.counted:
        if line.item.nature != "deduction":
            by_words.setdefault((line.link.linked, line.link.words, line.link.could_be), []).append(line)
    columns = (Column("Lines", 2), Column("What they rest on", 4), Column("Who could be responsible", 2.4))
    rows = [
        Row((enumerated(x.label for x in lines), words if linked else f"no link on record: {words}", ", ".join(who) or "not stated"),
            strong=not linked)
        for (linked, words, who), lines in sorted(by_words.items(), key=lambda pair: not pair[0][0])
    ]  # fmt: skip
    return [Heading("What makes it recoverable"), Table(columns, tuple(rows))]


def natures_told(found: LossStatement) -> str:
    """The totals by nature in one sentence."""
    return "; ".join(f"{say(n)} {found.printed(a)}" for n, a in sorted(found.by_nature.items()))
