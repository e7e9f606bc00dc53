"""One mechanism held against the record: an answer for each finding, with and without what rests on a person's word.

A person may bind a record to a finding or unbind it, call a finding not applicable, or say that another intervention
cannot matter; each with a reason, each shown. An adverse answer that he takes away keeps its weight in the low end.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property

from evidence.model.base import Record
from evidence.model.dossier import Recorded
from evidence.model.people import Binding, Resolution
from evidence.rules.asks import Computed, Document, Taken, rests_on_answers
from evidence.rules.assessment import Answer, Near, Point
from evidence.rules.circumstances import Setting
from evidence.rules.common import COMMON, CommonFinding
from evidence.rules.computed import Known, compute
from evidence.rules.criteria import Closed
from evidence.rules.holdings import READINGS, Holdings
from evidence.rules.likelihood import Interval
from evidence.rules.matching import Call
from evidence.rules.pack import Finding
from evidence.rules.papers import of_document
from evidence.rules.predicates import answer, in_any_state
from evidence.rules.replies import A_PERSONS_WORD, Reply, worse
from evidence.rules.vocabulary import Vocabulary
from evidence.rules.weighing import ENDS, Weighable, Weighed, weigh


@dataclass(frozen=True, kw_only=True)
class Examined:
    """What the record answers to one mechanism, before alternatives and ceilings are looked at.

    ``weighed`` is the low end, which carries what is said: the lesser of that with and that without a person's word.
    """

    call: Call
    setting: Setting
    branch: str  # chosen by what is met; empty where none is
    replies: Mapping[str, Reply]  # findings of the entry; not applicable where another branch is shown
    low: Mapping[str, Reply]  # the same without a person's word, never better
    words: Mapping[str, tuple[Point, ...]]  # what a person said of a finding
    weighed: Weighed
    strict: Weighed  # the low end again: for D only the undisturbed state counts
    weighables: tuple[Weighable, ...]
    low_weighables: tuple[Weighable, ...]
    every: Mapping[str, Reply]  # the replies before a branch is chosen
    asked: dict[Closed, Reply] = field(default_factory=dict)  # further asks that rest on the record alone

    @cached_property
    def interval(self) -> Interval:
        """The ratio with a person's word, save that the low end is that of ``weighed``."""
        point, high = (weigh(self.weighables, end=end).ratio for end in ENDS[1:])
        return Interval(self.weighed.ratio, point, high)

    @cached_property
    def wordless(self) -> Fraction:
        """The low end without what rests on a person's word alone."""
        return weigh(self.low_weighables, end="low").ratio

    @property
    def by_word(self) -> bool:
        """Whether a person's word bears on the ratio."""
        return self.low_weighables != self.weighables

    def reply(self, finding: str) -> Reply:
        """The reply to a finding of the entry or to a common one."""
        if finding in self.replies:
            return self.replies[finding]
        common = next((c for c in COMMON if c.id == finding), None)
        return self.ask(common.asks) if common else Reply(answer="not measured")

    def ask(self, asked: Closed, statuses: Mapping[str, str] | None = None) -> Reply:
        """Answer a further ask for this entry, on what is known of its findings."""
        if (answered := self.asked.get(asked)) is not None:
            return answered
        known = Known(mechanism=self.call.mechanism, replies=self.replies, statuses=statuses or {})
        reply = _answer(asked, self.setting, known)
        if not rests_on_answers(asked):
            self.asked[asked] = reply
        return reply

    def before_and_after(self, asked: Closed, step: str) -> tuple[Reply, Reply]:
        """The answer in the state that an intervention met, and in the one it left: no other change lies between.

        Without a decided answer after it, that before it is not looked for.
        """
        known = Known(mechanism=self.call.mechanism, replies=self.replies, statuses={})
        after = _answer(in_any_state(asked), replace(self.setting, exactly=step), known)
        if after.answer not in ("met", "not met"):
            return Reply(answer="not measured"), after
        return _answer(asked, replace(self.setting, ahead_of=step), known), after

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
    words = {f.id: said.about(f.id) for f in mechanism.findings}
    return judged(call, bound, replies, low, words)


