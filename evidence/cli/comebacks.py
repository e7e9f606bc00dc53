"""``evidence comebacks``: the register of vehicles that came back, what goes into it, and what it tells."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

from evidence.cli.common import desk, print_json, progress, shown, table, workspace_folder
from evidence.errors import EvidenceError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from evidence.errors import Mistake
    from evidence.ports import Desk
    from evidence.register.batches import Batch
    from evidence.usecases.comebacks import Counted

_VIEWS = "overview, list, operation, technician, firm, origin, lasting, cost, trend, claims"
_ON = typer.Option(metavar="DAY", help="Tell it as of this day; default: today.")
_NAMES = typer.Option("--names", help="With the names of firms, technicians and vehicles.")
_DEMO = typer.Option("--demonstrations", help="Count demonstration dossiers as well.")


class ComebacksGroup(TyperGroup):
    """``evidence comebacks`` is ``evidence comebacks show``."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Put ``show`` in front where no command is named."""
        if not args or (args[0] not in self.commands and args[0] not in ("--help", "-h")):
            args = ["show", *args]
        return super().parse_args(ctx, args)


comebacks_app = typer.Typer(
    cls=ComebacksGroup, rich_markup_mode=None,
    help="Vehicles that came back, to us or from elsewhere: how often, after how long, at what cost; and check cards.",
)  # fmt: skip


@comebacks_app.command("show")
def show(
    view: Annotated[str, typer.Argument(metavar="[VIEW]", help=f"One of: {_VIEWS}.")] = "overview",
    operation: Annotated[str, typer.Option(help="Time and distance of this operation alone.")] = "",
    on: Annotated[str, _ON] = "",
    names: Annotated[bool, _NAMES] = False,
    demonstrations: Annotated[bool, _DEMO] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False,
) -> None:
    """Show what the register tells. The default."""
    from evidence.model.base import nearest
    from evidence.store.memory import uncollected
    from evidence.usecases.comeback_views import VIEWS, counted_words, views, views_json

    wanted = next((v for v in VIEWS if v == view), None)
    if wanted is None:
        raise EvidenceError(f"is no view{nearest(view, VIEWS)}", item=view, advice=f"Views: {_VIEWS}.")
    with desk() as opened, uncollected():
        told, day = _counted(opened, on, demonstrations)
        made = views(opened, told.held, wanted, operation, names=names)
    if as_json:
        print_json(views_json(made, told, day, names=names))
        return
    for one in made:
        table(one.title, one.columns, one.rows, empty=f"{one.title}: {one.empty}")
        for note in one.notes if one.rows else ():
            typer.echo(f"  {shown(note)}")
        typer.echo("")
    for words in counted_words(told, day):
        typer.echo(shown(words))


def _counted(opened: Desk, on: str, demonstrations: bool) -> tuple[Counted, dt.date]:
    from evidence.usecases.comebacks import counted

    day = _day(on, "--on") or opened.today()
    with progress() as shower:
        return counted(opened, day, shower, demonstrations=demonstrations), day


def _day(text: str, item: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text) if text else None
    except ValueError as err:
        raise EvidenceError(f"{text!r} is not a day; write it such as 2026-06-30", item=item) from err


