"""Derived copies: what is blacked out is gone, nothing else of the original file comes along, the same again is the same."""

import hashlib
import io
from pathlib import Path

import numpy as np
import pytest
from evidence.capture.copies import CopyDrawer
from evidence.capture.reading import read_file
from evidence.errors import SourceUnusable
from evidence.model.copies import Operation, told_briefly
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from pydantic import ValidationError

from foreign_files import exif_of, pdf

FONT = Path(__file__).resolve().parents[3] / "evidence" / "report" / "fonts" / "DejaVuSans.ttf"
DRAWER = CopyDrawer(FONT)
PLATE = {"do": "black_out", "at": ["40", "24", "32", "16"]}


def noise(seed, size=(128, 96)):
    """Pixels in which any run of a dozen bytes occurs once."""
    random = np.random.default_rng(seed)
    return Image.fromarray(random.integers(0, 256, (size[1], size[0], 3), dtype=np.uint8))


def saved(image, kind, **how):
    out = io.BytesIO()
    image.save(out, kind, **how)
    return out.getvalue()


def draw(path, operations, form=None):
    """Bytes of the copy, what was made, and its pixels."""
    facts = read_file(path, path.name)
    with DRAWER.draw(path, facts, [Operation.model_validate(o) for o in operations], form) as drawn:
        raw = Path(drawn.path).read_bytes()
    assert (drawn.sha256, drawn.size) == (hashlib.sha256(raw).hexdigest(), len(raw))
    assert not Path(drawn.path).exists()
    return raw, drawn.made, np.asarray(Image.open(io.BytesIO(raw)).convert("RGB"))


def runs(raw, length):
    return {raw[n : n + length] for n in range(len(raw) - length + 1)}


def scan_of(jpeg):
    """The picture data of a JPEG, behind its last table (ITU-T T.81: marker SOS)."""
    return jpeg[jpeg.rindex(b"\xff\xda") + 14 : -2]


@pytest.mark.parametrize("form", ["png", "jpeg"])
def test_a_copy_depends_on_nothing_that_was_blacked_out(put, form):
    """Two originals that differ in the hidden area, metadata and comment alone give the same copy, byte for byte."""
    one, two = noise(1), noise(1)
    two.paste(noise(2, (32, 16)), (40, 24))
    assert one.tobytes() != two.tobytes()
    first = draw(put("a.png", saved(one, "PNG")), [PLATE], form)[0]
    tags = exif_of(ifd0={0x010E: "the neighbour's plate 12-AB-34"}, exif={0x9003: "2026:03:04 10:11:12"})
    second = draw(put("b.png", saved(two, "PNG", exif=tags)), [PLATE], form)[0]
    assert first == second


def test_no_run_of_the_hidden_pixels_is_left_and_the_rest_is_untouched(put):
    image = noise(3)
    _raw, made, pixels = draw(put("a.png", saved(image, "PNG")), [PLATE], "png")
    before = np.asarray(image)
    hidden = before[24:40, 40:72].reshape(16, -1)
    left = runs(pixels.tobytes(), 12)
    assert not any(run in left for row in hidden for run in runs(row.tobytes(), 12))
    assert (pixels[24:40, 40:72] == 0).all()
    outside = np.ones((96, 128), bool)
    outside[24:40, 40:72] = False
    assert (pixels[outside] == before[outside]).all()
    assert made.pixels == hashlib.sha256(b"128 96\n" + pixels.tobytes()).hexdigest()


