"""``evidence record KIND``: one command for each kind of record, made from its model, so that validation is the same."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any, get_args, get_origin

import typer
from typer.core import TyperGroup

from evidence.cli.common import desk, print_json, progress, shown, stop, tell_warnings
from evidence.cli.copying import copy
from evidence.errors import EvidenceError, ExitCode

_OWN = ("amend", "withdraw", "copy", "exhibit", "dossier")
_HELP = {
    "dossier": "Open a dossier.",
    "exhibit": "Take files as exhibits one by one, or record a physical thing.",
    "amend": "Replace fields of a record; both versions and the reason stay.",
    "withdraw": "Withdraw a record: it stays listed and answers nothing.",
}


class RecordGroup(TyperGroup):
    """Commands for the kinds are made when first asked for: the models cost time to import."""

    def list_commands(self, ctx: Any) -> list[str]:  # noqa: ARG002 - the framework's signature
        """Every kind, then what can be done to a record."""
        from evidence.model.kinds import KINDS

        return [*(k.replace("_", "-") for k in KINDS), "copy", "amend", "withdraw"]

    def get_command(self, ctx: Any, cmd_name: str) -> Any:  # noqa: ARG002 - the framework's signature
        """The command for a kind, or None."""
        from evidence.model.kinds import KINDS

        kind = cmd_name.replace("-", "_")
        if kind not in KINDS and kind not in _OWN:
            return None
        made = typer.Typer(add_completion=False, pretty_exceptions_enable=False, rich_markup_mode=None)
        made.command(cmd_name)(_OF_THEIR_OWN[kind]() if kind in _OWN else _command(kind))
        command = typer.main.get_command(made)
        command.name = cmd_name
        return command


record_app = typer.Typer(
    cls=RecordGroup,
    no_args_is_help=True,
    rich_markup_mode=None,
    help="Record one thing: 'evidence record KIND DOSSIER --field …'.",
)


@record_app.callback()
def _group() -> None:
    """Record one thing at a time; references are short names or numbers such as 'exhibit 7'."""


def _command(kind: str) -> Callable[..., None]:
    """A command with one option for each field of the kind."""

    def command(dossier: str, as_json: bool, **fields: Any) -> None:
        from evidence.usecases.record import record_one

        with desk() as opened:
            entered = record_one(opened, dossier, kind, _given(kind, fields))
        _tell(entered, as_json=as_json)

    return _signed(command, kind, _first(_DOSSIER))


def _exhibit() -> Callable[..., None]:
    def command(dossier: str, files: list[Path] | None, as_json: bool, **fields: Any) -> None:
        from evidence.capture.sources import heap_of
        from evidence.cli.telling_heads import head_json, head_line
        from evidence.usecases.record import record_heap, record_one

        given = _given("exhibit", fields)
        if not files:
            with desk() as opened:
                _tell(record_one(opened, dossier, "exhibit", given), as_json=as_json)
            return
        sources, skipped, notes = heap_of(files)
        if len(sources) > 1 and "name" in given:
            raise EvidenceError("one short name cannot stand for several files", item=str(given["name"]))
        with desk() as opened, progress() as report:
            result = record_heap(opened, dossier, sources, given, report)
        refused = [*skipped, *result.refused]
        if as_json:
            print_json(
                {
                    "recorded": [[e.label, e.summary] for e in result.entered], "refused": [list(r) for r in refused],
                    "head": head_json(result.head) if result.head else None,
                }
            )  # fmt: skip
        for entered in () if as_json else result.entered:
            _tell(entered, as_json=False)
        for note in notes:
            typer.echo(f"note: {shown(note)}", err=True)
        if result.head and not as_json:
            typer.echo(head_line(result.head))
        for name, why in () if as_json else refused:
            typer.echo(f"not taken: {shown(name)}: {why}", err=True)
        if refused:
            stop(ExitCode.REFUSED if not result.entered else ExitCode.UNFINISHED)

    files = inspect.Parameter(
        "files", inspect.Parameter.POSITIONAL_OR_KEYWORD, default=None,
        annotation=Annotated[list[Path] | None, typer.Argument(help="Files or folders; each file becomes one exhibit.")],
    )  # fmt: skip
    return _signed(command, "exhibit", [*_first(_DOSSIER), files])


def _dossier() -> Callable[..., None]:
    def command(as_json: bool, **fields: Any) -> None:
        from evidence.usecases.record import open_dossier

        with desk() as opened:
            ledger, entered = open_dossier(opened, _given("dossier", fields))
        if as_json:
            print_json({"id": ledger, "title": entered.label, "name": entered.summary})
        else:
            typer.echo(f"opened: {shown(entered.label)} ({entered.summary})")

    return _signed(command, "dossier", [])


def _amend() -> Callable[..., None]:
    def command(
        dossier: Annotated[str, _DOSSIER],
        record: Annotated[str, _RECORD],
        reason: Annotated[str, typer.Option(help="Why; stays in the record beside both versions.")],
        change: Annotated[
            list[str], typer.Option("--set", metavar="FIELD=TEXT", help="New value; empty takes the field away.")
        ],
        knowing: Annotated[
            str, typer.Option(help="Why a part is given up although a finding rests on it; stays in the record.")
        ] = "",
    ) -> None:
        from evidence.usecases.record import amend_one

        fields = dict(_pair(text) for text in change)
        if knowing:
            fields["knowing"] = knowing
        with desk() as opened:
            _tell(amend_one(opened, dossier, record, fields, reason), as_json=False)

    command.__doc__ = _HELP["amend"]
    return command


def _withdraw() -> Callable[..., None]:
    def command(
        dossier: Annotated[str, _DOSSIER],
        record: Annotated[str, _RECORD],
        reason: Annotated[str, typer.Option(help="Why; stays in the record.")],
    ) -> None:
        from evidence.usecases.record import withdraw_one

        with desk() as opened:
            _tell(withdraw_one(opened, dossier, record, reason), as_json=False)

    command.__doc__ = _HELP["withdraw"]
    return command


_DOSSIER = typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
_RECORD = typer.Argument(metavar="RECORD", help="Short name or number, such as 'exhibit 7'.")
_OF_THEIR_OWN: dict[str, Callable[[], Callable[..., None]]] = {
    "exhibit": _exhibit, "dossier": _dossier, "amend": _amend, "withdraw": _withdraw, "copy": lambda: copy,
}  # fmt: skip


def _first(argument: Any) -> list[inspect.Parameter]:
    return [inspect.Parameter("dossier", inspect.Parameter.POSITIONAL_OR_KEYWORD, annotation=Annotated[str, argument])]


def _signed(command: Callable[..., None], kind: str, first: list[inspect.Parameter]) -> Callable[..., None]:
    """Give ``command`` the options of the kind's fields."""
    from evidence.model.kinds import KINDS

    cls = KINDS[kind]
    options = [
        _option(name, field.annotation, _hint(cls, name))
        for name, field in sorted(cls.model_fields.items(), key=lambda item: not item[1].is_required())
        if name not in cls.filled_in
    ]
    as_json = inspect.Parameter(
        "as_json", inspect.Parameter.KEYWORD_ONLY, default=False,
        annotation=Annotated[bool, typer.Option("--json", help="Print the result as JSON.")],
    )  # fmt: skip
    parameters = [*first, *options, as_json]
    command.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    command.__annotations__ = {p.name: p.annotation for p in parameters}
    command.__doc__ = _HELP.get(kind) or (inspect.getdoc(cls) or "").split("\n\n")[0]
    return command


