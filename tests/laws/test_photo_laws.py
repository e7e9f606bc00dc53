"""No bytes make the reading of a photo's marks raise, hang or take room; likeness is a likeness."""

import io
import time
import tracemalloc
from functools import cache

from evidence.capture.credentials import carries, credentials_of
from evidence.capture.likeness import fingerprint, likeness
from evidence.capture.photo_marks import read_marks
from evidence.capture.picture import jpeg_of
from evidence.capture.reading import read_file
from evidence.review.photo_marks import PhotoMarks
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from foreign_files import exif_of, picture
from scenes import drawn
from signed_photos import certificates, signed
from small_pictures import with_small

damage = st.lists(st.tuples(st.integers(0, 2**31), st.integers(0, 255)), min_size=1, max_size=12)
cuts = st.integers(0, 100)


@cache
def originals():
    """A JPEG with everything in it that is read, and other kinds of picture with tags."""
    tags = exif_of(ifd0={0x010F: "Nimbus", 0x0110: "N5", 0x0131: "Editor"}.items(), exif={0x9003: "2026:03:02 10:00:00", 0xA002: 64, 0xA003: 48}.items())
    image = drawn(1, (320, 240))
    packet = b'<x xmp:CreatorTool="Paint 9" stEvt:action="saved"/>'
    return (
        with_small(image, image.resize((80, 60)), xmp=packet), picture(exif=tags, xmp=packet), picture("PNG", exif=tags),
        picture("WEBP", exif=tags), picture("TIFF", exif=tags),
    )  # fmt: skip


def damaged(raw, changes, cut):
    """Bytes changed, most of them in the head, and the end cut off by so many hundredths."""
    out = bytearray(raw)
    for place, value in changes:
        out[place % min(len(out), 12_000 if place % 5 else len(out))] = value
    return bytes(out[: len(out) - len(out) * cut // 200])


@given(st.integers(0, 4), damage, cuts)
@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_damaged_photo_gives_marks_in_bounded_time_and_room(tmp_path_factory, which, changes, cut):
    folder = tmp_path_factory.getbasetemp()
    path, preview = folder / "damaged", folder / "preview.jpg"
    path.write_bytes(damaged(originals()[which], changes, cut))
    if not preview.exists():
        preview.write_bytes(jpeg_of(drawn(1, (320, 240)), (400, 300)))
    facts = read_file(path, "damaged.jpg")
    tracemalloc.start()
    started = time.process_time()
    found = read_marks(path, facts, preview)
    spent, (_, peak) = time.process_time() - started, tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert isinstance(found, PhotoMarks)
    assert all(line.isprintable() for line in (found.make, found.software, found.creator_tool, *found.problems))
    assert spent < 5
    assert peak < 60_000_000


@given(st.sampled_from(["image/jpeg", "image/png", "image/webp", "image/heic", "image/avif"]), st.binary(max_size=400) | st.integers(0, 4).map(lambda n: originals()[n]), damage, cuts)
@settings(max_examples=400, deadline=None)
def test_any_bytes_carry_credentials_or_not(type_, raw, changes, cut):
    assert carries(io.BytesIO(damaged(raw, changes, cut) if raw else raw), type_) in (True, False)


@given(damage)
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_damaged_credentials_are_told_as_what_they_are(tmp_path_factory, changes):
    raw = _credited()
    path = tmp_path_factory.getbasetemp() / "credited.jpg"
    path.write_bytes(damaged(raw, changes, 0))
    found = credentials_of(path, "image/jpeg")
    assert found is None or found.state in ("valid", "invalid", "unreadable")
    if path.read_bytes()[-1500:] != raw[-1500:] and found:  # the picture itself was changed: it is signed
        assert found.state != "valid"


@cache
def _credited():
    return signed(picture(size=(160, 120)), certificates())


@given(st.integers(0, 500), st.integers(0, 500))
@settings(max_examples=40, deadline=None)
def test_likeness_goes_both_ways_and_is_whole_with_itself(one, other):
    a, b = fingerprint(drawn(one, (200, 150))), fingerprint(drawn(other, (200, 150)))
    if a and b:
        there, back = likeness(a.grey, [b.grey])[0], likeness(b.grey, [a.grey])[0]
        assert abs(there - back) < 1e-4
        assert likeness(a.grey, [a.grey, b.grey])[0] > 0.9999


def test_a_huge_table_of_metadata_is_not_followed(tmp_path):
    """A directory that says it holds 65,535 entries, and a packet of a megabyte."""
    block = b"Exif\0\0MM\0*\0\0\0\x08" + b"\xff\xff" + bytes(range(256)) * 200
    out = io.BytesIO()
    Image.new("RGB", (32, 32)).save(out, "JPEG", exif=block[:60_000], xmp=b"CreatorTool=" + b"x" * 60_000)
    path = tmp_path / "a.jpg"
    path.write_bytes(out.getvalue())
    started = time.process_time()
    assert isinstance(read_marks(path, read_file(path, "a.jpg"), None), PhotoMarks)
    assert time.process_time() - started < 5
