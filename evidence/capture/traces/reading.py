"""From a waveform record and its file to readings with uncertainty: floating point ends here.

Each column says what to find. Every such feature becomes a number with limits of error, or "cannot be read" with the
reason. The limits come from noise, sampling and digits; the accuracy of probe and recorder stands with the instrument.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Final, cast

from evidence import __version__
from evidence.capture.traces import cycles, humps, plateaus, pressure, pulse_features, ripple
from evidence.capture.traces.channels import Channels
from evidence.capture.traces.marking import marks
from evidence.capture.traces.recording import CannotRead, Recording
from evidence.capture.traces.values import Found, counted, in_time_unit, positive, texts, with_clock
from evidence.model.base import shorten
from evidence.model.quantity import QUANTITIES
from evidence.model.waveform import Channel, Engine, Feature, FeatureName, NotRead, TraceReading, Waveform

Answers = Iterator[tuple[str | None, Found]]  # position, what was found there


@cache
def program() -> str:
    """Version, and a mark of the code that reads traces, so that two builds of one version are told apart."""
    seen = hashlib.sha256()
    for source in sorted(files("evidence.capture.traces").iterdir(), key=lambda s: s.name):
        if source.name.endswith(".py"):
            seen.update(source.name.encode() + hashlib.sha256(source.read_bytes()).digest())
    return f"comeback-evidence {__version__}+{seen.hexdigest()[:8]}"


def read_trace(path: Path, waveform: Waveform, engine: Engine) -> TraceReading:
    """Everything that the record asks for. A file that is no such table raises ``ValueError``."""
    scales = {c.column: float(c.scale or 1) for c in waveform.channels}
    features: list[Feature] = []
    refused: list[NotRead] = []
    with Recording(path, waveform.time_column, waveform.time_unit, scales) as recording:
        channels = Channels(recording, waveform, engine)
        for channel in waveform.channels:
            for name in dict.fromkeys(channel.find):
                assert channel.of is not None
                position = None if name in _OF_ALL else channel.position
                try:
                    found = list(_HOW[name](channels, channel))
                except CannotRead as why:
                    told = shorten(str(why), 400)
                    refused.append(NotRead(feature=name, of=channel.of, position=position, why=told))
                    continue
                features += [_feature(name, channel, at, value) for at, value in found]
        marked = marks(channels)
    return TraceReading(
        program=program(), cylinders=engine.cylinders, firing_order=engine.firing_order,
        features=tuple(dict.fromkeys(features)), not_read=tuple(dict.fromkeys(refused)), marked=marked,
    )  # fmt: skip


def _feature(name: FeatureName, channel: Channel, position: str | None, found: Found) -> Feature:
    found = in_time_unit(with_clock(found))
    value, off = texts(found)
    assert channel.of is not None
    return Feature(
        feature=name, value=value, unit=found.unit, uncertainty=off, of=channel.of, position=position, read_by=program(),
        note=shorten(found.note, 400) or None,
    )  # fmt: skip


def _of_pulses(work: Callable[..., Found]) -> Callable[[Channels, Channel], Answers]:
    def read(channels: Channels, channel: Channel) -> Answers:
        pulses = channels.pulses(channel)
        found = work(pulses, channels.recording.base)
        remarks = [found.note] if found.note else []
        if pulses.assumed and pulses.count:
            remarks.append("the rarer level taken as the pulse")
        if pulses.glitches:
            remarks.append(f"{counted(pulses.glitches, 'excursion')} of a single sample left out")
        yield channel.position, replace(found, note="; ".join(remarks))

    return read


def _engine_speed(channels: Channels, channel: Channel) -> Answers:
    if channels.has_humps(channel):
        yield None, humps.engine_speed(channels.humps(channel))
    else:
        base = channels.recording.base
        yield None, pulse_features.engine_speed(channels.pulses(channel), base, channel.per_cycle)


def _pulses_per_cycle(channels: Channels, channel: Channel) -> Answers:
    found = cycles.pulses_per_cycle(*channels.counts(channel))
    if found.value == 0:
        short = in_time_unit(Found(2 * channels.recording.base.step, 0.0, "s"))
        found = replace(found, note=f"{found.note}; a pulse of less than {short.value:.3g} {short.unit} would not show")
    yield channel.position, found


def _cycles_read(channels: Channels, channel: Channel) -> Answers:
    counts, known = channels.counts(channel)
    yield channel.position, Found(len(counts), 0.0, "count", f"whole engine cycles: {known.known_by}")


def _missing_events(channels: Channels, channel: Channel) -> Answers:
    if not channel.per_cycle:
        raise CannotRead("it is not stated how many events are expected in an engine cycle (per_cycle)")
    counts, known = channels.counts(channel)
    yield channel.position, cycles.missing_events(counts, channel.per_cycle, known)


def _events_per_cycle(channels: Channels, channel: Channel) -> Answers:
    group = channels.like(channel)
    cylinders = channels.engine.cylinders
    if cylinders is None:
        raise CannotRead("the vehicle record does not say how many cylinders there are")
    if len({c.position for c in group}) != cylinders:
        raise CannotRead(f"{len(group)} columns are recorded, and the engine has {cylinders} cylinders")
    found = [cycles.pulses_per_cycle(*channels.counts(c)) for c in group]
    each = ", ".join(f"{c.position}: {f.value:.3g}" for c, f in zip(group, found, strict=True))
    expected = sum(c.per_cycle or 1 for c in group)
    yield None, Found(sum(f.value for f in found), 0.0, "count", f"{expected} expected; by cylinder {each}")


def _event_to_top(channels: Channels, channel: Channel) -> Answers:
    tops = channels.hump_channels()
    if not tops:
        raise CannotRead("no column shows compressions: starter current or cylinder pressure")
    pulses = channels.pulses(channel)
    pulses.require_polarity()
    times, off = pulses.seen(channel.event or "start")
    yield channel.position, cycles.to_top(times, off, channels.humps(tops[0]))


def _relative_compression(channels: Channels, channel: Channel) -> Answers:
    if channel.position is not None and QUANTITIES[channel.quantity] == "pressure":
        yield _against_others(channels, channel)
        return
    found = humps.relative_compression(channels.humps(channel), channels.spread(channel), _full(channel))
    places = _places(channels, channel, len(found))
    if places:
        yield from zip(places, found, strict=True)
        return
    low = min(found, key=lambda f: f.value)
    each = ", ".join(f"{f.value:.0f}" for f in found)
    note = f"lowest hump; in order of time {each} %; which cylinder it is cannot be told"
    yield None, Found(low.value, low.off, "%", note)


def _places(channels: Channels, channel: Channel, count: int) -> list[str]:
    """The cylinder of each place in the cycle, by the spark of a known one and the firing order; empty: not known."""
    order = channels.engine.firing_order
    if len(order) != count:
        return []
    for other in channels.waveform.channels:
        if (other.of or "").startswith("coil") and other.position in order and other.per_cycle == 1:
            try:
                times, _ = channels.pulses(other).seen(other.event or "end")
                place = cycles.place_of(times, channels.humps(channel))
            except CannotRead:
                continue
            first = (order.index(other.position) - place) % count
            return [order[(first + at) % count] for at in range(count)]
    return []


def _against_others(channels: Channels, channel: Channel) -> tuple[str | None, Found]:
    """A cylinder's peak pressure in percent of the highest of all cylinders."""
    group = channels.like(channel)
    cylinders = channels.engine.cylinders
    if cylinders is None or len({c.position for c in group}) != cylinders:
        raise CannotRead("peak pressures of all cylinders are needed to compare one with the highest")
    peaks = {c.position: _peak_pressure_of(channels, c) for c in group}
    best = max(peaks.values(), key=lambda f: f.value)
    own = peaks[channel.position]
    share = own.value / best.value
    return channel.position, positive(100 * share, 100 * (own.off + share * best.off) / best.value, "%", own.note)


