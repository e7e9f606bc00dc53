"""EXIF by CIPA DC-008: tag numbers and forms."""

import pytest
from evidence.capture.reading import read_file

from foreign_files import exif_of, picture


def facts_of(put, **tags):
    return read_file(put("a.jpg", picture(exif=exif_of(**tags))), "a.jpg")


def test_all_that_a_photo_says(put):
    facts = facts_of(
        put,
        ifd0={0x010F: "Maker", 0x0110: "Maker M1", 0x0112: 6, 0x0131: "1.2", 0x0132: "2026:03:05 09:00:00"},
        exif={0x9003: "2026:03:04 10:11:12", 0x9291: "007", 0x9011: "+01:00"},
        gps={1: "S", 2: (48.0, 51.0, 29.6), 3: "W", 4: (2.0, 17.0, 40.2), 5: b"\x01", 6: 12.34,
             7: (9.0, 11.0, 12.5), 29: "2026:03:04"},
    )  # fmt: skip
    assert facts.captured.given == "2026-03-04T10:11:12.007+01:00"
    assert facts.captured.earliest == "2026-03-04T09:11:12.007000Z"
    assert facts.changed.given == "2026-03-05T09:00:00"
    assert facts.gps_time.given == "2026-03-04T09:11:12.500Z"
    # 48 + 51/60 + 29.6/3600 and 2 + 17/60 + 40.2/3600, south and west negative, below the sea
    assert (facts.place.latitude, facts.place.longitude, facts.place.altitude) == ("-48.8582222", "-2.2945", "-12.3")
    assert (facts.device, facts.software, facts.orientation) == ("Maker M1", "1.2", 6)
    assert (facts.width, facts.height, facts.notes) == (64, 48, ())


def _tiff_tags():
    from PIL.TiffImagePlugin import ImageFileDirectory_v2

    tags = ImageFileDirectory_v2()
    tags[0x0112], tags[0x8769] = 3, {0x9003: "2026:03:04 10:11:12"}
    return {"tiffinfo": tags}  # written with exif= the inner directory would be lost


@pytest.mark.parametrize("kind", ["PNG", "WEBP", "TIFF"])
def test_other_pictures_carry_the_same_tags(put, kind):
    block = exif_of(ifd0={0x0112: 3}, exif={0x9003: "2026:03:04 10:11:12"})
    raw = picture(kind, **(_tiff_tags() if kind == "TIFF" else {"exif": block}))
    facts = read_file(put("a." + kind.lower(), raw), "a." + kind.lower())
    assert facts.type == f"image/{kind.lower()}"
    assert facts.captured.given == "2026-03-04T10:11:12"
    assert not facts.captured.zone_known
    assert (facts.orientation, facts.width, facts.height) == (3, 64, 48)
    assert facts.reader.startswith("Pillow ")


@pytest.mark.parametrize(
    ("lossless", "size"), [(True, (1, 1)), (True, (300, 17)), (False, (300, 17)), (False, (3, 999))]
)
def test_sizes_of_webp_in_its_forms(put, lossless, size):
    facts = read_file(put("a.webp", picture("WEBP", size=size, lossless=lossless)), "a.webp")
    assert (facts.width, facts.height) == size


def test_without_offset_never_utc(put):
    facts = facts_of(put, exif={0x9003: "2026:03:04 10:11:12", 0x9010: "+05:00", 0x9012: "+05:00"})
    assert facts.captured.given == "2026-03-04T10:11:12"  # the other two offsets belong to other tags
    assert facts.captured.span.width.total_seconds() == 26 * 3600 + 1


@pytest.mark.parametrize("stamp", ["0000:00:00 00:00:00", "    :  :     :  :  ", ""])
def test_an_unset_time_is_none(put, stamp):
    facts = facts_of(put, exif={0x9003: stamp})
    assert facts.captured is None
    assert facts.notes == ("no capture time in the file",)


@pytest.mark.parametrize(
    ("stamp", "note"),
    [
        ("1980:01:01 00:00:00", "year outside 1990 to 2099"),
        ("2100:01:01 00:00:00", "year outside 1990 to 2099"),
        ("2026:02:30 10:00:00", "does not exist"),
        ("2026:01:01 25:00:00", "does not exist"),
        ("yesterday", "is not a date and time"),
    ],
)
def test_an_impossible_time_is_noted_and_not_used(put, stamp, note):
    facts = facts_of(put, exif={0x9003: stamp})
    assert facts.captured is None
    assert [n for n in facts.notes if note in n]


def test_a_bad_offset_leaves_the_zone_unknown(put):
    facts = facts_of(put, exif={0x9003: "2026:03:04 10:11:12", 0x9011: "east"})
    assert facts.captured.given == "2026-03-04T10:11:12"
    assert [n for n in facts.notes if "the zone stays unknown" in n]


