import pytest
from evidence.capture import preview
from evidence.capture.preview import make_preview
from evidence.capture.reading import read_file
from foreign_files import exif_of, pdf, picture


def made(path, tmp_path, **how):
    """Reason, and the preview opened."""
    from PIL import Image

    out = tmp_path / "previews" / "out.jpg"
    out.parent.mkdir(exist_ok=True)
    reason = make_preview(path, read_file(path, path.name), out, **how)
    assert [p.name for p in out.parent.iterdir()] == ([] if reason else ["out.jpg"])
    if reason:
        return reason, None
    with Image.open(out) as image:
        image.load()
        return reason, image


@pytest.mark.parametrize(
    ("size", "box", "expected"),
    [
        ((4032, 3024), (1600, 1200), (1600, 1200)),
        ((3024, 4032), (1600, 1200), (1200, 1600)),
        ((4032, 3024), (400, 300), (400, 300)),
        ((1000, 100), (400, 300), (400, 40)),
        ((100, 80), (1600, 1200), (100, 80)),
        ((5000, 1), (100, 100), (100, 1)),
    ],
)
def test_fits_the_box_and_never_grows(put, tmp_path, size, box, expected):
    reason, image = made(put("a.jpg", picture("JPEG", size=size)), tmp_path, box=box)
    assert reason == ""
    assert (image.format, image.size) == ("JPEG", expected)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_orientation_is_applied_once_and_left_out_of_the_copy(put, tmp_path, orientation):
    """Against Pillow's own exif_transpose."""
    import io

    from PIL import Image, ImageChops, ImageOps, ImageStat

    raw = picture("JPEG", size=(200, 120), exif=exif_of(ifd0={0x0112: orientation}), quality=95)
    _, image = made(put("a.jpg", raw), tmp_path)
    right = ImageOps.exif_transpose(Image.open(io.BytesIO(raw)))
    assert image.size == right.size
    assert ImageStat.Stat(ImageChops.difference(image, right)).mean[0] < 3
    assert not image.getexif()


@pytest.mark.parametrize(
    ("kind", "mode"),
    [("PNG", "RGBA"), ("PNG", "P"), ("PNG", "LA"), ("PNG", "1"), ("PNG", "I;16"), ("TIFF", "CMYK"), ("TIFF", "F"),
     ("WEBP", "RGBA"), ("JPEG", "CMYK"), ("JPEG", "L"), ("TIFF", "RGB")],
)  # fmt: skip
def test_every_kind_of_pixel(put, tmp_path, kind, mode):
    import io

    from PIL import Image

    out = io.BytesIO()
    Image.linear_gradient("L").resize((60, 40)).convert("RGB" if mode in ("P", "CMYK") else mode if mode in ("1", "RGBA", "LA", "L", "RGB") else "I" if mode == "I;16" else "F").convert(mode).save(out, kind)
    reason, image = made(put("a", out.getvalue()), tmp_path)
    assert reason == ""
    assert image.size == (60, 40)
    low, high = image.convert("L").getextrema()
    assert high - low > 150  # the gradient is still there


@pytest.mark.parametrize("kept", [0.5, 0.98])
@pytest.mark.parametrize("progressive", [False, True])
def test_a_cut_jpeg_has_facts_and_no_preview(put, tmp_path, kept, progressive):
    raw = picture("JPEG", size=(800, 600), exif=exif_of(exif={0x9003: "2026:03:04 10:11:12"}), progressive=progressive)
    path = put("a.jpg", raw[: int(len(raw) * kept)])
    assert read_file(path, "a.jpg").captured.given == "2026-03-04T10:11:12"
    reason, _ = made(path, tmp_path)
    assert reason.startswith("damaged")


def test_transparent_becomes_white(put, tmp_path):
    import io

    from PIL import Image

    out = io.BytesIO()
    Image.new("RGBA", (20, 20), (255, 0, 0, 0)).save(out, "PNG")
    _, image = made(put("a.png", out.getvalue()), tmp_path)
    assert image.getpixel((10, 10)) == (255, 255, 255)


def test_first_page_of_a_document(put, tmp_path):
    reason, image = made(put("a.pdf", pdf("first", "second")), tmp_path, box=(800, 600))
    assert reason == ""
    assert image.size == (600, 800)
    assert image.convert("L").getextrema()[0] < 100  # something is drawn


def test_kinds_that_are_not_shown(put, tmp_path):
    assert made(put("a.txt", b"hello"), tmp_path)[0] == "text/plain is not shown"
    assert made(put("b.jpg", b""), tmp_path)[0] == "the file is empty"
    assert made(put("c.pdf", b"%PDF-1.7\n" + bytes(100)), tmp_path)[0].startswith("damaged")


def test_a_failing_disk_leaves_nothing_and_is_told(put, tmp_path, monkeypatch):
    import errno
    from pathlib import Path

    path = put("a.jpg", picture("JPEG"))
    (tmp_path / "previews").mkdir()

    def full(self, target):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(OSError, match="No space"):
        make_preview(path, read_file(path, "a.jpg"), tmp_path / "previews" / "out.jpg")
    assert list((tmp_path / "previews").iterdir()) == []


def test_without_the_extra_the_reason_says_so(put, tmp_path, monkeypatch):
    monkeypatch.setattr(preview, "available", lambda library: False)
    facts = read_file(put("a.jpg", picture("JPEG")), "a.jpg").model_copy(update={"type": "image/heic"})
    assert make_preview(tmp_path / "a.jpg", facts, tmp_path / "o.jpg") == "that needs the extra 'media'"


def test_the_place_of_a_photo_does_not_leak_into_its_preview(put, tmp_path):
    path = put("a.jpg", picture("JPEG", exif=exif_of(gps={1: "N", 2: (1.0, 2.0, 3.0), 3: "E", 4: (1.0, 2.0, 3.0)})))
    made(path, tmp_path)
    assert b"Exif" not in (tmp_path / "previews" / "out.jpg").read_bytes()
