"""``evidence keys``: signing keys of the shop and of people."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evidence.cli.common import print_json, shown, workspace_folder
from evidence.cli.telling_heads import in_fours
from evidence.errors import EvidenceError

if TYPE_CHECKING:
    from evidence.edges.key_ring import KeyRing
    from evidence.record.attested import KnownKey

keys_app = typer.Typer(
    no_args_is_help=True,
    help="Signing keys (Ed25519) of the shop and of people. They lie in the folder 'keys' of the workspace and nowhere else: "
    "keep a copy of that folder where nobody else gets at it.",
)
_NAME = typer.Argument(help="Name of the key; the shop's is 'shop', the one that signs PDFs 'document'.")
_STATES = {
    "open": "in use, without a passphrase: who copies its file can sign with it",
    "locked": "in use, with a passphrase",
    "lost": "its private part is gone",
    "replaced": "replaced by the next key",
    "revoked": "revoked",
}


def _ring() -> KeyRing:
    from evidence.bootstrap import key_ring

    return key_ring(workspace_folder())


@keys_app.command("list")
def list_keys(as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False) -> None:
    """Show all keys with their fingerprints, in groups of four to print on paper."""
    from evidence.record.checkpoint import fingerprint

    ring = _ring()
    known, document = ring.known(), ring.document()
    if as_json:
        print_json(
            [
                {
                    "name": k.name, "fingerprint": fingerprint(k.public), "state": k.state, "reason": k.reason,
                    "ended": k.ended.isoformat() if k.ended else None,
                }
                for k in known
            ]
            + [
                {"name": "document", "fingerprint": print_of, "state": state, "reason": "", "ended": None}
                for print_of, state in ([document] if document else [])
            ]
        )  # fmt: skip
        return
    if not known:
        typer.echo("No key yet. The shop's key is made when the first head is signed, or by 'evidence keys make'.")
    for key in known:
        _tell(key)
    if document:
        typer.echo(f"document (RSA, signs PDFs): {_STATES[document[1]]}")
        _print_of(document[0])
    for line in ring.loose():
        typer.echo(f"OPEN TO OTHERS: {shown(line)}")
    if known:
        typer.echo(
            "A fingerprint tells others which key is yours. Hand it over on paper or read it out; a file or message "
            "cannot vouch for itself."
        )


def _tell(key: KnownKey) -> None:
    from evidence.record.checkpoint import fingerprint

    ended = f" on {key.ended}" if key.ended else ""
    why = f" ({shown(key.reason)})" if key.reason else ""
    typer.echo(f"{key.name}: {_STATES[key.state]}{ended}{why}")
    _print_of(fingerprint(key.public))


def _print_of(fingerprint: str) -> None:
    fours = in_fours(fingerprint)
    typer.echo(f"    {fours[:39]}\n    {fours[40:]}")


@keys_app.command("make")
def make(
    name: Annotated[str, _NAME] = "shop",
    passphrase: Annotated[bool, typer.Option("--passphrase", help="Ask for a passphrase at once.")] = False,
) -> None:
    """Make a key: the shop's, or one of a person who signs in their own name."""
    ring = _ring()
    made = ring.make(name)
    if passphrase:
        try:
            ring.set_passphrase(name)
        except EvidenceError as err:
            advice = f"The key was made and has no passphrase yet: evidence keys passphrase {name}"
            raise EvidenceError(err.message, item=err.item, advice=advice) from None
        made = next(k for k in ring.known() if k.name == name)
    _tell(made)
    typer.echo(
        "Print the fingerprint and hand it out. Copy the folder 'keys' to a safe place: a lost key cannot be made again."
    )
    if made.state == "open":
        typer.echo(f"Set a passphrase: evidence keys passphrase {name}")


@keys_app.command("passphrase")
def passphrase(
    name: Annotated[str, _NAME] = "shop",
    remove: Annotated[bool, typer.Option("--remove", help="Take the passphrase away.")] = False,
) -> None:
    """Set or change the passphrase of a key (asked at the terminal, or EVIDENCE_PASSPHRASE and EVIDENCE_NEW_PASSPHRASE)."""
    ring = _ring()
    ring.set_passphrase(name, remove=remove)
    typer.echo(
        f"{name}: {'has no passphrase any more' if remove else 'has a new passphrase'}; the key and its fingerprint are the same"
    )
    typer.echo("Copies of the key file made before still open as before.")
    document = ring.document()
    if name == "shop" and document and document[1] == "open" and not remove:
        typer.echo("The key that signs PDFs has no passphrase yet: evidence keys passphrase document")


