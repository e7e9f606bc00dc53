"""``evidence record copy``: an annotated or redacted copy of a picture or of a document's page."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from evidence.cli.common import desk, print_json, shown
from evidence.errors import EvidenceError

_MANY = "; may be given again"


def copy(
    dossier: Annotated[
        str, typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
    ],
    exhibit: Annotated[str, typer.Argument(metavar="EXHIBIT", help="Short name or number, such as 'exhibit 7'.")],
    black_out: Annotated[
        list[str] | None, typer.Option(metavar="X,Y,W,H", help="Area whose pixels are replaced by black" + _MANY)
    ] = None,
    arrow: Annotated[list[str] | None, typer.Option(metavar="X,Y,X,Y", help="From tail to head" + _MANY)] = None,
    circle: Annotated[list[str] | None, typer.Option(metavar="X,Y,R", help="Centre and radius" + _MANY)] = None,
    text: Annotated[
        list[str] | None, typer.Option(metavar="X,Y,WORDS", help="Words with their upper left corner" + _MANY)
    ] = None,
    page: Annotated[int | None, typer.Option(help="Which page of a document, drawn at 200 dots an inch.")] = None,
    file: Annotated[
        Path | None, typer.Option(help="YAML with a list 'operations', done in its order after those above.")
    ] = None,
    png: Annotated[
        bool, typer.Option("--png", help="A PNG, whatever the original is; default: JPEG for a JPEG.")
    ] = False,
    caption: Annotated[str | None, typer.Option(help="What the copy is for.")] = None,
    name: Annotated[str | None, typer.Option(help="A short name to refer to the copy by.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Make a copy with areas blacked out, arrows, circles and words, as an exhibit of its own; the original stays.

    Places are pixels of the upright picture from its upper left corner, or percent such as 12.5%.
    """
    from evidence.usecases.copies import make_copy

    operations: list[Any] = [{"do": "page", "page": page}] if page is not None else []
    for do, given in (("black_out", black_out), ("circle", circle), ("arrow", arrow)):
        operations += [{"do": do, "at": [part.strip() for part in one.split(",")]} for one in given or ()]
    operations += [_words(one) for one in text or ()]
    operations += _read(file) if file else []
    fields = {k: v for k, v in (("caption", caption), ("name", name)) if v}
    with desk() as opened:
        entered = make_copy(opened, dossier, exhibit, operations, "png" if png else None, fields)
    if as_json:
        print_json({"label": entered.label, "summary": entered.summary, "notes": list(entered.notes)})
        return
    typer.echo(f"{entered.label}: {shown(entered.summary)}")
    for note in entered.notes:
        typer.echo(f"  note: {shown(note)}")


def _words(given: str) -> dict[str, Any]:
    x, _, rest = given.partition(",")
    y, _, words = rest.partition(",")
    return {"do": "text", "at": [x.strip(), y.strip()], "words": words.strip()}


def _read(file: Path) -> list[Any]:
    from evidence.capture.marked_yaml import load_marked

    try:
        text = file.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as err:
        raise EvidenceError(f"cannot be read: {err}", item=str(file)) from None
    data = load_marked(text, file.name).data
    found = data.get("operations") if isinstance(data, dict) else None
    if not isinstance(found, list):
        raise EvidenceError("has no list 'operations'", item=str(file))
    return [_whole(o) for o in found]


def _whole(operation: Any) -> Any:
    """Every scalar of the file is text; the page is a count."""
    if isinstance(operation, dict) and str(operation.get("page", "")).isdecimal():
        return {**operation, "page": int(operation["page"])}
    return operation
