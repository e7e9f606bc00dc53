"""The command of the one who receives a bundle; it needs no workspace."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evidence.cli.common import print_json, progress, shown, stop
from evidence.errors import ExitCode

if TYPE_CHECKING:
    from evidence.review.verdict import Verdict

_MOST_TOLD = 500


def verify(
    bundle: Annotated[
        Path, typer.Argument(metavar="BUNDLE", help="The bundle: the zip, or the folder it was unpacked to.")
    ],
    key: Annotated[
        str,
        typer.Option(
            metavar="FINGERPRINT", help="Fingerprint of the signer's key, as you were told it by another way."
        ),
    ] = "",
    head: Annotated[
        str, typer.Option(metavar="HEAD", help="An earlier head: a note or checkpoint file, or the line you were sent.")
    ] = "",
    root: Annotated[
        list[Path] | None,
        typer.Option(help="Certificate of a time-stamp authority that you trust; may be given again."),
    ] = None,
    quick: Annotated[bool, typer.Option("--quick", help="Do not read the contents of files.")] = False,
    both: Annotated[bool, typer.Option("--both", help="Read files against their SHA-512 too.")] = False,
    threads: Annotated[int, typer.Option(min=1, max=64, help="Files read at once.")] = min(8, os.cpu_count() or 1),
    budget: Annotated[
        float,
        typer.Option(
            metavar="SECONDS", min=0, help="Stop after this time and go on the next time; 0: read on to the end."
        ),
    ] = 0.0,
    as_json: Annotated[bool, typer.Option("--json", help="Print the verdict as JSON.")] = False,
) -> None:
    """Check a disclosure bundle: every file, entry, link, signature and time-stamp; then run its assessment again.

    Exit codes: 0 intact, 1 damage or tampering found, 2 could not check, 3 not finished (the same command goes on).
    """
    from evidence.bundle.alone.verify import in_fours
    from evidence.receiving import Asked, roots_in, verify_received

    asked = Asked(
        key=key, head=_text_of(head), quick=quick, both=both, threads=threads, budget=budget, roots=roots_in(root or ())
    )
    try:
        with progress() as report:
            verdict = verify_received(bundle, asked, report)
    except KeyboardInterrupt:  # the command-line library would end with a code of its own
        typer.echo("evidence: stopped; the same command goes on where it was", err=True)
        raise typer.Exit(int(ExitCode.UNFINISHED)) from None
    if as_json:
        print_json(verdict.as_json())
    else:
        for line in told(verdict):
            typer.echo(shown(in_fours(line)))
    if verdict.exit_code:
        stop(ExitCode(verdict.exit_code))


def _text_of(head: str) -> str:
    """A head that is a file is read; anything else is the head itself."""
    if not head or len(head) > 4096 or not Path(head).is_file():
        return head
    with Path(head).open("rb") as handle:
        return handle.read(1 << 17).decode("utf-8", "replace")


def told(verdict: Verdict) -> list[str]:
    """The verdict for a reader: one sentence, the faults by what they are about, then what follows from it."""
    from evidence.bundle.alone.verify import advice

    found = verdict.found
    lines = [f"{verdict.title}: {verdict.sentence}" if verdict.title else verdict.sentence]
    for item, faults in list(verdict.by_item.items())[:_MOST_TOLD]:
        lines.append(f"  {item}")
        lines += [f"    {fault.message} [{fault.check}]" for fault in faults]
    if len(verdict.by_item) > _MOST_TOLD:
        lines.append(f"  and {len(verdict.by_item) - _MOST_TOLD} more")
    lines.append(f"Read: {found.files_read} of {found.files} files, {found.bytes_read:,} of {found.size:,} bytes.")
    if found.files_read < found.files:
        unread = f"{found.files - found.files_read} files, {found.size - found.bytes_read:,} bytes"
        lines.append(f"NOT read: the contents of {unread}.")
    lines.append(f"Record: {found.entries} entries of ledger {found.ledger or 'that cannot be told'}.")
    lines.append(f"Signed by key {found.signer}." if found.signer else "Signed by nobody that could be checked.")
    for title, sentences in (
        ("What is shown", verdict.shown), ("What is asserted and not shown", verdict.asserted),
        ("What is missing", verdict.missing), ("Remarks", verdict.remarks),
    ):  # fmt: skip
        if sentences:
            lines += ["", title, *(f"  - {one}" for one in sentences)]
    if verdict.exit_code == int(ExitCode.DAMAGED):
        lines += ["", *advice([(fault.check, fault.message) for fault in verdict.faults])]
    elif verdict.exit_code == 0 and not (found.key_confirmed and found.head_confirmed):
        lines += [
            "",
            "To confirm signer and head, add what the sender told you by another way: --key FINGERPRINT --head HEAD.",
        ]
    return lines
