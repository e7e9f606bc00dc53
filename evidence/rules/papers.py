"""What papers and statements answer: work orders, the owner's declaration, and who else had hands on the parts.

A paper that is not in hand says nothing. An adverse line counts whether or not the paper is signed; what supports must
be signed, and given before the findings were shown.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from evidence.model.base import say, shorten
from evidence.model.dossier import Recorded
from evidence.model.happening import Event
from evidence.model.people import OwnerDeclaration, Party, Statement
from evidence.model.repair import Operation, WorkOrder
from evidence.rules.asks import Document
from evidence.rules.circumstances import Setting
from evidence.rules.matching import hands_on
from evidence.rules.pack import Mechanism
from evidence.rules.replies import Reply, all_of
from evidence.timeline.order import closed, milestone
from evidence.timeline.states import sure_before

_SIDES = {
    "prior_work_order": "prior_repairer", "owner_work_order": "owner", "present_work_order": "present_repairer",
}  # fmt: skip
# Complaints that a vehicle which drives in or out under its own power cannot have had at that moment.
_STANDS_STILL = frozenset({"crank-no-start", "no-crank", "no-start", "no-drive", "seizure"})


def of_document(ask: Document, setting: Setting) -> Reply:
    """What the papers of that kind say or carry."""
    if ask.document == "owner_declaration":
        return _declared(ask, setting)
    orders = [o for o in setting.holdings.dossier.of(WorkOrder) if o.value.side == _SIDES[ask.document]]
    stating = [o for o in orders if (o.value.complaint_tags if ask.says else o.value.operations or o.value.parts)]
    if not stating:
        return Reply(answer="not measured", reasons=(f"no {say(ask.document)} states this",))
    saying = [o for o in stating if _says(o.value, ask, setting)]
    wanted = saying if "stated" in ask.held else []
    if "not_stated" in ask.held and not saying:
        wanted = stating
    words = ", ".join(map(say, ask.says or ask.carries or ()))
    verb = "says" if ask.says else "carries"
    told = tuple(f"{o.label} {verb} {words}" for o in saying) or (f"none of the papers {verb} {words}",)
    carrying = wanted or stating
    return Reply(
        answer="met" if wanted else "not met", labels=tuple(o.label for o in carrying),
        subjects=frozenset(o.subject for o in carrying), reasons=told,
    )  # fmt: skip


def _says(order: WorkOrder, ask: Document, setting: Setting) -> bool:
    if ask.says:
        return bool(set(ask.says) & set(order.complaint_tags))
    wanted = ask.carries or ()
    if any(line.operation in wanted for line in order.operations):
        return True
    named = [p.component for p in order.parts if p.component] + [c for o in order.operations for c in o.components]
    known = [w for w in wanted if w in setting.vocabulary.components]
    return any(setting.vocabulary.within(part, w) for part in named for w in known)


def _declared(ask: Document, setting: Setting) -> Reply:
    met: list[str] = []
    failed: list[str] = []
    weak: list[str] = []
    for declaration, statement in _statements(setting):
        if ask.says and statement.topic in ask.says and statement.answer != "unknown":
            if statement.answer not in ask.held:
                failed.append(declaration.label)
            else:
                (met if _sound(declaration.value) else weak).append(declaration.label)
    if failed:
        return Reply(answer="not met", labels=tuple(dict.fromkeys(failed)))
    if met:
        return Reply(answer="met", labels=tuple(dict.fromkeys(met)))
    if weak:
        return Reply(answer="undecided", labels=tuple(dict.fromkeys(weak)), reasons=(_WEAK,))
    return Reply(answer="not measured", reasons=("no owner declaration answers this",))


_WEAK = "the owner's declaration is not signed, or was taken after findings were shown"


def _statements(setting: Setting) -> Iterator[tuple[Recorded[OwnerDeclaration], Statement]]:
    for declaration in setting.holdings.dossier.of(OwnerDeclaration):
        for statement in declaration.value.statements:
            yield declaration, statement


def _sound(declaration: OwnerDeclaration) -> bool:
    return declaration.signed and declaration.before_findings_shown


def prior_work(mechanism: Mechanism, setting: Setting) -> Reply:
    """C1: the prior work order in hand, and its hands on the components."""
    orders = setting.holdings.prior_orders
    if not orders:
        return Reply(answer="not measured", reasons=("no prior work order is on record",))
    labels = tuple(o.label for o in orders)
    touching = [o for o in orders if hands_on(o.value, mechanism, setting.vocabulary)]
    if not touching:
        unread = [o for o in orders if any(not line.operation and not line.components for line in o.value.operations)]
        if unread or any(not o.value.operations for o in orders):
            return Reply(
                answer="undecided", labels=labels,
                reasons=("some of its lines name neither an operation of the vocabulary nor a component",),
            )  # fmt: skip
        lines = "; ".join(shorten(line.text, 60) for o in orders for line in o.value.operations)
        return Reply(
            answer="not met", labels=labels, reasons=(f"no line has hands on these components; the lines are: {lines}",)
        )
    held = [o for o in touching if o.value.exhibits]
    if not held:
        told = "recorded, but no paper of it is exhibited, so it is not in hand"
        return Reply(answer="not measured", labels=tuple(o.label for o in touching), reasons=(told,))
    dated = [o for o in held if closed(o)]
    if not dated:
        return Reply(answer="undecided", labels=tuple(o.label for o in held), reasons=("it carries no date",))
    reasons = [f"{o.label} does not carry {', '.join(gaps)}" for o in dated if (gaps := order_gaps(o.value))]
    return Reply(
        answer="met", labels=tuple(o.label for o in dated), subjects=frozenset(o.subject for o in dated),
        reasons=tuple(reasons),
    )  # fmt: skip


def order_gaps(order: WorkOrder) -> list[str]:
    """What a prior work order should carry and does not."""
    gaps = [] if order.closed else ["the date it was closed"]
    gaps += [] if order.odometer_in else ["the odometer in"]
    gaps += [] if order.odometer_out else ["the odometer out"]
    return gaps + ([] if order.parts else ["parts"])


def nobody_else(by: str, setting: Setting) -> Reply:
    """C4 and the alternatives about owner and later repairers: who else had hands on these parts in between."""
    if by == "anyone":
        return all_of([nobody_else("owner", setting), nobody_else("later_repairer", setting)])
    topics = ("own_work", "accessory") if by == "owner" else ("other_repairer",)
    adverse: list[tuple[str, str]] = [*_worked(by, setting)]
    good: list[tuple[str, str]] = []
    unclear: list[tuple[str, str]] = []
    for declaration, statement in _statements(setting):
        if statement.topic not in topics:
            continue
        pair = (declaration.label, _about(statement))
        touched = any(setting.related(c, m) for c in statement.components for m in setting.components)
        if statement.answer == "some" and touched:
            adverse.append(pair)
        elif statement.answer == "unknown" or (statement.answer == "some" and not statement.components):
            unclear.append(pair)
        elif not _sound(declaration.value):
            unclear.append((declaration.label, _WEAK))
        elif statement.topic == topics[0] or statement.answer == "some":
            good.append(pair)
    told = any(s.topic == topics[0] for _, s in _statements(setting))
    if adverse:
        return _told("not met", adverse)
    if unclear:
        return _told("undecided", unclear)
    if good and told:
        return _told("met", [*good, *_elsewhere(by, setting)])
    return Reply(answer="not measured", reasons=(f"no declaration answers whether {_WHO[by]} worked on these parts",))


_WHO = {"owner": "the owner", "later_repairer": "another repairer"}


def _told(answer: str, pairs: list[tuple[str, str]]) -> Reply:
    return Reply(
        answer=answer,  # type: ignore[arg-type]  # one of the answers, by its callers
        labels=tuple(dict.fromkeys(label for label, _ in pairs)),
        reasons=tuple(dict.fromkeys(f"{label}: {text}" for label, text in pairs)),
    )


def _about(statement: Statement) -> str:
    parts = f" on {', '.join(map(say, statement.components))}" if statement.components else ""
    return f"{say(statement.topic)}: {statement.answer}{parts}"


def _worked(by: str, setting: Setting) -> Iterator[tuple[str, str]]:
    """Work of that side on the mechanism's parts, not surely finished before the prior work began."""
    for order in _orders_of(by, setting):
        lines = [line.text for line in order.value.operations if _on_parts(_touched(line, setting), setting)]
        if lines:
            yield order.label, f"worked on these parts: {shorten('; '.join(lines))}"
    if by == "owner":
        owners = {p.subject for p in setting.holdings.dossier.of(Party) if {"owner", "driver"} & set(p.value.roles)}
        for step in setting.holdings.states.steps.values():
            if step.value.by in owners and _on_parts(step.value.components, setting):
                yield step.label, step.value.summary()


