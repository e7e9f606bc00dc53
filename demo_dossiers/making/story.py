"""Facts that stand in more than one file of a scenario: who, which vehicle, which numbers. All invented."""

from __future__ import annotations

import datetime as dt

from making.photo import Camera

VAN_VIN = "SX9DEMV4_M1004413"
ENGINE_VIN = "1X9DEMC4_K2002096"
FOOTWELL_VIN = "VX9DEMH5_P3007718"


def with_check_digit(vin: str) -> str:
    """Put the check digit of 49 CFR 565.15(c) in the ninth place."""
    values = dict(
        zip(
            "ABCDEFGHJKLMNPRSTUVWXYZ0123456789",
            [1, 2, 3, 4, 5, 6, 7, 8, 1, 2, 3, 4, 5, 7, 9, 2, 3, 4, 5, 6, 7, 8, 9, *range(10)],
            strict=True,
        )
    )
    weights = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
    rest = sum(w * values[ch] for w, ch in zip(weights, vin.replace("_", "0"), strict=True)) % 11
    return vin.replace("_", "X" if rest == 10 else str(rest))


VAN_VIN, ENGINE_VIN, FOOTWELL_VIN = map(with_check_digit, (VAN_VIN, ENGINE_VIN, FOOTWELL_VIN))

WORKSHOP_CAMERA = Camera(
    "Invented Optics", "Workshop camera W2", "+01:00", dt.timedelta(minutes=2, seconds=10), (53.0712, -7.7421)
)
BENCH_CAMERA = Camera("Invented Optics", "Bench camera B1", None)  # writes no offset
US_CAMERA = Camera("Invented Optics", "Shop camera S4", "-05:00", dt.timedelta(seconds=-41), (41.9063, -93.3127))
OWNER_PHONE = Camera("Invented Telephones", "Pocket phone P5", None)
