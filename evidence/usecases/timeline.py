"""The timeline of a dossier as a whole: the tightest span of every moment, why, and what cannot all be true."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from evidence.errors import NotFound
from evidence.model.base import Json, nearest
from evidence.model.dossier import Dossier
from evidence.model.when import utc_text
from evidence.ports import Desk
from evidence.rules.pack import Mechanism, Pack
from evidence.rules.window import window_of
from evidence.timeline.stated import stated
from evidence.timeline.supposed import causes_first, usual_use
from evidence.timeline.tightened import Clash, Tight, Tightened, steps, tighten
from evidence.usecases.pen import need, read_dossier


@dataclass(frozen=True, kw_only=True)
class TimelineReport:
    """Facts, and beside them what would follow from suppositions; ``asked``: the moments of the record asked about."""

    title: str
    facts: Tightened
    supposed: tuple[str, ...]  # what is supposed, in sentences; empty: nothing
    under_them: Tightened
    asked: tuple[Tight, ...] = ()

    @property
    def further(self) -> tuple[Tight, ...]:
        """The moments that the suppositions make tighter than the facts do."""
        facts = {t.moment.key: (t.earliest, t.latest) for t in self.facts.moments}
        return tuple(
            t for t in self.under_them.moments if (t.earliest, t.latest) != facts[t.moment.key] and not t.set_aside
        )

    @property
    def misfits(self) -> tuple[Clash, ...]:
        """Where a supposition does not go with the record."""
        return tuple(c for c in self.under_them.clashes if c not in self.facts.clashes)


def timeline_of(desk: Desk, dossier: str, *, which: str = "", mechanism: str = "") -> TimelineReport:
    """Work out the timeline. ``which`` asks about one record; ``mechanism`` supposes its window. Nothing is written."""
    with desk.ledgers.reading() as view:
        ledger = need(view, dossier)
        known = view.named(ledger, which) if which else None
        held = read_dossier(view, ledger)
    if which and known is None:
        raise NotFound(
            "no such record in this dossier", item=which,
            advice="Name it by its short name or its number, such as 'event 2'; 'evidence show' lists them.",
        )  # fmt: skip
    return timeline_report(held, _mechanism(desk.packs(), mechanism), known.subject if known else "")


def timeline_report(held: Dossier, mechanism: Mechanism | None = None, subject: str = "") -> TimelineReport:
    """The same for a dossier that is already folded."""
    known = stated(held)
    facts = tighten(known)
    bounds = [*causes_first(held, known), *usual_use(known, facts.network)]
    bounds += window_of(mechanism, held, known) if mechanism else ()
    return TimelineReport(
        title=held.title, facts=facts, supposed=tuple(dict.fromkeys(b.supposed for b in bounds)),
        under_them=tighten(known, bounds) if bounds else facts,
        asked=tuple(t for t in facts.moments if t.moment.subject == subject),
    )  # fmt: skip


def _mechanism(packs: Sequence[Pack], name: str) -> Mechanism | None:
    known = {m.id: m for p in packs for m in p.mechanisms}
    if name and name not in known:
        raise NotFound(
            f"no mechanism of this id{nearest(name, known)}", item=name, advice="'evidence rules list' lists them."
        )
    return known.get(name)


def timeline_json(found: TimelineReport) -> Json:
    """As it stands in JSON; times are UTC, RFC 3339."""
    return {
        "format": 1,
        "title": found.title,
        "moments": [_moment(t) for t in found.facts.moments],
        "contradictions": [_clash(c) for c in found.facts.clashes],
        "supposed": {
            "suppositions": list(found.supposed),
            "moments": [_moment(t) for t in found.further],
            "contradictions": [_clash(c) for c in found.misfits],
        },
    }


def _moment(tight: Tight) -> Json:
    m = tight.moment
    told: Json = {
        "moment": m.key, "record": m.record, "what": m.what, "narrowed": tight.narrowed, "narrowed_by": list(tight.by),
        "set_aside": tight.set_aside, "since": list(steps(tight.since)), "until": list(steps(tight.until)),
    }  # fmt: skip
    if m.given:
        told["stated"] = {"earliest": utc_text(m.given.earliest), "latest": utc_text(m.given.latest)}
    told |= {"earliest": utc_text(tight.earliest)} if tight.earliest else {}
    return told | ({"latest": utc_text(tight.latest)} if tight.latest else {})


def _clash(clash: Clash) -> Json:
    return {"records": list(clash.records), "steps": list(clash.steps)}