def _option(name: str, annotation: Any, hint: str) -> inspect.Parameter:
    shape: Any = list[str] | None if _is_many(annotation) else str | None
    option = typer.Option(f"--{name.replace('_', '-')}", help=hint, show_default=False, metavar="TEXT")
    return inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=None, annotation=Annotated[shape, option])


def _is_many(annotation: Any) -> bool:
    if get_origin(annotation) in (tuple, dict):
        return not (get_origin(annotation) is tuple and get_args(annotation)[-1] is not Ellipsis)
    return any(_is_many(a) for a in get_args(annotation) if a is not type(None))


def _hint(cls: Any, name: str) -> str:
    """What to write: the closed words, the shape of a value, whether it is needed and may be given again."""
    from evidence.model.references import kinds_named

    field = cls.model_fields[name]
    named = kinds_named(cls, name)
    if name == "name":
        words = "a short name to refer to it by"
    elif name == "knowing":
        words = "why a part is given up although a finding rests on it"
    elif named is not None:
        words = f"which {' or '.join(k.replace('_', ' ') for k in named) or 'record'}: short name or number"
    else:
        words = _shape(field.annotation)
    words = words if len(words) < 300 else words[:296] + " …"
    notes = ["needed"] if field.is_required() else []
    notes += ["may be given again"] if _is_many(field.annotation) else []
    return "; ".join(filter(None, [words, *notes]))