@comebacks_app.command("add")
def add(
    back: Annotated[str, typer.Option(metavar="DAY", help="The day it came back.")],
    operation: Annotated[list[str] | None, typer.Option(help="The prior operation; again for more.")] = None,
    order: Annotated[str, typer.Option(help="Number of the prior order.")] = "",
    vehicle: Annotated[str, typer.Option(help="Plate or VIN.")] = "",
    firm: Annotated[str, typer.Option(help="Who did the prior work; left out: this shop.")] = "",
    technician: Annotated[str, typer.Option(help="Who in the firm did it.")] = "",
    worked: Annotated[str, typer.Option(metavar="DAY", help="The day it left after the prior work.")] = "",
    odometer: Annotated[str, typer.Option(help="Then, such as '84210 km'.")] = "",
    back_odometer: Annotated[str, typer.Option(help="When it came back, such as '84950 km'.")] = "",
    part_origin: Annotated[list[str] | None, typer.Option(help="Origin of a part fitted: maker_new, used …")] = None,
    mechanism: Annotated[str, typer.Option(help="What went wrong, by the id of a mechanism ('evidence rules').")] = "",
    cost: Annotated[str, typer.Option(help="What it cost, such as '180.00 EUR'.")] = "",
    recovered: Annotated[str, typer.Option(help="What another firm paid, such as '90.00 EUR'.")] = "",
    ended: Annotated[
        str, typer.Option(help="How it ended: paid, part_paid, refused, settled, withdrawn, closed …")
    ] = "",
) -> None:
    """Add a comeback that has no dossier, in one command."""
    from evidence.usecases.comeback_entry import Stated, stated
    from evidence.usecases.comebacks import take_entry

    with desk() as opened:
        entry = stated(
            Stated(
                back=back, operations=tuple(operation or ()), order=order, vehicle=vehicle, firm=firm, technician=technician,
                worked=worked, odometer=odometer, back_odometer=back_odometer, part_origins=tuple(part_origin or ()),
                mechanism=mechanism, cost=cost, recovered=recovered, ended=ended,
            ),
            opened,
        )  # fmt: skip
        batch = take_entry(opened, entry)
    typer.echo(f"register entry {batch.number}: taken in")


@comebacks_app.command("import")
def import_(
    file: Annotated[Path, typer.Argument(help="The table (CSV).")],
    mapping: Annotated[
        Path, typer.Option(help="Which column is what (YAML); 'evidence comebacks mapping' prints an empty one.")
    ],
    leave_out_broken: Annotated[
        bool, typer.Option("--leave-out-broken", help="Take the sound rows; broken ones stay in the file that is kept.")
    ] = False,
) -> None:
    """Import the shop's own work orders: with what was not a comeback there is a rate, and not only a list."""
    with desk() as opened:
        taken, mistakes = take_in(opened, file, mapping, leave_out_broken=leave_out_broken)
    for mistake in mistakes:
        typer.echo(f"left out: {shown(str(mistake))}", err=True)
    left = f"; {taken.left_out} rows left out" if taken.left_out else ""
    typer.echo(
        f"import {taken.number}: {taken.orders} orders, {taken.comebacks} of them comebacks{left}; SHA-256 {taken.sha256}"
    )


def take_in(
    opened: Desk, file: Path, mapping: Path, *, leave_out_broken: bool = False
) -> tuple[Batch, Sequence[Mistake]]:
    """Take in a table by its mapping file; what was taken in, and what was left out. Raises :class:`EvidenceError`."""
    from evidence.capture.order_table import listed, read_bytes, read_mapping, read_orders
    from evidence.register.batches import Batch, Content
    from evidence.usecases.comebacks import require_known, take_table

    raw, mapped = read_bytes(file), read_bytes(mapping, 2**20)
    number = opened.book.next_number()
    read = read_mapping(mapped, mapping.name)
    require_known(opened, read, mapping.name)
    found = read_orders(raw, file.name, read, f"import {number}")
    batch = Batch(number=number, sort="table", made_at="", made_by="", file=file.name, left_out=len(found.mistakes))
    content = Content(raw=raw, mapping=mapped, rows=found.rows)
    told = listed(found.mistakes)
    return take_table(opened, batch, content, told, leave_out_broken=leave_out_broken), told


@comebacks_app.command("mapping")
def mapping_() -> None:
    """Print an empty mapping file, to be filled in with the headings of the table."""
    from evidence.capture.order_table import EMPTY_MAPPING

    typer.echo(EMPTY_MAPPING, nl=False)


