"""What the files of photos carry, on pictures made here and on published tables."""

import io
import json
import threading
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest
from evidence.capture import credentials, limited, photo_marks
from evidence.capture.credentials import carries, credentials_of
from evidence.capture.photo_marks import CHROMINANCE, LUMINANCE, quality_of, read_marks, scaled_table
from evidence.capture.picture import jpeg_of
from evidence.capture.reading import read_file
from evidence.review.photo_marks import PhotoMarks
from evidence.review.photo_metadata import THUMBNAIL_BITS
from PIL import Image

from foreign_files import exif_of, picture
from scenes import drawn
from signed_photos import certificates, signed
from small_pictures import with_small

_MAKE, _MODEL, _SOFTWARE, _CHANGED = 0x010F, 0x0110, 0x0131, 0x0132


@pytest.fixture
def marks(put, tmp_path):
    """The marks of bytes, with a preview as an intake makes it."""

    def read(raw, name="a.jpg"):
        path = put(name, raw)
        facts = read_file(path, name)
        preview = None
        if facts.width and facts.type == "image/jpeg":
            preview = tmp_path / f"{name}-preview.jpg"
            preview.write_bytes(jpeg_of(Image.open(io.BytesIO(raw)), (400, 300), facts.orientation or 1))
        return read_marks(path, facts, preview)

    return read


def test_what_the_tags_say(marks):
    block = exif_of(
        ifd0={_MAKE: "Nimbus", _MODEL: "N5", _SOFTWARE: "1.02", _CHANGED: "2026:03:02 11:00:00", 0x000B: "Batch 2"}.items(),
        exif={0x9003: "2026:03:02 10:00:00", 0x9004: "2026:03:02 10:00:01", 0xA002: 640, 0xA003: 480, 0x9211: 17, 0xA431: "B77"}.items(),
    )  # fmt: skip
    found = marks(picture(exif=block, size=(320, 240)))
    assert (found.make, found.model, found.software, found.processed_with) == ("Nimbus", "N5", "1.02", "Batch 2")
    assert (found.taken, found.digitised, found.changed) == ("2026:03:02 10:00:00", "2026:03:02 10:00:01", "2026:03:02 11:00:00")
    assert (found.size, found.stated_size, found.number, found.camera) == ((320, 240), (640, 480), 17, "Nimbus N5 B77")
    assert found.problems == ()
    assert not found.progressive
    assert found.credentials is None
    assert found.thumbnail is None


@pytest.mark.parametrize(("kind", "type_"), [("PNG", "png"), ("WEBP", "webp"), ("TIFF", "tif")])
def test_tags_of_other_kinds_of_picture(marks, kind, type_):
    found = marks(picture(kind, exif=exif_of(ifd0={_MAKE: "Nimbus", _MODEL: "N5"}.items())), f"a.{type_}")
    assert (found.make, found.model, found.tables, found.problems) == ("Nimbus", "N5", (), ())


def test_a_phones_file(camera_files, tmp_path):
    """Read with an independent metadata program as well."""
    facts = read_file(camera_files / "arrow.heic", "arrow.heic")
    found = read_marks(camera_files / "arrow.heic", facts, None)
    assert found.taken == "2018:07:31 14:52:07"
    assert found.make
    assert found.model
    assert found.problems == ()


# ITU-T T.81 Annex K scaled as the Independent JPEG Group does; first entries and sums reckoned apart from this program.
@pytest.mark.parametrize(
    ("quality", "first", "luminance", "chrominance"),
    [
        (10, [80, 55, 50, 80, 120, 200, 255, 255], 12560, 15110), (50, [16, 11, 10, 16, 24, 40, 51, 61], 3688, 5505),
        (75, [8, 6, 5, 8, 12, 20, 26, 31], 1858, 2780), (85, [5, 3, 3, 5, 7, 12, 15, 18], 1109, 1666),
        (95, [2, 1, 1, 2, 2, 4, 5, 6], 369, 558),
    ],
)  # fmt: skip
def test_the_example_tables_at_a_quality(quality, first, luminance, chrominance):
    assert list(scaled_table(LUMINANCE, quality)[:8]) == first
    assert sum(scaled_table(LUMINANCE, quality)) == luminance
    assert sum(scaled_table(CHROMINANCE, quality)) == chrominance


