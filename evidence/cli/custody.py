"""``evidence custody``: chains of custody with their faults, exhibit labels, hand-over forms, and the page on practice."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

from evidence.cli.common import desk, dossier_in, is_bundle, print_json, shown, table

if TYPE_CHECKING:
    from evidence.timeline.chains import Chain, Link
    from evidence.timeline.custody import CustodyFault
    from evidence.usecases.custody import CustodyView

_DOSSIER = typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
_OR_BUNDLE = typer.Argument(metavar="DOSSIER", help="Short name of a dossier of the workspace, or a bundle.")
_ITEMS = typer.Argument(
    metavar="ITEM", help="Vehicle, exhibits, instruments: short name or number, such as 'exhibit 7'."
)
_OUT = typer.Option("-o", "--out", help="The PDF to write.")


class CustodyGroup(TyperGroup):
    """``evidence custody DOSSIER`` is ``evidence custody show DOSSIER``."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Put ``show`` in front where no command is named."""
        if args and args[0] not in self.commands and args[0] not in ("--help", "-h"):
            args = ["show", *args]
        return super().parse_args(ctx, args)


custody_app = typer.Typer(
    cls=CustodyGroup,
    no_args_is_help=True,
    rich_markup_mode=None,
    help="Who held what: 'evidence custody DOSSIER'; labels and hand-over forms to print.",
)


@custody_app.command("show")
def show(
    dossier: Annotated[str, _OR_BUNDLE],
    items: Annotated[list[str] | None, _ITEMS] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False,
) -> None:
    """Show the chain of custody of every item, then what does not fit and what cannot be told. The default."""
    from evidence.usecases.custody import custody_held, custody_of

    if is_bundle(dossier):
        view = custody_held(dossier_in(dossier), items or ())
    else:
        with desk() as opened:
            view = custody_of(opened, dossier, items or ())
    if as_json:
        from evidence.timeline.custody_json import as_json as plain

        print_json(plain(view.dossier.title, view.chains, view.faults, view.doubts))
        return
    zone = view.dossier.opening.zone
    typer.echo(shown(view.dossier.title) + (f" (times in {zone} unless said)" if zone else ""))
    _print_chains(view, named=bool(items))
    _print_faults(view)


@custody_app.command("label")
def label(
    dossier: Annotated[str, _DOSSIER],
    items: Annotated[list[str], _ITEMS],
    out: Annotated[Path, _OUT],
    sheet: Annotated[str, typer.Option(help="a4-8, a4-14, letter-10 or single.")] = "a4-8",
    start: Annotated[int, typer.Option(help="First free place on a sheet that was used before, counted by rows.")] = 1,
) -> None:
    """Make labels to stick on exhibits: number, dossier, what, who took it, container and seal or hash, and a QR code of it."""
    from evidence.report.forms.labels import build_labels
    from evidence.usecases.custody import label_cards

    with desk() as opened:
        cards = label_cards(opened, dossier, items)
    pages = build_labels(cards, out, sheet, start)
    typer.echo(
        f"{out}: {len(cards)} label{'s' * (len(cards) != 1)}, {pages} page{'s' * (pages != 1)}; print at full size"
    )


@custody_app.command("handover")
def handover(
    dossier: Annotated[str, _DOSSIER],
    items: Annotated[list[str], _ITEMS],
    out: Annotated[Path, _OUT],
    released_by: Annotated[str, typer.Option(help="Party; default: who holds the items by the record.")] = "",
    received_by: Annotated[str, typer.Option(help="Party; left out: a blank to fill in.")] = "",
    when: Annotated[str, typer.Option(help="Date and time; left out: a blank.")] = "",
    place: Annotated[str, typer.Option(help="Place; left out: a blank.")] = "",
    purpose: Annotated[str, typer.Option(help="Why it is handed over; left out: a blank.")] = "",
) -> None:
    """Make a one-page form that both sides fill in and sign; it says how its scan gets back into the record."""
    from evidence.report.forms.handover import build_handover
    from evidence.timeline.forms import Filled
    from evidence.usecases.custody import handover_form

    filled = Filled(when=when, place=place, purpose=purpose)
    with desk() as opened:
        form = handover_form(opened, dossier, items, released_by, received_by, filled)
    build_handover(form, out)
    typer.echo(f"{out}: hand-over form {form.reference}. When it is signed:")
    for command in form.commands:
        typer.echo(f"  {shown(command)}")