@pytest.mark.parametrize(
    ("gps", "note"),
    [
        ({1: "N", 2: (0.0, 0.0, 0.0), 3: "E", 4: (0.0, 0.0, 0.0)}, "position 0, 0"),
        ({1: "N", 2: (91.0, 0.0, 0.0), 3: "E", 4: (1.0, 0.0, 0.0)}, "does not exist on Earth"),
        ({1: "N", 2: (1.0, 0.0, 0.0), 3: "E", 4: (181.0, 0.0, 0.0)}, "does not exist on Earth"),
        ({2: (1.0, 0.0, 0.0), 4: (1.0, 0.0, 0.0)}, "without north or south"),
        ({1: "N", 2: (1.0, 2.0), 3: "E", 4: (1.0, 0.0, 0.0)}, "not in degrees"),
    ],
)
def test_no_place(put, gps, note):
    facts = facts_of(put, exif={0x9003: "2026:03:04 10:11:12"}, gps=gps)
    assert facts.place is None
    assert [n for n in facts.notes if note in n]


def test_text_of_the_device_is_made_fit_to_show(put):
    facts = facts_of(put, ifd0={0x010F: "Ma\x1b[31mker\x00", 0x0110: "M\n1"})
    assert facts.device == "Ma [31mker M 1"


def test_orientation_that_is_none(put):
    facts = facts_of(put, ifd0={0x0112: 9})
    assert facts.orientation is None
    assert "orientation 9 is none of 1 to 8" in facts.notes


def _tiff_block(entries, following=0):
    """A little-endian EXIF block of raw directory entries (tag, type, count, value)."""
    import struct

    body = b"".join(struct.pack("<HHII", *e) for e in entries)
    return b"Exif\0\0II*\0\x08\0\0\0" + struct.pack("<H", len(entries)) + body + struct.pack("<I", following)


@pytest.mark.parametrize(
    "block",
    [
        _tiff_block([(0x8769, 4, 1, 8), (0x8825, 4, 1, 8)], following=8),  # directories that point at themselves
        _tiff_block([(0x0132, 2, 0xFFFFFFFF, 26), (0x010F, 2, 0x7FFFFFFF, 26)]),  # 4 GB of text
        _tiff_block([(0x0112, 5, 1, 26)]) + b"\0" * 8,  # 0/0
        _tiff_block([(0x8769, 4, 1, 0xFFFFFFF0)]),  # far outside
        _tiff_block([(0x9003, 77, 5, 5)] * 500),
        b"Exif\0\0",
        b"Exif\0\0II*\0\xff\xff\xff\xff",
        b"Exif\0\0MM\0*",
    ],
)
def test_loops_huge_counts_and_nonsense_are_read_past(put, block):
    facts = read_file(put("a.jpg", picture(exif=block)), "a.jpg")
    assert (facts.width, facts.height) == (64, 48)
    assert "no capture time in the file" in facts.notes


def test_png_metadata_behind_the_picture_are_found_without_decoding(put):
    """PNG third edition, 11.3.4.5: eXIf may stand after IDAT. The picture data here are rubbish."""
    import struct
    import zlib

    def chunk(name, body):
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    block = exif_of(exif={0x9003: "2026:03:04 10:11:12"}).tobytes()[6:]
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", 70_000, 50_000, 8, 2, 0, 0, 0))
    raw = b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", b"rubbish") + chunk(b"eXIf", block) + chunk(b"IEND", b"")
    facts = read_file(put("a.png", raw), "a.png")
    assert facts.captured.given == "2026-03-04T10:11:12"
    assert (facts.width, facts.height) == (70_000, 50_000)
    assert facts.preview == "none"


@pytest.mark.parametrize("block", [b"", b"Exif\0\0", b"\0" * 50, b"Exif\0\0II*\0\x08\0\0\0\x05\0" + b"\xff" * 20])
def test_a_damaged_block_of_a_heic_is_noted_or_empty(block):
    from evidence.capture.photo import read_exif_bytes

    fields = {"notes": []}
    read_exif_bytes(block, fields)
    assert set(fields) <= {"notes", "orientation"}
    assert all(n.startswith("metadata damaged") for n in fields["notes"])


def test_gps_time_that_is_none(put):
    gps = {29: "2026:03:04"}
    assert facts_of(put, gps={**gps, 7: (9.0, 70.0, 1.0)}).gps_time is None
    assert facts_of(put, gps={**gps, 7: (9.5, 7.0, 1.0)}).gps_time is None
    assert facts_of(put, gps={7: (9.0, 7.0, 1.0)}).gps_time is None
    noted = facts_of(put, gps={29: "2026:02:30", 7: (9.0, 7.0, 1.0)})
    assert noted.gps_time is None
    assert [n for n in noted.notes if "GPS time" in n]
