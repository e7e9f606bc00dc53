"""Challenges that the assessment itself holds: prior work, order in time, alternatives, contradictions, the standard."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from evidence.model.base import say, shorten
from evidence.model.dossier import Recorded
from evidence.model.kinds import enumerated
from evidence.model.people import OwnerDeclaration
from evidence.model.repair import Intervention, WorkOrder
from evidence.model.when import TimeSpan
from evidence.review.challenge import Raised
from evidence.review.grounds import Grounds, common, from_plan, step_for, striking
from evidence.rules.assessment import AlternativeResult, Candidate
from evidence.timeline.order import closed
from evidence.timeline.states import sure_before

_OWN = ("own_work", "accessory", "jump_start")


def prior_order_missing(grounds: Grounds) -> Iterator[Raised]:
    """The prior work is not in hand, or a line that the case needs is not on it."""
    for candidate in grounds.leading:
        found = common(candidate, "C1")
        if found.answer != "met":
            yield Raised(
                code="prior_order_missing",
                sentence=f"The earlier work on these parts is not shown: {'; '.join(found.reasons) or 'no work order'}.",
                answer="The earlier work order or invoice itself, exhibited: date, odometer in and out, lines, parts, technician.",
                labels=found.records, mechanism=candidate.mechanism, ceiling="prior_order", element="prior work",
            )  # fmt: skip


def effect_before(grounds: Grounds) -> Iterator[Raised]:
    """The effect was there before. Where nothing shows the vehicle before, that is an alternative not tested."""
    for candidate in grounds.leading:
        found = common(candidate, "C2")
        if found.answer == "not met":
            yield Raised(
                code="effect_before", sentence=f"The effect was there before that work: {'; '.join(found.reasons)}.",
                answer="A paper, picture or reading from before that work that shows another effect, or none.",
                labels=found.records, mechanism=candidate.mechanism, ceiling="effect_before",
            )  # fmt: skip


def outside_window(grounds: Grounds) -> Iterator[Raised]:
    """The onset does not lie inside the window in which the effect plausibly appears, or its place is not known."""
    for candidate in grounds.leading:
        if candidate.order.answer != "met":
            yield Raised(
                code="outside_window", sentence=f"Order in time, {candidate.order.answer}: {candidate.order.sentence}.",
                answer="An event of the onset with its date and odometer, by the owner's declaration or a paper; date and odometer "
                "of the earlier work.",
                labels=candidate.order.records, mechanism=candidate.mechanism,
                ceiling="latency" if candidate.order.answer == "not met" else "", element="cause",
            )  # fmt: skip


def contradiction(grounds: Grounds) -> Iterator[Raised]:
    """A contradiction that nobody has resolved in writing."""
    for candidate in grounds.leading:
        for found in candidate.contradictions:
            if not found.resolved:
                yield Raised(
                    code="contradiction", sentence=f"{found.text}.",
                    answer="The reading once more under the same conditions; then a resolution in writing with its reason.",
                    labels=found.records, mechanism=candidate.mechanism,
                    without=striking(grounds.dossier, _subjects(grounds, found.records)),
                )  # fmt: skip


def alternative_supported(grounds: Grounds) -> Iterator[Raised]:
    """An alternative that the record speaks for."""
    for candidate, rival in _rivals(grounds):
        if rival.status == "supported" and not rival.resolved:
            yield Raised(
                code="alternative_supported",
                sentence=f"{rival.id} ({rival.kind_words}), “{rival.claim}”, is supported: {_why(rival)}.",
                answer=_test(candidate, rival) + " A person may resolve it in writing, with the reason.",
                labels=rival.records, mechanism=candidate.mechanism, ceiling="supported_alternative", element="cause",
            )  # fmt: skip


def alternative_untested(grounds: Grounds) -> Iterator[Raised]:
    """An alternative that nothing on record excludes."""
    for candidate in grounds.leading:
        rivals = [r for r in candidate.alternatives if _untested(r)]
        if _own_work(grounds, candidate):
            rivals = [r for r in rivals if r.kind != "owner_work"]  # raised as the owner's own work
        claimed = candidate.weight.side == "mechanism"
        alone = [r for r in rivals if claimed and (r.guarded or not r.general)]
        yield from (_one_untested(candidate, r) for r in alone)
        # What is asked of every case alike is one task; and so is everything where nothing is claimed yet.
        if together := [r for r in rivals if r not in alone]:
            yield _together(candidate, together)


def _together(candidate: Candidate, rivals: list[AlternativeResult]) -> Raised:
    told = "; ".join(f"{r.id} ({r.kind_words}), “{r.claim}”" for r in rivals)
    return Raised(
        code="alternative_untested", sentence=f"Not tested: {told}.",
        answer="\n".join(f"{r.id}: {_test(candidate, r)}" for r in rivals),
        labels=tuple(x for r in rivals for x in r.records), mechanism=candidate.mechanism,
        alternatives=tuple(r.id for r in rivals if r.status == "open"),
        ceiling="guarded" if any(r.guarded for r in rivals) else "", element="cause",
    )  # fmt: skip


def _untested(rival: AlternativeResult) -> bool:
    return rival.status == "open" or (rival.guarded and rival.status == "less supported")


def _one_untested(candidate: Candidate, rival: AlternativeResult) -> Raised:
    still = rival.status == "open"
    return Raised(
        code="alternative_untested",
        sentence=f"{rival.id} ({rival.kind_words}), “{rival.claim}”, is {'not tested' if still else 'not excluded'}: "
        f"{_why(rival)}.",
        answer=_test(candidate, rival), labels=rival.records, mechanism=candidate.mechanism,
        alternatives=(rival.id,) if still else (), ceiling="guarded" if rival.guarded else "",
        element="cause" if still else "",
    )  # fmt: skip


def owner_work(grounds: Grounds) -> Iterator[Raised]:
    """The owner's own work between the earlier work and the arrival here."""
    for candidate in grounds.leading:
        rivals = [a for a in candidate.alternatives if a.kind == "owner_work" and a.status != "excluded"]
        work = _own_work(grounds, candidate)
        if not work:
            continue
        told = "; ".join(f"{w.label}: {_did(w.value)}" for w in work)
        rival = next((r for r in rivals if r.status == "open"), None)
        yield Raised(
            code="owner_work", sentence=f"The owner worked on the vehicle in the window: {told}.",
            answer="\n".join(f"{r.id}: {_test(candidate, r)}" for r in rivals) or _answered(candidate),
            subjects=tuple(w.subject for w in work), labels=tuple(x for r in rivals for x in r.records),
            mechanism=candidate.mechanism, alternatives=(rival.id,) if rival else (), ceiling="guarded" if rivals else "",
        )  # fmt: skip


