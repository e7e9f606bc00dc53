import os
import sys
import warnings

import pytest
from evidence.capture import reading
from evidence.capture.reading import read_file, type_of
from evidence.errors import SourceUnusable
from foreign_files import pdf, picture, png_bomb


@pytest.mark.parametrize(
    ("raw", "type_", "media"),
    [
        (picture("JPEG"), "image/jpeg", "photo"),
        (picture("PNG"), "image/png", "photo"),
        (picture("TIFF"), "image/tiff", "photo"),
        (picture("WEBP"), "image/webp", "photo"),
        (picture("AVIF"), "image/avif", "photo"),
        (picture("GIF"), "image/gif", "photo"),
        (picture("BMP"), "image/bmp", "photo"),
        (pdf("a"), "application/pdf", "document"),
        (b"junk before\n" + pdf("a"), "application/pdf", "document"),
        (b"t;v\n0;1,5\n1;1,6\n", "text/csv", "waveform"),
        ("\ufeffWetter und Kühlmittel\n".encode("utf-16"), "text/plain", "document"),
        ("Kühlmittel fehlt\n".encode("latin-1"), "text/plain", "document"),
        (b"BM is how this text starts, and it is no bitmap\n", "text/plain", "document"),
        (b"module ECM: P0351-13 confirmed\n", "text/plain", "scan_text"),
        (b'{"codes": ["P0351"]}', "application/json", "document"),
        (b"<!DOCTYPE html><script>alert(1)</script>", "text/html", "document"),
        (b"<?xml version='1.0'?><a/>", "text/xml", "other"),
        (b"PK\x03\x04" + bytes(200), "application/zip", "other"),
        (b"RIFF\x24\0\0\0WAVEfmt " + bytes(40), "audio/x-wav", "audio"),
        (bytes(range(256)), "application/octet-stream", "other"),
    ],
)
def test_type_comes_from_the_content(put, raw, type_, media):
    facts = read_file(put("unnamed", raw), "unnamed")
    assert (facts.type, facts.media) == (type_, media)
    assert facts.reader


def test_a_wrong_ending_is_noted(put):
    facts = read_file(put("a.png", picture("JPEG")), "a.png")
    assert facts.type == "image/jpeg"
    assert "the name ends in .png, the content is image/jpeg" in facts.notes
    assert not [n for n in read_file(put("a.JPG", picture("JPEG")), "a.JPG").notes if "ends in" in n]


def test_an_empty_file(put):
    facts = read_file(put("a.jpg", b""), "a.jpg")
    assert facts.notes == ("the file is empty", "no preview: the file is empty")
    assert (facts.preview, facts.media, facts.width) == ("none", "other", None)


@pytest.mark.parametrize("side", [12_000, 20_000])
def test_a_picture_bomb_costs_no_memory(put, side):
    """12,000 pixels square in 18 kB and 20,000 in 49 kB: described, and never decoded."""
    import resource

    path = put("bomb.png", png_bomb(side))
    assert path.stat().st_size < 100_000
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    facts = read_file(path, "bomb.png")
    assert (facts.width, facts.height, facts.preview) == (side, side, "none")
    assert [n for n in facts.notes if n.startswith("no preview: too large")]
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    assert grown * (1024 if sys.platform == "linux" else 1) < 20_000_000  # one row of bits decoded is 50 MB


def test_the_library_guard_stays_on():
    from PIL import Image

    assert Image.MAX_IMAGE_PIXELS == 89_478_485


def test_scan_text_is_kept_for_searching(put):
    facts = read_file(put("scan.txt", b"ECM\r\nP0351\r\n\x0cBCM\r\nnone\r\n"), "scan.txt")
    assert facts.text == "ECM\nP0351\n\nBCM\nnone"


def test_long_text_is_cut_and_says_so(put):
    facts = read_file(put("a.txt", b"word " * 10_000), "a.txt")
    assert len(facts.text) <= 20_000
    assert "text cut after 20,000 characters" in facts.notes


def test_rows_and_columns_of_a_waveform(put):
    facts = read_file(put("w.csv", "Zeit;Spule\n(ms);(V)\n0,0;12,5\n0,1;12,6\n\n".encode()), "w.csv")
    assert (facts.rows, facts.columns) == (2, ("Zeit", "Spule"))


def test_heic_without_the_extra(put, monkeypatch):
    monkeypatch.setattr(reading, "available", lambda library: False)
    raw = b"\0\0\0\x18ftypheic\0\0\0\0heicmif1" + bytes(100)
    facts = read_file(put("a.heic", raw), "a.heic")
    assert (facts.type, facts.media, facts.preview) == ("image/heic", "photo", "none")
    assert "HEIC not read: that needs the extra 'media'" in facts.notes


def test_ten_bit_heic_is_known_by_its_brand():
    assert type_of(b"\0\0\0\x1cftypheix\0\0\0\0mif1heix" + bytes(100)) == "image/heic"
    assert type_of(b"\0\0\0\x1cftypmif1\0\0\0\0mif1avif" + bytes(100)) == "image/avif"


def test_what_is_no_plain_file_is_refused_at_once(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "link").symlink_to("/etc/hostname")
    for name, what in (("pipe", "named pipe"), ("link", "symbolic link")):
        with pytest.raises(SourceUnusable, match=what):
            read_file(tmp_path / name, name)
    with pytest.raises(SourceUnusable, match="folder"):
        read_file(tmp_path, "folder")
    with pytest.raises(FileNotFoundError):
        read_file(tmp_path / "none", "none")


def test_errors_of_the_disk_are_not_taken_for_damage(put, monkeypatch):
    """A disk that fails while the head of a photo is read must not end in a note."""
    import errno

    from evidence.capture import photo

    def fails(stream, type_):
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(photo, "open_head", fails)
    with pytest.raises(OSError, match="Input/output"):
        read_file(put("a.jpg", picture("JPEG")), "a.jpg")


def test_reading_is_the_same_in_several_threads(put):
    """The library's warnings live in one place for all threads; nothing of it may leak out."""
    from concurrent.futures import ThreadPoolExecutor

    good, bad = put("good.jpg", picture("JPEG")), put("bad.jpg", picture("JPEG", exif=b"Exif\0\0II*\0\x08\0\0\0\xff\0"))
    filters = list(warnings.filters)
    with ThreadPoolExecutor(8) as pool:
        facts = list(pool.map(lambda p: read_file(p, p.name), [good, bad] * 100))
    assert len(set(f.model_dump_json() for f in facts)) == 2
    assert [n for n in facts[1].notes if n.startswith("metadata damaged")]
    assert list(warnings.filters) == filters
