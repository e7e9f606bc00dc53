"""Fingerprints and the index of them."""

import io
import multiprocessing
import os
import zlib

import pytest
from evidence.capture import likeness_index
from evidence.capture.likeness import BITS, LIKENESS, SIDE, fingerprint, fingerprint_of, hash_of, likeness
from evidence.capture.likeness_index import LikenessIndex
from evidence.capture.picture import jpeg_of
from evidence.capture.preview import make_preview
from evidence.capture.reading import read_file
from evidence.model.exhibit import FileFacts
from PIL import Image

from scenes import drawn

PHOTO = FileFacts(media="photo", type="image/jpeg", reader="test")
PAPER = FileFacts(media="document", type="application/pdf", reader="test")


def quiet(_stage, _done, _of):
    """Progress that nobody watches."""


def saved(image, quality):
    out = io.BytesIO()
    image.save(out, "JPEG", quality=quality)
    return Image.open(io.BytesIO(out.getvalue())).convert("RGB")


def cut(image, left, top, right, bottom):
    w, h = image.size
    return image.crop((round(w * left), round(h * top), round(w * (1 - right)), round(h * (1 - bottom))))


class Shelf:
    """Previews made of pictures in memory."""

    def __init__(self, folder):
        self.folder = folder
        folder.mkdir(exist_ok=True)

    def path(self, sha256, size="screen"):
        path = self.folder / f"{sha256}-{size}.jpg"
        return path if path.exists() else None

    def put(self, number, image):
        (self.folder / f"{digest(number)}-screen.jpg").write_bytes(jpeg_of(image.copy(), (400, 300)))
        return digest(number)


def digest(number):
    import hashlib

    return hashlib.sha256(str(number).encode()).hexdigest()


@pytest.fixture
def shelf(tmp_path):
    return Shelf(tmp_path / "previews")


@pytest.fixture
def index(shelf):
    return LikenessIndex(shelf.folder, shelf)


def test_hashes_of_gradients_follow_from_the_definition():
    """Row bits tell a pixel darker than its right neighbour, column bits one darker than that below: N. Krawetz,
    "Kind of like that" (2013), in the order of the dhash library, rows first."""
    along = Image.linear_gradient("L").rotate(90)  # from left to right
    if along.getpixel((0, 128)) > along.getpixel((255, 128)):
        along = along.rotate(180)
    down = Image.linear_gradient("L")
    assert hash_of(along) == (2**64 - 1) << 64
    assert hash_of(down) == 2**64 - 1


def test_the_same_picture_smaller_compressed_and_cropped_is_alike_and_others_are_not():
    changes = (
        lambda i: i.resize((200, 150)), lambda i: saved(i.resize((400, 300)), 50), lambda i: cut(i, 0.05, 0, 0, 0),
        lambda i: cut(i, 0.05, 0.05, 0.05, 0.05), lambda i: cut(i, 0, 0.025, 0.05, 0.025),
    )  # fmt: skip
    originals = [fingerprint(drawn(n)) for n in range(16)]
    for change in changes:
        copies = [fingerprint(change(drawn(n))) for n in range(16)]
        near = [min((a ^ b).bit_count() for a, b in _pairs(o, c)) for o, c in zip(originals, copies, strict=True)]
        like = [likeness(o.grey, [c.grey])[0] for o, c in zip(originals, copies, strict=True)]
        assert sum(b <= BITS and v >= LIKENESS for b, v in zip(near, like, strict=True)) >= 15
    greys = [o.grey for o in originals]
    for n, grey in enumerate(greys):
        others = likeness(grey, greys[:n] + greys[n + 1 :])
        assert max(others) < LIKENESS


def _pairs(one, other):
    yield from ((one.hashes[0], h) for h in other.hashes)
    yield from ((h, other.hashes[0]) for h in one.hashes)


