"""A feature of a trace as a value: what reading it off can be wrong by, and what probe and recorder add.

The uncertainty stated with a feature is taken as expanded (k = 2); the instrument's statement for the quantity is added as
limits of error (JCGM 100, 4.3.7), for a trace tells nothing of how true its scale is.
"""

from __future__ import annotations

from evidence.measure.accuracy import Shown
from evidence.measure.figures import last_digit
from evidence.measure.uncertainty import Value, of_reading, off_by_instrument
from evidence.model.instrument import Instrument
from evidence.model.waveform import Feature


def of_feature(feature: Feature, quantity: str, instrument: Instrument | None) -> Value:
    """The value of ``feature``, which is a ``quantity``, read from a trace of ``instrument``."""
    read = of_reading(feature.value, feature.unit, stated=feature.uncertainty)
    step = last_digit(feature.value)
    return off_by_instrument(read, Shown(value=read.value, quantity=quantity, unit=feature.unit, step=step), instrument)
