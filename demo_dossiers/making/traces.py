"""Waveforms computed from simple models, as CSV. Formulas: common practice, no source, except where named.

A four-stroke engine turns twice a cycle, so one cylinder's own pulse comes every 120/rpm seconds and starter
current humps come rpm x cylinders / 120 times a second.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

CYLINDERS = 4
FIRING = (1, 3, 4, 2)
ROWS = 20_000


def write(path: Path, columns: dict[str, tuple[np.ndarray, int]]) -> None:
    """A CSV (RFC 4180) of one header row and ``ROWS`` rows; each column with its own number of decimals."""
    path.parent.mkdir(parents=True, exist_ok=True)
    texts = [[f"{value + 0.0:.{places}f}" for value in np.round(series, places)] for series, places in columns.values()]
    lines = [",".join(columns), *(",".join(row) for row in zip(*texts, strict=True))]
    path.write_text("\n".join(lines) + "\n", "utf-8")


def clock(rate: float) -> np.ndarray:
    """Seconds of ``ROWS`` samples at ``rate`` per second."""
    return np.arange(ROWS) / rate


def coil_control(t, rpm, cylinder, *, alive, rng):
    """Logic-level control of one coil: 4.6 V for 3.5 ms once a cycle when alive, else noise around 0.04 V."""
    level = 0.04 + rng.normal(0, 0.012, t.size)
    if alive:
        phase = (t - 0.031 - FIRING.index(cylinder) * 30 / rpm) % (120 / rpm)
        level += np.where(phase < 0.0035, 4.6, 0.0)
    return level


def injector_control(t, rpm, cylinder, rng, battery=10.6, width=0.0112):
    """Low-side injector control: battery voltage, pulled to ground for ``width``, 62 V kick at switch-off."""
    phase = (t - 0.012 - FIRING.index(cylinder) * 30 / rpm) % (120 / rpm)
    off = phase - width
    kick = np.where((off >= 0) & (off < 0.004), 51 * np.exp(-off / 0.0006), 0.0)
    return np.where(phase < width, 0.25, battery + kick) + rng.normal(0, 0.05, t.size)


def starter_current(t, rpm, weights, rng):
    """140 A with one sin-squared hump of 60 A x weight for each compression, in firing order."""
    turn = t * rpm * CYLINDERS / 120
    weight = np.array([weights[FIRING[int(n) % CYLINDERS] - 1] for n in turn])
    return 140 + 60 * weight * np.sin(np.pi * (turn % 1)) ** 2 + rng.normal(0, 2.0, t.size)


def pump_current(t, rng, mean=5.6, bars=8, rpm=5400):
    """Brushed pump: ripple at bars x rpm / 60, and a little once a turn."""
    ripple = 0.42 * np.abs(np.sin(np.pi * bars * rpm / 60 * t)) - 0.27
    return mean + ripple + 0.04 * np.sin(2 * np.pi * rpm / 60 * t) + rng.normal(0, 0.03, t.size)


def van(folder: Path) -> None:
    """The traces of the van: cranking as found, relative compression, pump, after the refit, with the new module."""
    _cranking(folder / "cranking-as-found.csv", alive=False, rpm=212, seed=11)
    _cranking(folder / "cranking-after-refit.csv", alive=False, rpm=214, seed=12)
    _cranking(folder / "cranking-new-module.csv", alive=True, rpm=211, seed=13)
    rng, t = np.random.default_rng(14), clock(10_000)
    current = starter_current(t, 212, (1.0, 0.985, 0.992, 0.978), rng)
    volts = 12.5 - current * 0.0118 + rng.normal(0, 0.02, t.size)
    write(folder / "relative-compression.csv",
          {"time_s": (t, 4), "starter_current_A": (current, 1), "battery_V": (volts, 2)})  # fmt: skip
    rng, t = np.random.default_rng(15), clock(50_000)
    write(folder / "pump-current.csv",
          {"time_s": (t, 5), "pump_current_A": (pump_current(t, rng), 3)})  # fmt: skip


def _cranking(path: Path, *, alive: bool, rpm: int, seed: int) -> None:
    rng, t = np.random.default_rng(seed), clock(10_000)
    columns = {"time_s": (t, 4)}
    for cylinder in (1, 2, 3, 4):
        columns[f"coil_control_{cylinder}_V"] = (coil_control(t, rpm, cylinder, alive=alive, rng=rng), 2)
    columns["injector_control_1_V"] = (injector_control(t, rpm, 1, rng), 1)
    write(path, columns)