def _shape(annotation: Any) -> str:
    from evidence.model.base import Value
    from evidence.model.quantity import Distance, Limit, Money, Reading
    from evidence.model.when import When

    shapes = {
        When: "time, such as '2026-03-02 14:30'", Reading: "such as '2.1 A'", Distance: "such as '48210 km'",
        Money: "such as '840.00 EUR'", Limit: "such as '> 0.2 V'",
    }  # fmt: skip
    leaves = _leaves(annotation)
    if get_origin(annotation) is dict:
        return "NAME=VALUE, such as " + ("lamp_current='2.1 A'" if Reading in leaves else "coil=4")
    for part in leaves:
        if part in shapes:
            return shapes[part]
        if isinstance(part, type) and issubclass(part, Value):
            return "{" + ", ".join(f"{n}: …" for n in part.model_fields) + "}"
        if part is bool:
            return "yes or no"
    return " | ".join(p for p in leaves if isinstance(p, str))


def _leaves(annotation: Any) -> list[Any]:
    args = [a for a in get_args(annotation) if a is not type(None) and a is not Ellipsis]
    return [leaf for a in args for leaf in _leaves(a)] if args else [annotation]


def _given(kind: str, fields: dict[str, Any]) -> dict[str, Any]:
    """Options as a person wrote them, in the shape of a dossier file."""
    from evidence.model.kinds import KINDS

    given: dict[str, Any] = {}
    for name, text in fields.items():
        if text is None or text == []:
            continue
        annotation = KINDS[kind].model_fields[name].annotation
        if get_origin(annotation) is dict:
            given[name] = dict(_pair(item) for item in text)
        else:
            given[name] = [_value(t) for t in text] if isinstance(text, list) else _value(text)
    return given


def _pair(text: str) -> tuple[str, Any]:
    name, sign, value = text.partition("=")
    if not sign:
        raise EvidenceError("write NAME=VALUE", item=text)
    return name.strip().replace("-", "_") if " " not in name else name, _value(value)


def _value(text: str) -> Any:
    """A text, or a group in braces or a list in brackets as in a dossier file."""
    if not text.startswith(("{", "[")):
        return text
    from evidence.capture.marked_yaml import load_marked

    return load_marked(f"value: {text}", "option").data["value"]


def _tell(entered: Any, *, as_json: bool) -> None:
    if as_json:
        print_json(
            {"label": entered.label, "summary": entered.summary, "notes": list(entered.notes), "warnings": list(entered.warnings)}
        )  # fmt: skip
        return
    typer.echo(f"{entered.label}: {shown(entered.summary)}")
    for note in entered.notes:
        typer.echo(f"  note: {shown(note)}")
    tell_warnings(entered.warnings)
