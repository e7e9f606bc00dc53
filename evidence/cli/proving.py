"""``evidence heads`` and ``evidence timestamp``: what a record was at a certain size, in the hands of others."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from evidence.cli.common import desk, print_json, shown, stop, table, workspace_folder
from evidence.cli.telling_heads import head_line, in_fours, stamp_words, standing_json, standing_row
from evidence.errors import EvidenceError, ExitCode

if TYPE_CHECKING:
    from evidence.record.handed import HandedHead
    from evidence.record.head import Head

heads_app = typer.Typer(
    no_args_is_help=True,
    help="Heads of a dossier's ledger: signed, time-stamped, countersigned, and held against those that others have. "
    "A head is three lines: which ledger, how many entries, and one hash over all of them.",
)
_DOSSIER = typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
_GIVEN = typer.Argument(metavar="HEAD", help="A file with a head, or the line as it was sent.")
_JSON = typer.Option("--json", help="Print as JSON.")
_SHOWS = (
    "A signature shows that the holder of this key said so; it does not show when. A time-stamp shows that the head existed "
    "at that time by the authority's clock; a witness shows the same by his. None of them shows that the entries are true."
)


@heads_app.command("show")
def show(dossier: Annotated[str, _DOSSIER], as_json: Annotated[bool, _JSON] = False) -> None:
    """Show the heads of a dossier: signed by whom, time-stamped when, countersigned by whom."""
    from evidence.usecases.head_standing import ahead, standings

    with desk() as opened:
        found = standings(opened, dossier)
    if as_json:
        print_json([standing_json(s) for s in found])
    else:
        table(
            "", ["Entries", "Last entry (UTC, our clock)", "Signed by", "Time-stamp", "Witness"], [standing_row(s) for s in found],
            empty="No head is kept yet. 'evidence heads sign' signs the present one.",
        )  # fmt: skip
        for line in dict.fromkeys(s.not_checked for s in found if s.not_checked):
            typer.echo(shown(line))
        for line in (line for s in found for line in ahead(s)):
            typer.echo(f"remark: {shown(line)}")
        for fault in (f for s in found for f in s.faults):
            typer.echo(f"FAULT {shown(str(fault))}")
        typer.echo(_SHOWS)
    if any(s.faults for s in found):
        stop(ExitCode.DAMAGED)


@heads_app.command("sign")
def sign(dossier: Annotated[str, _DOSSIER]) -> None:
    """Sign the present head, and earlier ones that wait for it because the key was locked; that of the second ledger too."""
    from evidence.errors import KeyUnusable
    from evidence.model.aside import beside
    from evidence.usecases.aside import with_second
    from evidence.usecases.heads import seal_head
    from evidence.usecases.pen import need

    with desk() as opened:
        with opened.ledgers.reading() as view:
            wanted = with_second(view, need(view, dossier))
        heads = [seal_head(opened, ledger) for ledger in wanted]
    for sealed in heads:
        if not sealed.signed:
            raise KeyUnusable(f"the head of {sealed.head.size} entries stays unsigned: {sealed.problem}", item=dossier)
        typer.echo(("second ledger, " if beside(sealed.head.ledger) else "") + head_line(sealed))


@heads_app.command("line")
def line(
    dossier: Annotated[str, _DOSSIER],
    out: Annotated[
        Path | None,
        typer.Option(
            "-o", "--out", help="Write the signed head to this file as well, to send or to have countersigned."
        ),
    ] = None,
) -> None:
    """Print the present head in one line, to send to somebody by message or letter today."""
    from evidence.record.checkpoint import Note, read_public_pem
    from evidence.record.handed import HandedHead, line_of
    from evidence.usecases.heads import KEY, NOTE, seal_head
    from evidence.usecases.pen import need

    with desk() as opened:
        with opened.ledgers.reading() as view:
            ledger = need(view, dossier)
        sealed = seal_head(opened, ledger)
        given = HandedHead(sealed.head)
        if NOTE in sealed.files:
            note, key = (opened.shelf.read(sealed.head, name) for name in (NOTE, KEY))
            given = HandedHead(sealed.head, Note.read(note), read_public_pem(key))
    typer.echo(line_of(sealed.head))
    typer.echo(
        f"Please keep this message. It shows later that the first {sealed.head.size} entries of our record are still as they are today."
    )
    if out:
        _write(out, given.to_bytes())
        typer.echo(f"{out}: the head{' with its signature and key' if sealed.signed else ''}", err=True)
    if not sealed.signed:
        typer.echo(f"The head is NOT SIGNED: {shown(sealed.problem)}", err=True)


@heads_app.command("witness")
def witness(
    given: Annotated[list[str], _GIVEN],
    out: Annotated[Path, typer.Option("-o", "--out", help="The file to give back.")],
    name: Annotated[str, typer.Option("--as", help="Name of the key to countersign with.")] = "shop",
    proof: Annotated[
        Path | None, typer.Option(help="Consistency proof from a head that you countersigned before.")
    ] = None,
) -> None:
    """Countersign a head that somebody else hands you: you say that he had it by now, and nothing on its content."""
    from evidence.bootstrap import key_ring
    from evidence.edges.keys import SHOP
    from evidence.usecases.earlier_heads import check_proof
    from evidence.usecases.witnessing import countersign

    head = _handed(given)
    shown_proof = check_proof(_json(proof)) if proof else None
    with desk() as opened:
        signer = opened.signer if name == SHOP else key_ring(workspace_folder()).get(name)
        done = countersign(opened, head, signer, shown_proof, "" if name == SHOP else name)
    _write(out, done.reply)
    typer.echo(
        f"{done.head.size} entries of ledger {done.head.ledger[:8]}…, countersigned as {shown(done.witness)} "
        f"on {done.at:%Y-%m-%d %H:%M:%S} UTC"
    )
    typer.echo(
        f"signed before by key {in_fours(done.shop)}"
        if done.shop
        else "it came without a signature that could be checked"
    )
    typer.echo(f"{out}: give this file back, and your fingerprint on paper or by voice: {in_fours(done.fingerprint)}")


@heads_app.command("accept")
def accept(
    file: Annotated[Path, typer.Argument(help="The file that the witness gave back.")],
    key: Annotated[
        str, typer.Option("--key", help="The witness's fingerprint as he told it, or its first groups.")
    ] = "",
) -> None:
    """Check a countersignature that a witness gave back, and keep it beside the head."""
    from evidence.usecases.witnessing import accept as take

    with desk() as opened:
        done = take(opened, _handed([str(file)]), key)
    typer.echo(
        f"head of {done.head.size} entries: countersigned by {shown(done.witness)} on {done.at:%Y-%m-%d %H:%M:%S} UTC by his clock; kept"
    )
    if done.own:
        typer.echo("That key is one of this workspace: it names who signed here, it is no second party's word.")
    elif not key:
        typer.echo(f"Compare the fingerprint with him, on paper or by voice: {in_fours(done.fingerprint)}")


@heads_app.command("compare")
def compare(given: Annotated[list[str], _GIVEN], as_json: Annotated[bool, _JSON] = False) -> None:
    """Hold a head that was sent out earlier against the present ledger."""
    from evidence.record.handed import line_of
    from evidence.usecases.earlier_heads import compare as hold
    from evidence.usecases.earlier_heads import contradicting

    with desk() as opened:
        found = hold(opened, _handed(given))
    if as_json:
        print_json(
            {
                "agreement": found.agreement, "earlier": line_of(found.earlier), "present": line_of(found.present),
                "signed_by": found.signed_by,
            }
        )  # fmt: skip
    if found.agreement != "continues":
        raise contradicting(found)
    if not as_json:
        typer.echo(
            f"The first {found.earlier.size} entries are the ones that this head speaks of; "
            f"{found.present.size - found.earlier.size} have come since."
        )
        if found.signed_by:
            typer.echo(f"It was signed here, by key {in_fours(found.signed_by[:16])} …")


@heads_app.command("proof")
def proof(
    dossier: Annotated[str, _DOSSIER],
    start: Annotated[
        str,
        typer.Option("--from", metavar="SIZE|HEAD", help="The earlier size, or a file or line with the earlier head."),
    ],
    end: Annotated[
        int | None, typer.Option("--to", metavar="SIZE", help="The later size; default: the present.")
    ] = None,
    out: Annotated[Path | None, typer.Option("-o", "--out", help="Write to this file instead of the screen.")] = None,
) -> None:
    """Prove to somebody who holds two heads and no entries that the one is the beginning of the other (RFC 9162)."""
    from evidence.usecases.earlier_heads import prove

    first: int | Head = int(start) if start.isascii() and start.isdigit() else _handed([start]).head
    with desk() as opened:
        made = prove(opened, dossier, first, end)
    text = json.dumps(made, indent=2, sort_keys=True) + "\n"
    if out:
        _write(out, text.encode())
        typer.echo(
            f"{out}: {made['from']['size']} entries are the beginning of {made['to']['size']}, in {len(made['proof'])} hashes"
        )
    else:
        typer.echo(text, nl=False)


@heads_app.command("check")
def check(
    file: Annotated[Path, typer.Argument(help="A proof that 'evidence heads proof' wrote.")],
    held: Annotated[
        list[str] | None, typer.Option("--head", metavar="HEAD", help="A head that you hold (file or line); give both.")
    ] = None,
) -> None:
    """Check a proof against the two heads that you hold. Needs no workspace."""
    from evidence.usecases.earlier_heads import check_proof

    try:
        found = check_proof(_json(file), tuple(_handed([h]).head for h in held or []))
    except ValueError as err:
        raise EvidenceError(f"{err}", item=str(file)) from None
    for reason in found.reasons:
        typer.echo(f"FAULT {reason}")
    if not found.holds:
        stop(ExitCode.DAMAGED)
    typer.echo(
        f"{found.earlier.size} entries are the beginning of {found.later.size}: nothing before was changed or taken away."
    )
    if len(held or []) < 2:
        typer.echo("Which heads these are was not confirmed: give both heads that you hold with --head.")


def timestamp(
    dossier: Annotated[str, _DOSSIER],
    authority: Annotated[
        str, typer.Option(metavar="URL", help="Address of the authority; default: the one in settings.toml.")
    ] = "",
    root: Annotated[
        Path | None, typer.Option(help="The authority's root certificate (PEM), to be trusted from now on.")
    ] = None,
    again: Annotated[bool, typer.Option("--again", help="Get a further stamp although there is one.")] = False,
    as_json: Annotated[bool, _JSON] = False,
) -> None:
    """Have a time-stamp authority (RFC 3161) confirm the present head. Only a hash leaves the house."""
    from evidence.usecases.timestamps import timestamp as have_stamped

    with desk() as opened:
        if root:
            opened.authority.trust(_read(root))
        results = have_stamped(opened, dossier, authority, again=again)
    if as_json:
        print_json(
            [
                {
                    "dossier": r.dossier, "entries": r.head.size, "state": r.state, "authority": r.url, "problem": r.problem,
                    "time": r.found.time.isoformat() if r.found and r.found.time else None,
                    "chain_trusted": bool(r.found and r.found.chain_trusted),
                }
                for r in results
            ]
        )  # fmt: skip
    else:
        for r in results:
            words = f"{stamp_words(r.found)}" if r.found else f"QUEUED, {shown(r.problem)}"
            typer.echo(f"{shown(r.dossier)}, head of {r.head.size} entries: {r.state + ', ' if r.found else ''}{words}")
        if any(r.state == "queued" for r in results):
            typer.echo(
                "The wish is kept; the next 'evidence timestamp' asks again. Until then: 'evidence heads line' and a message."
            )
        else:
            typer.echo("It shows that the record existed then by the authority's clock; not that what it says is true.")
    if any(r.state == "queued" for r in results):
        stop(ExitCode.UNFINISHED)


def _handed(words: list[str]) -> HandedHead:
    """A head from a file, or from the words of a message."""
    from evidence.usecases.earlier_heads import handed

    if len(words) == 1 and "\n" not in words[0] and len(words[0]) < 1000 and Path(words[0]).exists():
        return handed(_read(Path(words[0])), words[0])
    return handed(" ".join(words).encode(), shown(words[0])[:60])


def _json(file: Path) -> Any:
    try:
        return json.loads(_read(file))
    except (ValueError, RecursionError):
        raise EvidenceError("is no proof: it cannot be read as JSON", item=str(file)) from None


def _read(file: Path) -> bytes:
    from evidence.record.handed import LARGEST

    try:
        with file.open("rb") as handle:
            data = handle.read(10 * LARGEST + 1)
    except OSError as err:
        raise EvidenceError(f"cannot be read: {err.strerror}", item=str(file)) from None
    if len(data) > 10 * LARGEST:
        raise EvidenceError("is too long to be what is asked for", item=str(file))
    return data


def _write(file: Path, data: bytes) -> None:
    from evidence.report.writing import whole_file

    with whole_file(file) as stream:
        stream.write(data)
