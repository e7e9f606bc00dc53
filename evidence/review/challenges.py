"""Every weakness that an opponent would raise, computed from the record and its assessment, the one that hurts most first.

For the shop before it sends, and for the adjuster after. A kind is a function from the grounds to what it raises; this
module knows them all, puts them in order and turns them into what is read.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from typing import Any

from evidence.review import on_custody, on_papers, on_readings, on_rivals, on_state
from evidence.review.challenge import RANKING, SAID, Challenge, Code, Harm, Raised, rank
from evidence.review.grounds import Grounds, exhibits_of
from evidence.review.harm import harm_of, hurts

KINDS: dict[Code, Callable[[Grounds], Iterator[Raised]]] = {
    "prior_order_missing": on_rivals.prior_order_missing,
    "contradiction": on_rivals.contradiction,
    "alternative_supported": on_rivals.alternative_supported,
    "state_disturbed": on_state.state_disturbed,
    "owner_work": on_rivals.owner_work,
    "effect_before": on_rivals.effect_before,
    "outside_window": on_rivals.outside_window,
    "alternative_untested": on_rivals.alternative_untested,
    "custody": on_custody.custody,
    "photo_signs": on_readings.photo_signs,
    "two_changes": on_state.two_changes,
    "consent_missing": on_state.consent_missing,
    "part_scrapped": on_custody.part_scrapped,
    "codes_cleared": on_state.codes_cleared,
    "calibration_out_of_date": on_readings.calibration_out_of_date,
    "calibration_absent": on_readings.calibration_absent,
    "instrument_unnamed": on_readings.instrument_unnamed,
    "inside_uncertainty": on_readings.inside_uncertainty,
    "single_witness": on_readings.single_witness,
    "clock_unreferenced": on_readings.clock_unreferenced,
    "capture_time_asserted": on_readings.capture_time_asserted,
    "amended_late": on_readings.amended_late,
    "recorded_late": on_readings.recorded_late,
    "withheld": on_papers.withheld,
    "notice_missing": on_papers.notice_missing,
    "inspection_missing": on_papers.inspection_missing,
    "opinion_without_basis": on_papers.opinion_without_basis,
    "opinion_interested": on_papers.opinion_interested,
    "cost_without_document": on_papers.cost_without_document,
    "standard_not_cited": on_rivals.standard_not_cited,
}


def challenges(grounds: Grounds) -> tuple[Challenge, ...]:
    """All challenges, worst first."""
    found = [(r, harm_of(r, grounds)) for kind in KINDS.values() for r in kind(grounds)]
    found.sort(key=lambda pair: rank(pair[1], pair[0].code))
    return tuple(_challenge(place, raised, harm, grounds) for place, (raised, harm) in enumerate(found, 1))


def _challenge(place: int, raised: Raised, harm: Harm, grounds: Grounds) -> Challenge:
    labels = tuple(dict.fromkeys((*(grounds.dossier.label(s) for s in raised.subjects), *raised.labels)))
    subjects = (*raised.subjects, *(r.subject for x in raised.labels if (r := grounds.labelled(x))))
    title = next((c.title for c in grounds.leading if c.mechanism == raised.mechanism), "")
    return Challenge(
        place=place, code=raised.code, said=SAID[raised.code], sentence=raised.sentence.rstrip(".") + ".",
        hurts=hurts(harm, named=len(grounds.leading) > 1), answer=raised.answer.strip(), records=labels,
        exhibits=exhibits_of(grounds, subjects), mechanism=title, harm=harm,
    )  # fmt: skip


def as_json(found: tuple[Challenge, ...], title: str) -> dict[str, Any]:
    """Plain data, ``format`` 1: keys are the field names of :class:`Challenge` and :class:`Harm`; the factor as ``n/d``."""
    return {"format": 1, "title": title, "ranking": RANKING, "challenges": [_plain(c) for c in found]}


def _plain(challenge: Challenge) -> dict[str, Any]:
    plain = {f.name: getattr(challenge, f.name) for f in dataclasses.fields(challenge) if f.name != "harm"}
    harm: Harm = challenge.harm
    told = {f.name: getattr(harm, f.name) for f in dataclasses.fields(harm)}
    told["factor"] = f"{harm.factor.numerator}/{harm.factor.denominator}"
    return {**{k: list(v) if isinstance(v, tuple) else v for k, v in plain.items()},
            "harm": {k: list(v) if isinstance(v, tuple) else v for k, v in told.items()}}  # fmt: skip