def _peak_pressure(channels: Channels, channel: Channel) -> Answers:
    yield channel.position, _peak_pressure_of(channels, channel)


def _peak_pressure_of(channels: Channels, channel: Channel) -> Found:
    if QUANTITIES[channel.quantity] != "pressure":
        raise CannotRead("it is no pressure")
    return pressure.peak_pressure(
        channels.recording,
        channel.column,
        channels.spread(channel),
        channels.humps(channel),
        _full(channel),
        channel.unit,
    )


def _ripple_frequency(channels: Channels, channel: Channel) -> Answers:
    yield channel.position, ripple.ripple_frequency(channels.ripple(channel))


def _ripple_count(channels: Channels, channel: Channel) -> Answers:
    yield channel.position, ripple.ripple_count(channels.ripple(channel))


def _pump_speed(channels: Channels, channel: Channel) -> Answers:
    if not channel.bars:
        raise CannotRead("no number of commutator bars is assumed (bars)")
    for bars in channel.bars:
        yield f"{bars}-bars", ripple.pump_speed(channels.ripple(channel), bars)


def _peak(dimension: str) -> Callable[[Channels, Channel], Answers]:
    def read(channels: Channels, channel: Channel) -> Answers:
        _require(channel, dimension)
        spread = channels.spread(channel)
        yield channel.position, plateaus.peak(channels.recording, channel.column, spread, _full(channel), channel.unit)

    return read