def test_a_picture_is_wholly_like_itself_and_likeness_goes_both_ways():
    one, two = fingerprint(drawn(1)).grey, fingerprint(cut(drawn(1), 0.05, 0, 0, 0.05)).grey
    assert likeness(one, [one]) == [pytest.approx(1.0, abs=1e-5)]
    assert likeness(one, [two])[0] == pytest.approx(likeness(two, [one])[0], abs=1e-5)
    assert likeness(one, []) == []


def test_next_to_nothing_has_no_fingerprint(tmp_path):
    assert fingerprint(Image.new("L", (400, 300), 240)) is None
    assert fingerprint(Image.new("RGB", (1, 1))) is None
    with pytest.raises(FileNotFoundError):
        fingerprint_of(tmp_path / "absent.jpg")


def test_a_damaged_preview_has_none(tmp_path):
    (tmp_path / "p.jpg").write_bytes(b"\xff\xd8\xff\xe0nothing more")
    assert fingerprint_of(tmp_path / "p.jpg") is None


def test_pictures_of_cameras_stored_in_eight_ways_are_alike(camera_files, shelf, index):
    """Pillow's own series: one picture, turned by its metadata. Upright they are near the same."""
    names = [f"hopper_orientation_{n}.jpg" for n in range(2, 9)]
    for n, name in enumerate(names):
        facts = read_file(camera_files / name, name)
        assert make_preview(camera_files / name, facts, shelf.folder / f"{digest(n)}-screen.jpg", box=(400, 300)) == ""
    index.add([(digest(n), PHOTO) for n in range(len(names))], quiet)
    assert len(index.alike([digest(0)])) == len(names) - 1


def test_what_was_added_is_found_each_pair_once_and_never_itself(shelf, index):
    files = [shelf.put(n, drawn(n)) for n in range(12)]
    copy = shelf.put("copy", saved(cut(drawn(3), 0, 0.04, 0, 0), 50))
    index.add([(s, PHOTO) for s in [*files, copy]], quiet)
    (pair,) = index.alike([*files, copy])
    assert {pair.sha256, pair.other} == {files[3], copy}
    assert pair.bits <= BITS
    assert LIKENESS <= pair.likeness <= 1
    assert index.alike([copy]) == [pair]
    assert index.alike([files[0]]) == []
    assert index.alike([digest("never added")]) == []
    assert index.unknown(frozenset([*files, digest("never added")])) == {digest("never added")}


def test_another_program_run_reads_the_same(shelf, index):
    files = [shelf.put(n, drawn(n)) for n in (1, 2)]
    shelf.put(3, drawn(1).resize((300, 225)))
    index.add([(s, PHOTO) for s in [*files, digest(3)]], quiet)
    again = LikenessIndex(shelf.folder, shelf)
    assert again.alike([files[0]]) == index.alike([files[0]]) != []


def test_documents_and_blank_pictures_are_known_and_like_nothing(shelf, index):
    blank = shelf.put("blank", Image.new("RGB", (400, 300), "white"))
    other = shelf.put("other blank", Image.new("RGB", (400, 300), "white"))
    index.add([(blank, PHOTO), (other, PHOTO), (digest("paper"), PAPER)], quiet)
    assert index.unknown(frozenset([blank, other, digest("paper")])) == frozenset()
    assert index.alike([blank, other, digest("paper")]) == []


def test_a_photo_whose_preview_comes_later_is_taken_in_then(shelf, index):
    index.add([(digest(1), PHOTO)], quiet)
    rows = os.path.getsize(shelf.folder / "likeness.rows")
    index.add([(digest(1), PHOTO)], quiet)
    assert os.path.getsize(shelf.folder / "likeness.rows") == rows
    shelf.put(1, drawn(1))
    shelf.put(2, drawn(1))
    index.add([(digest(1), PHOTO), (digest(2), PHOTO)], quiet)
    assert len(index.alike([digest(1)])) == 1


