"""Synthetic traces of which the truth is known, straight into a recording: noise, jitter, clipping, lost samples."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from unittest.mock import patch

import numpy as np
from evidence.capture.traces import reading, recording
from evidence.model.waveform import Engine, Waveform


@dataclass
class Rows:
    """Stands for the rows of a file."""

    block: np.ndarray
    good: int = 0
    bad: int = 0

    def __iter__(self):
        self.good = len(self.block)
        yield self.block

    def require_one(self):
        assert self.good


def read(times, columns, channels, *, cylinders=None, order=(), circumstances=None):
    """What the program reads from ``columns`` (name -> values) over ``times`` in seconds: (features, not read)."""
    block = np.column_stack([times, *columns.values()])
    made = Waveform(
        trace="x", title="t", time_column="t", time_unit="s", channels=channels, circumstances=circumstances or {}
    )
    with patch.object(recording, "open_rows", lambda _path, _wanted: Rows(block)):
        return reading.read_trace(Path("none"), made, Engine(cylinders, order))


def value(found, feature, position=None):
    """(value, uncertainty, unit) of a feature, or None where it could not be read."""
    for f in found.features:
        if f.feature == feature and (position is None or f.position == position):
            return float(f.value), float(f.uncertainty or 0), f.unit
    return None


def why(found, feature):
    """Why a feature could not be read."""
    return next((n.why for n in found.not_read if n.feature == feature), None)


def spoiled(rng, times, columns, *, lost=0.0, jitter=0.0, digit=0.0):
    """The same with times that jitter (and are recorded as they are), values in steps of ``digit``, and lost samples."""
    step = times[1] - times[0]
    keep = rng.random(len(times)) >= lost
    shaken = times + rng.uniform(-jitter, jitter, len(times)) * step
    return shaken, keep, {k: np.round(v / digit) * digit if digit else v for k, v in columns.items()}
