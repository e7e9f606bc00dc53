"""A bundle as written: a BagIt bag by the library's own validation, and by ``sha256sum``."""

from __future__ import annotations

import logging
import subprocess
import zipfile
from pathlib import Path

import bagit
import pytest

from bundles import make_bundle


@pytest.fixture
def unpacked(tmp_path: Path) -> Path:
    with zipfile.ZipFile(make_bundle(tmp_path)) as bundle:
        bundle.extractall(tmp_path / "out")
    return tmp_path / "out" / "disclosure"


def test_bagit_and_sha256sum_find_it_whole(unpacked: Path) -> None:
    """RFC 8493: the bagit library of the Library of Congress validates it; so does coreutils."""
    logging.getLogger("bagit").setLevel(logging.CRITICAL)
    assert bagit.Bag(str(unpacked)).validate()
    for name in ("manifest-sha256.txt", "tagmanifest-sha256.txt"):
        subprocess.run(["sha256sum", "-c", "--quiet", "--strict", name], cwd=unpacked, check=True)
    subprocess.run(["sha512sum", "-c", "--quiet", "--strict", "manifest-sha512.txt"], cwd=unpacked, check=True)
    some = next((unpacked / "data/originals").iterdir())
    some.write_bytes(some.read_bytes() + b"x")
    with pytest.raises(bagit.BagValidationError):
        bagit.Bag(str(unpacked)).validate()
