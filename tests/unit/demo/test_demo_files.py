"""The demonstration files are what their script makes, and stay small, dated and marked."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import ExifTags, Image

from made_once import made_once

HOME = Path(__file__).resolve().parents[3] / "demo_dossiers"
DOSSIERS = ("van-no-start", "seized-engine", "wet-footwell")
MADE_FOLDERS = ("photos", "papers", "traces")


def _files(root: Path, *endings: str) -> list[str]:
    return sorted(
        str(path.relative_to(root))
        for dossier in DOSSIERS
        for folder in MADE_FOLDERS
        for path in (root / dossier / folder).glob("*")
        if path.suffix in endings or not endings
    )


@pytest.fixture(scope="session")
def made() -> Path:
    """Everything made afresh by the script, run as a person would."""
    return made_once("demo-files", lambda folder: subprocess.run([sys.executable, "-B", str(HOME / "make_demo_files.py"), "--into", str(folder)], check=True))


def test_the_script_makes_every_file_and_no_other(made):
    assert _files(made) == _files(HOME)
    assert len(_files(HOME)) > 50


def test_traces_and_read_outs_are_the_same_bytes(made):
    names = _files(HOME, ".csv", ".txt")
    assert len(names) == 8
    assert [n for n in names if (made / n).read_bytes() != (HOME / n).read_bytes()] == []


@pytest.mark.parametrize("name", _files(HOME, ".jpg"))
def test_pictures_show_the_same_and_say_the_same(made, name):
    with Image.open(HOME / name) as kept, Image.open(made / name) as fresh:
        assert np.array_equal(np.asarray(kept), np.asarray(fresh))
        for ifd in (None, ExifTags.IFD.Exif, ExifTags.IFD.GPSInfo):
            said = [dict(i.getexif().get_ifd(ifd) if ifd else i.getexif()) for i in (kept, fresh)]
            assert said[0] == said[1]
        assert kept.getexif().get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.DateTimeOriginal].startswith("2026:")


@pytest.mark.parametrize("name", _files(HOME, ".pdf"))
def test_papers_read_the_same_and_are_marked_on_every_page(made, name):
    texts = []
    for root in (HOME, made):
        with pypdfium2.PdfDocument(root / name) as document:
            texts.append([page.get_textpage().get_text_range() for page in document])
    assert texts[0] == texts[1]
    assert all("DEMONSTRATION" in page for page in texts[0])


def test_pictures_carry_the_oddities_a_reader_must_handle():
    """One turned, some placed on the map, some without an offset: what real folders hold."""
    turned, placed, floating = set(), set(), set()
    for name in _files(HOME, ".jpg"):
        with Image.open(HOME / name) as image:
            exif = image.getexif()
        inner = exif.get_ifd(ExifTags.IFD.Exif)
        if exif[ExifTags.Base.Orientation] == 6:
            turned.add(name)
            assert image.height > image.width
        if exif.get_ifd(ExifTags.IFD.GPSInfo):
            placed.add(name)
        if ExifTags.Base.OffsetTimeOriginal not in inner:
            floating.add(name)
    assert turned == {"van-no-start/photos/harness-clips.jpg"}
    assert len(placed) == 5
    assert len(floating) == 5


def test_the_reference_clock_shows_how_slow_the_camera_is():
    with Image.open(HOME / "van-no-start/photos/clock-check.jpg") as image:
        written = image.getexif().get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.DateTimeOriginal]
    assert written == "2026:05:18 08:03:10"  # the clock in the picture shows 08:05:20


def test_injector_pulses_come_once_in_two_turns():
    """Common practice: one cylinder's own pulse every 120/rpm seconds, 212 rpm gives 566 ms."""
    rows = np.genfromtxt(HOME / "van-no-start/traces/cranking-as-found.csv", delimiter=",", names=True)
    pulled = rows["injector_control_1_V"] < 2
    starts = rows["time_s"][1:][pulled[1:] & ~pulled[:-1]]
    assert np.allclose(np.diff(starts), 120 / 212, atol=2e-4)
    for cylinder in "1234":
        assert rows[f"coil_control_{cylinder}_V"].max() < 0.2


def test_the_new_module_fires_the_coils_in_order():
    rows = np.genfromtxt(HOME / "van-no-start/traces/cranking-new-module.csv", delimiter=",", names=True)
    first = {n: rows["time_s"][np.argmax(rows[f"coil_control_{n}_V"] > 2)] for n in (1, 2, 3, 4)}
    assert sorted(first, key=first.get) == [1, 3, 4, 2]


def test_starter_current_has_four_humps_in_two_turns():
    """Common practice: humps at rpm x cylinders / 120; read back by the strongest line of the spectrum."""
    rows = np.genfromtxt(HOME / "van-no-start/traces/relative-compression.csv", delimiter=",", names=True)
    current = rows["starter_current_A"] - rows["starter_current_A"].mean()
    lines = np.abs(np.fft.rfft(current, n=16 * current.size))
    assert np.argmax(lines) * 10_000 / (16 * current.size) == pytest.approx(212 * 4 / 120, abs=0.05)


def test_the_table_of_orders_is_the_same_bytes_and_marked(made):
    kept = (HOME / "own-orders" / "orders.csv").read_bytes()
    assert (made / "own-orders" / "orders.csv").read_bytes() == kept
    rows = kept.decode("cp1252").splitlines()[1:]
    assert 200 < len(rows) < 400
    assert all(row.startswith("DEMO-") for row in rows)
    assert (HOME / "own-orders" / "mapping.yaml").read_text("utf-8").startswith("# DEMONSTRATION.")


def test_the_folder_stays_small():
    made = [HOME / name for name in _files(HOME)]
    assert sum(p.stat().st_size for p in made) < 12_000_000
    assert [p.name for p in made if p.suffix == ".jpg" and p.stat().st_size > 350_000] == []
