"""Waveform files of many rows: from text to features, against the library alone."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from timing import peak_mb, timed, warm

SIZES = (2_500_000, 10_000_000)  # rows
_AT_A_TIME = 250_000


def make(path: Path, rows: int) -> Path:
    """Time, an injector's voltage and a pump's current at 100,000 samples a second."""
    rng = np.random.default_rng(7)
    with path.open("w", encoding="ascii") as out:
        out.write("time_s,injector_V,pump_A\n")
        for at in range(0, rows, _AT_A_TIME):
            t = np.arange(at, min(at + _AT_A_TIME, rows)) / 100_000
            v = np.where((t - 0.001) % 0.16 < 0.0028, 0.25, 12.6) + rng.normal(0, 0.05, len(t))
            i = 5.4 + 0.42 * np.abs(np.sin(np.pi * 720 * t)) + rng.normal(0, 0.03, len(t))
            text = zip(t.tolist(), v.tolist(), i.tolist(), strict=True)
            out.write("".join(f"{a:.5f},{b:.2f},{c:.2f}\n" for a, b, c in text))
    return path


def features(work: Path, rows: int) -> dict[str, float]:
    """Ours: every feature of both channels, and the shape for the plot."""
    path = make(work / "trace.csv", rows)
    warm([path])
    from evidence.capture.traces.reading import read_trace
    from evidence.model.waveform import Engine, Waveform

    pulses = ["pulse_count", "pulse_width", "pulse_period", "frequency", "duty", "engine_speed"]
    channels = [
        {"column": "injector_V", "quantity": "voltage", "unit": "V", "of": "injector-control", "per_cycle": 1, "find": pulses},
        {"column": "pump_A", "quantity": "current", "unit": "A", "of": "fuel-pump", "bars": [8],
         "find": ["ripple_frequency", "pump_speed", "mean_current"]},
    ]  # fmt: skip
    made = Waveform(trace="x", title="bench", time_column="time_s", time_unit="s", channels=channels)
    before = peak_mb()
    with timed() as found:
        reading = read_trace(path, made, Engine(4))
    assert not reading.not_read, reading.not_read
    return {**found, "peak": peak_mb(), "own": peak_mb() - before}


def library(work: Path, rows: int) -> dict[str, float]:
    """The floor: the library reads the same file whole, and nothing else is done."""
    path = make(work / "trace.csv", rows)
    warm([path])
    import polars as pl

    with timed() as found:
        frame = pl.read_csv(path, schema=dict.fromkeys(("time_s", "injector_V", "pump_A"), pl.Float64))
    assert frame.height == rows
    return {**found, "peak": peak_mb()}
