"""How the error of a clock is said: lengths of time, slow or fast, gains or loses, and which zone it fits."""

from __future__ import annotations

from fractions import Fraction

_SECOND, _MINUTE, _HOUR, _DAY = 1_000_000, 60_000_000, 3_600_000_000, 86_400_000_000
# Offsets from UTC in use since 2000, in minutes (IANA time-zone database): whole hours, and those that are none.
_ODD = (-570, -270, -210, -150, 210, 270, 330, 345, 390, 510, 525, 570, 585, 630, 690, 765, 825)
OFFSETS = tuple(sorted({*(60 * h for h in range(-12, 15)), *_ODD}))
_STEPS = ((10 * _SECOND, _SECOND // 10), (10 * _HOUR, _SECOND), (4 * _DAY, _MINUTE))  # below: told in steps of
_NEAR = 15 * _MINUTE // 2


def length(microseconds: Fraction | int, *, up: bool = False) -> str:
    """A length of time: ``0.4 s``, ``3 min 12 s``, ``1 h 2 min``, ``3 d 4 h``. ``up``: never said shorter than it is."""
    value = abs(Fraction(microseconds))
    unit = next((u for limit, u in _STEPS if value < limit), _HOUR)
    steps = -(-value // unit) if up else round(value / unit)
    if unit < _SECOND and steps < 100:
        return f"{steps // 10}.{steps % 10} s".replace(".0 s", " s")
    whole, parts = steps * unit, []
    for size, name in ((_DAY, "d"), (_HOUR, "h"), (_MINUTE, "min"), (_SECOND, "s")):
        count, whole = divmod(whole, size)
        if count:
            parts.append(f"{count} {name}")
    return " ".join(parts) or "0 s"


def slow_or_fast(error: Fraction, half_width: int) -> str:
    """True time minus reading, microseconds, as a sentence's end: ``3 min 12 s slow ± 2 s``."""
    word = "slow" if error > 0 else "fast"
    return f"{length(error)} {word} ± {length(half_width, up=True)}"


def gains_or_loses(slope: Fraction, half_width: Fraction) -> str:
    """The drift, microseconds in a microsecond, as seconds a day."""
    word = "loses" if slope > 0 else "gains"
    return f"{word} {_a_day(slope)} s a day ± {_a_day(half_width)} s"


def _a_day(rate: Fraction) -> str:
    tenths = round(abs(rate) * 864_000)
    return f"{tenths // 10}.{tenths % 10}".removesuffix(".0")


def zone_of(shift: Fraction, half_width: int) -> int | None:
    """The offset from UTC, minutes, that the face of a clock fits, where one alone does.

    ``shift`` is true time minus what the face showed, microseconds. The clock's own error must stay below 7.5 minutes,
    half the distance between neighbouring offsets; so a clock that is wrong by more decides nothing.
    """
    best = min(OFFSETS, key=lambda o: (abs(shift + o * _MINUTE), o))
    return best if abs(shift + best * _MINUTE) + half_width < _NEAR else None


def offset_words(minutes: int) -> str:
    """``UTC+01:00``."""
    hours, rest = divmod(abs(minutes), 60)
    return f"UTC{'-' if minutes < 0 else '+'}{hours:02d}:{rest:02d}"
