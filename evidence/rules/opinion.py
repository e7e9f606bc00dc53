"""How firm a band is: which single record or finding carries it, and which open result would change it.

Each is found by judging the entry again: without the record, with the finding unanswered, or with the open question answered
either way. Nothing is estimated.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from evidence.model.base import Record, shorten
from evidence.model.dossier import Recorded
from evidence.rules.assessment import AlternativeResult, Ceiling, Change, Fall, Status
from evidence.rules.ceilings import BOUNDING, band_of, ceilings
from evidence.rules.common import COMMON, CommonFinding
from evidence.rules.examine import Examined, across_parts, examine_without, judged
from evidence.rules.holdings import Item
from evidence.rules.replies import Reply
from evidence.rules.rivals import alternatives, alternatives_after

_DECIDED = ("met", "not met")
_OPEN = ("not measured", "undecided")
_SETTLED: tuple[Status, ...] = ("excluded", "supported")


@dataclass(frozen=True, kw_only=True)
class Standing:
    """How an entry stands once alternatives and ceilings are looked at."""

    examined: Examined
    rivals: tuple[AlternativeResult, ...]
    ceilings: tuple[Ceiling, ...]
    band: str

    @cached_property
    def common(self) -> tuple[tuple[CommonFinding, Reply], ...]:
        """The common findings, in order."""
        return self.examined.common({r.id: r.status for r in self.rivals})

    @cached_property
    def replies(self) -> Mapping[str, Reply]:
        """The common findings by id."""
        return {c.id: reply for c, reply in self.common}


def stand(examined: Examined, rivals: tuple[AlternativeResult, ...] | None = None) -> Standing:
    """The entry with its band; ``rivals`` where its alternatives are taken to stand otherwise than by the record."""
    rivals = alternatives(examined) if rivals is None else rivals
    found = ceilings(examined, {c.id: examined.ask(c.asks) for c in COMMON if c.id in BOUNDING}, rivals)
    return Standing(examined=examined, rivals=rivals, ceilings=found, band=band_of(examined.weighed.ratio, found)[0])


def falls(standing: Standing) -> tuple[Fall, ...]:
    """The single records, then the single findings, without which the band would be another."""
    return (*_records(standing), *_findings(standing))


def _records(standing: Standing) -> Iterator[Fall]:
    examined, carried = standing.examined, _carried(standing)
    worth: dict[frozenset[str], bool] = {}
    for record in _without_twins(standing, _cited(standing), carried):
        names = carried[record.label]
        if names not in worth:
            worth[names] = _could_fall(standing, names)
        if not worth[names]:
            continue
        if (band := stand(examine_without(examined, record)).band) != standing.band:
            yield Fall(what=record.label, text=shorten(record.value.summary(), 110), band=band)


def _cited(standing: Standing) -> list[Recorded[Record]]:
    """The records that an answer which counts rests on, in order of recording."""
    examined = standing.examined
    labels = {x for reply in examined.replies.values() if reply.answer in _DECIDED for x in reply.labels}
    labels |= {x for c in BOUNDING for x in standing.replies[c].labels}
    labels |= {x for r in standing.rivals if r.status != "open" for x in r.records}
    dossier = examined.setting.holdings.dossier
    cited = {r.subject for r in dossier.by_subject.values() if r.label in labels}
    rests_on = examined.setting.holdings.rests_on
    cited |= {s for subject in cited for s in rests_on.get(subject, ())}
    return [r for r in dossier.by_subject.values() if r.subject in cited]


def _could_fall(standing: Standing, names: frozenset[str]) -> bool:
    """Whether the band changes if everything met that rests on a record falls whole; if not, its part in it changes nothing.

    Only where all of that is met: what is adverse, undecided or bounds the statement is tried for itself.
    """
    examined = standing.examined
    replies = [examined.every[n] for n in names if n in examined.every]
    rivals = {r.id: r for r in standing.rivals if r.id in names}
    if (
        not names.isdisjoint(BOUNDING)
        or any(r.answer != "met" for r in replies)
        or any(r.status != "excluded" for r in rivals.values())
    ):
        return True
    bare = {n: Reply(answer="not measured") for n in names if n in examined.every}
    less = _answered(standing, bare)
    return stand(less.examined, _put(less, "open", *rivals)).band != standing.band


def _without_twins(
    standing: Standing, cited: Sequence[Recorded[Record]], carried: Mapping[str, frozenset[str]]
) -> Iterator[Recorded[Record]]:
    """Those that no other reading stands in for: the same test of the same place and state, carrying the same answers.

    Where its twin is left every answer stays as it was, so it need not be tried. A value counts only where a finding
    compares it with those of other parts.
    """
    by_value = any(map(across_parts, standing.examined.call.mechanism.findings))
    items = standing.examined.setting.holdings.by_subject
    keys = {r.subject: (_test(items.get(r.subject, ()), by_value=by_value), carried[r.label]) for r in cited}
    many = Counter(key for subject, key in keys.items() if subject in items)
    return (r for r in cited if many[keys[r.subject]] <= 1)


def _carried(standing: Standing) -> Mapping[str, frozenset[str]]:
    """Each record's label, and the answers that rest on it."""
    found: dict[str, set[str]] = defaultdict(set)
    told = [*standing.examined.every.items(), *standing.replies.items()]
    for name, labels in [*((n, r.labels) for n, r in told), *((r.id, r.records) for r in standing.rivals)]:
        for label in labels:
            found[label].add(name)
    holdings = standing.examined.setting.holdings
    for subject, under in holdings.rests_on.items():
        if (label := holdings.dossier.label(subject)) in found:
            for one in under:
                found[holdings.dossier.label(one)] |= found[label]
    return {label: frozenset(names) for label, names in found.items()}


