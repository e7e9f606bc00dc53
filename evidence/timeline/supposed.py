"""What is not on record and only taken to be so: a network of its own, laid over the facts and never mixed with them.

Two kinds stand here: a cause comes before what a record says it led to, and no day saw more kilometres than the record
itself shows of one. The window of a mechanism is the third; whoever knows the mechanism brings it.
"""

from __future__ import annotations

from collections.abc import Iterator

from evidence.model.dossier import Dossier
from evidence.model.happening import Event
from evidence.timeline.network import Bound, Network
from evidence.timeline.odometer_clock import at_that_use, most_in_a_day
from evidence.timeline.stated import Stated


def causes_first(dossier: Dossier, known: Stated) -> Iterator[Bound]:
    """A cause begins no later than what a record says that it led to."""
    for event in dossier.of(Event):
        for cause in event.value.caused_by:
            if cause in known.ends and cause != event.subject:
                label = dossier.label(cause)
                words = f"{label} led to {event.label}"
                yield Bound(
                    start=known.ends[event.subject][0], end=known.ends[cause][0], most=0, words=words,
                    records=(event.label, label), supposed=f"{words}, as recorded, and a cause comes first",
                )  # fmt: skip


def usual_use(known: Stated, facts: Network) -> Iterator[Bound]:
    """No 24 hours saw more kilometres than the record shows of any stretch between two readings."""
    if facts.cycle:
        return

    def apart(first: str, second: str) -> int | None:
        back = facts.at_most(second, first)
        return None if back is None else max(-back, 0)

    if use := most_in_a_day(known.reads, apart):
        yield from at_that_use(known.reads, use)
