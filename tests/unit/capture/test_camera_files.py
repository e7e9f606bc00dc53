"""Files of real cameras and phones. Values: read with an independent metadata program and ExifRead 3.5.1, which agree."""

import pytest
from evidence.capture.preview import make_preview
from evidence.capture.reading import read_file


def _read(folder, name):
    return read_file(folder / name, name)


def test_time_offset_and_position_of_a_phone(camera_files):
    facts = _read(camera_files, "pug.heic")
    assert (facts.media, facts.type, facts.width, facts.height) == ("photo", "image/heic", 4032, 3024)
    assert facts.captured.given == "2023-02-21T14:33:08.302+03:00"
    assert facts.captured.earliest == "2023-02-21T11:33:08.302000Z"
    assert facts.captured.source == "device_clock"
    assert (facts.place.latitude, facts.place.longitude, facts.place.altitude) == ("44.8504778", "34.9766472", "29.1")
    assert facts.reader == "pillow-heif 1.8.1"


def test_no_offset_stays_of_unknown_zone(camera_files):
    facts = _read(camera_files, "arrow.heic")
    assert facts.captured.given == "2018-07-31T14:52:07.557"
    assert not facts.captured.zone_known
    assert facts.captured.span.width.total_seconds() == pytest.approx(26 * 3600 + 0.001)
    assert facts.place is None
    assert facts.orientation == 6


def test_gps_clock_is_utc_beside_a_local_time(camera_files):
    facts = _read(camera_files, "xiaomi.heic")
    assert facts.captured.given == "2023-04-27T19:44:18.732"
    assert not facts.captured.zone_known
    assert facts.gps_time.earliest == "2023-04-27T16:43:45Z"
    assert (facts.place.latitude, facts.place.longitude) == ("47.2272889", "39.6999922")


def test_leading_zero_of_the_fraction_and_an_empty_gps_block(camera_files, tmp_path):
    facts = _read(camera_files, "200MP.heic")
    assert facts.captured.given == "2025-01-19T14:53:27.031+03:00"
    assert facts.place is None
    assert facts.width * facts.height == 199_756_800
    assert any(n.startswith("no preview: too large") for n in facts.notes)
    assert make_preview(camera_files / "200MP.heic", facts, tmp_path / "out.jpg") == "too large"
    assert not (tmp_path / "out.jpg").exists()


def test_position_zero_is_no_place(camera_files):
    facts = _read(camera_files, "spatial_photo.heic")
    assert facts.place is None
    assert "position 0, 0 in the file: the device knew none" in facts.notes
    assert facts.captured is None
    assert "no capture time in the file" in facts.notes


def test_container_rotation_and_exif_turn_the_picture_once(camera_files, tmp_path):
    from PIL import Image

    facts = _read(camera_files, "arrow.heic")  # EXIF orientation 6 and a container rotation of 270 degrees
    assert make_preview(camera_files / "arrow.heic", facts, tmp_path / "a.jpg", box=(400, 300)) == ""
    with Image.open(tmp_path / "a.jpg") as made:
        assert made.size == (300, 400)
        assert not made.getexif()


def test_microseconds_and_a_gps_block_without_position(camera_files):
    facts = _read(camera_files, "empty_gps_ifd.jpg")
    assert facts.captured.given == "2020-07-27T14:46:48.780685"
    assert facts.orientation == 6
    assert facts.place is None


def test_impossible_latitude_is_flagged(camera_files):
    facts = _read(camera_files, "01.jpg")
    assert facts.place is None
    assert any("4294967295" in n for n in facts.notes)
    assert facts.captured.given.startswith("2099-")  # kept: whoever has a clock says that it is to come


@pytest.mark.parametrize("number", range(2, 9))
def test_all_orientations_come_out_alike(camera_files, tmp_path, number):
    """Pillow's own series: one picture stored in eight ways. Upright they differ by JPEG noise only."""
    from PIL import Image, ImageChops, ImageStat

    def upright(n):
        name = f"hopper_orientation_{n}.jpg"
        facts = _read(camera_files, name)
        assert facts.orientation == n
        assert make_preview(camera_files / name, facts, tmp_path / f"{n}.jpg") == ""
        with Image.open(tmp_path / f"{n}.jpg") as image:
            return image.convert("L")

    other = 3 if number == 2 else 2
    difference = ImageStat.Stat(ImageChops.difference(upright(number), upright(other))).mean[0]
    assert difference < 8
    turned = ImageChops.difference(upright(number), upright(other).transpose(Image.Transpose.ROTATE_180))
    assert ImageStat.Stat(turned).mean[0] > 20  # so that the bound above can fail
