"""Any bytes at all, and sound bytes with some changed, given to every parser of a bundle: told or refused, never a crash."""

from __future__ import annotations

import base64
import random

import pytest
from bag_kit import Sealed
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from parsers import PARSERS, sound

SEED = 11


@pytest.mark.parametrize("which", PARSERS)
@given(data=st.binary(max_size=300) | st.text(max_size=200).map(lambda t: t.encode("utf-8", "surrogatepass")))
@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
def test_any_bytes(which: str, data: bytes) -> None:
    PARSERS[which](data)


@pytest.mark.parametrize("rounds", [40, pytest.param(4000, marks=pytest.mark.campaign)])
@pytest.mark.parametrize("which", PARSERS)
def test_sound_bytes_changed(sealed: Sealed, which: str, rounds: int) -> None:
    rng = random.Random(f"{SEED} {which}")
    starts = sound(sealed.files, sealed.data)[which]
    for _ in range(rounds):
        data = bytearray(rng.choice(starts))
        for _change in range(rng.randrange(1, 4)):
            at, deed = rng.randrange(len(data) + 1), rng.randrange(4)
            if deed == 0:
                data[at : at + 1] = rng.randbytes(1)
            elif deed == 1:
                del data[at : at + rng.randrange(1, 40)]
            elif deed == 2:
                data[at:at] = rng.choice(
                    (b"\n", b"\r\n", b"\0", b"\xff", b"{", b'"', b"[" * 2000, b"9" * 5000, rng.randbytes(9))
                )
            else:
                data[at:at] = data[at : at + 60]
        PARSERS[which](bytes(data))


# Inputs that coverage-guided fuzzing (fuzz.py) found to crash; each was mended.
CRASHED = [
    (
        "zip",  # the long end record says a place beyond 2^64
        (
            "MGVLAVBLBgZkaXNjZG9zdXJlL3RhUEsGB56RmYyWLXNoYTEyOC50eHRQSwUGAAAA/////////3JlL3RhUEsGB56RmYyWLXNoYTEyOC50eHRQSwUG"
            "AAAA////////////////////AA0ADQDwAwAAZGlzY6EA"
        ),
    ),
    (
        "dossier",  # a field that nobody knows, written like a mark that the validator itself puts into a place
        "Zm9ybWF0OiAxCmRvc3NpZXI6IGQKdGl0bGU6IHQKem9uZTogVVRDCm1lYXN1cmVtZW50czoKICAtIG5hbWU6IG0KICAgIGJbeTogdGVjaAo=",
    ),
]


@pytest.mark.parametrize(("which", "data"), CRASHED)
def test_what_crashed_once(which: str, data: str) -> None:
    PARSERS[which](base64.b64decode(data))
