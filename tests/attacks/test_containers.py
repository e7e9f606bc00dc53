"""Hostile zips and folders (fault matrix, rows 23 and 24), as families: every name, every malformation, at every place."""

from __future__ import annotations

import os
import zipfile
from pathlib import Path

import pytest
from bag_kit import SHOP, Receiver, Sealed, packed, packed_members, resealed
from evidence.bundle.alone.opening import LONGEST_NAME, opened, printable
from evidence.bundle.reader import open_bundle
from evidence.review.verdict import Verdict

NAMES = {
    "parent": "disclosure/../evil", "parents": "../../evil", "inside": "disclosure/data/../../../evil", "absolute": "/etc/evil",
    "drive": "C:/evil", "drive and backslash": "C:\\evil", "backslash": "disclosure\\data\\evil", "backslash inside": "disclosure/data/..\\evil",
    "stream": "disclosure/data/README.txt:evil", "nul": "disclosure/data/a\0.txt", "line end": "disclosure/data/a\nb",
    "control": "disclosure/data/\x1b[2J", "direction": "disclosure/data/\u202egpj.exe", "dot": "disclosure/./evil", "two slashes": "disclosure/data//evil",
    "folder": "disclosure/data/evil/", "top": "disclosure/", "nothing": "", "elsewhere": "other/evil",
    "300 characters": "disclosure/data/" + "n" * 300, "300 bytes": "disclosure/data/" + "\u00e9" * 150,
    **{word: f"disclosure/data/{word}" for word in ("CON", "con.txt", "PRN", "aux", "NUL.jpg", "COM1", "com9.log", "LPT1", "lpt0.x")},
    "ends in a dot": "disclosure/data/x.", "ends in a space": "disclosure/data/x ", "not composed": "disclosure/data/e\u0301.txt",
    "not UTF-8": "disclosure/data/\udcff.txt", "other case": "disclosure/data/readme.TXT", "case of the folder": "DISCLOSURE/data/x",
    "sharp s": "disclosure/data/STRASSE", "other form": "disclosure/data/\u212b.txt",
}  # fmt: skip
TWINS = {"sharp s": "disclosure/data/stra\u00dfe"}


def _verdict(data: bytes, receiver: Receiver) -> Verdict:
    bundle = receiver.folder / "attacked.zip"
    bundle.write_bytes(data)
    return receiver.verdict(bundle)


@pytest.mark.parametrize("which", NAMES)
@pytest.mark.parametrize("listed", [False, True], ids=["unlisted", "sealed by the shop itself"])
def test_a_hostile_name_is_refused_and_the_rest_is_still_reported(sealed: Sealed, receiver: Receiver, which: str, listed: bool) -> None:
    """Even a bundle whose maker lists and seals such a name does not pass."""
    name = NAMES[which]
    files = dict(sealed.files)
    if listed and name.startswith("disclosure/"):
        inside = name.removeprefix("disclosure/")
        files = resealed({n: d for n, d in {**files, inside: b"x"}.items() if n.isprintable() and "\udcff" not in n}, SHOP)
        files.pop(inside, None)
    members = [(f"disclosure/{n}", files[n]) for n in files]
    members += [(twin, b"x") for twin in [TWINS.get(which)] if twin]
    # In their due order: nothing but the name may be what is wrong.
    data = packed_members(sorted([*members, (name, b"x")], key=lambda m: (m[0] != "disclosure/bagit.txt", m[0])))
    before = {p.name for p in receiver.folder.iterdir()}
    verdict = _verdict(data, receiver)
    assert (verdict.exit_code, receiver.alone(receiver.folder / "attacked.zip")) == (1, 1)
    assert {p.name for p in receiver.folder.iterdir()} - before <= {"attacked.zip", "verify_of_a_bundle.py"}
    written = name.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")
    told = {printable(written), printable(written.removeprefix("disclosure/"))}
    told |= {"data/README.txt"} if which == "other case" else {"data/stra\u00dfe"} if which in TWINS else set()  # of two, the later
    assert told & {f.item for f in verdict.faults if f.check == "Z2"}, verdict.faults
    assert verdict.found.files_read >= 29  # everything that could be read was
    assert not any("\n" in f.item or "\x1b" in f.item for f in verdict.faults)


def _last(**changes: int):
    return lambda sealed: packed_members([(f"disclosure/{n}", sealed.files[n]) for n in sorted(sealed.files, key=lambda n: (n != "bagit.txt", n))], **changes)


