"""Challenges about what was done to the vehicle: before it was photographed, without leave, twice between two tests."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from evidence.model.dossier import Recorded
from evidence.model.examination import CodeScan, Measurement, Taken
from evidence.model.kinds import enumerated
from evidence.model.people import Consent, Resolution
from evidence.model.repair import Intervention, WorkOrder
from evidence.review.challenge import NO_SOURCE, Raised
from evidence.review.grounds import Grounds, changing, common, grouped, striking
from evidence.rules.holdings import Item
from evidence.timeline.states import sure_before

# Doing one of these to a part changes or uses up what another could have looked at. Common practice, no source.
ALTERING = frozenset(
    {
        "refitted", "reconnected", "disconnected", "removed", "replaced", "opened", "cleaned", "tightened", "loosened",
        "programmed", "coded", "relearned", "filled", "drained", "substituted", "repaired", "tested_with_water",
    }
)  # fmt: skip


def state_disturbed(grounds: Grounds) -> Iterator[Raised]:
    """No departure captured before somebody touched the parts; or a record that says undisturbed and came later."""
    for candidate in grounds.leading:
        captured = common(candidate, "C5")
        touched = [s for s in grounds.holdings.states.steps.values() if _on(grounds, s, candidate.components)]
        if captured.answer != "met" and touched:
            first = enumerated(s.label for s in touched[:3])
            yield Raised(
                code="state_disturbed",
                sentence=f"{first} had hands on these parts, and {'; '.join(captured.reasons)}.",
                answer="Pictures or statements of others from before the first hand on it; marks on the parts that tell the "
                f"earlier position; the same place on the other side, untouched ({NO_SOURCE}).",
                subjects=tuple(s.subject for s in touched[:3]), labels=captured.records, mechanism=candidate.mechanism,
                ceiling="undisturbed", element="departure",
            )  # fmt: skip
    for record, why in _doubtful(grounds):
        values = {record.subject: record.value.model_copy(update={"state": "disturbed"})}
        yield Raised(
            code="state_disturbed", sentence=f"{record.label} is recorded as undisturbed, but {why}.",
            answer="A picture whose own time lies before that hand on it, or a witness who saw both.",
            subjects=(record.subject,), without=changing(grounds.dossier, values),
        )  # fmt: skip


def _on(grounds: Grounds, step: Recorded[Intervention], components: tuple[str, ...]) -> bool:
    return any(grounds.related(a, b) for a in step.value.components for b in components)


def _doubtful(grounds: Grounds) -> Iterator[tuple[Recorded[Taken], str]]:
    """Readings that say undisturbed although a hand on that part surely came before, or they contradict themselves."""
    for reading in grounds.readings:
        for item in grounds.holdings.by_subject.get(reading.subject, ())[:1]:
            if item.state != "undisturbed":
                continue
            steps = grounds.holdings.states.steps
            before = [steps[s].label for s in item.met.after if _touches(grounds, steps[s], item)]
            if before:
                yield reading, f"{enumerated(sorted(before))} had hands on that part before"
            elif item.met.contradicted:
                yield reading, item.met.contradicted


def _touches(grounds: Grounds, step: Recorded[Intervention], item: Item) -> bool:
    return any(grounds.related(c, item.of) for c in step.value.components)


def two_changes(grounds: Grounds) -> Iterator[Raised]:
    """The same reading before and after more than one change, none of them excused in writing."""
    excused = {
        s for r in grounds.dossier.of(Resolution) if r.value.about == "other_intervention_cannot_matter"
        for s in r.value.records
    }  # fmt: skip
    states = grounds.holdings.states
    pairs: list[tuple[frozenset[str], tuple[str, str]]] = []
    for first, second in _repeats(grounds):
        between = (second.met.after & first.met.before) - excused
        if len(between) > 1:
            pairs.append((between, (first.subject, second.subject)))
    for between, readings in grouped(pairs):
        subjects = tuple(dict.fromkeys(s for pair in readings for s in pair))
        later = {pair[1] for pair in readings}
        yield Raised(
            code="two_changes",
            sentence=f"Between {enumerated(grounds.dossier.label(s) for s in subjects)} lie "
            f"{len(between)} changes: {enumerated(states.labels(between))}.",
            answer="The same test again with one of them undone, or a written reason why the others cannot matter "
            "(a resolution 'other intervention cannot matter').",
            subjects=(*subjects, *(s for s in states.steps if s in between)), without=striking(grounds.dossier, later),
        )  # fmt: skip


def _repeats(grounds: Grounds) -> Iterator[tuple[Item, Item]]:
    """Readings of one thing, one after the other in time."""
    index: list[tuple[object, Item]] = []
    for item in (i for items in grounds.holdings.measured.values() for i in items):
        held = grounds.dossier.get(item.subject)
        if held and isinstance(held.value, Measurement) and item.span:
            index.append(((held.value.quantity, item.of, item.to, item.position, item.which, item.conditions), item))
    for _key, items in grouped(index):
        items.sort(key=lambda i: (i.span.earliest, i.span.latest))
        for first, second in pairwise(items):
            if sure_before(first.span, second.span):
                yield first, second


def consent_missing(grounds: Grounds) -> Iterator[Raised]:
    """Work of the present shop that alters something, before the owner allowed altering tests or the repair."""
    allowed = [c for c in grounds.dossier.of(Consent) if c.value.to in ("altering_tests", "repair")]
    own = grounds.party_of("present_repairer") | grounds.party_of("technician")
    orders = {o.subject: o.value.side for o in grounds.dossier.of(WorkOrder)}
    without: list[Recorded[Intervention]] = []
    for step in grounds.holdings.states.steps.values():
        ours = orders.get(step.value.work_order or "") == "present_repairer" or step.value.by in own
        granted = any(c.value.granted and not sure_before(step.value.time.span, c.value.time.span) for c in allowed)
        if ours and step.value.action in ALTERING and not granted:
            without.append(step)
    if without:
        said = [c.label for c in allowed if not c.value.granted]
        told = f"; {enumerated(said)} refuses it" if said else ""
        after = {
            subject for subject, items in grounds.holdings.by_subject.items()
            if any({s.subject for s in without} & i.met.after for i in items)
        }  # fmt: skip
        yield Raised(
            code="consent_missing",
            sentence=f"{enumerated(s.label for s in without)} altered the vehicle before any leave to alter or repair it "
            f"was given{told}.",
            answer="The owner's leave with its time, person, channel and sum, as recorded when it was given.",
            subjects=tuple(s.subject for s in without), without=striking(grounds.dossier, after),
        )  # fmt: skip


def codes_cleared(grounds: Grounds) -> Iterator[Raised]:
    """Codes were cleared and no read-out from before is on record."""
    scans = grounds.dossier.of(CodeScan)
    for step in grounds.holdings.states.steps.values():
        if step.value.action != "codes_cleared":
            continue
        kept = [
            s for s in scans
            if s.value.before_clearing and s.value.time and not sure_before(step.value.time.span, s.value.time.span)
        ]  # fmt: skip
        if not kept:
            yield Raised(
                code="codes_cleared",
                sentence=f"{step.label} cleared the codes, and no read-out from before is stored.",
                answer="Freeze frames and counters of modules that were not cleared; the distance since clearing; a print or a "
                "picture of the codes from before, if there is one.",
                subjects=(step.subject,),
            )  # fmt: skip
