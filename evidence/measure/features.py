"""A feature of a trace as a value: what reading it off can be wrong by, and what probe and recorder add.

The uncertainty stated with a feature is taken as expanded (k = 2); the instrument's statement for the quantity is added as
limits of error (JCGM 100, 4.3.7), for a trace tells nothing of how true its scale is.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from evidence.measure.uncertainty import Value, limits_of_error, matching, of_reading
from evidence.model.examination import Instrument
from evidence.model.waveform import Feature


def of_feature(feature: Feature, quantity: str, instrument: Instrument | None) -> Value:
    """The value of ``feature``, which is a ``quantity``, read from a trace of ``instrument``."""
    read = of_reading(feature.value, feature.unit, stated=feature.uncertainty)
    if instrument is None or matching(instrument.accuracies, read.value, quantity, feature.unit) is None:
        return read
    half_width, basis = limits_of_error(read.value, quantity, feature.unit, feature.value, instrument)
    of_instrument = half_width / Decimal(3).sqrt()
    if feature.uncertainty is None:
        return replace(read, standard=of_instrument, half_width=half_width, basis=basis)
    standard = (read.standard**2 + of_instrument**2).sqrt()
    return replace(read, standard=standard, half_width=standard * Decimal(3).sqrt(), basis=f"{read.basis}, and {basis}")
