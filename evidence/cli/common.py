"""What every command shares: where the workspace is, how errors are told, how lists and progress are shown."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from evidence.errors import EvidenceError, ExitCode

if TYPE_CHECKING:
    from evidence.model.dossier import Dossier
    from evidence.ports import Desk, Progress

MOST_DRAWN = 200  # rows of a table or a list that are set for reading; longer ones are for programs and for search
_MADE = {  # keys that are made on first use: what each is called, and its name for 'evidence keys'
    "shop.key": ("The shop's key", "shop"),
    "document.pem": ("The key that signs PDFs", "document"),
}
WORKSPACE_VARIABLE = "EVIDENCE_WORKSPACE"


class Place:
    """The workspace named on the command line, for the command that runs."""

    folder: Path = Path()
    named: bool = False


def workspace_folder() -> Path:
    """The workspace of this run: --workspace, else the environment, else the present folder."""
    return Place.folder


@contextmanager
def desk() -> Iterator[Desk]:
    """The desk of the workspace of this run."""
    from evidence.bootstrap import open_desk

    keys = workspace_folder() / "keys"
    before = {name for name in _MADE if (keys / name).exists()}
    with open_desk(workspace_folder()) as opened:
        yield opened
        for file, (what, name) in _MADE.items():
            if file not in before and (keys / file).exists():
                _tell_key(what, name, with_phrase=b"ENCRYPTED" in (keys / file).read_bytes())
        if mended := opened.likeness.mended:
            rows = "1 damaged row" if mended == 1 else f"{mended} damaged rows"
            typer.echo(f"The index of like pictures had {rows}: made anew from the pictures.", err=True)


def _tell_key(what: str, name: str, *, with_phrase: bool) -> None:
    urged = "" if with_phrase else f" It has no passphrase; set one: 'evidence keys passphrase {name}'."
    typer.echo(
        f"{what} was made. Print its fingerprint ('evidence keys list'), and keep a copy of the folder 'keys' in a safe "
        f"place.{urged}",
        err=True,
    )


def is_bundle(word: str) -> bool:
    """Whether what was named is a bundle that was received, and no dossier of the workspace.

    A folder named as a dossier is most often the one that was handed in; as a bundle it has its ``bagit.txt``.
    """
    return word.endswith(".zip") or "/" in word or Path(word).is_file() or (Path(word) / "bagit.txt").exists()


def dossier_in(bundle: str) -> Dossier:
    """The dossier that a received bundle shows, after the bundle was checked whole. Needs no workspace."""
    from evidence.reviewing import received_bundle

    with progress() as shower:
        return received_bundle(Path(bundle), shower).dossier


def tell_error(err: EvidenceError) -> None:
    """One message on standard error: what happened, to which item, what to do."""
    typer.secho(f"evidence: {shown(str(err), lines=True)} [{err.code}]", err=True, fg=typer.colors.RED)
    if err.advice:
        typer.echo(f"  {shown(err.advice, lines=True)}", err=True)


def tell_warnings(warnings: Sequence[str]) -> None:
    """Loud, on standard error: what a person may not overlook."""
    for warning in warnings:
        typer.secho(f"WARNING: {shown(warning, lines=True)}", err=True, fg=typer.colors.RED)


def stop(code: ExitCode) -> None:
    """End with an exit code of the documented list."""
    raise typer.Exit(int(code))


def print_json(value: Any) -> None:
    """Stable JSON on standard output."""
    typer.echo(json.dumps(value, ensure_ascii=False, indent=2, sort_keys=True))


def print_json_rows(value: dict[str, Any], name: str) -> None:
    """The same where ``name`` holds a list: when it is long, each of its items stands on one line."""
    rows = value[name]
    if len(rows) <= MOST_DRAWN:
        print_json(value)
        return
    head = json.dumps({**value, name: []}, ensure_ascii=False, sort_keys=True)
    before, after = head.split(f'"{name}": []')
    text = json.JSONEncoder(ensure_ascii=False, sort_keys=True).encode
    sys.stdout.write(f'{before}"{name}": [\n')
    sys.stdout.writelines(text(row) + (",\n" if n < len(rows) else "\n") for n, row in enumerate(rows, 1))
    sys.stdout.write(f"]{after}\n")


def table(title: str, columns: Sequence[str], rows: Sequence[Sequence[str]], *, empty: str) -> None:
    """A table on standard output; a sentence where there is nothing to show. Long ones are plain, a row on each line."""
    if not rows:
        typer.echo(empty)
        return
    if len(rows) > MOST_DRAWN:
        _plain(title, columns, rows)
        return
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    made = Table(
        title=title or None, title_justify="left", box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False,
        show_header=any(columns),
    )  # fmt: skip
    for column in columns:
        made.add_column(column, overflow="fold")
    for row in rows:
        made.add_row(*(Text(shown(cell, lines=True)) for cell in row))
    console = Console(width=None if sys.stdout.isatty() else int(os.environ.get("COLUMNS", "120")))
    console.print(made)


def _plain(title: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    lines = [list(columns), *([shown(cell.replace("\n", "; ")) for cell in row] for row in rows)]
    wide = [max(map(len, column)) for column in zip(*lines, strict=True)]
    text = "\n".join("  ".join(map(str.ljust, line, wide)).rstrip() for line in lines)
    typer.echo(f"{title}\n{text}" if title else text)


def shown(text: str, *, lines: bool = False) -> str:
    """Text for a terminal: control and direction-changing characters are written out, line ends too unless wanted."""
    if text.isprintable():
        return text
    import unicodedata

    kept = "\n\t" if lines else ""
    hidden = ("Cc", "Cf", "Cs", "Zl", "Zp")
    return "".join(c if c in kept or unicodedata.category(c) not in hidden else f"\\u{{{ord(c):04x}}}" for c in text)


@contextmanager
def progress() -> Iterator[Progress]:
    """A progress display on standard error: a bar on a terminal, one JSON line a second on a pipe."""
    if sys.stderr.isatty():
        yield from _bar()
    else:
        yield _lines()


def _bar() -> Iterator[Progress]:
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as display:
        tasks: dict[str, Any] = {}

        def report(stage: str, done: int, of: int) -> None:
            if stage not in tasks:
                tasks[stage] = display.add_task(stage, total=of)
            display.update(tasks[stage], completed=done, total=of)

        yield report


def _lines() -> Progress:
    import time

    last: dict[str, float] = {}

    def report(stage: str, done: int, of: int) -> None:
        now = time.monotonic()
        if of > 1 and now - last.setdefault(stage, now) >= 1:
            last[stage] = now
            typer.echo(json.dumps({"stage": stage, "done": done, "of": of}), err=True)

    return report
