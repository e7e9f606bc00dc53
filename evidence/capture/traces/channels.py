"""The channels of one recording, each worked out once: spread, levels, edges, pulses, humps, ripple, engine cycles.

What a channel does not allow raises :class:`CannotRead` again whenever it is asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, Final, TypeVar

from evidence.capture.traces import cycles, humps, pressure, ripple
from evidence.capture.traces.cycles import Cycles
from evidence.capture.traces.humps import Humps
from evidence.capture.traces.levels import Levels, Spread, levels_of, like, spread_of
from evidence.capture.traces.pulses import Edges, Pulses, edges_of, pulses_of
from evidence.capture.traces.recording import CannotRead, Recording
from evidence.capture.traces.ripple import Ripple
from evidence.model.quantity import QUANTITIES
from evidence.model.waveform import Channel, Engine, Waveform

T = TypeVar("T")
_OF_HUMPS: Final = frozenset({"relative_compression", "cranking_compression", "peak_pressure"})
_STATED_SPEED: Final = 0.05  # of a speed that a person states: how far it may be off


class Channels:
    """Everything that is known of the channels of one waveform."""

    def __init__(self, recording: Recording, waveform: Waveform, engine: Engine) -> None:
        self.recording, self.waveform, self.engine = recording, waveform, engine
        self._known: dict[Hashable, Any] = {}

    def _once(self, key: Hashable, work: Callable[[], T]) -> T:
        if key not in self._known:
            try:
                self._known[key] = work()
            except CannotRead as why:
                self._known[key] = why
        found = self._known[key]
        if isinstance(found, CannotRead):
            raise CannotRead(str(found))
        return found  # type: ignore[no-any-return]  # what ``work`` gave

    def spread(self, channel: Channel) -> Spread:
        """Where its values lie."""
        return self._once(("spread", channel.column), lambda: spread_of(self.recording, channel.column))

    def levels(self, channel: Channel) -> Levels:
        """Its two levels, or those of like channels where it keeps to their level at rest."""
        return self._once(("levels", channel.column), lambda: self._levels(channel))

    def _levels(self, channel: Channel) -> Levels:
        try:
            return self._own_levels(channel)
        except CannotRead as own:
            if channel.threshold is not None:
                raise
            for other in self.like(channel):
                if other is not channel:
                    try:
                        return like(self.spread(channel), self._own_levels(other))
                    except CannotRead:
                        continue
            raise own from None

    def _own_levels(self, channel: Channel) -> Levels:
        threshold = float(channel.threshold) if channel.threshold is not None else None
        return self._once(
            ("own levels", channel.column), lambda: levels_of(self.spread(channel), threshold, channel.active)
        )

    def edges(self, channel: Channel) -> Edges:
        """Its crossings of the threshold."""
        levels = self.levels(channel)
        return self._once(("edges", channel.column), lambda: edges_of(self.recording, channel.column, levels))

    def pulses(self, channel: Channel) -> Pulses:
        """Its pulses; none where it keeps to the level at rest."""
        return self._once(("pulses", channel.column), lambda: self._pulses(channel))

    def _pulses(self, channel: Channel) -> Pulses:
        base = self.recording.base
        base.require()
        return pulses_of(self.edges(channel), base, assumed=channel.active is None)

    def humps(self, channel: Channel) -> Humps:
        """Its compressions."""
        return self._once(("humps", channel.column), lambda: self._humps(channel))

    def _humps(self, channel: Channel) -> Humps:
        current = QUANTITIES[channel.quantity] == "current"
        single = 1 if not current and channel.position is not None else self.engine.cylinders
        per_cycle, spread = channel.per_cycle or single, self.spread(channel)
        if per_cycle == 1 and not current:
            return pressure.rises_of(self.recording, channel.column, spread)
        return humps.humps_of(self.recording, channel.column, spread, per_cycle, current=current)

    def ripple(self, channel: Channel) -> Ripple:
        """Its ripple."""
        return self._once(
            ("ripple", channel.column), lambda: ripple.ripple_of(self.recording, channel.column, self.spread(channel))
        )

    def like(self, channel: Channel) -> list[Channel]:
        """Channels of the same component and quantity, itself among them."""
        same = (channel.of, channel.quantity, channel.unit)
        return [c for c in self.waveform.channels if (c.of, c.quantity, c.unit) == same]

    def has_humps(self, channel: Channel) -> bool:
        """Whether compressions are to be looked for in it, and not pulses."""
        dimension = QUANTITIES[channel.quantity]
        return dimension == "pressure" or (
            dimension == "current" and (channel.of == "starter" or bool(_OF_HUMPS & set(channel.find)))
        )

    def hump_channels(self) -> list[Channel]:
        """All of those."""
        return [c for c in self.waveform.channels if self.has_humps(c)]

    def cycles(self, channel: Channel) -> Cycles:
        """Engine cycles by another channel than this one, else by the speed that the record states."""
        base = self.recording.base
        base.require()
        why = (
            "nothing tells the engine cycles: no other column with 'per_cycle', no humps, no engine speed in the record"
        )
        for other in self.waveform.channels:
            try:
                if other is channel:
                    continue
                if self.has_humps(other):
                    return cycles.by_humps(self.humps(other), other.column)
                if other.per_cycle:
                    return cycles.by_pulses(self.pulses(other), base, other.per_cycle, other.column)
            except CannotRead as err:
                why = f"column {other.column}, which would tell the engine cycles, cannot be read: {err}"
        stated = self.waveform.circumstances.get("engine_speed")
        if stated and stated.unit == "rpm" and stated.number > 0:
            speed = float(stated.number)
            return cycles.by_speed(base, speed, _STATED_SPEED * speed)
        raise CannotRead(why)

    def counts(self, channel: Channel) -> tuple[list[int], Cycles]:
        """Pulses in each whole engine cycle."""

        def work() -> tuple[list[int], Cycles]:
            known = self.cycles(channel)
            return cycles.per_cycle(self.pulses(channel), self.recording.base, known), known

        return self._once(("counts", channel.column), work)