@comebacks_app.command("withdraw")
def withdraw(
    number: Annotated[int, typer.Argument(help="Number of the import or entry.")],
    reason: Annotated[str, typer.Option(help="Why; it stays in the book.")] = "",
) -> None:
    """Withdraw an import or an entry: it stays in the book and counts no more."""
    from evidence.usecases.comebacks import withdraw_batch

    with desk() as opened:
        withdraw_batch(opened, number, reason)
    typer.echo(f"number {number}: withdrawn; it stays in the book")


@comebacks_app.command("book")
def book() -> None:
    """List what was handed in to the register, withdrawn things too, and read each file again."""
    from evidence.usecases.comebacks import book_lines

    with desk() as opened:
        rows = book_lines(opened)
    table(
        "", ["No.", "When", "By", "What", "Counted", "State"], rows, empty="Nothing was handed in to the register yet."
    )


@comebacks_app.command("export")
def export(
    out: Annotated[Path, typer.Argument(help="The file to write: .csv or .parquet.")],
    on: Annotated[str, _ON] = "",
    names: Annotated[bool, _NAMES] = False,
    demonstrations: Annotated[bool, _DEMO] = False,
) -> None:
    """Write every comeback as a row, CSV or Parquet; without names unless asked for."""
    from evidence.register.export import export_rows
    from evidence.report.register_files import write_rows

    with desk() as opened:
        told, _ = _counted(opened, on, demonstrations)
    columns, rows = export_rows(told.held, names=names)
    write_rows(columns, rows, out)
    typer.echo(f"{out}: {len(rows)} comebacks, {'with' if names else 'without'} names")


@comebacks_app.command("report")
def report(
    out: Annotated[Path, typer.Option("-o", "--out", help="The PDF to write.")],
    on: Annotated[str, _ON] = "",
    names: Annotated[bool, _NAMES] = False,
    demonstrations: Annotated[bool, _DEMO] = False,
    sign: Annotated[
        bool, typer.Option("--sign/--no-sign", help="Sign the PDF with the workspace's document key.")
    ] = True,
) -> None:
    """Print the whole register as a PDF, signed; without names unless asked for."""
    from evidence.cli.telling_heads import signature_words
    from evidence.publishing import write_pages
    from evidence.report.register_pages import register_report
    from evidence.usecases.comeback_views import counted_words, paper_views

    with desk() as opened:
        told, day = _counted(opened, on, demonstrations)
        made = paper_views(opened, told.held, names=names)
        at, firm = opened.clock.now(), opened.recorder.firm
        printed = write_pages(
            opened, workspace_folder(), lambda unsigned: register_report(made, counted_words(told, day), firm, at, day, unsigned),
            out, sign=sign,
        )  # fmt: skip
    typer.echo(f"{out}: {printed.pages} pages, {'with' if names else 'without'} names")
    typer.echo(signature_words(printed))


@comebacks_app.command("cards")
def cards_(
    out: Annotated[
        Path | None, typer.Option("-o", "--out", help="The PDF to write, or plain text (.txt); left out: text here.")
    ] = None,
    on: Annotated[str, _ON] = "",
    demonstrations: Annotated[bool, _DEMO] = False,
) -> None:
    """Print a reassembly check card for each way in which this shop's own work came back."""
    from evidence.report.pdf import build_pages
    from evidence.report.register_files import write_text
    from evidence.report.register_pages import card_report, card_text
    from evidence.usecases.comeback_views import cards

    with desk() as opened:
        told, _ = _counted(opened, on, demonstrations)
        made, without = cards(opened, told.held)
        at, firm = opened.clock.now(), opened.recorder.firm
    if without:
        typer.echo(f"{without} own comebacks name no mechanism of the rule packs: there is no card for them.", err=True)
    if not made:
        typer.echo("No own comeback names a mechanism: there is no card to print.")
    elif out is None:
        typer.echo(card_text(made), nl=False)
    elif out.suffix.lower() == ".txt":
        write_text(card_text(made), out)
        typer.echo(f"{out}: {len(made)} cards")
    else:
        typer.echo(f"{out}: {len(made)} cards, {build_pages(card_report(made, firm, at), out)} pages")