def _elsewhere(by: str, setting: Setting) -> Iterator[tuple[str, str]]:
    for order in _orders_of(by, setting):
        yield order.label, "worked on other parts only"


def _orders_of(by: str, setting: Setting) -> Iterator[Recorded[WorkOrder]]:
    start = milestone(setting.holdings.dossier, "prior_work_opened", setting.prior)
    for order in setting.holdings.dossier.of(WorkOrder):
        when = closed(order)
        if order.value.side == by and not (start and when and sure_before(when.span, start.span)):
            yield order


def _touched(line: Operation, setting: Setting) -> set[str]:
    known = line.operation if line.operation in setting.vocabulary.operations else None
    return {*line.components, *(setting.vocabulary.disturbed_by(known) if known else ())}


def _on_parts(touched: Iterable[str], setting: Setting) -> bool:
    return any(
        setting.vocabulary.within(c, m) or setting.vocabulary.within(m, c) for c in touched for m in setting.components
    )


def absent_before(mechanism: Mechanism, setting: Setting) -> Reply:
    """C2: the effect was not there before the prior work. What shows that it was goes before what shows the rest."""
    found: dict[str, list[tuple[str, str]]] = {"there": [], "absent": [], "weak": []}
    for how, label, text in (*_by_order(mechanism, setting), *_by_events(mechanism, setting), *_by_owner(setting)):
        found[how].append((label, text))
    for how, verdict in (("there", "not met"), ("absent", "met"), ("weak", "undecided")):
        if found[how]:
            return _told(verdict, found[how])
    return Reply(answer="not measured", reasons=("nothing on record shows the vehicle before the prior work",))


