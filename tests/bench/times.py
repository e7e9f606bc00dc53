"""The network of time: events of uncertain time, odometers on some, and what is told of their order."""

from __future__ import annotations

import datetime as dt
import random

from timing import timed

EVENTS = 2000
SIZES = (500, 8000)  # for the growth
_START = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)


def network(events: int) -> dict[str, float]:
    """Read a dossier's times and tighten every one, with its reasons; processor time. Folding the dossier is not counted."""
    from evidence.timeline.stated import stated
    from evidence.timeline.tightened import tighten

    dossier = _dossier(events)
    with timed() as found:
        made = tighten(stated(dossier))
    assert not made.clashes
    assert len(made.moments) == events
    assert sum(t.narrowed for t in made.moments) > events / 2
    return found


def contradiction(events: int) -> dict[str, float]:
    """The same with a record that cannot be true, until the smallest set is found and the rest tightened."""
    from evidence.timeline.stated import stated
    from evidence.timeline.tightened import tighten

    last = {"what": "event-1", "relation": "after", "other": f"event-{events}", "text": "t", "basis": "told"}
    dossier = _dossier(events, last)
    with timed() as found:
        made = tighten(stated(dossier))
    assert len(made.clashes) == 1
    return found


def _dossier(events: int, *more: dict[str, object]) -> object:
    """One event each eight hours or so, told to a fortnight either way; each after the one before, by two in three tellings."""
    from evidence.model.dossier import Step, fold
    from evidence.model.kinds import KINDS

    chance = random.Random(4)
    raws: list[tuple[str, dict[str, object]]] = []
    for n in range(events):
        true = _START + dt.timedelta(hours=8 * n + chance.randrange(8))
        low, high = (true + dt.timedelta(hours=s * chance.randrange(1, 336)) for s in (-1, 1))
        raw: dict[str, object] = {
            "what": "other", "text": "something", "basis": "told",
            "time": f"{low:%Y-%m-%dT%H:%M}Z / {high:%Y-%m-%dT%H:%M}Z",
        }  # fmt: skip
        if n % 10 == 0:
            raw["odometer"] = f"{50_000 + 12 * n} km"
        raws.append(("event", raw))
    for n in range(2, events + 1):
        if n % 3:
            told = {"what": f"event-{n}", "relation": "after", "other": f"event-{n - 1}", "text": "t", "basis": "told"}
            raws.append(("time_relation", told))
    raws += [("time_relation", raw) for raw in more]
    steps, numbers = [], {"event": 0, "time_relation": 0}
    for seq, (kind, raw) in enumerate(raws, 1):
        numbers[kind] += 1
        body = KINDS[kind].handed_in(raw, {}).body()
        steps.append(
            Step(
                seq=seq, kind=kind, subject=f"{kind}-{numbers[kind]}", action="record", recorded_at=_START,
                recorded_by="party-1", body=body,
            )
        )  # fmt: skip
    return fold("bench", steps)
