"""What pulses tell: how many, how long, how often, how much of the time, and how fast the engine turns."""

from __future__ import annotations

from typing import Final

from evidence.capture.traces.arrays import Array
from evidence.capture.traces.pulses import Pulses
from evidence.capture.traces.recording import CannotRead, TimeBase
from evidence.capture.traces.values import Found, counted, positive

_REGULAR: Final = 1.5  # longest period over shortest: above that a pulse may be missing, or one too many


def pulse_count(pulses: Pulses, base: TimeBase) -> Found:
    """Pulses seen, whole or in part. No stretch without samples may be long enough to hide one."""
    _nothing_hidden(pulses, base)
    cut = pulses.count - len(pulses.widths)
    return Found(pulses.count, 0.0, "count", f"{cut} of them cut by the ends of the trace" if cut else "")


def pulse_width(pulses: Pulses, _base: TimeBase) -> Found:
    """Mean width of the whole pulses, at the threshold."""
    pulses.require_polarity()
    widths = pulses.widths
    if not len(widths):
        raise CannotRead("it shows no whole pulse")
    note = f"mean of {counted(len(widths), 'pulse')}"
    if len(widths) > 1:
        note += f", {_ms(widths.min())} to {_ms(widths.max())}"
    return positive(float(widths.mean()), float(pulses.width_off.mean()), "s", note)


def pulse_period(pulses: Pulses, base: TimeBase) -> Found:
    """Mean time from the start of one pulse to the start of the next."""
    starts, off = regular_starts(pulses, base)
    periods = len(starts) - 1
    note = f"mean of {counted(periods, 'period')}" + _range(starts)
    return positive(float(starts[-1] - starts[0]) / periods, float(off[0] + off[-1]) / periods, "s", note)


def frequency(pulses: Pulses, base: TimeBase) -> Found:
    """One over the mean period."""
    period = pulse_period(pulses, base)
    return positive(1 / period.value, period.off / period.value**2, "Hz", period.note)


def duty(pulses: Pulses, base: TimeBase) -> Found:
    """Time on the pulse's level in percent, over whole periods."""
    pulses.require_polarity()
    starts, off = regular_starts(pulses, base)
    inside = (pulses.starts >= starts[0]) & (pulses.starts < starts[-1])
    widths = (pulses.ends - pulses.starts)[inside]
    total = float(starts[-1] - starts[0])
    share = float(widths.sum()) / total
    width_off = float((pulses.start_off + pulses.end_off)[inside].sum())
    return positive(100 * share, 100 * (width_off + share * float(off[0] + off[-1])) / total, "%",
                    f"over {counted(len(starts) - 1, 'period')}")  # fmt: skip


def engine_speed(pulses: Pulses, base: TimeBase, per_cycle: int | None) -> Found:
    """Turns a minute of a four-stroke engine, whose cycle is two turns and holds ``per_cycle`` of these pulses."""
    if not per_cycle:
        raise CannotRead("it is not stated how many pulses make one engine cycle (per_cycle)")
    period = pulse_period(pulses, base)
    speed = 120 / (period.value * per_cycle)
    note = f"taken that {counted(per_cycle, 'pulse')} of this column make one engine cycle of two turns; {period.note}"
    return positive(speed, speed * period.off / period.value, "rpm", note)


def regular_starts(pulses: Pulses, base: TimeBase) -> tuple[Array, Array]:
    """Starts of a regular train, and how far each may be off; :class:`CannotRead` where pulses come irregularly."""
    import numpy as np

    _nothing_hidden(pulses, base)
    starts, off = pulses.seen("start")
    if len(starts) < 2:
        raise CannotRead("it shows fewer than two beginnings of a pulse")
    periods = np.diff(starts)
    if periods.max() > _REGULAR * periods.min() + float(off.max()):
        raise CannotRead(f"its pulses come irregularly, {_ms(periods.min())} to {_ms(periods.max())} apart")
    return starts, off


def _nothing_hidden(pulses: Pulses, base: TimeBase) -> None:
    shortest = float(pulses.widths.min()) if len(pulses.widths) else 0.0
    if base.longest_gap and base.longest_gap >= shortest:
        raise CannotRead(f"samples are missing for up to {_ms(base.longest_gap)}, long enough to hide a pulse")


def _range(starts: Array) -> str:
    import numpy as np

    periods = np.diff(starts)
    return f", {_ms(periods.min())} to {_ms(periods.max())}" if len(periods) > 1 else ""


def _ms(seconds: float) -> str:
    return f"{seconds * 1000:.4g} ms"