def _test(items: Sequence[Item], *, by_value: bool) -> frozenset[tuple[object, ...]]:
    """What was tested, where, and in which state."""
    return frozenset(
        (i.kind, i.of, i.to, i.position, i.which, i.conditions, i.state, i.met, i.unusable, i.word, i.codes,
         i.value if by_value or i.value is None else i.value.unit)
        for i in items
    )  # fmt: skip


def _findings(standing: Standing) -> Iterator[Fall]:
    examined = standing.examined
    for finding in examined.call.mechanism.findings:
        reply = examined.replies[finding.id]
        if reply.answer in _DECIDED and len(reply.labels) > 1:
            band = _answered(standing, {finding.id: Reply(answer="not measured")}).band
            if band != standing.band:
                yield Fall(what=finding.id, text=shorten(finding.statement, 110), band=band)


def _answered(standing: Standing, put: Mapping[str, Reply]) -> Standing:
    """How the entry would stand with those replies in the place of its own."""
    examined = standing.examined
    replies = {**examined.every, **put}
    low = replies if examined.low is examined.every else {**examined.low, **put}
    other = judged(examined.call, examined.setting, replies, low, examined.words, examined.asked)
    return stand(other, alternatives_after(other, examined, standing.rivals, put))


def changes(standing: Standing, gone: Mapping[str, str]) -> tuple[Change, ...]:
    """Open findings and alternatives whose result alone would change the band; ``gone``: findings that can be made no more."""
    examined = standing.examined
    found: list[Change] = []
    for finding in examined.call.mechanism.findings:
        if examined.replies[finding.id].answer in _OPEN and not gone.get(finding.id):
            met = Reply(answer="met", undisturbed=finding.as_found)
            bands = [_answered(standing, {finding.id: r}).band for r in (met, Reply(answer="not met"))]
            found += _change(standing, (finding.id,), finding.statement, bands, of_rival=False)
    unsettled = [r for r in standing.rivals if r.status in ("open", "less supported") and not r.resolved]
    for rival in unsettled:
        bands = [stand(examined, _put(standing, s, rival.id)).band for s in _SETTLED]
        found += _change(standing, (rival.id,), rival.claim, bands, of_rival=True)
    guarded = [r for r in unsettled if r.guarded]
    if len(guarded) > 1:
        names = tuple(r.id for r in guarded)
        claims = "; ".join(shorten(r.claim, 60) for r in guarded)
        bands = [stand(examined, _put(standing, "excluded", *names)).band, standing.band]
        found += _change(standing, names, claims, bands, of_rival=True)
    return tuple(found)


def _put(standing: Standing, status: Status, *names: str) -> tuple[AlternativeResult, ...]:
    return tuple(replace(r, status=status) if r.id in names else r for r in standing.rivals)


def _change(
    standing: Standing, what: tuple[str, ...], text: str, bands: Sequence[str], *, of_rival: bool
) -> Iterator[Change]:
    met, failed = (band if band != standing.band else "" for band in bands)
    if met or failed:
        yield Change(what=what, text=shorten(text, 140), of_rival=of_rival, if_met=met, if_not=failed)