def _by_order(mechanism: Mechanism, setting: Setting) -> Iterator[tuple[str, str, str]]:
    tags = setting.prior.value.complaint_tags if setting.prior else ()
    if setting.prior and tags:
        shared = [t for t in tags if t in mechanism.complaints]
        said = "its complaint already reads" if shared else "its complaint was another"
        how = "there" if shared else "weak"  # a complaint that is not written down is not shown to be absent
        yield how, setting.prior.label, f"{said}: {', '.join(map(say, shared or tags))}"


def _by_events(mechanism: Mechanism, setting: Setting) -> Iterator[tuple[str, str, str]]:
    dossier = setting.holdings.dossier
    start = milestone(dossier, "prior_work_opened", setting.prior) or milestone(
        dossier, "prior_work_closed", setting.prior
    )
    for event in dossier.of(Event):
        if event.value.what in ("onset", "first_shown_bad"):
            if start and sure_before(event.value.time.span, start.span):
                yield "there", event.label, "the effect was there before the prior work"
        elif _shows_good(event.value, mechanism):
            known = event.value.basis in ("seen", "measured", "document")
            yield "absent" if known else "weak", event.label, shorten(event.value.text)


def _by_owner(setting: Setting) -> Iterator[tuple[str, str, str]]:
    """What the owner says of the condition before. "Some" speaks against only where it names these parts."""
    for declaration, statement in _statements(setting):
        if statement.topic != "condition_before":
            continue
        if statement.answer == "none":
            good = "absent" if _sound(declaration.value) else "weak"
            yield good, declaration.label, _about(statement)
        elif statement.answer == "some" and _on_parts(statement.components, setting):
            yield "there", declaration.label, _about(statement)


def _shows_good(event: Event, mechanism: Mechanism) -> bool:
    if event.what == "last_shown_good":
        return True
    return event.what in ("drive_in", "drive_out") and bool(_STANDS_STILL & set(mechanism.complaints))
