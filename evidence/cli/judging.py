"""Commands that judge: what the record shows, and which rules say so."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from evidence.cli.common import Place, desk, print_json, shown, stop, table, workspace_folder
from evidence.errors import ExitCode, NotFound

rules_app = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    help="The known consequences of prior repairs that an assessment asks about.",
)
_JSON = typer.Option("--json", help="Print as JSON.")
_FAMILIES = ("component", "operation", "aspect", "complaint", "count", "quantity", "condition")


def assess(
    dossier: Annotated[
        str, typer.Argument(metavar="DOSSIER", help="Short name of the dossier, or the start of its id.")
    ],
    mechanism: Annotated[str, typer.Option(help="Only this mechanism.")] = "",
    brief: Annotated[bool, typer.Option("--brief", help="Only the conclusions and what to capture next.")] = False,
    as_json: Annotated[bool, _JSON] = False,
) -> None:
    """Weigh the record: which known consequences fit, what speaks against them, what is missing, what to capture next."""
    from evidence.usecases.assess import assess_dossier

    with desk() as opened:
        result = assess_dossier(opened, dossier)
    if as_json:
        from evidence.rules.assessment_json import as_json as plain

        print_json(plain(result))
        return
    from evidence.cli.assessment import print_assessment

    print_assessment(result, mechanism=mechanism, brief=brief)


@rules_app.command("list")
def list_rules(
    system: Annotated[str, typer.Option(help="Only mechanisms of this system.")] = "",
    as_json: Annotated[bool, _JSON] = False,
) -> None:
    """List the mechanisms of all packs."""
    from evidence.bootstrap import rules_of

    _vocabulary, packs = rules_of(_own())
    found = [(p, m) for p in packs for m in p.mechanisms if system.lower() in m.system.lower()]
    if as_json:
        print_json(
            [{"id": m.id, "title": m.title, "system": m.system, "pack": p.id, "version": p.version} for p, m in found]
        )
        return
    table(
        "",
        ["Mechanism", "System", "What", "Pack"],
        [[m.id, m.system, m.title, f"{p.id} {p.version}"] for p, m in found],
        empty="No mechanism.",
    )


@rules_app.command("show")
def show_rule(
    mechanism: Annotated[str, typer.Argument(help="Id of the mechanism.")], as_json: Annotated[bool, _JSON] = False
) -> None:
    """Show a mechanism: its chain, findings, alternatives, cautions and sources."""
    from evidence.bootstrap import rules_of
    from evidence.cli.assessment import print_mechanism
    from evidence.model.base import nearest

    _vocabulary, packs = rules_of(_own())
    for pack in packs:
        for found in pack.mechanisms:
            if found.id == mechanism:
                if as_json:
                    print_json(found.model_dump(mode="json", exclude_none=True, by_alias=True))
                else:
                    print_mechanism(pack, found)
                return
    raise NotFound(
        f"no such mechanism{nearest(mechanism, [m.id for p in packs for m in p.mechanisms])}", item=mechanism
    )


@rules_app.command("words")
def words(
    find: Annotated[str, typer.Argument(help="Only words in which this occurs.")] = "",
    family: Annotated[str, typer.Option(help="Only one list: " + ", ".join(_FAMILIES) + ".")] = "",
    as_json: Annotated[bool, _JSON] = False,
) -> None:
    """List the words that records are written in: components, operations, aspects, quantities ..."""
    from evidence.bootstrap import rules_of
    from evidence.usecases.words import word_list

    if family and family not in _FAMILIES:
        raise NotFound("no such list", item=family, advice="There are: " + ", ".join(_FAMILIES) + ".")
    vocabulary, _packs = rules_of(_own())
    found = [w for w in word_list(vocabulary) if (not family or w.family == family) and w.holds(find)]
    if as_json:
        print_json([{"family": w.family, "word": w.word, "meaning": w.meaning, "also": list(w.also)} for w in found])
        return
    table(
        "",
        ["List", "Word", "Meaning", "Also"],
        [[w.family, w.word, w.meaning, ", ".join(w.also)] for w in found],
        empty="No such word.",
    )


@rules_app.command("lint")
def lint_rules(as_json: Annotated[bool, _JSON] = False) -> None:
    """Check the packs: faults refuse a pack, remarks do not."""
    from evidence.bootstrap import rules_of
    from evidence.rules.lint import alike, lint

    vocabulary, packs = rules_of(_own())
    remarks = [str(remark) for pack in packs for remark in lint(pack, vocabulary)]
    remarks += [str(remark) for remark in alike(packs)]
    count = sum(len(p.mechanisms) for p in packs)
    if as_json:
        print_json({"packs": len(packs), "mechanisms": count, "remarks": remarks})
    for remark in () if as_json else remarks:
        typer.echo(shown(remark))
    if not as_json:
        typer.echo(f"{len(packs)} packs, {count} mechanisms, {len(remarks)} remarks")
    if remarks:
        stop(ExitCode.DAMAGED)


def _own() -> Path | None:
    """The workspace whose own packs count too, where the run has one."""
    return workspace_folder() if Place.named or (workspace_folder() / "settings.toml").exists() else None