def judged(
    call: Call, setting: Setting, replies: Mapping[str, Reply], low: Mapping[str, Reply],
    words: Mapping[str, tuple[Point, ...]], asked: dict[Closed, Reply] | None = None,
) -> Examined:  # fmt: skip
    """The weighing of answers given.

    ``low`` is what is left of them without a person's word: the same object where nobody said anything. ``asked`` are
    further answers of the same setting, to be had again.
    """
    weighables = _weighables(call, replies, setting.holdings)
    low_weighables = weighables if low is replies else _weighables(call, low, setting.holdings)
    weighed = with_word = weigh(weighables, end="low")
    strict = weigh(weighables, end="low", undisturbed_only=True)
    if low is not replies:
        weighed = min(with_word, weigh(low_weighables, end="low"), key=lambda w: w.ratio)
        strict = min(strict, weigh(low_weighables, end="low", undisturbed_only=True), key=lambda w: w.ratio)
    return Examined(
        call=call, setting=setting, branch=with_word.branch, low=low, words=words,
        replies=_of_branch(call, replies, with_word.branch),
        weighed=weighed, strict=strict, weighables=weighables,
        low_weighables=low_weighables, every=replies, asked={} if asked is None else asked,
    )  # fmt: skip


def examine_without(examined: Examined, record: Recorded[Record]) -> Examined:
    """The entry as it would be without one record. Of a reading only what speaks of it is asked again."""
    call, words = examined.call, examined.words
    holdings = examined.setting.holdings.without(record.subject)
    if record.kind not in READINGS or examined.low is not examined.every:
        orders = tuple(o for o in call.orders if o.subject != record.subject)
        return examine(replace(call, orders=orders), holdings, examined.setting.vocabulary)
    setting = replace(examined.setting, holdings=holdings)
    known = Known(mechanism=call.mechanism, replies={}, statuses={})
    replies = {
        f.id: _finding(f, setting, known, None) if _speaks_of(record.label, reply) or across_parts(f) else reply
        for f in call.mechanism.findings
        for reply in (examined.every[f.id],)
    }
    asked = {ask: reply for ask, reply in examined.asked.items() if not _speaks_of(record.label, reply)}
    return judged(call, setting, replies, replies, words, asked)


def _speaks_of(label: str, reply: Reply) -> bool:
    return label in reply.labels or any(n.record == label for n in reply.near)


def across_parts(finding: Finding) -> bool:
    """Whether readings of parts that are not judged themselves bear on the answer: a median, a spread."""
    taken = [a for a in finding.parts if isinstance(a, Taken)]
    return any(getattr(getattr(a, "held", None), "of", "") == "others" or (a.over and a.over.reduce) for a in taken)


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
        reply = _answer(finding.asks, replace(setting, bound=bound, unbound=unbound) if said else setting, known)
    taken = reply.subjects | {s for s in bound if any(n.record == _label(s, setting) for n in reply.near)}
    by_word = sorted((_label(s, setting) for s in bound - taken if setting.holdings.dossier.get(s)), key=_natural)
    if by_word and reply.answer in ("not measured", "undecided"):
        told = f"by a person's word that {', '.join(by_word)} shows it"
        return replace(
            reply, answer="met", labels=(*reply.labels, *by_word), reasons=(*reply.reasons, told), sure=A_PERSONS_WORD
        )
    return reply


def _label(subject: str, setting: Setting) -> str:
    return setting.holdings.dossier.label(subject)


def _natural(label: str) -> tuple[str, int]:
    name, _, number = label.rpartition(" ")
    return (name, int(number)) if number.isdigit() else (label, 0)


def _no_such_part(finding: Finding, setting: Setting) -> str:
    for ask in finding.parts:
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
    return tuple(
        Weighable(
            id=f.id, limb=f.limb, answer=replies[f.id].answer, if_true=call.odds[f.id][0], if_not=call.odds[f.id][1],
            branch=f.branch or "", test=f.one_test, marks=replies[f.id].subjects & holdings.measured_subjects,
            undisturbed=replies[f.id].undisturbed, sure=replies[f.id].sure,
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