@keys_app.command("rotate")
def rotate(
    reason: Annotated[str, typer.Option(help="Why; the statement carries it.")],
    name: Annotated[str, _NAME] = "shop",
    date: Annotated[str, typer.Option(help="From when; default: today.")] = "",
) -> None:
    """Replace a key by a new one, with a statement signed by both. If the old key may be in other hands, revoke it instead."""
    made, statement = _ring().rotate(name, _date(date), reason)
    _tell(made)
    typer.echo(f"Statement, signed by the old key and by the new: {statement}")
    typer.echo(
        "Whoever holds the old fingerprint can follow it to the new one with 'evidence keys check'. The old key signs no more."
    )


@keys_app.command("revoke")
def revoke(
    reason: Annotated[str, typer.Option(help="Why: 'the laptop was stolen'; the statement carries it.")],
    name: Annotated[str, _NAME] = "shop",
    date: Annotated[str, typer.Option(help="Since when it is not to be trusted; default: today.")] = "",
) -> None:
    """End a key that is lost or may be in other hands. It cannot be taken back."""
    ring = _ring()
    statement = ring.revoke(name, _date(date), reason)
    typer.echo(f"{name}: revoked. Statement: {statement}")
    if name == "document":
        typer.echo(
            "It signs no more PDFs; the next report makes another key. Tell everybody who holds its fingerprint, on paper: "
            "the statement is not signed. Its certificate is kept beside the statement, for PDFs that it signed before."
        )
        return
    if statement.suffix == ".txt":
        typer.echo("The private key is gone, so the statement is not signed: hand it over yourself, on paper.")
    typer.echo(
        "Tell everybody who holds the fingerprint. Heads signed before stand as far as a time-stamp, a witness or a copy in "
        f"other hands shows that they were there before that day. New heads stay unsigned until 'evidence keys make {name}'."
    )
    if name == "shop" and ring.document():
        typer.echo(
            "The key that signs PDFs lay beside it and still signs. To end it too: evidence keys revoke document"
        )


@keys_app.command("export")
def export(
    out: Annotated[Path, typer.Option("-o", "--out", help="New folder to write.")],
    name: Annotated[str, _NAME] = "shop",
) -> None:
    """Write what others need: the public key, its fingerprint, statements on earlier keys. Nothing secret."""
    from evidence.errors import OutputUnusable
    from evidence.record.checkpoint import fingerprint, read_public_pem
    from evidence.report.writing import whole_file

    files = _ring().public_files(name)
    print_of = in_fours(fingerprint(read_public_pem(files[f"{name}.pem"])))
    files["fingerprint.txt"] = f"{print_of[:39]}\n{print_of[40:]}\n".encode()
    try:
        out.mkdir(parents=True)
    except OSError as err:
        raise OutputUnusable(f"cannot be made: {err.strerror}", item=str(out), advice="Name a new folder.") from None
    try:
        for file, data in files.items():
            with whole_file(out / file) as stream:
                stream.write(data)
    except EvidenceError:
        shutil.rmtree(out, ignore_errors=True)  # the same command works once there is room
        raise
    typer.echo(f"{out}: {', '.join(files)}")


@keys_app.command("check")
def check(
    statement: Annotated[Path, typer.Argument(help="A statement on a key (.replaced.note or .revoked.note).")],
    key: Annotated[Path, typer.Option("--key", help="The public key that it speaks of, as you hold it (.pem).")],
) -> None:
    """Check a statement that a key was replaced or revoked, against the key that you hold."""
    from evidence.record.checkpoint import Note, fingerprint, read_public_pem
    from evidence.record.statements import read_statement, said_by

    try:
        public = read_public_pem(key.read_bytes())
        note = Note.read(statement.read_bytes())
        said = read_statement(note.text)
    except OSError as err:
        raise EvidenceError(f"cannot be read: {err.strerror}", item=str(err.filename)) from None
    except ValueError as err:
        raise EvidenceError(f"cannot be read: {err}", item=str(statement)) from None
    if said.key != fingerprint(public) or not said_by(note, public):
        raise EvidenceError(
            "was not signed by the key that you hold", item=str(statement), advice="Do not rely on it; ask its sender."
        )
    if said.successor is None:
        typer.echo(f"Revoked by itself as of {said.date}: {shown(said.reason)}")
        return
    if not said_by(note, said.successor):
        raise EvidenceError(
            "the new key did not sign it", item=str(statement), advice="Do not rely on it; ask its sender."
        )
    typer.echo(f"Replaced as of {said.date}: {shown(said.reason)}. The new key has signed it too. Its fingerprint:")
    typer.echo(f"    {in_fours(fingerprint(said.successor))}")


def _date(text: str) -> dt.date:
    from evidence.edges.settings import read_settings
    from evidence.edges.system import SystemClock
    from evidence.model.when import local_day

    try:
        if text:
            return dt.date.fromisoformat(text)
        return local_day(SystemClock().now(), read_settings(workspace_folder()).zone)
    except ValueError:
        raise EvidenceError("is no date", item=text, advice="Write it as 2026-03-04.") from None
