"""The published BagIt conformance suite (LibraryOfCongress/bagit-conformance-suite, CC0), held against both verifiers.

Each of its invalid and doubtful cases is planted in a bundle of ours: the verifier of the bundle refuses every one, also those
that the suite only warns of. The suite's own bags are no bundles of ours; each is refused with a reason, none by a traceback.
"""

from __future__ import annotations

import logging
import shutil
import tarfile
from collections.abc import Callable
from pathlib import Path

import bagit
import pytest
from bag_kit import Files, Sealed
from evidence.bundle.alone.opening import Unusable
from evidence.bundle.alone.verify import check

SUITE = Path(__file__).parents[1] / "data" / "bagit-suite.tar.gz"
MANIFEST = "manifest-sha256.txt"


@pytest.fixture(scope="module")
def suite(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("suite")
    with tarfile.open(SUITE) as packed:
        packed.extractall(folder, filter="data")
    return folder


def bags(suite: Path) -> list[Path]:
    """Every case: a folder two levels down; ``bagit.txt`` is missing in one of them on purpose."""
    return sorted(p for p in suite.glob("*/*/*") if p.is_dir())


def test_the_suite_is_whole_and_the_library_judges_it_as_published(suite: Path) -> None:
    """Expected by the suite's own folders; its README. Case 'made-with' and 'relative-path' are valid with a warning."""
    logging.getLogger("bagit").setLevel(logging.CRITICAL)

    def valid(bag: Path) -> bool:
        try:
            return bool(bagit.Bag(str(bag)).validate())
        except bagit.BagError:
            return False

    said = {b.relative_to(suite).as_posix(): valid(b) for b in bags(suite)}
    assert sum(name.split("/")[1] == "valid" for name in said) == 27
    assert {n for n, v in said.items() if not v and "/valid/" in n} == set()
    assert {n for n, v in said.items() if v and ("/invalid/" in n or "/linux-only/" in n)} == set()


def test_no_bag_of_the_suite_passes_for_a_bundle(suite: Path) -> None:
    for bag in bags(suite):
        try:
            found = check(str(bag))
        except Unusable:
            continue
        assert found.exit_code == 1, bag
        assert found.faults, bag


def _line(files: Files, extra: bytes, *, first: bool = False) -> Files:
    held = files[MANIFEST]
    return {**files, MANIFEST: extra + held if first else held + extra}


def _first(files: Files) -> tuple[bytes, bytes]:
    hash_, _, name = files[MANIFEST].split(b"\n")[0].partition(b"  ")
    return hash_, name


def _outside(path: bytes) -> Callable[[Files], Files]:
    return lambda files: _line(files, b"0" * 64 + b"  " + path + b"\n")


def _fetch(path: bytes) -> Callable[[Files], Files]:
    return lambda files: {**files, "fetch.txt": b"http://localhost:898/test3.txt - " + path + b"\n"}


def _changed(name: str, old: bytes, new: bytes) -> Callable[[Files], Files]:
    def change(files: Files) -> Files:
        assert old in files[name]
        return {**files, name: files[name].replace(old, new, 1)}

    return change


def _without(*names: str) -> Callable[[Files], Files]:
    return lambda files: {n: d for n, d in files.items() if n not in names}


def _shorter_manifest(files: Files) -> Files:
    return {**files, "manifest-sha512.txt": files["manifest-sha512.txt"].split(b"\n", 1)[1]}


def _second_case(files: Files) -> Files:
    hash_, name = _first(files)
    other = name[:5] + name[5:].swapcase()
    return {**_line(files, hash_ + b"  " + other + b"\n"), other.decode(): files[name.decode()]}


def _corrupt(files: Files) -> Files:
    name = _first(files)[1].decode()
    return {**files, name: files[name] + b"."}


PLANTED: dict[str, Callable[[Files], Files]] = {
    "v0.97/invalid/baginfo-missing-encoding": _changed("bagit.txt", b"Tag-File-Character-Encoding: UTF-8\n", b""),
    "v0.97/invalid/corrupt-data-file": _corrupt,
    "v0.97/invalid/corrupt-tag-file": _changed("bag-info.txt", b"Payload-Oxum", b"Payload-oxum"),
    "v0.97/invalid/extra-file-in-bag": lambda files: {**files, "data/extra.txt": b"extra"},
    "v0.97/invalid/invalid-version-number": _changed("bagit.txt", b"1.0", b".97"),
    "v0.97/invalid/missing-baginfo": _without("bag-info.txt"),
    "v0.97/invalid/missing-bagit.txt": _without("bagit.txt"),
    "v0.97/invalid/out-of-scope-file-paths-using-dot-notation": _outside(b"../../../README.md"),
    "v0.97/invalid/out-of-scope-file-paths-using-dot-notation-for-fetch": _fetch(b"../../../README.md"),
    "v0.97/invalid/same-filename-listed-twice-with-different-hashes": lambda f: _line(f, b"deadbeef" * 8 + b"  " + _first(f)[1] + b"\n"),
    "v0.97/linux-only/out-of-scope-file-paths-using-absolute-path": _outside(b"/tmp/foo"),
    "v0.97/linux-only/out-of-scope-file-paths-using-absolute-path-for-fetch": _fetch(b"/tmp/foo"),
    "v0.97/linux-only/out-of-scope-file-paths-using-shortcut": _outside(b"~/foo"),
    "v0.97/linux-only/out-of-scope-file-paths-using-shortcut-for-fetch": _fetch(b"~/foo"),
    "v0.97/linux-only/out-of-scope-file-paths-using-shortcut-username-for-fetch": _fetch(b"~root/foo"),
    "v0.97/warning/duplicate-file-with-different-case": _second_case,
    "v0.97/warning/made-with-md5sum-tools": lambda f: {**f, MANIFEST: f[MANIFEST].replace(b"  ", b" *")},
    "v0.97/warning/relative-path": lambda f: {**f, MANIFEST: f[MANIFEST].replace(b"  data/", b"  ./data/")},
    "v0.97/warning/same-filename-listed-twice-with-the-same-hash": lambda f: _line(f, b"  ".join(_first(f)) + b"\n"),
    "v0.97/warning/special-system-files": lambda f: {**f, "data/.DS_Store": b"", "data/Thumbs.db": b""},
    "v1.0/invalid/notAllManifestsListAllFiles": _shorter_manifest,
    "v1.0/invalid/same-filename-listed-twice-with-different-hashes": lambda f: _line(f, b"deadbeef" * 8 + b"  " + _first(f)[1] + b"\n", first=True),
    "v1.0/invalid/same-filename-listed-twice-with-the-same-hash": lambda f: _line(f, b"  ".join(_first(f)) + b"\n", first=True),
}  # fmt: skip


def test_every_doubtful_case_of_the_suite_is_planted(suite: Path) -> None:
    assert {b.relative_to(suite).as_posix() for b in bags(suite) if b.parent.name != "valid"} == set(PLANTED)


@pytest.mark.parametrize("case", PLANTED)
def test_the_case_in_a_bundle_of_ours_is_refused(case: str, sealed: Sealed, tmp_path: Path) -> None:
    def laid(files: Files, where: Path) -> Path:
        for name, data in files.items():
            (where / name).parent.mkdir(parents=True, exist_ok=True)
            (where / name).write_bytes(data)
        return where

    whole = laid(sealed.files, tmp_path / "whole")
    assert check(str(whole), sealed.key, sealed.head).exit_code == 0
    found = check(str(laid(PLANTED[case](dict(sealed.files)), tmp_path / "planted")), sealed.key, sealed.head)
    assert found.exit_code == 1
    assert any(f.check in ("B1", "B2", "B3", "Z2") for f in found.faults)
    shutil.rmtree(tmp_path)
