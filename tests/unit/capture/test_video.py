import pytest
from evidence.capture import video
from evidence.capture.preview import make_preview
from evidence.capture.reading import read_file

from foreign_files import film

pytest.importorskip("av", reason="the extra 'media' is not installed")


def test_length_size_time_and_place(tmp_path):
    path = tmp_path / "a.mp4"
    film(
        path,
        seconds=2,
        creation_time="2026-03-04T10:11:12Z",
        make="maker",
        model="one",
        location="+44.8504-034.9766+029.1/",
    )
    facts = read_file(path, "a.mp4")
    assert (facts.media, facts.type, facts.duration, facts.width, facts.height) == (
        "video",
        "video/mp4",
        "2.000",
        64,
        48,
    )
    assert facts.captured.earliest == "2026-03-04T10:11:12Z"
    assert facts.captured.zone_known
    assert facts.device == "maker one"
    assert (facts.place.latitude, facts.place.longitude, facts.place.altitude) == ("44.8504", "-34.9766", "29.1")
    assert facts.reader.startswith("av ")


def test_no_time_in_the_container(tmp_path):
    film(tmp_path / "a.mp4")
    assert "no capture time in the file" in read_file(tmp_path / "a.mp4", "a.mp4").notes


def test_zero_of_the_container_clock_is_no_time():
    fields, notes = {}, []
    video._told({"creation_time": "1904-01-01T00:00:00.000000Z"}, fields, notes)
    assert fields == {}
    assert notes == ["the recording device's clock was not set: no capture time"]


def test_the_makers_own_time_with_offset_wins():
    """Phones write the local time with its offset beside the container's UTC."""
    fields, notes = {}, []
    video._told(
        {"creation_time": "2026-03-04T09:11:12.000000Z", "com.maker.creationdate": "2026-03-04T10:11:12+0100"},
        fields,
        notes,
    )
    assert fields["captured"].given == "2026-03-04T10:11:12+01:00"
    assert fields["captured"].earliest == "2026-03-04T09:11:12Z"
    assert fields["container_time"].given == "2026-03-04T09:11:12Z"


def test_poster_frame(tmp_path):
    from PIL import Image

    film(tmp_path / "a.mp4", seconds=3, size=(320, 240))
    facts = read_file(tmp_path / "a.mp4", "a.mp4")
    assert make_preview(tmp_path / "a.mp4", facts, tmp_path / "o.jpg", box=(160, 120)) == ""
    with Image.open(tmp_path / "o.jpg") as image:
        assert image.size == (160, 120)


def test_cut_and_junk(tmp_path):
    film(tmp_path / "a.mp4")
    raw = (tmp_path / "a.mp4").read_bytes()
    (tmp_path / "cut.mp4").write_bytes(raw[: len(raw) // 5])
    facts = read_file(tmp_path / "cut.mp4", "cut.mp4")
    assert "film not read: damaged: Invalid data found when processing input" in facts.notes
    assert make_preview(tmp_path / "cut.mp4", facts, tmp_path / "o.jpg").startswith("damaged")


def test_a_play_list_named_like_a_film_opens_nothing(tmp_path):
    (tmp_path / "a.mp4").write_text("#EXTM3U\n#EXTINF:1,\n/etc/hostname\n")
    assert read_file(tmp_path / "a.mp4", "a.mp4").type == "text/plain"
    from evidence.capture.limited import run_limited

    assert run_limited("film_facts", tmp_path / "a.mp4").problem.startswith("damaged")


def test_without_the_extra(tmp_path, monkeypatch):
    film(tmp_path / "a.mp4")
    monkeypatch.setattr(video, "available", lambda library: False)
    assert "film not read: that needs the extra 'media'" in read_file(tmp_path / "a.mp4", "a.mp4").notes
