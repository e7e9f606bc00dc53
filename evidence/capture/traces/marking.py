"""Where on the curves something was read, so that the plot can show it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, Final, Literal

from evidence.capture.traces.channels import Channels
from evidence.capture.traces.recording import SECONDS, CannotRead
from evidence.model.waveform import Channel, Marked

_MOST: Final = 60  # of one sort on one column: more would hide the curve
_FROM_PULSES: Final = frozenset({
    "pulse_count", "pulse_width", "dwell", "pulse_period", "frequency", "duty", "pulses_per_cycle", "missing_events",
    "events_per_cycle", "event_to_top", "cycles_read",
})  # fmt: skip
_FROM_HUMPS: Final = frozenset({"relative_compression", "peak_pressure", "cranking_compression", "engine_speed"})
_FROM_RIPPLE: Final = frozenset({"ripple_frequency", "ripple_count", "pump_speed"})

What = Literal["pulse_start", "pulse_end", "hump", "top", "level"]


def marks(channels: Channels) -> tuple[Marked, ...]:
    """Edges, humps, compression tops and levels of the channels from which something was asked."""
    found: list[Marked] = []
    tops_wanted = any("event_to_top" in c.find for c in channels.waveform.channels)
    for channel in channels.waveform.channels:
        wanted = set(channel.find)
        if channels.has_humps(channel):
            if wanted & _FROM_HUMPS or tops_wanted:
                found += _tried(lambda c: _times(channels, c, "top", channels.humps(c).tops), channel)
            continue
        if wanted & (_FROM_PULSES | {"engine_speed"}):
            for what, which in (("pulse_start", "start"), ("pulse_end", "end")):
                found += _tried(lambda c: _times(channels, c, what, channels.pulses(c).seen(which)[0]), channel)  # noqa: B023 - called at once
        if wanted & _FROM_RIPPLE:
            found += _tried(lambda c: _ripple(channels, c), channel)
        if "voltage_drop" in wanted:
            found += _tried(lambda c: _levels(channels, c), channel)
    return tuple(found)


def _tried(work: Any, channel: Channel) -> Iterator[Marked]:
    try:
        marked = work(channel)
    except CannotRead:
        return
    if marked.at:
        yield marked


def _times(channels: Channels, channel: Channel, what: Any, seconds: Iterable[float]) -> Marked:
    moments = [float(s) for s in seconds if s == s]
    unit = SECONDS[channels.waveform.time_unit]
    places = 9 if unit == 1.0 else 6 if unit == 1e-3 else 3
    shown = tuple(_plain(moment / unit, places) for moment in moments[:_MOST])
    return Marked(column=channel.column, what=what, at=shown, more=len(moments) - len(shown) or None)


def _ripple(channels: Channels, channel: Channel) -> Marked:
    import numpy as np

    course = channels.ripple(channel).course
    first = int(np.ceil(course.turns[0]))
    numbers = np.arange(first, int(course.turns[-1]) + 1)
    return _times(channels, channel, "hump", course.when(numbers))


def _levels(channels: Channels, channel: Channel) -> Marked:
    levels = channels.levels(channel)
    scale = float(channel.scale or 1)
    return Marked(
        column=channel.column, what="level", at=tuple(_plain(v / scale, 6) for v in (levels.idle, levels.active))
    )


def _plain(value: float, places: int) -> str:
    text = f"{value:.{places}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
