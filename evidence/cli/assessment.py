"""An assessment and a mechanism as text for a terminal: the conclusion first, the proof behind it, gaps as clearly as strengths."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

import typer

from evidence.cli.common import shown, table
from evidence.errors import NotFound
from evidence.model.base import say
from evidence.model.kinds import enumerated
from evidence.rules.assessment import Assessment, Candidate, Experiment, FindingResult, Labels
from evidence.rules.pack import GRADE_WORDS, LIMBS, Alternative, Finding, Mechanism, Pack
from evidence.rules.weighing import SCALE_SOURCE

_MOST_RIVALS = 5


def print_assessment(result: Assessment, *, mechanism: str = "", brief: bool = False) -> None:
    """Print all candidates, or the one asked for."""
    chosen = [c for c in result.candidates if not mechanism or c.mechanism == mechanism]
    if mechanism and not chosen:
        raise NotFound("the prior work and the complaint of this dossier do not call up that mechanism", item=mechanism)
    typer.echo(shown(result.title))
    packs = f"{len(result.packs)} rule packs" + (
        "" if brief else ": " + ", ".join(f"{p.id} {p.version}" for p in result.packs)
    )
    _paragraph(f"Computed from {result.entries} entries by {packs}.")
    if not chosen:
        typer.echo(
            "No known consequence is called up: the record has no prior work order and no complaint that one speaks of."
        )
    for candidate in chosen:
        _candidate(candidate, brief=brief)
    if not brief:
        _experiments(result.experiments)
        _scale(result)
    _points("Prior work that no mechanism of these packs speaks of", [(p.text, p.records) for p in result.not_called])
    for note in result.notes:
        _paragraph(note)


def _candidate(found: Candidate, *, brief: bool) -> None:
    typer.echo("")
    typer.secho(shown(found.title), bold=True)
    _paragraph(f"{found.mechanism}, called up by: " + "; ".join(_cited(p.text, p.records) for p in found.why))
    _paragraph(found.conclusion, indent="  ")
    if not brief:
        _weight(found)
        _versus(found)
        _firmness(found)
        _findings(found)
        _alternatives(found)
        _rest(found)
    _plan(found)


def _weight(found: Candidate) -> None:
    weight = found.weight
    typer.echo("")
    _paragraph(weight.statement)
    table(
        "", ["Limb (low end)", "Strongest present", "Worst absent", "Product"],
        [
            [
                x.words, f"{x.present or 'none'} ({_number(x.present_ratio)})",
                f"{x.absent or 'none'} ({_number(x.absent_ratio)})", _number(x.product),
            ]
            for x in weight.limbs
        ],
        empty="",
    )  # fmt: skip
    _paragraph(
        f"Ratio at least {weight.low_printed}, {weight.printed} by the grades as they stand, at most {weight.high_printed}: "
        f"{weight.band}."
    )
    if weight.by_word:
        _paragraph("What rests on a person's word alone supports nothing at the low end.")
    _paragraph(weight.break_even_words)
    for ceiling in found.ceilings:
        _paragraph(
            f"Held at {ceiling.at}: {ceiling.reason}" if ceiling.holds else f"Not above {ceiling.at}: {ceiling.reason}",
            indent="  ",
        )
    for contradiction in found.contradictions:
        state = f"resolved: {contradiction.resolved}" if contradiction.resolved else "to be resolved in writing"
        _paragraph(f"Contradiction, {_cited(contradiction.text, contradiction.records)} ({state})", indent="  ")


def _versus(found: Candidate) -> None:
    """Against something not listed and the closest other mechanisms."""
    listed = [v for v in found.versus if v.mechanism]
    if not listed:
        return
    table(
        "The same findings under another explanation", ["Against", "Ratio", "In words"],
        [[v.title, v.printed, v.words] for v in found.versus[: _MOST_RIVALS + 1]], empty="",
    )  # fmt: skip
    if len(listed) > _MOST_RIVALS:
        _paragraph(f"{len(listed) - _MOST_RIVALS} more stand further off.", indent="  ")


def _firmness(found: Candidate) -> None:
    """What carries the band alone, and what would change it."""
    if found.falls:
        typer.echo(f"What the words “{found.weight.band}” hang on")
        for fall in found.falls:
            _paragraph(f"{fall.what} ({fall.text}): without it {fall.band}", indent="  - ")
    elif found.weight.side == "mechanism":
        typer.echo("The words hang on no single record and on no single finding.")
    if found.changes:
        typer.echo("What would change the opinion")
    for change in found.changes:
        _paragraph(f"{', '.join(change.what)} ({change.text}): {change.outcome}", indent="  - ")


def _experiments(made: Sequence[Experiment]) -> None:
    if made:
        typer.echo("")
        typer.secho("What was changed, and the same tests before and after", bold=True)
    for experiment in made:
        _paragraph(f"{enumerated(experiment.interventions)}: {experiment.text}")
        for pair in experiment.pairs:
            _paragraph(f"{pair.what}: {pair.before} before, {pair.after} after: {pair.told}", indent="    ")
        for point in experiment.told:
            _paragraph(_cited(point.text, point.records), indent="  > ")


def _scale(result: Assessment) -> None:
    typer.echo("")
    table("The table of words", ["Ratio", "Words"], [list(pair) for pair in result.scale], empty="")
    _paragraph(SCALE_SOURCE)


def _findings(found: Candidate) -> None:
    typer.echo("Findings (* weighs in its limb at the low end)")
    for finding in (*found.findings, *found.common):
        mark = "*" if finding.weighs else ""
        idle = "" if finding.separates else " (separates nothing: to be expected alike either way)"
        _paragraph(
            f"{finding.answer}, {finding.limb_words}: {finding.statement}{idle}", indent=f"  {finding.id + mark:4} "
        )
        if finding.records:
            _paragraph(_cited(enumerated(finding.records), filter(None, [finding.coverage])), indent="       by ")
        for reason in finding.reasons:
            _paragraph(reason, indent="       ")
        for why, labels in _near(finding).items():
            _paragraph(f"{enumerated(labels)}: {why}", indent="       near: ")


def _near(finding: FindingResult) -> dict[str, list[str]]:
    """Records that come near, those with the same reason together."""
    together: dict[str, list[str]] = {}
    for near in finding.near:
        together.setdefault(near.why, []).append(near.record)
    return together


def _alternatives(found: Candidate) -> None:
    typer.echo("Alternatives")
    for rival in found.alternatives:
        _paragraph(f"{rival.status}, {rival.kind_words}: {rival.claim}", indent=f"  {rival.id:4} ")
        if rival.by or rival.records:
            _paragraph(enumerated([*rival.by, *rival.records]), indent="       by ")
        for reason in (*rival.reasons, rival.resolved):
            if reason:
                _paragraph(reason, indent="       ")


def _rest(found: Candidate) -> None:
    _paragraph(f"Order in time: {_cited(found.order.sentence, found.order.records)}")
    for element in found.elements:
        state = "shown" if element.complete else "not complete"
        _paragraph(f"{element.name}: {state}. {element.question}")
        for point in element.shown:
            _paragraph(_cited(point.text, point.records), indent="    + ")
        for missing in element.missing:
            _paragraph(missing, indent="    - ")


def _plan(found: Candidate) -> None:
    typer.echo("What to capture next" if found.plan else "Nothing is left to capture for this one.")
    for step in found.plan:
        marks = [
            "only before anything is touched" if step.undisturbed else "", "alters the state" if step.alters else "",
            "can be done once" if step.one_shot else "",
        ]  # fmt: skip
        marked = ", ".join(m for m in marks if m)
        _paragraph(step.what + (f" [{marked}]" if marked else ""), indent=f"  {step.place:2}. ")
        for line in (step.how, step.settles, *step.separates):
            _paragraph(line, indent="      ")
        if step.waiting:
            _paragraph(f"wait: {step.waiting}", indent="      ")
    _points("Retain", [(text, ()) for text in found.retain])
    _points(
        "Caution (the maker's procedure, local codes and licensed practice rule)", [(t, ()) for _c, t in found.cautions]
    )
    if found.safety_note:
        _paragraph(found.safety_note, indent="  - ")


def print_mechanism(pack: Pack, found: Mechanism) -> None:
    """One entry of a pack, whole."""
    typer.secho(found.title, bold=True)
    _paragraph(f"{found.id}, {found.system}, pack {pack.id} {pack.version}")
    _paragraph(f"Departure ({found.departure.code}): {found.departure.text}")
    for number, step in enumerate(found.chain, 1):
        _paragraph(step, indent=f"  {number}. ")
    table(
        "Findings", ["", "Limb", "What must be shown", "If true", "If not", "Takes"],
        [
            [f.id, LIMBS[f.limb], _whole(f), GRADE_WORDS[f.if_true], GRADE_WORDS[f.if_not], _takes(f)]
            for f in found.findings
        ],
        empty="",
    )  # fmt: skip
    table(
        "Alternatives", ["", "What the other side says", "Test", "Result that leaves it standing", "Takes"],
        [[a.id, a.claim, a.test, a.standing_result, _takes(a)] for a in found.alternatives], empty="",
    )  # fmt: skip
    _points("Before touch", [(x, ()) for x in found.capture.before])
    _points("After", [(x, ()) for x in found.capture.after])
    _points("Retain", [(x, ()) for x in found.retain])
    _paragraph(
        f"Window: {' to '.join(found.latency.days)} days, {' to '.join(found.latency.km)} km. {found.latency.note or ''}"
    )
    _paragraph("Caution: " + ", ".join(found.safety.codes) + (f"; {found.safety.note}" if found.safety.note else ""))
    for key in found.sources:
        source = pack.sources[key]
        _paragraph(f"Source {key} ({source.status.replace('_', ' ')}): {source.text}")


def _whole(finding: Finding) -> str:
    """The statement, with the branch it belongs to and why it is asked if it separates nothing."""
    told = [f"only where {say(finding.branch)}"] if finding.branch else []
    told += [f"kept for {finding.kept_for}"] if finding.kept_for else []
    return finding.statement + (f" [{'; '.join(told)}]" if told else "")


def _takes(entry: Finding | Alternative) -> str:
    """Minutes, class of instrument, and whether the test alters the state."""
    cost = [f"{entry.minutes} min" if entry.minutes else "", say(entry.instrument) if entry.instrument else ""]
    return ", ".join(c for c in (*cost, "alters" if isinstance(entry, Finding) and entry.alters else "") if c)


def _points(title: str, points: Sequence[tuple[str, Labels]]) -> None:
    if points:
        typer.echo(f"{title}:")
    for text, records in points:
        _paragraph(_cited(text, records), indent="  - ")


def _cited(text: str, records: Iterable[str]) -> str:
    named = enumerated(records)
    return f"{text} ({named})" if named else text


def _number(ratio: object) -> str:
    return f"{float(ratio):.3g}"  # type: ignore[arg-type]


def _paragraph(text: str, *, indent: str = "") -> None:
    typer.echo(textwrap.fill(shown(text), width=118, initial_indent=indent, subsequent_indent=" " * len(indent)))