def test_the_quality_of_every_file_of_a_common_encoder_is_found():
    image = Image.linear_gradient("L").convert("RGB").resize((16, 16))
    for quality in range(1, 101):
        out = io.BytesIO()
        image.save(out, "JPEG", quality=quality)
        written = Image.open(out).quantization
        tables = tuple(tuple(t) for _, t in sorted(written.items()))
        found = quality_of(tables)
        assert found == quality or scaled_table(LUMINANCE, found) == scaled_table(LUMINANCE, quality)


def test_other_tables_have_no_quality(marks):
    own = [[n % 60 + 3 for n in range(64)], [n % 50 + 9 for n in range(64)]]
    out = io.BytesIO()
    Image.linear_gradient("L").convert("RGB").save(out, "JPEG", qtables=own)
    found = marks(out.getvalue())
    assert found.quality is None
    assert len(found.tables) == 2
    assert marks(picture(quality=75)).quality == 75
    assert marks(picture(quality=75, mode="L")).quality == 75
    assert marks(picture(progressive=True)).progressive


def test_a_packet_of_editing_is_looked_through_as_text(marks):
    packet = (
        b'<x:xmpmeta><rdf:Description xmp:CreatorTool="Paint &amp; Co 9"><xmpMM:History><rdf:Seq>'
        b'<rdf:li stEvt:action="created"/><rdf:li stEvt:action="saved"/></rdf:Seq></xmpMM:History></rdf:Description></x:xmpmeta>'
    )
    found = marks(picture(xmp=packet))
    assert (found.creator_tool, found.edits) == ("Paint &amp; Co 9", 2)
    elements = b"<xmp:CreatorTool>Paint 9</xmp:CreatorTool><stEvt:action>saved</stEvt:action>"
    found = marks(picture(xmp=elements))
    assert (found.creator_tool, found.edits) == ("Paint 9", 1)
    assert marks(picture(xmp=b"CreatorTool=" * 2000)).creator_tool == ""
    both = b'<a xmp:CreateDate="2026-03-05T10:00:00Z"/><exif:DateTimeOriginal>2026-03-02T10:00:00+01:00</exif:DateTimeOriginal>'
    assert marks(picture(xmp=both)).packet_taken == "2026-03-02T10:00:00+01:00"
    assert marks(picture(xmp=b"<a xmp:CreateDate='2026-03-05T10:00:00Z'/>")).packet_taken == "2026-03-05T10:00:00Z"
    assert marks(picture(xmp=packet)).packet_taken == ""


# The small picture inside ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("number", range(6))
def test_the_small_picture_of_the_same_scene_is_like_it_and_that_of_another_is_not(marks, number):
    image = drawn(number, (1200, 900))
    same = marks(with_small(image, image.resize((160, 120)))).thumbnail
    other = marks(with_small(image, drawn(number + 50, (160, 120)))).thumbnail
    assert (same.width, same.height) == (160, 120)
    assert same.bits <= 12
    assert other.bits > THUMBNAIL_BITS


def test_black_bars_of_the_small_picture_are_no_difference(marks):
    image = drawn(3, (1600, 900))
    small = Image.new("RGB", (160, 120))
    small.paste(image.resize((160, 90)), (0, 15))
    assert marks(with_small(image, small)).thumbnail.bits <= 12


def test_a_small_picture_is_turned_like_the_large_one(marks):
    image = drawn(4, (1200, 900))
    assert marks(with_small(image, image.resize((160, 120)), orientation=6)).thumbnail.bits <= 12
    upright = image.transpose(Image.Transpose.ROTATE_270).resize((120, 160))
    assert marks(with_small(image, upright, orientation=6)).thumbnail.bits <= 12


