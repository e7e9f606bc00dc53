"""One mechanism held against the record: an answer for each finding, with and without what rests on a person's word.

A person may bind a record to a finding or unbind it, call a finding not applicable, or say that another intervention
cannot matter; each with a reason, each shown. An adverse answer that he takes away keeps its weight in the low end.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from evidence.model.dossier import Recorded
from evidence.model.people import Binding, Resolution
from evidence.rules.asks import Computed, Document, Taken, parts_of
from evidence.rules.assessment import Answer, Near, Point
from evidence.rules.circumstances import Setting
from evidence.rules.common import COMMON, CommonFinding
from evidence.rules.computed import Known, compute
from evidence.rules.criteria import Closed
from evidence.rules.holdings import Holdings
from evidence.rules.matching import Call
from evidence.rules.pack import Finding
from evidence.rules.papers import of_document
from evidence.rules.predicates import answer
from evidence.rules.replies import Reply, worse
from evidence.rules.vocabulary import Vocabulary
from evidence.rules.weighing import Weighable, Weighed, weigh

_MEASURED_KINDS = ("measurement", "waveform")


@dataclass(frozen=True, kw_only=True)
class Examined:
    """What the record answers to one mechanism, before alternatives and ceilings are looked at."""

    call: Call
    setting: Setting
    replies: Mapping[str, Reply]  # findings of the entry; not applicable where another branch is shown
    low: Mapping[str, Reply]  # the same without a person's word, never better
    words: Mapping[str, tuple[Point, ...]]  # what a person said of a finding
    weighed: Weighed
    strict: Weighed  # for D only the undisturbed state counts
    low_weighed: Weighed
    weighables: tuple[Weighable, ...]

    def reply(self, finding: str) -> Reply:
        """The reply to a finding of the entry or to a common one."""
        if finding in self.replies:
            return self.replies[finding]
        common = next((c for c in COMMON if c.id == finding), None)
        return self.ask(common.asks) if common else Reply(answer="not measured")

    def ask(self, asked: Closed, statuses: Mapping[str, str] | None = None) -> Reply:
        """Answer a further ask for this entry, on what is known of its findings."""
        known = Known(mechanism=self.call.mechanism, replies=self.replies, statuses=statuses or {})
        return _answer(asked, self.setting, known)

    def common(self, statuses: Mapping[str, str]) -> tuple[tuple[CommonFinding, Reply], ...]:
        """The common findings, in order."""
        return tuple((c, self.ask(c.asks, statuses)) for c in COMMON)


def examine(call: Call, holdings: Holdings, vocabulary: Vocabulary) -> Examined:
    """Hold one called-up mechanism against the record."""
    mechanism = call.mechanism
    setting = Setting(
        holdings=holdings, vocabulary=vocabulary, components=mechanism.components,
        prior=call.prior or (holdings.prior_orders[-1] if holdings.prior_orders else None),
        limit_source=call.pack.limit_source(mechanism),
    )  # fmt: skip
    said = _Said(holdings, mechanism.id)
    known = Known(mechanism=mechanism, replies={}, statuses={})
    plain = {f.id: _finding(f, setting, known, None) for f in mechanism.findings}
    if said.anything:
        bound = replace(setting, excused=said.excused)
        replies = {f.id: _finding(f, bound, known, said) for f in mechanism.findings}
        low = {f.id: worse(plain[f.id], replies[f.id]) for f in mechanism.findings}
    else:
        bound, replies, low = setting, plain, plain
    weighables = _weighables(call, replies, holdings)
    weighed = weigh(weighables)
    low_weighed = weigh(_weighables(call, low, holdings)) if said.anything else weighed
    return Examined(
        call=call, setting=bound, replies=_of_branch(call, replies, weighed.branch), low=low,
        words={f.id: said.about(f.id) for f in mechanism.findings}, weighed=weighed,
        strict=weigh(weighables, undisturbed_only=True), low_weighed=low_weighed, weighables=weighables,
    )  # fmt: skip


class _Said:
    """What persons said in writing about one mechanism."""

    def __init__(self, holdings: Holdings, mechanism: str) -> None:
        self.bindings: tuple[Recorded[Binding], ...] = tuple(holdings.bindings.get(mechanism, ()))
        self.resolutions: tuple[Recorded[Resolution], ...] = tuple(holdings.resolutions.get(mechanism, ()))
        self.holdings = holdings
        self.excused = frozenset(
            record
            for r in self.resolutions
            if r.value.about == "other_intervention_cannot_matter"
            for record in r.value.records
        )
        self.anything = bool(
            self.bindings or self.excused or any(r.value.about == "not_applicable" for r in self.resolutions)
        )

    def records(self, finding: str, *, binds: bool) -> frozenset[str]:
        """The records whose newest word about the finding is that."""
        newest: dict[str, bool] = {}
        for b in self.bindings:
            if b.value.finding == finding:
                newest[b.value.record] = b.value.binds
        return frozenset(record for record, bound in newest.items() if bound == binds)

    def not_applicable(self, finding: str) -> str:
        """Why the finding does not apply, by a person's word, or an empty text."""
        found = [r for r in self.resolutions if r.value.about == "not_applicable" and r.value.finding == finding]
        return f"{found[-1].value.text} ({found[-1].label})" if found else ""

    def about(self, finding: str) -> tuple[Point, ...]:
        """Everything said about a finding, for showing."""
        points = [
            Point(
                text=f"{'bound' if b.value.binds else 'unbound'} by {self.holdings.dossier.party(b.value.by)}: "
                f"{b.value.reason}",
                records=(b.label, self.holdings.dossier.label(b.value.record)),
            )
            for b in self.bindings
            if b.value.finding == finding
        ]
        points += [
            Point(text=f"{r.value.about.replace('_', ' ')}: {r.value.text}", records=(r.label,))
            for r in self.resolutions
            if r.value.finding == finding
        ]
        return tuple(points)