def standard_not_cited(grounds: Grounds) -> Iterator[Raised]:
    """No document says how the earlier work should have been done."""
    for candidate in grounds.leading[:1]:
        found = common(candidate, "C7")
        if found.answer != "met":
            yield Raised(
                code="standard_not_cited", sentence=f"{'; '.join(found.reasons).capitalize()}.",
                answer="The maker's document as valid on that day, by number and page; it replaces the default limits.",
                labels=found.records, mechanism=candidate.mechanism,
            )  # fmt: skip


def _rivals(grounds: Grounds) -> Iterator[tuple[Candidate, AlternativeResult]]:
    for candidate in grounds.leading:
        for rival in candidate.alternatives:
            yield candidate, rival


def _own_work(grounds: Grounds, candidate: Candidate) -> list[Recorded[Any]]:
    """What the owner did or says that he did, as far as it was not surely done before the earlier work was closed."""
    start = next(
        (m for o in grounds.dossier.of(WorkOrder) if o.label == candidate.order.prior_order if (m := closed(o))), None
    )
    owners = grounds.party_of("owner") | grounds.party_of("driver")

    def inside(span: TimeSpan | None) -> bool:
        return not (start and span and sure_before(span, start.span))

    found: list[Recorded[Any]] = []
    for order in grounds.dossier.of(WorkOrder):
        when = closed(order)
        if order.value.side == "owner" and inside(when.span if when else None):
            found.append(order)
    found += [i for i in grounds.dossier.of(Intervention) if i.value.by in owners and inside(i.value.time.span)]
    for declaration in grounds.dossier.of(OwnerDeclaration):
        told = [s for s in declaration.value.statements if s.topic in _OWN and s.answer == "some"]
        if any(inside(s.time.span if s.time else None) for s in told):
            found.append(declaration)
    return found


def _answered(candidate: Candidate) -> str:
    """What excludes the owner's own work already."""
    told = [
        f"{r.id} is excluded by {enumerated([*(n for n in r.by if n != 'own test'), *r.records])}"
        for r in candidate.alternatives
        if r.kind == "owner_work"
    ]
    return (
        f"The record answers it: {'; '.join(told)}." if told else "A picture of the place of that work, and its papers."
    )


def _did(value: Any) -> str:
    if isinstance(value, OwnerDeclaration):
        said = [s for s in value.statements if s.topic in _OWN and s.answer == "some"]
        return "; ".join((s.text or say(s.topic)).rstrip(".") for s in said)
    return (
        shorten("; ".join(line.text for line in value.operations), 160)
        if isinstance(value, WorkOrder)
        else value.summary()
    )


def _subjects(grounds: Grounds, labels: tuple[str, ...]) -> set[str]:
    return {r.subject for label in labels if (r := grounds.labelled(label))}


def _why(rival: AlternativeResult) -> str:
    return "; ".join(rival.reasons) or "nothing on record speaks to it"


def _test(candidate: Candidate, rival: AlternativeResult) -> str:
    step = step_for(candidate, rival.id, *(n for n in rival.needs if n in {f.id for f in candidate.findings}))
    settles = f" The case stands if: {rival.standing_result}."
    return (from_plan(step) if step else f"Its test: {rival.test}.") + settles
