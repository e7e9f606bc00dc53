"""Which state of the vehicle a record met. Every intervention opens a new state; order is said only where it is known.

Known means: the record names the intervention it came after, or the spans of time do not overlap. What the prior
repairer did is the work under dispute and opens no state of its own: the vehicle "as found" is what that work left. What
he does once the vehicle has left him is a step like anybody's: a comeback to the same shop, a repair at the inspection.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from evidence.model.base import Record
from evidence.model.dossier import Dossier, Recorded
from evidence.model.examination import Taken
from evidence.model.people import Party
from evidence.model.repair import Intervention, WorkOrder
from evidence.model.when import TimeSpan, When


def sure_before(first: TimeSpan | None, second: TimeSpan | None) -> bool:
    """Whether the first surely came before the second; spans that touch are in order."""
    return first is not None and second is not None and first.latest <= second.earliest and first != second


def span_of_record(record: Record) -> TimeSpan | None:
    """The span of the record's own time, where it states one."""
    when = getattr(record, "time", None)
    return when.span if isinstance(when, When) else None


@dataclass(frozen=True, slots=True, kw_only=True)
class StateMet:
    """Subjects of the interventions that surely came earlier, surely came later, and those it does not say."""

    after: frozenset[str]
    before: frozenset[str]
    unclear: frozenset[str]
    contradicted: str = ""  # a statement of the record that the spans do not bear out


@dataclass(frozen=True)
class States:
    """The interventions of a dossier, in order where it is known. Build with :meth:`of`."""

    steps: Mapping[str, Recorded[Intervention]]
    spans: Mapping[str, TimeSpan | None]
    earlier: Mapping[str, frozenset[str]]  # intervention -> those surely before it

    @classmethod
    def of(cls, dossier: Dossier) -> States:
        """Read the interventions of everyone, without the work under dispute."""
        prior, left = _prior_repairers(dossier), _left(dossier)
        orders = {o.subject: o.value for o in dossier.of(WorkOrder)}
        steps: dict[str, Recorded[Intervention]] = {}
        for step in dossier.of(Intervention):
            order = orders.get(step.value.work_order or "")
            at_it = step.value.by in prior and not sure_before(left.get(step.value.by), step.value.time.span)
            if order.side == "prior_repairer" if order else at_it:
                continue
            steps[step.subject] = step
        spans = {s: step.value.time.span for s, step in steps.items()}
        return cls(steps=steps, spans=spans, earlier=_closure(steps, spans))

    def met_by(self, taken: Taken, span: TimeSpan | None) -> StateMet:
        """Where the record stands among the interventions; ``span`` is its time, or that of its exhibits."""
        stated = taken.after if taken.after in self.steps else None
        after: set[str] = set()
        before: set[str] = set()
        contradicted = ""
        if stated:
            after |= {stated} | self.earlier[stated]
            before |= {s for s in self.steps if stated in self.earlier[s]}
            if sure_before(span, self.spans[stated]):
                contradicted = f"says it came after {self.steps[stated].label}, but its time is earlier"
        for subject, at in self.spans.items():
            if subject in after or subject in before:
                continue
            if sure_before(span, at):
                before.add(subject)
            elif sure_before(at, span):
                after.add(subject)
        return StateMet(
            after=frozenset(after), before=frozenset(before), unclear=frozenset(set(self.steps) - after - before),
            contradicted=contradicted,
        )  # fmt: skip

    def labels(self, subjects: Iterable[str]) -> tuple[str, ...]:
        """Labels of interventions, in order of recording."""
        wanted = set(subjects)
        return tuple(step.label for subject, step in self.steps.items() if subject in wanted)

    def following(self, subject: str) -> frozenset[str]:
        """The interventions surely after this one."""
        return frozenset(s for s in self.steps if subject in self.earlier[s])


def _prior_repairers(dossier: Dossier) -> frozenset[str]:
    named = {o.value.repairer for o in dossier.of(WorkOrder) if o.value.side == "prior_repairer"}
    others = {o.value.repairer for o in dossier.of(WorkOrder) if o.value.side != "prior_repairer"}
    roles = {p.subject for p in dossier.of(Party) if "prior_repairer" in p.value.roles}
    return frozenset((named | roles) - others)


def _left(dossier: Dossier) -> dict[str, TimeSpan]:
    """When the vehicle last left each prior repairer, as far as his orders say."""
    found: dict[str, TimeSpan] = {}
    for order in dossier.of(WorkOrder):
        when = order.value.closed or order.value.opened
        if order.value.side == "prior_repairer" and when:
            known = found.get(order.value.repairer)
            if known is None or known.latest < when.span.latest:
                found[order.value.repairer] = when.span
    return found


def _closure(
    steps: Mapping[str, Recorded[Intervention]], spans: Mapping[str, TimeSpan | None]
) -> dict[str, frozenset[str]]:
    earlier: dict[str, set[str]] = {s: set() for s in steps}
    for subject, step in steps.items():
        if step.value.after in steps and step.value.after != subject:
            earlier[subject].add(str(step.value.after))
        earlier[subject] |= {other for other in steps if sure_before(spans[other], spans[subject])}
    changed = True
    while changed:  # a chain of statements reaches as far as it reaches
        changed = False
        for subject, known in earlier.items():
            more = set().union(*(earlier[k] for k in known)) - known - {subject}
            if more:
                known |= more
                changed = True
    return {s: frozenset(k) for s, k in earlier.items()}
