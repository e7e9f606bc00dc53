"""A bundle as written: a BagIt bag by the library's own validation and by ``sha256sum``; the same bytes every time."""

from __future__ import annotations

import hashlib
import logging
import os
import subprocess
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import bagit
import pytest
from evidence.bundle.parts import PART, Member, ZipPart
from evidence.bundle.writing import journal_of, write_bundle_to
from evidence.errors import Busy, EvidenceError, NoRoom, OutputUnusable, StoreDamaged

from bundles import whole_bundle
from fakes import quiet

INFO = [("External-Identifier", "evidence-ledger/test"), ("Evidence-Bundle-Format", "1")]
DATA = {
    "data/originals/exhibit-0001.bin": bytes(range(256)) * 5000, "data/originals/exhibit-0002.bin": b"second" * 300_000,
    "data/a.txt": b"first\n", "data/empty.txt": b"", "data/z.txt": b"last\n",
}  # fmt: skip


def sealing(tag_manifest: str) -> dict[str, bytes]:
    return {"disclosure.txt": f"sha256 {tag_manifest}\n".encode()}


def members(spoil: Callable[[str], bool] = lambda _path: False) -> list[Member]:
    """Members that break off in the middle where ``spoil`` says so."""

    def reading(path: str, data: bytes) -> Callable[[], Iterator[bytes]]:
        def chunks() -> Iterator[bytes]:
            yield data[:100_000]
            if spoil(path):
                raise KeyboardInterrupt
            yield data[100_000:]

        return chunks

    return [Member(p, len(d), reading(p, d), hashlib.sha256(d).hexdigest()) for p, d in DATA.items()]


def write(out: Path, made: list[Member] | None = None, *, folder: bool = False) -> bytes:
    write_bundle_to(out, members() if made is None else made, INFO, sealing, quiet, folder=folder)
    return b"" if folder else out.read_bytes()


def left(folder: Path) -> list[str]:
    return sorted(f.name for f in folder.iterdir() if f.name.startswith(PART))


@pytest.fixture
def made() -> Path:
    return whole_bundle()


@pytest.fixture
def unpacked(made: Path, tmp_path: Path) -> Path:
    with zipfile.ZipFile(made) as bundle:
        bundle.extractall(tmp_path / "out")
    return tmp_path / "out" / "disclosure"


def test_bagit_and_sha256sum_find_it_whole(unpacked: Path) -> None:
    """RFC 8493: the bagit library of the Library of Congress validates it; so does coreutils."""
    logging.getLogger("bagit").setLevel(logging.CRITICAL)
    bag = bagit.Bag(str(unpacked))
    assert bag.validate()
    assert bag.validate(completeness_only=True)
    assert bag.version_info == (1, 0)
    assert set(bag.algorithms) == {"sha256", "sha512"}
    assert bag.info["Evidence-Bundle-Format"] == "1"
    for name in ("manifest-sha256.txt", "tagmanifest-sha256.txt"):
        subprocess.run(["sha256sum", "-c", "--quiet", "--strict", name], cwd=unpacked, check=True)
    subprocess.run(["sha512sum", "-c", "--quiet", "--strict", "manifest-sha512.txt"], cwd=unpacked, check=True)
    some = next((unpacked / "data/originals").iterdir())
    some.write_bytes(some.read_bytes() + b"x")
    with pytest.raises(bagit.BagValidationError):
        bagit.Bag(str(unpacked)).validate()


def test_the_zip_says_nothing_but_names_sizes_and_hashes(made: Path) -> None:
    with zipfile.ZipFile(made) as bundle:
        names = [i.filename for i in bundle.infolist()]
        assert names == ["disclosure/bagit.txt", *sorted(n for n in names if n != "disclosure/bagit.txt")]
        for item in bundle.infolist():
            assert (item.compress_type, item.date_time, item.extra, item.comment) == (0, (1980, 1, 1, 0, 0, 0), b"", b"")
            assert (item.create_system, item.external_attr >> 16, item.flag_bits) == (3, 0o100644, 0)
        assert bundle.testzip() is None


def test_a_folder_holds_the_same_as_the_zip(tmp_path: Path) -> None:
    write(tmp_path / "b.zip")
    write(tmp_path / "folder", folder=True)
    with zipfile.ZipFile(tmp_path / "b.zip") as bundle:
        packed = {n.removeprefix("disclosure/"): bundle.read(n) for n in bundle.namelist()}
    held = {str(f.relative_to(tmp_path / "folder")): f.read_bytes() for f in (tmp_path / "folder").rglob("*") if f.is_file()}
    assert held == packed
    assert left(tmp_path) == []


