"""Mistakes made with hands on the vehicle: too early, unannounced, several at once, with the wrong part."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Final

from evidence.claim.mistakes.ground import Made, at, disputed, our_steps, taken, told_before, undone_before
from evidence.model.base import Record, say
from evidence.model.course import CourseStep
from evidence.model.dossier import Dossier, Recorded
from evidence.model.examination import CodeScan
from evidence.model.exhibit import Exhibit
from evidence.model.kinds import enumerated
from evidence.model.people import Resolution
from evidence.model.repair import Intervention
from evidence.model.vehicle import ModuleIdentity
from evidence.timeline.states import sure_before

# Doing one of these puts something right, or may do so. Common practice, no source.
CURING: Final = frozenset(
    {"refitted", "reconnected", "replaced", "cleaned", "tightened", "filled", "repaired", "substituted"}
)
# What one of these uses up or changes can never be looked at again as it was. Common practice, no source.
ALTERING: Final = frozenset({*CURING, "opened", "drained", "loosened", "programmed", "tested_with_water"})

_WIPING: Final = {"codes_cleared": "cleared the codes", "programmed": "wrote to a module"}


def put_right_unseen(dossier: Dossier) -> Iterator[Made]:
    """A curing step with nothing of the parts as found on record, and no step that calls that record complete."""
    steps = our_steps(dossier) if disputed(dossier) else ()
    for step in steps:
        if step.value.action not in CURING or undone_before(steps, step) or _seen_before(dossier, step):
            continue
        parts = ", ".join(map(say, step.value.components))
        yield at(step, "put_right_unseen", f"{step.label} ({say(step.value.action)}: {parts}) comes before any record of it "
                 "as found.")  # fmt: skip


def _seen_before(dossier: Dossier, step: Recorded[Intervention]) -> bool:
    parts, span = set(step.value.components), step.value.time.span
    done = (s.value.time.span for s in dossier.of(CourseStep) if s.value.stage == "undisturbed_record")
    if any(not sure_before(span, when) for when in done):
        return True
    shots = (e.value for e in dossier.of(Exhibit))
    if any(e.state == "undisturbed" and parts & set(e.shows) and not _after(e.taken, span) for e in shots):
        return True
    seen = (r.value for r in taken(dossier))
    return any(v.state == "undisturbed" and parts & _points(v) and not _after(v.time, span) for v in seen)


def _points(value: Record) -> set[str]:
    return {p for name in ("of", "to") if isinstance(p := getattr(value, name, None), str)} | {
        m.module for m in getattr(value, "modules", ())
    }


def _after(when: object, span: object) -> bool:
    return when is not None and sure_before(span, when.span)  # type: ignore[attr-defined,arg-type]


def codes_cleared(dossier: Dossier) -> Iterator[Made]:
    """Codes cleared or a module written to, and no read-out from before is stored."""
    scans = [s.value for s in dossier.of(CodeScan) if s.value.before_clearing]
    for step in dossier.of(Intervention):
        how = _WIPING.get(step.value.action)
        if how and not any(not _after(s.time, step.value.time.span) for s in scans):
            yield at(step, "codes_cleared", f"{step.label} {how}, and no read-out from before is stored.")


def no_notice(dossier: Dossier) -> Iterator[Made]:
    """Something altered for good before anybody told the other side."""
    steps = our_steps(dossier) if disputed(dossier) else ()
    for step in steps:
        if step.value.action in ALTERING and not undone_before(steps, step) and not told_before(dossier, step):
            parts = ", ".join(map(say, step.value.components))
            yield at(step, "no_notice", f"{step.label} ({say(step.value.action)}: {parts}) comes before any notice or offer "
                     "to inspect.")  # fmt: skip


def several_changes(dossier: Dossier) -> Iterator[Made]:
    """A second curing step with nothing tested since the one before it."""
    excused = {
        s for r in dossier.of(Resolution) if r.value.about == "other_intervention_cannot_matter" for s in r.value.records
    }  # fmt: skip
    steps = our_steps(dossier)
    curing = [s for s in steps if s.value.action in CURING and not undone_before(steps, s) and s.subject not in excused]
    for before, step in pairwise(curing):
        same = set(before.value.components) & set(step.value.components)
        if not same and not _tested_between(dossier, before, step):
            yield at(step, "several_changes", f"Between {enumerated((before.label, step.label))} nothing was tested.")


def _tested_between(dossier: Dossier, before: Recorded[Intervention], step: Recorded[Intervention]) -> bool:
    for record in taken(dossier):
        when = record.value.time
        if record.value.after == before.subject:
            return True
        if when and sure_before(before.value.time.span, when.span) and sure_before(when.span, step.value.time.span):
            return True
    return False


def uncoded_module(dossier: Dossier) -> Iterator[Made]:
    """A substitute that is not coded to this vehicle, or of which nobody says that it is."""
    identities = dossier.of(ModuleIdentity)
    coded = {m.value.module for m in identities if m.value.which == "coded_replacement" and m.value.coding == "coded"}
    for identity in identities:
        v = identity.value
        if v.which in ("coded_replacement", "uncoded_replacement") and v.coding != "coded":
            how = "is not coded" if v.coding == "not_coded" else "is not said to be coded"
            yield at(identity, "uncoded_module", f"{identity.label}: the {say(v.module)} tried {how} to this vehicle.")
    for record in taken(dossier):
        if record.value.which == "uncoded_replacement":
            yield at(record, "uncoded_module", f"{record.label} was taken with a module that is not coded.")
    for step in dossier.of(Intervention):
        modules = {c for c in step.value.components if "module" in c} - coded
        if step.value.action == "substituted" and modules:
            names = ", ".join(map(say, sorted(modules)))
            yield at(step, "uncoded_module", f"{step.label} substitutes the {names}; nobody says that the substitute was "
                     "coded to this vehicle.")  # fmt: skip