@pytest.mark.parametrize("place", ["first bit of a file's hash", "a picture's hash", "its flags", "check"])
def test_a_row_with_one_changed_bit_is_passed_over_and_made_again(shelf, index, place):
    files = [shelf.put(n, drawn(n)) for n in (1, 2)]
    twin = shelf.put("twin", drawn(1))
    index.add([(s, PHOTO) for s in [*files, twin]], quiet)
    offset = {"first bit of a file's hash": 0, "a picture's hash": 40, "its flags": 128, "check": 143}[place]
    path = shelf.folder / "likeness.rows"
    raw = bytearray(path.read_bytes())
    raw[likeness_index._ROW * 3 + offset] ^= 1  # row 0 is the heading; 3 is the twin
    path.write_bytes(raw)
    fresh = LikenessIndex(shelf.folder, shelf)
    assert fresh.unknown(frozenset([*files, twin])) == {twin}
    assert fresh.alike([files[0]]) == []
    fresh.add([(twin, PHOTO)], quiet)
    assert len(fresh.alike([files[0]])) == 1


def spoil(path, offset):
    raw = bytearray(path.read_bytes())
    raw[offset] ^= 1
    path.write_bytes(raw)


@pytest.mark.parametrize("which", [0, 1])
def test_a_damaged_grey_picture_is_not_compared_and_made_again_in_its_place(shelf, index, which):
    files = [shelf.put(n, drawn(1)) for n in (1, 2)]
    index.add([(s, PHOTO) for s in files], quiet)
    before = index.alike([files[0]])
    spoil(shelf.folder / "likeness.grey", SIDE * SIDE * (which + 1) + 5)
    fresh = LikenessIndex(shelf.folder, shelf)
    assert fresh.unknown(frozenset(files)) == frozenset()  # nothing is read before it is compared
    assert fresh.alike([files[0]]) == []
    assert fresh.damaged == fresh.unknown(frozenset(files)) == {files[which]}
    fresh.add([(s, PHOTO) for s in files], quiet)
    assert (fresh.mended, fresh.damaged) == (1, frozenset())
    assert fresh.alike([files[0]]) == before != []
    assert LikenessIndex(shelf.folder, shelf).alike([files[0]]) == before
    sizes = [os.path.getsize(shelf.folder / n) for n in ("likeness.rows", "likeness.grey")]
    assert sizes == [likeness_index._ROW * 3, SIDE * SIDE * 3]


def test_adding_finds_the_damaged_grey_picture_of_a_file_that_is_named(shelf, index):
    files = [shelf.put(n, drawn(1)) for n in (1, 2)]
    index.add([(s, PHOTO) for s in files], quiet)
    spoil(shelf.folder / "likeness.grey", SIDE * SIDE + 5)
    fresh = LikenessIndex(shelf.folder, shelf)
    fresh.add([(s, PHOTO) for s in files], quiet)
    assert fresh.mended == 1
    assert len(fresh.alike([files[0]])) == 1


def test_a_damaged_row_is_written_over_and_counted_once_whoever_comes_first(shelf, index):
    files = [shelf.put(n, drawn(n)) for n in range(3)]
    index.add([(s, PHOTO) for s in files], quiet)
    spoil(shelf.folder / "likeness.rows", likeness_index._ROW * 2 + 50)
    fresh, new = LikenessIndex(shelf.folder, shelf), shelf.put("new", drawn(1))
    fresh.add([(new, PHOTO)], quiet)
    fresh.add([(s, PHOTO) for s in files], quiet)
    assert fresh.mended == 1
    assert fresh.unknown(frozenset([*files, new])) == frozenset()
    assert [{p.sha256, p.other} for p in fresh.alike([new])] == [{new, files[1]}]
    assert os.path.getsize(shelf.folder / "likeness.rows") == likeness_index._ROW * 5
    untouched = LikenessIndex(shelf.folder, shelf)
    untouched.add([(s, PHOTO) for s in [*files, new]], quiet)
    assert untouched.mended == 0


