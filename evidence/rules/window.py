"""The window of a mechanism as a supposition about time: if it was at work, the onset lay so long after the prior work."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from evidence.model.dossier import Dossier
from evidence.model.repair import WorkOrder
from evidence.rules.matching import by_closing
from evidence.rules.pack import Mechanism
from evidence.timeline.network import Bound
from evidence.timeline.odometer_clock import DAY
from evidence.timeline.order import milestone
from evidence.timeline.stated import Stated


def window_of(mechanism: Mechanism, dossier: Dossier, known: Stated) -> Iterator[Bound]:
    """Least and most days from the close of the last prior work to the onset; nothing where either is not on record."""
    prior = by_closing(o for o in dossier.of(WorkOrder) if o.value.side == "prior_repairer")
    onset = milestone(dossier, "onset", None)
    if not prior or not onset or prior[-1].subject not in known.ends:
        return
    least, most = (int(Decimal(days) * DAY) for days in mechanism.latency.days)
    closed = known.ends[prior[-1].subject][1]
    first, last = mechanism.latency.days
    words = f"from {closed} to {onset.record} {first} to {last} days"
    supposed = f"it was “{mechanism.title}”, which shows {first} to {last} days after the work"
    records = (prior[-1].label, onset.record)
    yield Bound(start=closed, end=onset.record, most=most, words=words, records=records, supposed=supposed)
    yield Bound(start=onset.record, end=closed, most=-least, words=words, records=records, supposed=supposed)
