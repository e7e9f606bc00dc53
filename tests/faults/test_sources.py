"""What a shop hands in: changed while read, no plain file, huge, damaged, hostile, strangely named.

Fault matrix, rows 21, 22, 25, 26, 27 and 30, through the real store and the real readers of files.
"""

from __future__ import annotations

import hashlib
import io
import os
import socket
import struct
import threading
import unicodedata
import zlib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from evidence.bootstrap import open_desk
from evidence.capture.sources import heap_of, open_handed
from evidence.errors import MistakesFound
from evidence.ports import Desk
from evidence.store import originals_disk
from evidence.usecases.intake import Answers, intake_folder
from evidence.usecases.recheck import recheck
from evidence.usecases.record import HeapResult, open_dossier, record_heap

from conftest import still_desk
from fakes import quiet
from samples import TEXT, small_folder


@pytest.fixture
def van(sqlite_workspace: Path) -> Iterator[Desk]:
    """A desk with the real readers of files and the real previews."""
    with open_desk(sqlite_workspace) as real, still_desk(sqlite_workspace) as desk:
        open_dossier(desk, {"title": "A van", "name": "van", "zone": "Europe/Lisbon"})
        yield replace(desk, read_facts=real.read_facts, previews=real.previews)


def heap(desk: Desk, *paths: Path) -> tuple[HeapResult, list[tuple[str, str]], list[str]]:
    sources, skipped, notes = heap_of(paths)
    return record_heap(desk, "van", sources, {}, quiet), skipped, notes


def notes_of(found: HeapResult) -> dict[str, tuple[str, ...]]:
    return {e.summary: e.notes for e in found.entered}


def sound(desk: Desk, files: int) -> None:
    result = recheck(desk, None, quiet)
    assert result.sound, result
    assert result.remarks == ()
    assert result.ledgers[0].files == files


# ---- row 21 -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("deed", ["append", "rewrite", "cut", "touch"])
def test_a_file_that_is_written_to_while_it_is_read_is_refused(
    van: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, deed: str
) -> None:
    photo = tmp_path / "photo.raw"
    photo.write_bytes(b"p" * 3_000_000)
    (tmp_path / "other.raw").write_bytes(b"o" * 100)
    read, lock, seen = originals_disk._read_into, threading.Lock(), []

    def reading(handle: int, buffer: bytearray) -> int:
        count = read(handle, buffer)
        with lock:
            if count == originals_disk._CHUNK and not seen:  # a whole piece of the large one, not its last
                seen.append(handle)
                if deed == "append":
                    with photo.open("ab") as out:
                        out.write(b"more")
                elif deed == "rewrite":
                    photo.write_bytes(b"q" * 3_000_000)
                elif deed == "cut":
                    os.truncate(photo, 2_000_000)
                else:
                    os.utime(photo, ns=(1, 1))
        return count

    monkeypatch.setattr(originals_disk, "_read_into", reading)
    found, _skipped, _notes = heap(van, photo, tmp_path / "other.raw")
    assert seen
    assert found.refused == (
        ("photo.raw", "was changed while it was being read; close the program that writes to it and try again"),
    )
    assert [e.summary for e in found.entered] == ["other.raw"]
    monkeypatch.undo()
    sound(van, 1)