def test_what_is_no_small_picture_says_nothing(marks):
    image = drawn(5, (800, 600))
    raw = with_small(image, image.resize((160, 120)))
    at = raw.index(b"\xff\xd8", 10)
    assert marks(raw[:at] + b"\0\0" + raw[at + 2 :]).thumbnail is None
    assert marks(with_small(Image.new("RGB", (800, 600), "white"), Image.new("RGB", (160, 120), "white"))).thumbnail.bits is None


# Content credentials -----------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def signer():
    pytest.importorskip("c2pa")
    return certificates()


@pytest.fixture(scope="module")
def credited(signer):
    return signed(picture(size=(320, 240), quality=90), signer)


def test_credentials_that_fit_are_told_with_signer_program_and_deeds(marks, credited):
    found = marks(credited).credentials
    assert found.state == "valid"
    assert found.signer == "Test camera, Test only"
    assert found.producer == "test camera 1.0"
    assert found.actions == ("created",)


def test_one_changed_bit_of_the_picture_breaks_them(marks, credited):
    raw = bytearray(credited)
    raw[-200] ^= 1
    found = marks(bytes(raw)).credentials
    assert found.state == "invalid"
    assert found.detail == "the picture is not the one that was signed"


def test_credentials_that_cannot_be_read_are_told_so(marks, credited):
    at = credited.index(b"jumb") + 40
    found = marks(credited[:at] + b"\xff" * 60 + credited[at + 60 :]).credentials
    assert found is None or found.state in ("unreadable", "invalid")
    assert carries(io.BytesIO(credited), "image/jpeg")


def test_without_the_extra_they_are_found_and_not_checked(marks, credited, monkeypatch):
    monkeypatch.setattr(credentials, "available", lambda _: False)
    found = marks(credited).credentials
    assert (found.state, found.detail) == ("unchecked", "that needs the extra 'credentials'")


def test_most_photos_carry_none(marks):
    for kind, name in (("JPEG", "a.jpg"), ("PNG", "a.png"), ("WEBP", "a.webp")):
        assert marks(picture(kind), name).credentials is None


@pytest.mark.parametrize(("type_", "kind"), [("image/png", "PNG"), ("image/webp", "WEBP")])
def test_credentials_in_other_kinds_of_picture(signer, put, type_, kind):
    raw = signed(picture(kind), signer, type_)
    assert carries(io.BytesIO(raw), type_)
    assert credentials_of(put("a", raw), type_).state == "valid"


def test_nothing_is_fetched_from_an_address_in_the_file(signer, put):
    asked = []

    class Listener(BaseHTTPRequestHandler):
        def do_GET(self):
            asked.append(self.path)
            self.send_error(404)

        def log_message(self, *_):
            pass

    with HTTPServer(("127.0.0.1", 0), Listener) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        address = f"http://127.0.0.1:{server.server_port}/manifest.c2pa"
        raw = signed(picture(size=(320, 240)), signer, remote=address)
        assert address.encode() in raw  # so that there is something to be fetched
        path = put("a.jpg", raw)
        limited.end_children()
        answer = limited.run_limited("credentials", path, type="image/jpeg")
        assert answer.problem
        control = __import__("urllib.request").request
        with pytest.raises(OSError, match="404"):
            control.urlopen(address, timeout=10)
        server.shutdown()
    assert asked == ["/manifest.c2pa"]  # ours alone


@pytest.mark.parametrize("type_", ["image/jpeg", "image/png", "image/webp", "image/heic", "image/tiff", "other"])
@pytest.mark.parametrize("raw", [b"", b"\xff\xd8", b"\xff\xd8\xff\xeb\xff\xff", b"\xff\xd8\xff\xe1\0\0", b"\0" * 64, b"\0\0\0\1uuid" + b"\xff" * 40])
def test_scraps_carry_none(type_, raw):
    assert not carries(io.BytesIO(raw), type_)


def test_marks_are_plain_values(marks, credited):
    import dataclasses

    found = marks(credited)
    assert isinstance(found, PhotoMarks)
    assert json.loads(json.dumps(dataclasses.asdict(found)))["quality"] == 90
    assert photo_marks.read_marks.__doc__