@pytest.mark.parametrize("folder", [False, True])
@pytest.mark.parametrize("at", list(DATA))
def test_what_was_broken_off_goes_on_and_gives_the_same_bytes(tmp_path: Path, at: str, folder: bool) -> None:
    whole = write(tmp_path / "whole.zip")
    out = tmp_path / "out"
    with pytest.raises(KeyboardInterrupt):
        write(out, members(lambda path: path == at), folder=folder)
    assert not out.exists()
    assert left(tmp_path) == [f"{PART}out.journal", f"{PART}out.part"]
    read: list[str] = []
    write(out, members(lambda path: bool(read.append(path))), folder=folder)
    kept = [p for p in sorted(DATA) if p < at]
    assert read == [p for p in sorted(DATA) if p not in kept]  # what is whole is not copied again
    assert left(tmp_path) == []
    if not folder:
        assert out.read_bytes() == whole


def test_a_part_that_was_damaged_meanwhile_is_not_taken_for_whole(tmp_path: Path) -> None:
    whole = write(tmp_path / "whole.zip")
    out = tmp_path / "out.zip"
    with pytest.raises(KeyboardInterrupt):
        write(out, members(lambda path: path.endswith("0002.bin")))
    part = tmp_path / f"{PART}out.zip.part"
    data = bytearray(part.read_bytes())
    data[len(data) // 3] ^= 1
    part.write_bytes(data)
    assert write(out) == whole
    for noise in (b"", b"\0", b"{}\n{}\n", b"\xff\xfe", journal_of(out).name.encode()):
        with pytest.raises(KeyboardInterrupt):
            write(out, members(lambda path: path.endswith("0002.bin")))
        journal_of(out).write_bytes(noise)
        assert write(out) == whole


def test_a_part_of_another_choice_is_not_gone_on_with(tmp_path: Path) -> None:
    fewer = [m for m in members() if m.path != "data/a.txt"]
    wanted = write(tmp_path / "fewer.zip", fewer)
    out = tmp_path / "out.zip"
    with pytest.raises(KeyboardInterrupt):
        write(out, members(lambda path: path == "data/z.txt"))
    assert write(out, fewer) == wanted


def test_long_members_take_the_long_form_whether_gone_on_with_or_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """ZIP64 (APPNOTE 4.5.3) from 2 GiB on; here the limit is lowered, so that members of every size lie around it."""
    sizes = [900, 950, 960, 990, 999, 1000, 1001, 5000]
    monkeypatch.setattr(zipfile, "ZIP64_LIMIT", 1000)
    made = [Member.of(f"data/{n:02}.bin", bytes([n]) * size) for n, size in enumerate(sizes)]
    whole = write(tmp_path / "whole.zip", made)
    with pytest.raises(KeyboardInterrupt):
        write(tmp_path / "out.zip", [*made[:-1], Member(made[-1].path, made[-1].size, _broken, made[-1].sha256)])
    assert write(tmp_path / "out.zip", made) == whole
    with zipfile.ZipFile(tmp_path / "out.zip") as bundle:
        assert bundle.testzip() is None


def _broken() -> Iterator[bytes]:
    raise KeyboardInterrupt
    yield b""


@pytest.mark.parametrize("change", [b"", b"short", b"x" * 20_000])
def test_a_file_that_is_not_as_recorded_makes_no_bundle(tmp_path: Path, change: bytes) -> None:
    bad = Member("data/a.txt", 6, lambda: [change], hashlib.sha256(b"first\n").hexdigest())
    with pytest.raises(StoreDamaged, match="is not what the record says it is"):
        write(tmp_path / "out.zip", [bad])
    assert not (tmp_path / "out.zip").exists()


def test_two_programs_do_not_write_the_same_bundle(tmp_path: Path) -> None:
    with ZipPart(tmp_path / "out.zip"), pytest.raises(Busy, match="another program is making this bundle"):
        write(tmp_path / "out.zip")


def test_places_that_cannot_take_a_bundle_are_told_before_long_work(tmp_path: Path) -> None:
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "x").touch()
    (tmp_path / "file").touch()
    (tmp_path / f"{PART}link.part").symlink_to(tmp_path / "file")
    for name, folder, words in (
        ("full", True, "is there already and not an empty folder"), ("file", True, "is there already"), ("full", False, "is a folder"),
        ("nowhere/b.zip", False, "there is no such folder"), ("link", False, "cannot be written"),
    ):  # fmt: skip
        with pytest.raises(OutputUnusable, match=words):
            write(tmp_path / name, folder=folder)
    assert (tmp_path / "file").read_bytes() == b""
    with pytest.raises(EvidenceError, match="such a name cannot be in a bundle"):
        write(tmp_path / "b.zip", [Member.of("data/rules/own/a:b.yaml", b"")])


def test_a_disk_that_is_too_small_says_how_much_is_needed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.statvfs(tmp_path)
    monkeypatch.setattr(os, "statvfs", lambda _path: os.statvfs_result((real.f_bsize, 1, *real[2:4], 1000, *real[5:10])))
    with pytest.raises(NoRoom, match=r"the disk is full; the bundle needs about 3,1\d\d,\d\d\d bytes") as err:
        write(tmp_path / "out.zip")
    assert "goes on where it stopped" in err.value.advice
    assert not (tmp_path / "out.zip").exists()
