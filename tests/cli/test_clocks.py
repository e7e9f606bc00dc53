"""``evidence clocks`` as a person meets it, from files with EXIF to the time put right."""

import json

import pytest

from cli.test_commands import evidence, shop  # noqa: F401 - fixtures
from foreign_files import exif_of, picture


@pytest.fixture
def shoot(shop, tmp_path):  # noqa: F811
    """Four photos; between the second and the third the camera's clock fell back."""
    for n, time in enumerate(("09:12:31", "09:20:05", "08:40:00", "08:45:00"), 1):
        exif = exif_of(ifd0={0x010F: "Shop", 0x0110: "Camera 2"}, exif={0x9003: f"2026:03:10 {time}"})
        (tmp_path / f"IMG_{n:04}.JPG").write_bytes(picture(exif=exif))
    shop("record", "exhibit", "first", *sorted(tmp_path.glob("IMG_*.JPG")))
    return shop


def test_a_clock_from_no_reference_to_two(shoot):
    told = shoot("clocks", "first").stdout
    assert "Shop Camera 2, stretch 1 of 2" in told
    assert told.count("missing: no reference in this stretch") == 2
    assert "the time falls by 40 min 4 s or more" in told
    shoot("record", "clock-reference", "first", "--device", "Shop Camera 2", "--true-time", "2026-03-10 09:11:00",
          "--uncertainty", "2 s", "--source", "radio_time", "--exhibits", "exhibit 1")  # fmt: skip
    told = shoot("clocks", "first").stdout
    assert "error: UTC+00:00, 1 min 31 s fast ± 3.7 s" in told
    assert "Exhibit 3, Exhibit 4: not put right" in told
    found = json.loads(shoot("clocks", "first", "--json").stdout)
    assert [m["record"] for m in found["corrected"]] == ["Exhibit 1", "Exhibit 2"]
    assert found["corrected"][1]["before"] == {"earliest": "2026-03-09T19:20:05Z", "latest": "2026-03-10T21:20:06Z"}
    assert found["corrected"][1]["after"]["earliest"].startswith("2026-03-10T09:18:30.")
    assert [s["kind"] for s in found["signs"]] == ["time_falls"]
    shown = shoot("show", "first", "exhibit 2").stdout
    assert "put right" in shown
    assert "by Clock reference 1" in shown
    assert json.loads(shoot("show", "first", "exhibit 2", "--json").stdout)["clock"] == found["corrected"][1]


def test_a_dossier_without_devices_says_so(shop):  # noqa: F811
    assert "No device stamped anything here" in shop("clocks", "first").stdout
    assert json.loads(shop("clocks", "first", "--json").stdout)["devices"] == []


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--device", "a", "--true-time", "2026-03-10 09:11", "--uncertainty", "2 V"), "the uncertainty is no length of time"),
        (("--device", "a", "--true-time", "2026-03-10 09:11", "--uncertainty", "2 s"), "says nowhere what the clock showed"),
        (("--true-time", "2026-03-10 09:11", "--uncertainty", "2 s"), "names either a device or an instrument"),
    ],
)
def test_a_reference_that_is_not_whole_is_refused(shop, options, words):  # noqa: F811
    more = ("--clock-showed", "2026-03-10 09:00") if "V" in options[-1] else ()
    assert words in shop("record", "clock-reference", "first", *options, *more, "--source", "radio_time", code=2).stderr