def _finding(finding: Finding, setting: Setting, known: Known, said: _Said | None) -> Reply:
    if said and (why := said.not_applicable(finding.id)):
        return Reply(answer="not applicable", reasons=(why,))
    if absent := _no_such_part(finding, setting):
        return Reply(answer="not applicable", reasons=(absent,))
    bound = said.records(finding.id, binds=True) if said else frozenset()
    unbound = said.records(finding.id, binds=False) if said else frozenset()
    if finding.asks is None:
        reply = Reply(answer="not measured", reasons=("this finding is asked in words only",))
    else:
        reply = _answer(finding.asks, replace(setting, bound=bound, unbound=unbound), known)
    taken = reply.subjects | {s for s in bound if any(n.record == _label(s, setting) for n in reply.near)}
    by_word = sorted((_label(s, setting) for s in bound - taken if setting.holdings.dossier.get(s)), key=_natural)
    if by_word and reply.answer in ("not measured", "undecided"):
        told = f"by a person's word that {', '.join(by_word)} shows it"
        return replace(reply, answer="met", labels=(*reply.labels, *by_word), reasons=(*reply.reasons, told))
    return reply


def _label(subject: str, setting: Setting) -> str:
    return setting.holdings.dossier.label(subject)


def _natural(label: str) -> tuple[str, int]:
    name, _, number = label.rpartition(" ")
    return (name, int(number)) if number.isdigit() else (label, 0)


def _no_such_part(finding: Finding, setting: Setting) -> str:
    for ask in parts_of(finding.asks) if finding.asks else ():
        if isinstance(ask, Taken) and ask.over and setting.holdings.counts.get(ask.over.every) == 0:
            return f"the vehicle record counts no {ask.over.every.replace('-', ' ')}"
    return ""


def _answer(asked: Closed, setting: Setting, known: Known) -> Reply:
    asks = {f.id: f.asks for f in known.mechanism.findings}

    def outside(ask: Closed, here: Setting) -> Reply:
        if isinstance(ask, Document):
            return of_document(ask, here)
        assert isinstance(ask, Computed)
        return compute(ask, here, known)

    return answer(asked, setting, outside=outside, lookup=asks.get)


def _weighables(call: Call, replies: Mapping[str, Reply], holdings: Holdings) -> tuple[Weighable, ...]:
    def marks(reply: Reply) -> frozenset[str]:
        found = ((s, holdings.dossier.get(s)) for s in reply.subjects)
        return frozenset(s for s, r in found if r is not None and r.kind in _MEASURED_KINDS)

    probability = call.pack.probability
    return tuple(
        Weighable(
            id=f.id, limb=f.limb, answer=replies[f.id].answer, if_true=Fraction(probability(f.if_true)),
            if_not=Fraction(probability(f.if_not)), branch=f.branch or "", test=f.one_test,
            marks=marks(replies[f.id]), undisturbed=replies[f.id].undisturbed,
        )
        for f in call.mechanism.findings
    )  # fmt: skip


def _of_branch(call: Call, replies: Mapping[str, Reply], branch: str) -> dict[str, Reply]:
    """Findings of another branch than the one shown do not apply, and never count as absent."""
    if not branch:
        return dict(replies)
    told: Answer = "not applicable"
    return {
        f.id: Reply(
            answer=told, near=_as_near(replies[f.id]), reasons=(f"the branch shown is {branch!r}, not {f.branch!r}",)
        )
        if f.branch and f.branch != branch
        else replies[f.id]
        for f in call.mechanism.findings
    }


def _as_near(reply: Reply) -> tuple[Near, ...]:
    return tuple(Near(record=label, why="answers a finding of another branch") for label in reply.labels)