@pytest.mark.parametrize("form", ["png", "jpeg"])
def test_no_metadata_thumbnail_or_profile_comes_along(put, form):
    from PIL import ImageCms

    thumbnail = saved(noise(5, (64, 48)), "JPEG")
    tags = exif_of(ifd0={0x010E: "private words", 0x0110: "Type 9"}, gps={1: "N", 2: (48.0, 51.0, 29.6), 3: "E", 4: (2.0, 17.0, 40.2)})
    block = bytearray(tags.tobytes())
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    raw = saved(noise(4), "JPEG", exif=bytes(block) + thumbnail, icc_profile=profile, comment=b"private comment", quality=95)
    assert thumbnail in raw
    copy, made, _ = draw(put("a.jpg", raw), [PLATE], form)
    for trace in (b"Exif", b"private", b"Type 9", b"ICC", b"acsp", b"http", b"Photoshop", b"eXIf", b"tEXt", b"iCCP", b"\xff\xe1", b"\xff\xe2", b"\xff\xfe"):
        assert trace not in (copy if form == "jpeg" or trace[0] != 0xFF else b"")
    left = runs(copy, 8)
    assert not left & runs(scan_of(thumbnail), 8)
    again = Image.open(io.BytesIO(copy))
    assert len(again.getexif()) == 0
    assert set(again.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    facts = read_file(put("c", copy), "c")
    assert (facts.captured, facts.place, facts.device, facts.software) == (None, None, None, None)
    assert made.source == hashlib.sha256(raw).hexdigest()


def test_no_run_of_the_originals_picture_data_is_left_in_a_jpeg(put):
    raw = saved(noise(6), "JPEG", quality=95)
    whole = {"do": "black_out", "at": ["0", "0", "100%", "100%"]}
    copy, _, pixels = draw(put("a.jpg", raw), [whole])
    assert (pixels == 0).all()
    assert not runs(scan_of(copy), 6) & runs(scan_of(raw), 6)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_places_are_those_of_the_upright_picture(put, orientation):
    """The upright picture is white with a red corner at its upper left, whatever way round the camera held it."""
    from PIL import ImageOps

    upright = Image.new("RGB", (120, 80), "white")
    upright.paste((255, 0, 0), (0, 0, 30, 20))
    back = {2: "FLIP_LEFT_RIGHT", 3: "ROTATE_180", 4: "FLIP_TOP_BOTTOM", 5: "TRANSPOSE", 6: "ROTATE_90", 7: "TRANSVERSE", 8: "ROTATE_270"}
    stored = upright.transpose(Image.Transpose[back[orientation]]) if orientation > 1 else upright
    raw = saved(stored, "PNG", exif=exif_of(ifd0={0x0112: orientation}))
    turned = ImageOps.exif_transpose(Image.open(io.BytesIO(raw))).convert("RGB")  # the library's own word
    assert turned.tobytes() == upright.tobytes()
    _, made, pixels = draw(put("a.png", raw), [{"do": "black_out", "at": ["0", "0", "25%", "25%"]}])
    assert (made.width, made.height) == (120, 80)
    assert (pixels[:20, :30] == 0).all()
    assert (pixels[20:, :] == 255).all()


def test_an_area_is_never_smaller_than_it_is_said(put):
    """Every pixel that a fraction of the area touches is gone."""
    path = put("a.png", saved(Image.new("RGB", (101, 67), "white"), "PNG"))
    _, _, pixels = draw(path, [{"do": "black_out", "at": ["10.5", "33.3%", "20.2", "10%"]}])
    rows, columns = np.where((pixels == 0).all(axis=2))
    # x 10.5 to 30.7 of pixels, y 22.311 to 29.011
    assert (columns.min(), columns.max(), rows.min(), rows.max()) == (10, 30, 22, 29)


@settings(max_examples=25)
@given(st.lists(st.sampled_from([
    {"do": "arrow", "at": ["10", "10", "90%", "50%"]}, {"do": "circle", "at": ["50%", "50%", "12%"]},
    {"do": "text", "at": ["5", "5"], "words": "κόμβος 4 ± 0.2 Ω"}, PLATE, {"do": "black_out", "at": ["0", "90%", "100%", "10%"]},
]), min_size=1, max_size=5), st.sampled_from(["png", "jpeg"]))  # fmt: skip
def test_the_same_operations_give_the_same_bytes(tmp_path_factory, operations, form):
    path = tmp_path_factory.getbasetemp() / "same.png"
    path.write_bytes(saved(noise(9), "PNG"))
    first, second = draw(path, operations, form), draw(path, operations, form)
    assert first[0] == second[0]
    assert first[1] == second[1]


def test_arrow_circle_and_words_are_seen(put):
    path = put("a.png", saved(Image.new("RGB", (400, 300), (90, 120, 90)), "PNG"))
    for operation, near in (
        ({"do": "arrow", "at": ["50", "50", "300", "200"]}, (200, 300)),
        ({"do": "circle", "at": ["200", "150", "60"]}, (150, 260)),
        ({"do": "text", "at": ["20", "20"], "words": "ring terminal"}, (26, 30)),
    ):
        _, _, pixels = draw(path, [operation])
        y, x = near
        red = (pixels[:, :, 0] > 180) & (pixels[:, :, 1] < 60)
        assert red[max(0, y - 12) : y + 12, max(0, x - 12) : x + 12].any(), operation["do"]


def test_one_page_of_a_document(put):
    raw = pdf("first page", "the other customer's name")
    copy, made, pixels = draw(put("a.pdf", raw), [{"do": "page", "page": 2}, {"do": "black_out", "at": ["0", "0", "100%", "50%"]}])
    assert copy[:4] == b"\x89PNG"
    assert b"customer" not in copy
    assert "pypdfium2" in made.program
    assert (pixels[: made.height // 2] == 0).all()
    with pytest.raises(SourceUnusable, match="there is no page 3, only 2"):
        draw(put("a.pdf", raw), [{"do": "page", "page": 3}, PLATE])
    with pytest.raises(SourceUnusable, match="which page"):
        draw(put("a.pdf", raw), [PLATE])


def test_what_cannot_be_drawn_on_is_told(put):
    picture = put("a.png", saved(noise(1), "PNG"))
    with pytest.raises(SourceUnusable, match="lies outside the picture, which is 128 × 96 pixels"):
        draw(picture, [{"do": "black_out", "at": ["128", "0", "5", "5"]}])
    with pytest.raises(SourceUnusable, match="done elsewhere"):
        draw(picture, [{"do": "other", "words": "cropped"}])
    with pytest.raises(SourceUnusable, match="text/plain is no picture"):
        draw(put("a.txt", b"words\n" * 10), [PLATE])
    with pytest.raises(SourceUnusable, match="cannot be drawn on: damaged"):
        draw(put("b.jpg", saved(noise(1), "JPEG")[:900]), [PLATE])
    bomb = bytearray(saved(Image.new("L", (16, 16)), "PNG"))
    bomb[16:24] = (60_000).to_bytes(4, "big") * 2
    with pytest.raises(SourceUnusable, match="cannot be drawn on"):
        draw(put("c.png", bytes(bomb)), [PLATE])


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        ({"do": "arrow", "at": ["1", "2", "3"]}, "needs 4 numbers"), ({"do": "black_out", "at": ["1", "2", "0", "5"]}, "covers nothing"),
        ({"do": "text", "at": ["1", "2"]}, "a text needs them"), ({"do": "circle", "at": ["-1", "2", "3"]}, "no place in a picture"),
        ({"do": "circle", "at": ["101%", "2", "3"]}, "outside the picture"), ({"do": "page"}, "which page"),
    ],
)  # fmt: skip
def test_an_operation_refuses_to_exist_when_wrong(raw, words):
    with pytest.raises(ValidationError, match=words):
        Operation.model_validate(raw)


def test_operations_in_words():
    done = [Operation.model_validate(o) for o in (PLATE, PLATE, {"do": "arrow", "at": ["1", "2", "3%", "4"]}, "cropped")]
    assert told_briefly(done) == "cropped, 2 areas blacked out, 1 arrow"
    assert done[0].said() == "area of 32 × 16 at 40, 24 blacked out"
    assert done[2].said() == "arrow from 1, 2 to 3%, 4"
