"""How firm a band is: which single record or finding carries it, and which open result would change it.

Each is found by judging the entry again: without the record, with the finding unanswered, or with the open question answered
either way. Nothing is estimated.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from evidence.model.base import Record, shorten
from evidence.model.dossier import Recorded
from evidence.rules.asks import Taken, parts_of
from evidence.rules.assessment import AlternativeResult, Ceiling, Change, Fall, Status
from evidence.rules.ceilings import band_of, ceilings
from evidence.rules.common import CommonFinding
from evidence.rules.examine import Examined, examine_without, judged
from evidence.rules.pack import Finding
from evidence.rules.replies import Reply
from evidence.rules.rivals import alternatives

_DECIDED = ("met", "not met")
_OPEN = ("not measured", "undecided")
_SETTLED: tuple[Status, ...] = ("excluded", "supported")


@dataclass(frozen=True, kw_only=True)
class Standing:
    """How an entry stands once alternatives and ceilings are looked at."""

    examined: Examined
    rivals: tuple[AlternativeResult, ...]
    common: tuple[tuple[CommonFinding, Reply], ...]
    ceilings: tuple[Ceiling, ...]
    band: str

    @property
    def replies(self) -> Mapping[str, Reply]:
        """The common findings by id."""
        return {c.id: reply for c, reply in self.common}


def stand(examined: Examined, rivals: tuple[AlternativeResult, ...] | None = None) -> Standing:
    """The entry with its band; ``rivals`` where its alternatives are taken to stand otherwise than by the record."""
    rivals = alternatives(examined) if rivals is None else rivals
    common = examined.common({r.id: r.status for r in rivals})
    found = ceilings(examined, {c.id: reply for c, reply in common}, rivals)
    return Standing(
        examined=examined, rivals=rivals, common=common, ceilings=found, band=band_of(examined.weighed.ratio, found)[0]
    )


def falls(standing: Standing) -> tuple[Fall, ...]:
    """The single records, then the single findings, without which the band would be another."""
    return (*_records(standing), *_findings(standing))


def _records(standing: Standing) -> Iterator[Fall]:
    examined = standing.examined
    for record in _cited(standing):
        if (band := stand(examine_without(examined, record)).band) != standing.band:
            yield Fall(what=record.label, text=shorten(record.value.summary(), 110), band=band)


def _cited(standing: Standing) -> list[Recorded[Record]]:
    """The records that an answer which counts rests on, in order of recording."""
    examined = standing.examined
    labels = {x for reply in examined.replies.values() if reply.answer in _DECIDED for x in reply.labels}
    labels |= {x for c in ("C1", "C2", "C3") for x in standing.replies[c].labels}
    labels |= {x for r in standing.rivals if r.status != "open" for x in r.records}
    return [r for r in examined.setting.holdings.dossier.by_subject.values() if r.label in labels]


def _findings(standing: Standing) -> Iterator[Fall]:
    examined = standing.examined
    for finding in examined.call.mechanism.findings:
        reply = examined.replies[finding.id]
        if reply.answer in _DECIDED and len(reply.labels) > 1:
            band = stand(_answered(examined, finding, Reply(answer="not measured"))).band
            if band != standing.band:
                yield Fall(what=finding.id, text=shorten(finding.statement, 110), band=band)


def _answered(examined: Examined, finding: Finding, reply: Reply) -> Examined:
    """The entry as it would be with that reply."""
    replies = {**examined.every, finding.id: reply}
    low = replies if examined.low is examined.every else {**examined.low, finding.id: reply}
    return judged(examined.call, examined.setting, replies, low, examined.words, examined.asked)


def changes(standing: Standing, gone: Mapping[str, str]) -> tuple[Change, ...]:
    """Open findings and alternatives whose result alone would change the band; ``gone``: findings that can be made no more."""
    examined = standing.examined
    found: list[Change] = []
    for finding in examined.call.mechanism.findings:
        if examined.replies[finding.id].answer in _OPEN and not gone.get(finding.id):
            met = Reply(answer="met", undisturbed=_as_found(finding))
            bands = [stand(_answered(examined, finding, r)).band for r in (met, Reply(answer="not met"))]
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


def _as_found(finding: Finding) -> bool:
    return any(
        isinstance(a, Taken) and a.state == "undisturbed" for a in (parts_of(finding.asks) if finding.asks else ())
    )
