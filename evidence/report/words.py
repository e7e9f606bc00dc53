"""How records are spoken of on paper: times, labels, states. No word of the storage format gets out."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from typing import Any

from evidence.model.base import say
from evidence.model.dossier import Dossier, Recorded
from evidence.model.kinds import enumerated
from evidence.model.when import When
from evidence.report.phrasing import NOT_STATED

STATES = {"undisturbed": "as found, undisturbed", "disturbed": "disturbed", "after_repair": "after repair"}
SOURCES = {
    "device_clock": "a device's clock",
    "document": "a document",
    "statement": "somebody's statement",
    "recorder": "the recorder's word",
}
SIDES = {
    "prior_repairer": "Prior repairer",
    "owner": "Owner",
    "present_repairer": "Present repairer",
    "later_repairer": "Later repairer",
}
WHICH = {"coded_replacement": "replacement, coded", "uncoded_replacement": "replacement, not coded"}


def when(dossier: Dossier, moment: When | None) -> str:
    """As given; with its zone where that is not the dossier's own, which stands at the foot of every page."""
    if moment is None:
        return NOT_STATED
    source = f"; from {SOURCES[moment.source]}" if moment.source else ""
    return clock(dossier, moment) + source + (f"; {moment.note}" if moment.note else "")


def clock(dossier: Dossier, moment: When) -> str:
    """The time alone, with a space between date and hour."""
    home = moment.zone and moment.zone == dossier.opening.zone
    return re.sub(r"(?<=\d)T(?=\d)", " ", moment.given if home else moment.words())


def moment(at: dt.datetime) -> str:
    """A moment of the record itself, in UTC."""
    return f"{at.astimezone(dt.UTC):%Y-%m-%d %H:%M} UTC"


def labels(dossier: Dossier, subjects: Iterable[str | None]) -> str:
    """``Exhibit 3, Exhibit 7`` for subjects; empty for none."""
    return enumerated(dossier.label(s) for s in subjects if s)


def parts(names: Iterable[str]) -> str:
    """Components as a person reads them."""
    return ", ".join(map(say, names))


def title(recorded: Recorded[Any]) -> str:
    """The label, with a word where the record was corrected or taken back."""
    if recorded.withdrawn:
        return f"{recorded.label}\nwithdrawn: {recorded.newest.reason or 'no reason given'}"
    if len(recorded.versions) > 1:
        return f"{recorded.label}\namended: {recorded.newest.reason or 'no reason given'}"
    return recorded.label