def _bomb(sealed: Sealed) -> bytes:
    """200 MB of zeros in a compressed member."""
    import io

    out = io.BytesIO(sealed.data)
    with zipfile.ZipFile(out, "a", zipfile.ZIP_DEFLATED) as target, target.open("disclosure/data/zeros.bin", "w") as sink:
        for _ in range(200):
            sink.write(bytes(1 << 20))
    assert len(out.getvalue()) < len(sealed.data) + 300_000
    return out.getvalue()


MALFORMED = {
    "bytes in front": lambda s: b"x" * 350 + s.data, "one byte in front": lambda s: b"\0" + s.data, "bytes after": lambda s: s.data + b"x" * 100,
    "one byte after": lambda s: s.data + b"\0", "a comment": lambda s: s.data[:-2] + b"\x05\x00hello", "cut in half": lambda s: s.data[: len(s.data) // 2],
    "without its last byte": lambda s: s.data[:-1], "without its end": lambda s: s.data[:-22], "empty": lambda s: b"", "no zip": lambda s: b"%PDF-1.7 nothing",
    "only an end": lambda s: s.data[-22:], "two ends": lambda s: s.data + s.data[-22:], "bomb": _bomb,
    "compressed": _last(method=8), "encrypted": _last(flags=1), "with a data descriptor": _last(flags=8), "method that is none": _last(method=99),
    "link": _last(attributes=0o120777), "folder by its mode": _last(attributes=0o40755), "device": _last(attributes=0o20666), "no mode": _last(attributes=0),
    "overlap with the first": _last(offset=0), "offset beyond the end": _last(offset=1 << 31), "size too large": _last(size=10_000),
    "size too small": _last(size=1), "size of 4 GB": _last(size=0xFFFFFFFF), "two sizes": _last(packed=1), "false check sum": _last(crc=12345),
    "count of 12000": _last(count=12_000), "count of 65535": _last(count=0xFFFF), "count of none": _last(count=0), "count of one": _last(count=1),
}  # fmt: skip


@pytest.mark.parametrize("how", MALFORMED)
def test_a_malformed_zip_is_refused_before_anything_is_unpacked(sealed: Sealed, receiver: Receiver, how: str) -> None:
    code = 2 if how in ("empty", "no zip") else 1  # what is no zip at all cannot be checked; everything else is damage
    assert receiver.both(MALFORMED[how](sealed)) == (code, code)


def test_every_member_twice_is_named(sealed: Sealed, receiver: Receiver) -> None:
    members = [(f"disclosure/{n}", sealed.files[n]) for n in sorted(sealed.files, key=lambda n: (n != "bagit.txt", n))]
    for number, (name, data) in enumerate(members):
        verdict = _verdict(packed_members([*members[: number + 1], (name, data), *members[number + 1 :]]), receiver)
        assert (name.removeprefix("disclosure/"), "is there twice") in [(f.item, f.message) for f in verdict.faults]


def test_twelve_thousand_members_that_all_point_at_one(sealed: Sealed, receiver: Receiver) -> None:
    """Overlap: a directory of 12,000 rows over one member would make 12,000 times its size."""
    one = packed_members([("disclosure/bagit.txt", sealed.files["bagit.txt"])])
    row = one[one.index(b"PK\x01\x02") : one.index(b"PK\x05\x06")]
    start = one.index(b"PK\x01\x02")
    rows = b"".join(row[:46] + b"disclosure/f%05d.txt" % n for n in range(12_000))
    rows = rows.replace(row[28:30] + row[30:46], (20).to_bytes(2, "little") + row[30:46])
    data = one[:start] + rows + b"PK\x05\x06" + bytes(4) + (12_000).to_bytes(2, "little") * 2 + len(rows).to_bytes(4, "little") + start.to_bytes(4, "little") + bytes(2)
    assert receiver.both(data) == (2, 2)  # no file of a bundle is left
    faults: list[tuple[str, str, str]] = []
    (receiver.folder / "many.zip").write_bytes(data)
    assert len(opened(str(receiver.folder / "many.zip"), faults)) <= 1


def test_links_and_special_files_in_a_folder_are_told_and_not_followed(sealed: Sealed, receiver: Receiver, tmp_path: Path) -> None:
    root = _unpacked(sealed, tmp_path)
    assert (receiver.installed(root), receiver.alone(root)) == (0, 0)
    for make in (
        lambda: (root / "data/link.txt").symlink_to("/etc/passwd"), lambda: (root / "data/folder").symlink_to("/etc"),
        lambda: os.mkfifo(root / "data/pipe"), lambda: (root / "data/dangling").symlink_to("nowhere"),
    ):  # fmt: skip
        make()
        assert (receiver.installed(root), receiver.alone(root)) == (1, 1)
        made = next(p for p in (root / "data").iterdir() if p.is_symlink() or p.is_fifo())
        with open_bundle(root) as bundle:
            assert [(f.check, f.item) for f in bundle.faults] == [("Z2", f"data/{made.name}")]
        made.unlink()


def test_names_that_collide_in_a_folder(sealed: Sealed, receiver: Receiver, tmp_path: Path) -> None:
    root = _unpacked(sealed, tmp_path)
    for name in ("data/readme.TXT", "data/e\u0301.txt", "data/caf\u00e9", os.fsdecode(b"data/\xff.txt"), "extra.txt", "data/line\nend"):
        (root / name).write_bytes(b"x")
        assert (receiver.installed(root), receiver.alone(root)) == (1, 1), name
        (root / name).unlink()
    assert receiver.installed(root) == 0


def test_names_as_long_as_they_may_be(tmp_path: Path) -> None:
    inside = "data/" + "n" * (LONGEST_NAME - 5)
    (tmp_path / "z.zip").write_bytes(packed({"bagit.txt": b"", inside: b"x"}))
    faults: list[tuple[str, str, str]] = []
    assert set(opened(str(tmp_path / "z.zip"), faults)) == {"bagit.txt", inside}
    assert faults == []


def _unpacked(sealed: Sealed, folder: Path) -> Path:
    root = folder / "disclosure"
    for name, data in sealed.files.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_bytes(data)
    return root


def test_the_long_forms_of_a_large_zip_are_those_of_the_standard_library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """ZIP64 (PKWARE APPNOTE 4.5.3) by ``zipfile``, made to need it at a thousand bytes instead of 2 GB."""
    from evidence.bundle.alone import opening

    monkeypatch.setattr(zipfile, "ZIP64_LIMIT", 1000)
    monkeypatch.setattr(opening, "_ZIP64", 1000)
    bundle = tmp_path / "large.zip"
    for size in (10, 900, 960, 990, 1000, 1001, 5000):  # either side of where each field grows
        with zipfile.ZipFile(bundle, "w") as target:
            for name in ("bagit.txt", "data/a", "data/b"):
                entry = zipfile.ZipInfo(f"disclosure/{name}", (1980, 1, 1, 0, 0, 0))
                entry.external_attr, entry.create_system, entry.file_size = 0o100644 << 16, 3, size
                with target.open(entry, "w") as sink:
                    sink.write(b"x" * size)
        faults: list[tuple[str, str, str]] = []
        assert [place.size for place in opened(str(bundle), faults).values()] == [size] * 3
        assert faults == []
        data = bundle.read_bytes()
        for at in range(data.index(b"PK\x01\x02"), len(data)):
            bundle.write_bytes(data[:at] + bytes([data[at] ^ 4]) + data[at + 1 :])
            told: list[tuple[str, str, str]] = []
            opened(str(bundle), told)
            assert told, at


@pytest.mark.campaign
def test_a_bundle_of_more_than_four_gigabytes(tmp_path: Path) -> None:
    """As the program writes it, with members beyond 2 and 4 GB; and one of more than 65,535 members."""
    from evidence.bundle.parts import Member
    from evidence.bundle.writing import write_bundle_to

    from fakes import quiet

    zeros = bytes(1 << 20)
    members = [
        Member("data/a.bin", 2200 << 20, lambda: (zeros for _ in range(2200))), Member("data/b.bin", 2200 << 20, lambda: (zeros for _ in range(2200))),
        Member.of("data/c.bin", b"last"),
    ]  # fmt: skip
    many = [Member.of(f"data/{n:05}", b"") for n in range(66_000)]
    for name, what in (("large.zip", members), ("many.zip", many)):
        write_bundle_to(tmp_path / name, what, [("Evidence-Bundle-Format", "1")], lambda _tags: {}, quiet)
        faults: list[tuple[str, str, str]] = []
        assert len(opened(str(tmp_path / name), faults)) == len(what) + 6
        assert faults == []
