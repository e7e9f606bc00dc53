"""Clock references: what was shown stands as it was shown; the true time needs its zone."""

import pytest
from evidence.model.clock import ClockReference
from pydantic import ValidationError

BASE = {"device": "camera", "clock_showed": "2026-05-18 08:03:10", "true_time": "2026-05-18 08:05:20", "uncertainty": "1 s", "source": "radio_time"}
ZONE = {"zone": "Europe/Dublin"}


def test_the_zone_of_the_dossier_is_not_put_to_what_a_device_showed():
    reference = ClockReference.handed_in(BASE, ZONE)
    assert not reference.clock_showed.zone_known
    assert reference.clock_showed.source == "device_clock"
    assert reference.true_time.earliest == "2026-05-18T07:05:20Z"
    assert ClockReference.stored(reference.body()) == reference
    amended = ClockReference.amended({**reference.body(), "clock_showed": "2026-05-18 08:03:11"}, ZONE)
    assert not amended.clock_showed.zone_known
    stated = ClockReference.handed_in({**BASE, "clock_showed": "2026-05-18T08:03:10+01:00"}, ZONE)
    assert stated.clock_showed.earliest == "2026-05-18T07:03:10Z"


@pytest.mark.parametrize(("text", "microseconds"), [("200 ms", 200_000), ("1.5 s", 1_500_000), ("2 min", 120_000_000), ("0 s", 0)])
def test_the_uncertainty_is_a_length_of_time(text, microseconds):
    assert ClockReference.handed_in({**BASE, "uncertainty": text}, ZONE).half_width == microseconds


@pytest.mark.parametrize(
    ("changes", "context", "words"),
    [
        ({"uncertainty": "1 V"}, ZONE, "no length of time"), ({"uncertainty": "-1 s"}, ZONE, "no length of time"),
        ({"instrument": "x"}, ZONE, "either a device or an instrument"), ({"device": None}, ZONE, "either a device or an instrument"),
        ({"clock_showed": None}, ZONE, "says nowhere"), ({}, {}, "has no zone"), ({"clock_showed": "soon"}, ZONE, "is not a time"),
    ],
)  # fmt: skip
def test_a_reference_that_decides_nothing_is_refused(changes, context, words):
    raw = {k: v for k, v in {**BASE, **changes}.items() if v is not None}
    with pytest.raises(ValidationError, match=words):
        ClockReference.handed_in(raw, context)