def test_a_picture_that_cannot_be_read_is_asked_again_when_it_can(shelf, index):
    files = [shelf.put(n, drawn(1)) for n in (1, 2)]
    place = shelf.path(files[0])
    whole = place.read_bytes()
    place.write_bytes(whole[: len(whole) // 3])
    index.add([(s, PHOTO) for s in files], quiet)
    assert index.alike(files) == []
    place.write_bytes(whole)
    index.add([(s, PHOTO) for s in files], quiet)
    assert len(index.alike(files)) == 1


@pytest.mark.parametrize("name", ["likeness.rows", "likeness.grey"])
@pytest.mark.parametrize("lost", [1, 100, 700])
def test_a_torn_end_is_cut_off_and_filled_again(shelf, index, name, lost):
    files = [shelf.put(n, drawn(n)) for n in range(4)]
    index.add([(s, PHOTO) for s in files], quiet)
    path = shelf.folder / name
    path.write_bytes(path.read_bytes()[:-lost])
    fresh = LikenessIndex(shelf.folder, shelf)
    gone = fresh.unknown(frozenset(files))
    assert gone
    fresh.add([(s, PHOTO) for s in files], quiet)
    assert LikenessIndex(shelf.folder, shelf).unknown(frozenset(files)) == frozenset()
    sizes = [os.path.getsize(shelf.folder / n) for n in ("likeness.rows", "likeness.grey")]
    assert sizes == [likeness_index._ROW * 5, SIDE * SIDE * 5]


@pytest.mark.parametrize("start", [b"", b"x", b"likeness of pictures, version 9\n".ljust(400, b"\0")])
def test_a_file_that_is_not_ours_is_begun_again(shelf, index, start):
    (shelf.folder / "likeness.rows").write_bytes(start)
    one = shelf.put(1, drawn(1))
    assert index.unknown(frozenset([one])) == {one}
    index.add([(one, PHOTO)], quiet)
    assert index.unknown(frozenset([one])) == frozenset()


def test_a_disk_that_refuses_leaves_it_for_the_next_time(shelf, index, monkeypatch):
    one = shelf.put(1, drawn(1))

    def full(*_):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(likeness_index, "_put", full)
        index.add([(one, PHOTO)], quiet)
    assert index.unknown(frozenset([one])) == {one}
    index.add([(one, PHOTO)], quiet)
    assert index.unknown(frozenset([one])) == frozenset()


def test_two_programs_add_at_once_and_nothing_is_lost(shelf, tmp_path):
    groups = [[shelf.put(f"{g} {n}", drawn(n)) for n in range(6)] for g in (0, 1)]
    start = multiprocessing.get_context("spawn")
    workers = [start.Process(target=_adds, args=(shelf.folder, group)) for group in groups]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join(120)
    assert [w.exitcode for w in workers] == [0, 0]
    index = LikenessIndex(shelf.folder, shelf)
    assert index.unknown(frozenset(groups[0] + groups[1])) == frozenset()
    assert len(index.alike(groups[0])) == 6


def _adds(folder, files):
    index = LikenessIndex(folder, Shelf(folder))
    for file in files:
        index.add([(file, PHOTO)], quiet)


def test_the_check_word_by_numbers_is_that_by_arrays():
    import numpy as np

    print_ = fingerprint(drawn(5))
    line = likeness_index._line(bytes(range(32)), print_, seen=True)
    assert zlib.crc32(print_.grey) == int.from_bytes(line[128:136], "little")
    table = np.frombuffer(line, "<u8").reshape(1, -1)
    assert likeness_index._good(table).tolist() == [True]
    for bit in range(len(line) * 8):
        changed = bytearray(line)
        changed[bit // 8] ^= 1 << bit % 8
        assert not likeness_index._good(np.frombuffer(bytes(changed), "<u8").reshape(1, -1))[0]
