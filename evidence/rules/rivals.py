"""The status of each alternative: excluded, supported, less supported or open, and by what.

Excluded when everything that speaks to it is met; supported when its own question is answered against the mechanism, or an
exclusion finding it rests on fails; less supported when part is met. Support for an alternative lifts nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import cache

from evidence.model.base import shorten
from evidence.model.people import Resolution
from evidence.rules.asks import AllOf, AnyOf, Computed, Document, Observe, parts_of
from evidence.rules.assessment import AlternativeResult, Status
from evidence.rules.common import RIVAL_WORDS
from evidence.rules.criteria import Closed
from evidence.rules.examine import Examined
from evidence.rules.pack import GUARDED, Alternative
from evidence.rules.replies import Reply

_PERSON = {"owner_work": "owner", "later_repairer": "later_repairer"}


@dataclass(frozen=True, slots=True)
class _Part:
    """One thing that speaks to an alternative."""

    name: str  # finding id, or "own test"
    reply: Reply
    turns: bool  # whether a failure speaks for the alternative


def alternatives(examined: Examined) -> tuple[AlternativeResult, ...]:
    """The entry's own alternatives, then the general ones."""
    own = len(examined.call.mechanism.alternatives)
    return tuple(_result(a, examined, general=n >= own) for n, a in enumerate(examined.call.alternatives))


def alternatives_after(
    examined: Examined, before: Examined, rivals: Sequence[AlternativeResult], changed: Collection[str]
) -> tuple[AlternativeResult, ...]:
    """The same, where the entry differs from ``before`` in the replies to ``changed`` alone: what rests on none of them stands."""
    if examined.branch != before.branch:
        return alternatives(examined)
    anew = {
        a.id for a in examined.call.alternatives if not set(changed).isdisjoint(a.excluded_by)
    } | examined.call.of_answers
    return tuple(
        _result(a, examined, general=r.general) if a.id in anew else r
        for a, r in zip(examined.call.alternatives, rivals, strict=True)
    )


def _result(alternative: Alternative, examined: Examined, *, general: bool) -> AlternativeResult:
    parts = _parts(alternative, examined, general=general)
    status, carrying = _status(parts)
    resolved, cited = _resolved(alternative, examined)
    if resolved and cited and status == "open":
        status = "less supported"
    needs = tuple(p.name for p in parts if p.reply.answer in ("not measured", "undecided") and p.name != "own test")
    labels = tuple(dict.fromkeys(x for p in carrying for x in p.reply.labels))
    return AlternativeResult(
        id=alternative.id, kind=alternative.kind, kind_words=RIVAL_WORDS[alternative.kind], claim=alternative.claim,
        test=alternative.test, standing_result=alternative.standing_result, status=status,
        by=tuple(dict.fromkeys(p.name for p in carrying)), records=labels or cited,
        reasons=tuple(dict.fromkeys(_reason(p, r) for p in (carrying or parts) for r in p.reply.reasons)),
        guarded=alternative.kind in GUARDED, general=general, resolved=resolved,
        needs=needs or (() if status == "excluded" else (alternative.test,)),
    )  # fmt: skip


def _reason(part: _Part, text: str) -> str:
    return text if part.name == "own test" else f"{part.name}: {text}"


def _parts(alternative: Alternative, examined: Examined, *, general: bool) -> list[_Part]:
    asked = alternative.asks.every if isinstance(alternative.asks, AllOf) else [alternative.asks]
    parts = [
        _Part("own test", examined.ask(ask), turns=_turns(ask, alternative, examined, general=general))
        for ask in asked
        if ask is not None
    ]
    person = _PERSON.get(alternative.kind)
    if person and "C4" not in alternative.excluded_by:  # whatever else excludes him: a hand on these parts keeps him in
        there = examined.ask(_nobody_else(person))
        parts += [_Part("C4", there, turns=False)] if there.answer == "not met" else []
    for name in alternative.excluded_by:
        if name == "C4":
            person = _PERSON.get(alternative.kind, "anyone")
            nobody = _nobody_else(person)
            parts.append(_Part(name, examined.ask(nobody), turns=False))
            continue
        finding = examined.call.mechanism.finding(name)
        parts.append(_Part(name, examined.reply(name), turns=name == "C2" or bool(finding and finding.limb == "X")))
    return parts


@cache
def _nobody_else(by: str) -> Computed:
    return Computed.model_validate({"computed": "nobody_else", "by": by})


def _turns(ask: Closed, alternative: Alternative, examined: Examined, *, general: bool) -> bool:
    """Whether a failure of the ask supports the alternative.

    That somebody else was at it leaves it open: being there is not having done it. That the vehicle was driven on, or an
    offer turned down, goes to the share of fault. A failed exclusion supports the alternative that names it, and
    coincidence only where none does.
    """
    if isinstance(ask, Computed) and ask.computed == "nobody_else":
        return False
    if isinstance(ask, Computed) and ask.computed == "exclusions_hold":
        mechanism = examined.call.mechanism
        named = {name for a in mechanism.alternatives for name in a.excluded_by}
        failed = {f.id for f in mechanism.findings if f.limb == "X" and examined.replies[f.id].answer == "not met"}
        return bool(failed - named)
    return not (alternative.kind == "abuse" and (general or goes_to_share(ask)))


def goes_to_share(ask: Closed) -> bool:
    """Whether nothing is asked but how the owner went on: no cause of the departure, whatever the answer."""
    asked = [a for a in parts_of(ask) if not isinstance(a, (AllOf, AnyOf))]
    return all(
        (isinstance(a, Document) and a.document == "owner_declaration" and a.says == ("driven_on",))
        or (isinstance(a, Computed) and a.start in ("onset", "lamp_on") and a.to == "stop")
        or (isinstance(a, Observe) and a.observe == "written_offer")
        for a in asked
    )


def _status(parts: list[_Part]) -> tuple[Status, list[_Part]]:
    applicable = [p for p in parts if p.reply.answer != "not applicable"]
    met = [p for p in applicable if p.reply.answer == "met"]
    if turned := [p for p in applicable if p.turns and p.reply.answer == "not met"]:
        return "supported", turned
    if applicable and len(met) == len(applicable):
        return "excluded", met
    if partly := met or [p for p in applicable if p.reply.partly and p.reply.answer == "undecided"]:
        return "less supported", partly
    return "open", []


def _resolved(alternative: Alternative, examined: Examined) -> tuple[str, tuple[str, ...]]:
    """A person's written answer about the alternative, and the records it cites."""
    holdings, mechanism = examined.setting.holdings, examined.call.mechanism.id
    texts: list[str] = []
    cited: list[str] = []
    for r in holdings.resolutions.get(mechanism, ()):
        value: Resolution = r.value
        if value.about == "alternative" and value.alternative == alternative.id:
            texts.append(f"{shorten(value.text, 300)} ({r.label}, {holdings.dossier.party(value.by)})")
            cited += [holdings.dossier.label(s) for s in value.records]
    return "; ".join(texts), tuple(dict.fromkeys(cited))
