"""Following a regular rise and fall through a trace: its strongest line, then its phase from moment to moment.

The phase is that of the trace multiplied by a rotating unit vector and averaged over a window. A window of exactly one
engine cycle (or one turn of a pump) makes what differs from cylinder to cylinder cancel out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from evidence.capture.traces.arrays import Array
from evidence.capture.traces.recording import CannotRead

_FALSE: Final = 7.0  # natural logarithm of one over the chance that noise alone makes such a line
_RIVAL: Final = 0.5  # of the line's power, at a half or a third of its frequency: two lines compete
_STEADY: Final = 0.8  # radians that single moments may be off a smooth course


@dataclass(frozen=True, slots=True)
class Course:
    """Turns of the phase at equal times: a whole number is the top of a rise, a half the bottom between two."""

    start: float  # seconds
    step: float
    turns: Array
    off: float  # how far ``turns`` may be off

    @property
    def end(self) -> float:
        """Time of the last value."""
        return self.start + self.step * (len(self.turns) - 1)

    def at(self, times: Array) -> Array:
        """Turns at those times."""
        import numpy as np

        return np.interp(times, self.start + self.step * np.arange(len(self.turns)), self.turns)

    def when(self, turns: Array) -> Array:
        """The times of those turns; NaN outside of the course."""
        import numpy as np

        times = self.start + self.step * np.arange(len(self.turns))
        return np.asarray(np.interp(turns, self.turns, times, left=np.nan, right=np.nan))

    @property
    def frequency(self) -> float:
        """Mean, in turns a second."""
        return float(self.turns[-1] - self.turns[0]) / (self.end - self.start)

    @property
    def frequency_off(self) -> float:
        """How far that may be off: the error of the phase at both ends."""
        return 2 * self.off / (self.end - self.start)


def strongest_line(values: Array, step: float, low: float, high: float) -> float:
    """Frequency of the strongest line between two frequencies; :class:`CannotRead` where none stands out."""
    import numpy as np

    n = len(values)
    ahead = np.hanning(n) * (values - values.mean())
    power = np.abs(np.fft.rfft(ahead)) ** 2
    resolution = 1 / (n * step)
    first, last = max(2, int(low / resolution)), min(len(power) - 2, int(np.ceil(high / resolution)))
    if last - first < 3:
        raise CannotRead("it is too short, or has too few samples, for a regular rise and fall to show")
    band = power[first : last + 1]
    at = first + int(band.argmax())
    floor = float(np.median(power[2 : int(0.9 * len(power))])) / 0.693
    if power[at] < (np.log(len(band)) + _FALSE) * max(floor, 1e-300) or power[at] <= 0:
        raise CannotRead("no regular rise and fall stands out of its noise")
    for part in (2, 3):
        below = at // part
        if below >= first and power[max(first, below - 2) : below + 3].max() > _RIVAL * power[at]:
            raise CannotRead("two regular rises and falls compete, one at a half or a third of the other")
    a, b, c = np.log(np.maximum(power[at - 1 : at + 2], 1e-300))
    shift = 0.5 * (a - c) / (a - 2 * b + c) if a - 2 * b + c else 0.0
    return float((at + np.clip(shift, -0.5, 0.5)) * resolution)


def follow(values: Array, start: float, step: float, frequency: float, window: float, noise: float) -> Course:
    """The phase of a line through the trace, window by window, drawn out straight to both ends.

    ``values`` stand at equal steps, without gaps. ``window`` in seconds; ``noise``: standard deviation of one value.
    """
    import numpy as np

    size = max(3, round(window / step))
    if len(values) < 2 * size:
        raise CannotRead("it covers fewer than two engine cycles or turns")
    times = step * np.arange(len(values))
    level = _mean(values, size)
    level = np.concatenate(
        (np.full(size // 2, level[0]), level, np.full(len(values) - len(level) - size // 2, level[-1]))
    )
    turned = (values - level) * np.exp(-2j * np.pi * frequency * times)
    mean = _mean(turned, size)
    height = np.abs(mean)
    if height.min() < 0.15 * np.median(height):
        raise CannotRead("its regular rise and fall fades away within the trace")
    phase = np.unwrap(np.angle(mean)) / (2 * np.pi)
    at = np.arange(len(phase)) + (size - 1) / 2
    turns = phase + frequency * step * at
    smooth = np.polynomial.Polynomial.fit(at, turns, 3)
    residual = turns - smooth(at)
    if np.abs(residual).max() * 2 * np.pi > _STEADY or np.diff(turns).min() <= 0:
        raise CannotRead("its regular rise and fall is not steady enough to be followed")
    shaky = 3 * noise / (float(np.median(height)) * np.sqrt(2 * size)) / (2 * np.pi)
    whole = np.arange(len(values))
    slopes = (turns[size // 2] - turns[0]) / (size // 2), (turns[-1] - turns[-1 - size // 2]) / (size // 2)
    drawn = np.interp(whole, at, turns)
    drawn = np.where(whole < at[0], turns[0] + (whole - at[0]) * slopes[0], drawn)
    drawn = np.where(whole > at[-1], turns[-1] + (whole - at[-1]) * slopes[1], drawn)
    return Course(start, step, drawn, float(shaky + np.quantile(np.abs(residual), 0.99)))


def _mean(values: Any, size: int) -> Any:
    import numpy as np

    total = np.cumsum(np.concatenate((np.zeros(1, values.dtype), values)))
    return (total[size:] - total[:-size]) / size