def test_in_a_folder_such_a_file_is_a_mistake_with_its_line(van: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = small_folder(tmp_path / "folder", TEXT.replace("dossier: van", "dossier: other"))
    read, seen = originals_disk._read_into, []

    def reading(handle: int, buffer: bytearray) -> int:
        count = read(handle, buffer)
        if not seen and b"invoice" in bytes(buffer[:count]):
            seen.append(handle)
            (folder / "invoice.pdf").write_bytes(b"changed")
        return count

    monkeypatch.setattr(originals_disk, "_read_into", reading)
    with pytest.raises(MistakesFound) as err:
        intake_folder(van, open_handed(folder), Answers(), quiet)
    assert str(err.value.mistakes[0]).startswith("folder/dossier.yaml:30:11: invoice: invoice.pdf was changed while it was being read")
    with van.ledgers.reading() as view:
        assert view.find("other") is None


# ---- row 22 -----------------------------------------------------------------------------------------------------


def test_links_pipes_devices_and_sockets_are_told_and_never_opened(van: Desk, tmp_path: Path) -> None:
    home = tmp_path / "heap"
    home.mkdir()
    (home / "a photo").write_bytes(b"photo")
    os.link(home / "a photo", home / "hard link")
    (home / "link").symlink_to(home / "a photo")
    (home / "linked folder").symlink_to(tmp_path)
    (home / "dangling").symlink_to(home / "nowhere")
    os.mkfifo(home / "pipe")
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind(str(home / "socket"))
    wanted = {
        "link": "a symbolic link, which is never followed", "linked folder": "a symbolic link, which is never followed",
        "dangling": "a symbolic link, which is never followed", "pipe": "a named pipe, which is never opened",
        "socket": "a socket, which is never opened",
    }  # fmt: skip
    if os.geteuid() == 0:
        os.mknod(home / "device", 0o600 | 0o020000, os.makedev(1, 5))  # /dev/zero: never ends
        wanted["device"] = "a device, which is never opened"
    found, skipped, _notes = heap(van, home)
    assert [e.summary for e in found.entered] == ["a photo", "hard link"]  # two names, one file
    assert {Path(name).name: why for name, why in skipped} == wanted
    sound(van, 1)


@pytest.mark.parametrize("kind", ["link", "pipe", "folder", "link in the way", "outside", "absolute"])
def test_in_a_folder_they_are_mistakes(van: Desk, tmp_path: Path, kind: str) -> None:
    folder = small_folder(tmp_path / "folder", TEXT.replace("dossier: van", "dossier: other"))
    name, said = {
        "link": ("x", "'x' is a symbolic link, which is never followed (name a plain file in this folder)"),
        "pipe": ("x", "'x' is a named pipe, which is never opened (name a plain file in this folder)"),
        "folder": ("photos", "'photos' is a folder (name a plain file in this folder)"),
        "link in the way": ("x/eyelet.jpg", "'x/eyelet.jpg': 'x' is a symbolic link, which is never followed, not a folder"),
        "outside": ("../folder/invoice.pdf", "'../folder/invoice.pdf' leaves this folder (name a file inside this folder, such as photos/eyelet.jpg)"),
        "absolute": ("/etc/passwd", "'/etc/passwd' is an absolute path (name a file inside this folder, such as photos/eyelet.jpg)"),
    }[kind]  # fmt: skip
    if kind == "pipe":
        os.mkfifo(folder / "x")
    elif kind.startswith("link"):
        (folder / "x").symlink_to(folder / "photos" if "way" in kind else folder / "invoice.pdf")
    (folder / "dossier.yaml").write_text((folder / "dossier.yaml").read_text().replace("file: invoice.pdf", f"file: {name}"))
    with pytest.raises(MistakesFound) as err:
        intake_folder(van, open_handed(folder), Answers(), quiet)
    assert [str(m) for m in err.value.mistakes] == [f"folder/dossier.yaml:30:11: invoice: {said}"]


def test_a_file_swapped_for_a_link_after_it_was_looked_at_is_not_followed(van: Desk, tmp_path: Path) -> None:
    (tmp_path / "photo").write_bytes(b"photo")
    sources, _skipped, _notes = heap_of([tmp_path / "photo"])
    (tmp_path / "photo").unlink()
    (tmp_path / "photo").symlink_to("/etc/passwd")
    found = record_heap(van, "van", sources, {}, quiet)
    assert found.refused == (("photo", "is a symbolic link, which is never followed; hand in the file itself"),)


# ---- rows 25 to 27 -----------------------------------------------------------------------------------------------


def png(width: int, height: int) -> bytes:
    """A grey picture of any size in few bytes (PNG, W3C Recommendation, section 5)."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    packer, rows = zlib.compressobj(9), io.BytesIO()
    for _row in range(height):
        rows.write(packer.compress(b"\0" + b"\0" * ((width + 7) // 8)))
    rows.write(packer.flush())
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)) + chunk(b"IDAT", rows.getvalue()) + chunk(b"IEND", b"")


def jpeg(exif: bytes = b"") -> bytes:
    from PIL import Image

    out = io.BytesIO()
    Image.effect_noise((320, 240), 60).convert("RGB").save(out, "JPEG", **({"exif": exif} if exif else {}))
    return out.getvalue()


def tiff(*entries: tuple[int, int, int, int]) -> bytes:
    """An EXIF block with one directory of (tag, type, count, value or offset)."""
    directory = b"".join(struct.pack("<HHII", *entry) for entry in entries)
    return b"Exif\0\0II*\0\x08\0\0\0" + struct.pack("<H", len(entries)) + directory + b"\0\0\0\0"


STORED_ALL_THE_SAME = {
    "huge.png": (lambda: png(20_000, 20_000), "no preview: too large"),
    "wide.png": (lambda: png(12_000, 12_000), "no preview: too large"),
    "half.jpg": (lambda: jpeg()[: len(jpeg()) // 2], ""),
    "nearly.jpg": (lambda: jpeg()[: len(jpeg()) * 98 // 100], ""),
    "empty.jpg": (lambda: b"", "the file is empty"),
    "word.jpg": (lambda: b"this is no photo at all", "the name ends in .jpg"),
    "picture.pdf": (lambda: png(4, 4), "the name ends in .pdf, the content is image/png"),
    "loop.jpg": (lambda: jpeg(tiff((0x8769, 4, 1, 8))), ""),
    "count.jpg": (lambda: jpeg(tiff((0x9003, 2, 0xFFFFFFFF, 8), (0x0110, 2, 0x7FFFFFFF, 0x7FFFFFFF))), ""),
    "zero.jpg": (lambda: jpeg(tiff((0x8825, 4, 1, 26)) + struct.pack("<HHHII", 1, 2, 5, 3, 60) + b"\0" * 60), ""),
    "text.jpg": (lambda: jpeg(tiff((0x010F, 2, 20, 30)) + b"\xff\xfe\x1b[31m\x00\x01" * 4), ""),
    "no-time.jpg": (jpeg, "no capture time in the file"),
    "hostile.heic": (lambda: b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\xff" * 4000, "HEIC not read"),
    "cut.heic": (lambda: b"\0\0\0\x18ftypheic\0\0\0\0mif1heic\0\0\0\x20meta", "HEIC not read"),
    "broken.pdf": (lambda: b"%PDF-1.7\n" + b"1 0 obj" * 500, ""),
    "film.mp4": (lambda: b"\0\0\0\x18ftypisom\0\0\0\0isomiso2" + b"\xff" * 4000, ""),
}


def test_whatever_a_picture_is_it_is_stored_and_hashed(van: Desk, tmp_path: Path) -> None:
    made = {name: make() for name, (make, _said) in STORED_ALL_THE_SAME.items()}
    assert len(made["huge.png"]) < 100_000
    for name, data in made.items():
        (tmp_path / name).write_bytes(data)
    found, skipped, _notes = heap(van, *(tmp_path / name for name in made))
    assert (found.refused, skipped) == ((), [])
    with van.ledgers.reading() as view:
        (ledger,) = view.ledgers()
        for number, (name, data) in enumerate(made.items(), 1):
            known = view.named(ledger, f"exhibit {number}")
            assert known
            (holder,) = view.holders(hashlib.sha256(data).hexdigest())
            assert (holder.subject, holder.summary) == (known.subject, name)
            assert Path(van.originals.path(hashlib.sha256(data).hexdigest())).read_bytes() == data
    said = notes_of(found)
    from evidence.usecases.looking import detail

    for number, (name, (_make, wanted)) in enumerate(STORED_ALL_THE_SAME.items(), 1):
        notes = [*said[name], *detail(van, "van", f"exhibit {number}").body["read"].get("notes", [])]
        assert any(wanted in note for note in notes), (name, notes)
    sound(van, len(made))


# ---- row 30 -----------------------------------------------------------------------------------------------------

NAMES = {
    "Schlüssel.txt": unicodedata.normalize("NFC", "Schlüssel.txt").encode(), "NFD": unicodedata.normalize("NFD", "Schlüssel.txt").encode(),
    "photo": b"photo.txt", "PHOTO": b"PHOTO.txt", "rtl": "photo\u202egpj.txt".encode(), "newline": b"two\nlines.txt",
    "escape": b"\x1b[31mred.txt", "latin": b"Schl\xfcssel.txt", "long": b"n" * 251 + b".txt", "blank": b" ", "dash": b"-rf", "emoji": "🔧.txt".encode(),
}  # fmt: skip


def test_any_name_is_stored_as_given_and_names_alike_are_told(van: Desk, tmp_path: Path) -> None:
    from evidence.usecases.looking import detail

    home = os.fsencode(tmp_path / "heap")
    os.mkdir(home)
    for number, raw in enumerate(NAMES.values()):
        with open(os.path.join(home, raw), "wb") as out:
            out.write(f"file {number}".encode())
    os.mkdir(os.path.join(home, b"inner"))
    with open(os.path.join(home, b"inner", b"photo.txt"), "wb") as out:
        out.write(b"another photo")
    found, skipped, notes = heap(van, tmp_path / "heap")
    assert (len(found.entered), found.refused, skipped) == (len(NAMES) + 1, (), [])
    files = [detail(van, "van", f"exhibit {n}").body["file"] for n in range(1, len(found.entered) + 1)]
    kept = sorted(bytes.fromhex(f["name_hex"]) if "name_hex" in f else f["name"].encode() for f in files)
    assert kept == sorted([*NAMES.values(), b"photo.txt"])
    assert [f["name"] for f in files if "name_hex" in f] == ["Schl\\xfcssel.txt"]
    assert any("differ only in Unicode form" in n for n in notes)
    assert any("differ only in capital letters" in n for n in notes)
    sound(van, len(files))


@pytest.mark.parametrize("raw", [n for n in NAMES.values() if n not in (b"Schl\xfcssel.txt", b" ")], ids=list(map(repr, range(10))))
def test_what_is_shown_of_a_name_acts_on_nothing(raw: bytes) -> None:
    from evidence.cli.common import shown

    text = shown(raw.decode())
    assert not any(unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") and c not in "\n\t" for c in text)