@custody_app.command("practice")
def practice() -> None:
    """Print how this program meets published practice for handling evidence, and where it does not."""
    from importlib.resources import files

    for line in readable((files("evidence") / "practice.md").read_text("utf-8")):
        typer.echo(line)


def readable(markdown: str) -> Iterator[str]:
    """The page for a terminal: each row of its table as a block of wrapped lines."""
    heads: list[str] = []
    for line in markdown.splitlines():
        text = line.replace("**", "").replace("`", "")
        if not line.startswith("|"):
            yield text.removeprefix("# ")
            continue
        cells = [cell.strip() for cell in text.removeprefix("|").removesuffix("|").split("|")]
        if not heads:
            heads = cells
        elif not any(cells[1:]):
            yield f"\n{cells[0].upper()}"
        elif set(cells[0]) != {"-"}:
            yield f"\n{cells[0]}"
            for head, cell in zip(heads[1:], cells[1:], strict=True):
                yield from textwrap.wrap(f"{head}: {cell}", 100, initial_indent="  ", subsequent_indent="    ")


def _print_chains(view: CustodyView, *, named: bool) -> None:
    zone = view.dossier.opening.zone or ""
    silent = [c for c in view.chains if c.kind == "device" and not c.links and not named]
    files = [c for c in view.chains if c.kind == "file" and len(c.links) == 1 and not named]
    for chain in view.chains:
        if chain not in silent and chain not in files:
            _print_chain(chain, zone)
    if silent:
        _say("Devices without a hand-over on record", [c.item for c in silent])
    for (who, day), items in _by_intake(files).items():
        _say(
            f"{len(items)} file{'s' * (len(items) != 1)} taken into the record by {who} on {day}, guarded by hashes since",
            items,
        )


def _by_intake(files: list[Chain]) -> dict[tuple[str, str], list[str]]:
    found: dict[tuple[str, str], list[str]] = {}
    for chain in files:
        link = chain.links[0]
        found.setdefault((link.taken_by.name, f"{link.left.earliest:%Y-%m-%d}"), []).append(chain.item)
    return found


def _print_chain(chain: Chain, zone: str) -> None:
    from evidence.timeline.chains import state_now

    typer.echo("")
    typer.secho(f"{chain.item}  {shown(chain.what)}: {shown(state_now(chain))}", bold=True)
    heads = ["When", "From", "To", "Where, why, condition", "Container, seal", "Signed", "Record"]
    table("", heads, [_row(link, zone) for link in chain.links], empty="  no hand-over on record")


def _row(link: Link, zone: str) -> list[str]:
    from evidence.model.base import say

    left, came = (text.removesuffix(f" ({zone})") for text in (link.when, link.when_came))
    condition = [f"condition: {link.condition}"] if link.condition else []
    fate = (say(link.fate) + (f", knowingly: {link.knowing}" if link.knowing else "")) if link.fate else ""
    closed = (link.container, link.seal_opened and f"opened {link.seal_opened}", link.seal and f"seal {link.seal}")
    return [
        left if left == came else f"{left}\nreceived {came}",
        link.given_by.name if link.given_by else "",
        f"{link.taken_by.name} (kept it)" if link.own_act else link.taken_by.name,
        "\n".join(t for t in (link.place, link.purpose, *condition, link.odometer, fate) if t),
        "\n".join(t for t in closed if t),
        {True: "both", False: "not both", None: ""}[link.both_signed],
        link.record,
    ]


def _print_faults(view: CustodyView) -> None:
    typer.echo("")
    if not view.faults:
        typer.echo("Every hand-over on record fits the one before it.")
    _list("Does not fit:", view.faults)
    _list("Cannot be told:", view.doubts)


def _list(head: str, faults: tuple[CustodyFault, ...]) -> None:
    from evidence.model.kinds import enumerated

    if faults:
        typer.secho(head, bold=True)
    for fault in faults:
        unsaid = [record for record in fault.records if record not in fault.sentence]
        typer.echo(f"  - {shown(fault.sentence)}" + (f" ({enumerated(unsaid)})" if unsaid else ""))


def _say(head: str, items: list[str]) -> None:
    from evidence.model.kinds import enumerated

    typer.echo("")
    typer.echo(f"{shown(head)}: {enumerated(items)}")