def _mean_current(channels: Channels, channel: Channel) -> Answers:
    _require(channel, "current")
    spread = channels.spread(channel)
    yield channel.position, plateaus.mean(channels.recording, channel.column, spread, _full(channel), channel.unit)


def _voltage_drop(channels: Channels, channel: Channel) -> Answers:
    _require(channel, "voltage")
    spread = channels.spread(channel)
    try:
        levels, edges = channels.levels(channel), channels.edges(channel)
    except CannotRead:
        if channel.quantity != "voltage_drop":
            raise CannotRead("it does not show both states, loaded and unloaded") from None
        found = plateaus.mean(channels.recording, channel.column, spread, _full(channel), channel.unit)
        note = f"mean, {found.note}; the conditions of the record say what the load was"
        yield channel.position, positive(found.value, found.off, found.unit, note)
        return
    yield channel.position, plateaus.drop(channels.recording, channel.column, spread, levels, edges, channel.unit)


def _require(channel: Channel, dimension: str) -> None:
    if QUANTITIES[channel.quantity] != dimension:
        raise CannotRead(f"it is no {dimension}")


def _full(channel: Channel) -> tuple[float, float] | None:
    return cast("tuple[float, float]", tuple(map(float, channel.full_scale))) if channel.full_scale else None


_OF_ALL: Final = frozenset({"engine_speed", "events_per_cycle"})  # of the engine, not of one cylinder
_HOW: Final[dict[FeatureName, Callable[[Channels, Channel], Answers]]] = {
    "pulse_count": _of_pulses(pulse_features.pulse_count),
    "pulse_width": _of_pulses(pulse_features.pulse_width),
    "dwell": _of_pulses(pulse_features.pulse_width),
    "pulse_period": _of_pulses(pulse_features.pulse_period),
    "frequency": _of_pulses(pulse_features.frequency),
    "duty": _of_pulses(pulse_features.duty),
    "engine_speed": _engine_speed,
    "pulses_per_cycle": _pulses_per_cycle,
    "cycles_read": _cycles_read,
    "missing_events": _missing_events,
    "events_per_cycle": _events_per_cycle,
    "event_to_top": _event_to_top,
    "relative_compression": _relative_compression,
    "peak_pressure": _peak_pressure,
    "cranking_compression": _peak_pressure,
    "ripple_frequency": _ripple_frequency,
    "ripple_count": _ripple_count,
    "pump_speed": _pump_speed,
    "peak_voltage": _peak("voltage"),
    "peak_current": _peak("current"),
    "mean_current": _mean_current,
    "voltage_drop": _voltage_drop,
}
